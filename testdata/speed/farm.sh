#!/usr/bin/env bash
# Times surfaces, zones and rates of an invented farm of many fields, 65 ha, 26,000
# pixels of 5 m and 36 composites each, with eight analytes: from results.geojson
# to GeoTIFFs, zones and prescriptions. Prints wall time and peak memory, for so many fields and
# for twice as many. Needs Go and GNU time (Debian: time).
#
#   testdata/speed/farm.sh [FIELDS]
set -euo pipefail
cd "$(dirname "$0")/../.."
fields=${1:-1000}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
go build -o "$work/corewalk" ./cmd/corewalk

measure() { # what, command ...
  local what=$1
  shift
  /usr/bin/time -f '%e %M' -o "$work/time" "$@" >/dev/null 2>"$work/err" || { cat "$work/err"; exit 1; }
  read -r seconds kb <"$work/time"
  printf '%5s fields  %-14s %7.1f s  %5d MB\n' "$n" "$what" "$seconds" $((kb / 1024))
}

for n in "$fields" $((2 * fields)); do
  farm=$work/$n
  go run ./testdata/speed/farm "$n" "$farm"
  measure join "$work/corewalk" join --points "$farm/soil.csv" --x EAST --y NORTH --points-crs EPSG:32615 --id ID \
    --boundary "$farm/fields.geojson" --name name --exclude "$farm/wet.geojson" \
    --management "$farm/crops.geojson" --management-name name --out "$farm/season"
  measure surface "$work/corewalk" surface --results "$farm/season/results.geojson" --out "$farm/season"
  measure zone "$work/corewalk" zone --results "$farm/season/results.geojson" --surfaces "$farm/season/surfaces.json" --out "$farm/season" \
    --classes "pH: 5.5, 6, 6.5, 7" --classes "P: 15, 20, 25, 30" --classes "K: 120, 150, 180" --classes "Mg: 120, 140, 160" \
    --classes "Ca: 1300, 1500, 1700" --classes "S: 8, 10" --classes "Zn: 1, 1.4" --classes "OM: 3" --patch "pH < 6" --smallest 0.25ac
  for by in zone surface; do
    measure "rate, $by" "$work/corewalk" rate --results "$farm/season/results.geojson" --surfaces "$farm/season/surfaces.json" \
      --zones "$farm/season/zones.geojson" --out "$farm/season" --force --use tri-state-2020-p --crop "corn, 180 bu/ac" --depth 0-8in \
      --by "$by" --smallest 0.25ac --product "TSP: 0-46-0, 620 USD/ton, step 5 lb/ac"
  done
  rm -rf "$farm"
done
