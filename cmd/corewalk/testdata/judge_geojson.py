"""Judge GeoJSON files by RFC 7946: WGS 84 longitude and latitude, closed rings,
the right-hand rule, no crs member; and by GEOS: every polygon valid. Prints a
line per fault and a closing count."""
import json
import sys

from shapely.geometry import LinearRing, shape

features = 0
for path in sys.argv[1:]:
    with open(path) as f:
        d = json.load(f)

    def fault(what):
        print("FAULT", path, what)

    if d["type"] != "FeatureCollection" or "crs" in d:
        fault("is not a plain FeatureCollection")
    if "corewalk" in d and not (d["corewalk"]["format"] == 1 and all(len(i["sha256"]) == 64 for i in d["corewalk"]["inputs"])):
        fault("has a member corewalk without format or hashes")
    for i, x in enumerate(d["features"]):
        features += 1
        g = x["geometry"]
        polygons = {"Polygon": lambda c: [c], "MultiPolygon": lambda c: c}.get(g["type"], lambda c: [])(g["coordinates"])
        for polygon in polygons:
            for k, ring in enumerate(polygon):
                if len(ring) < 4 or ring[0] != ring[-1]:
                    fault(f"feature {i}: ring {k} is not closed")
                if LinearRing(ring).is_ccw != (k == 0):
                    fault(f"feature {i}: ring {k} turns the wrong way")
        s = shape(g)
        if not s.is_valid:
            fault(f"feature {i} is not valid")
        if s.is_empty:
            fault(f"feature {i} is empty")
            continue
        w, so, e, n = s.bounds
        if not (-180 <= w <= e <= 180 and -90 <= so <= n <= 90):
            fault(f"feature {i} lies outside the world")
        if "kind" not in x["properties"] and "corewalk" in d:
            fault(f"feature {i} has no kind")
print(f"judged {len(sys.argv) - 1} files, {features} features")
