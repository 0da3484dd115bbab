#!/usr/bin/env bash
# Times plan, waypoints and manifest of an invented farm of many fields, 10 ha on
# average with some 12 units of 2.5 ac and 10 cores each: wall time, processor time
# and peak memory, for so many fields and for twice as many. Then two shards of the
# first farm are run, and the union of their files is compared with those of the one
# run. Needs Go and GNU time (Debian: time).
#
#   testdata/speed/fields.sh [FIELDS]
set -euo pipefail
cd "$(dirname "$0")/../.."
fields=${1:-10000}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
go build -o "$work/corewalk" ./cmd/corewalk
go build -o "$work/invent" ./testdata/speed/fields

for n in "$fields" $((2 * fields)); do
  "$work/invent" "$n" "$work/$n"
  /usr/bin/time -f '%e %U %S %M' -o "$work/time" "$work/corewalk" farm run "$work/$n/job.yaml" >"$work/said" 2>"$work/err" || { cat "$work/err"; exit 1; }
  read -r wall user system kb <"$work/time"
  printf '%6d fields %7.1f s %8.1f s of processor time %5d MB   %s\n' "$n" "$wall" "$(echo "$user + $system" | bc)" $((kb / 1024)) "$(sed -n 2p "$work/said")"
  [ "$n" = "$fields" ] || rm -rf "${work:?}/$n"
done

mkdir "$work/shards"
cp "$work/$fields"/*.geojson "$work/$fields/job.yaml" "$work/shards"
for shard in 1/2 2/2; do
  "$work/corewalk" farm run "$work/shards/job.yaml" --shard "$shard" >/dev/null 2>&1
done
"$work/corewalk" farm merge "$work/shards/out" >/dev/null 2>&1
rm "$work/shards/out"/farm-*
diff -r "$work/shards/out" "$work/$fields/out" && echo "two shards, merged: the same $(find "$work/shards/out" -type f | wc -l) files"
