#!/bin/sh
# Draws the outlines of two invented rasters of 4 million pixels and 5 classes,
# one smooth and one of noise, with corewalk and with GDAL (Polygonize into a layer
# in memory, so that no writing counts), in turns of three rounds. Prints the
# medians in seconds, how many times GDAL takes as long, and whether the number of
# polygons and their areas, weighted by class, are the same.
# Needs Go, and Python with GDAL (PYTHON, /usr/bin/python3 unless set).
set -eu
cd "$(dirname "$0")/../.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
go build -o "$work/polygonize" ./testdata/speed/polygonize
status=0
for kind in smooth noise; do
	"$work/polygonize" make "$work/$kind.raw"
	for round in 1 2 3; do
		"$work/polygonize" time "$work/$kind.raw" >>"$work/$kind.ours"
		"${PYTHON:-/usr/bin/python3}" testdata/speed/polygonize/gdal.py "$work/$kind.raw.vrt" >>"$work/$kind.gdal"
	done
	ours=$(sort -n "$work/$kind.ours" | sed -n 2p)
	gdal=$(sort -n "$work/$kind.gdal" | sed -n 2p)
	same="the same polygons"
	if [ "${ours#* }" != "${gdal#* }" ]; then
		same="OTHER POLYGONS" status=1
	fi
	echo "$kind ${ours%% *} ${gdal%% *} $same: ${ours#* }" | awk '{printf "%s: corewalk %.3f s, GDAL %.3f s, %.1f times; ", $1, $2, $3, $3/$2; $1=$2=$3=""; print substr($0, 4)}'
done
exit $status
