#!/usr/bin/env bash
# Reads a shapefile of a million vertices (200 invented fields) with
# `corewalk check` and with GDAL's ogr2ogr to GeoJSON, in turn, five times each,
# and prints the ratio of the median times. Needs Debian's gdal-bin and python3.
set -euo pipefail
cd "$(dirname "$0")/../.."
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
CGO_ENABLED=0 go build -o "$dir/corewalk" ./cmd/corewalk
python3 - "$dir" <<'P'
import json, math, random, subprocess, sys, time
dir = sys.argv[1]
random.seed(3)
features = []
for i in range(200):
    x, y, ring = 450000 + i % 20 * 900, 4650000 + i // 20 * 900, []
    for k in range(5000):
        a = 2 * math.pi * k / 5000
        q = 380 + 20 * math.sin(7 * a) + 0.3 * random.random()
        ring.append([round(x + q * math.cos(a), 3), round(y + q * math.sin(a), 3)])
    features.append({"type": "Feature", "properties": {"NAME": f"F{i}"}, "geometry": {"type": "Polygon", "coordinates": [ring + ring[:1]]}})
crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::26915"}}
json.dump({"type": "FeatureCollection", "crs": crs, "features": features}, open(dir + "/f.json", "w"))
subprocess.run(["ogr2ogr", dir + "/f.shp", dir + "/f.json"], check=True)

def clock(*args):
    start = time.perf_counter()
    subprocess.run(args, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start

ours, theirs = [], []
for n in range(6):
    a = clock(dir + "/corewalk", "check", dir + "/f.shp")
    b = clock("ogr2ogr", f"{dir}/{n}.geojson", dir + "/f.shp")
    if n:  # the first warms the file up
        ours.append(a)
        theirs.append(b)
a, b = sorted(ours)[2], sorted(theirs)[2]
print(f"check {a:.2f} s, ogr2ogr {b:.2f} s, ratio {a / b:.2f}")
P
