# Judges zones.geojson and the shapefiles of zones against the ground that
# results.geojson draws: prints one line to a fault, then what was judged.
import glob, json, math, os, sys
from collections import defaultdict
from osgeo import ogr
from pyproj import Transformer
from shapely import wkb
from shapely.geometry import shape
from shapely.ops import transform, unary_union

ogr.UseExceptions()
folder, within = sys.argv[1], sys.argv[2]
results = json.load(open(os.path.join(folder, "results.geojson")))
zones = json.load(open(os.path.join(folder, "zones.geojson")))
faults = judged = 0

def fault(*what):
    global faults
    faults += 1
    print("FAULT", *what)

frames, ground, exclusions = {}, {}, defaultdict(list)
for f in results["features"]:
    p = f["properties"]
    if p["kind"] == "field":
        frames[p["name"]] = Transformer.from_crs("EPSG:4326", p["crs"], always_xy=True)
        ground[p["name"]] = transform(frames[p["name"]].transform, shape(f["geometry"]))
for f in results["features"]:
    p = f["properties"]
    if p["kind"] == "exclusion" and f["geometry"]["type"].endswith("Polygon"):
        exclusions[p["field"]].append(transform(frames[p["field"]].transform, shape(f["geometry"])))
for name, shapes in exclusions.items():
    ground[name] = ground[name].difference(unary_union(shapes))

def judge(what, name, parts):
    global judged
    judged += 1
    for i, z in enumerate(parts):
        if not z.is_valid:
            fault(what, name, "zone", i, "is not valid")
    area = sum(z.area for z in parts)
    union = unary_union(parts)
    if abs(union.area / area - 1) > 1e-9:
        fault(what, name, "areas sum to", area, "the union has", union.area)
    for i, a in enumerate(parts):
        for b in parts[:i]:
            if a.bounds[0] < b.bounds[2] and b.bounds[0] < a.bounds[2] and a.bounds[1] < b.bounds[3] and b.bounds[1] < a.bounds[3]:
                shared = a.intersection(b).area
                if shared > 1e-9 * area:
                    fault(what, name, "zones share", shared, "m2")
    if within == "ground":
        # Lines between corners bend a little from degrees to metres where
        # files have no corner; so the sum alone is held to 1e-9.
        if abs(area / ground[name].area - 1) > 1e-9:
            fault(what, name, "zones have", area, "the ground", ground[name].area, area / ground[name].area - 1)
        off = union.symmetric_difference(ground[name]).area
        if off > 1e-8 * area:
            fault(what, name, "zones and ground differ by", off, "m2")

sets = defaultdict(list)
for f in zones["features"]:
    p = f["properties"]
    key = (p["field"], p["analyte"], p.get("limit", ""))
    sets[key].append(transform(frames[p["field"]].transform, shape(f["geometry"])))
for (name, analyte, limit), parts in sets.items():
    judge("zones.geojson " + analyte + " " + limit, name, parts)
for path in glob.glob(os.path.join(folder, "zones", "*.shp")):
    layer = ogr.Open(path)
    by = defaultdict(list)
    for f in layer.GetLayer(0):
        by[f["ANALYTE"]].append(wkb.loads(bytes(f.GetGeometryRef().ExportToWkb())))
    for analyte, parts in by.items():
        stem = os.path.splitext(os.path.basename(path))[0]
        name = [n for n in ground if "".join(c if c.isascii() and c.isalnum() else "-" for c in n) == stem][0]
        judge(path + " " + analyte, name, parts)
print("judged", judged, "partitions,", faults, "faults")
