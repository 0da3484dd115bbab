"""Judge plans with GEOS (shapely) and PROJ (pyproj): a second opinion that
shares no code with corewalk.

Reads lines of JSON from standard input, each naming a plan and the files and
rules that it was made by; prints one line per fault and a closing count.
"""
import json
import sys

from pyproj import Transformer
from shapely.geometry import Point, shape
from shapely.ops import transform, unary_union
from shapely.validation import make_valid


def metres(epsg):
    to = Transformer.from_crs("EPSG:4326", epsg, always_xy=True)
    return lambda g: transform(to.transform, g)


def judge(case):
    faults = []
    with open(case["plan"]) as f:
        plan = json.load(f)
    features = plan["features"]
    fields = {f["properties"]["name"]: f for f in features if f["properties"]["kind"] == "field"}
    project = {name: metres(f["properties"]["crs"]) for name, f in fields.items()}
    with open(case["boundary"]) as f:
        drawn = {}
        for x in json.load(f)["features"]:
            drawn.setdefault(x["properties"]["name"], []).append(shape(x["geometry"]))
    with open(case["exclude"]) as f:
        excluded = [shape(x["geometry"]) for x in json.load(f)["features"]]
    units = {f["properties"]["id"]: f for f in features if f["properties"]["kind"] == "unit"}
    cores = [f for f in features if f["properties"]["kind"] == "core"]
    boundary = {n: project[n](make_valid(unary_union(g))) for n, g in drawn.items()}
    exclusions = {n: [project[n](g) for g in excluded] for n in drawn}
    shapes = {i: project[u["properties"]["field"]](shape(u["geometry"])) for i, u in units.items()}
    taken = {}
    for c in cores:
        p = c["properties"]
        at = project[p["field"]](Point(c["geometry"]["coordinates"]))
        where = f"{case['plan']} core {p['name']}"
        if not boundary[p["field"]].contains(at):
            faults.append(f"{where} is outside the boundary")
        if boundary[p["field"]].boundary.distance(at) < case["setback"]:
            faults.append(f"{where} is inside the boundary's setback")
        for e in exclusions[p["field"]]:
            if e.distance(at) < case["exclude_setback"] or e.contains(at):
                faults.append(f"{where} is inside an exclusion or its setback")
        if not shapes[p["sample"]].contains(at):
            faults.append(f"{where} is outside its unit")
        taken.setdefault(p["sample"], []).append(at)
    for i, places in taken.items():
        u = units[i]["properties"]
        asked = case["spacing"]
        if u["spacing_m"] < asked:
            if "too small" not in u.get("notes", ""):
                faults.append(f"{case['plan']} unit {i} relaxed the spacing and does not say so")
            asked = u["spacing_m"]
        if len(places) != case["cores"] or len(places) != u["cores"]:
            faults.append(f"{case['plan']} unit {i} has {len(places)} cores")
        for a in range(len(places)):
            for b in range(a):
                if places[a].distance(places[b]) < asked:
                    faults.append(f"{case['plan']} unit {i}: cores {a} and {b} are nearer than {asked}")
    for n in fields:
        ground = boundary[n].difference(unary_union([g for g in exclusions[n] if g.area > 0]))
        mine = [shapes[i] for i, u in units.items() if u["properties"]["field"] == n]
        if not all(s.is_valid for s in mine):
            faults.append(f"{case['plan']} field {n} has an invalid unit")
        total = sum(s.area for s in mine)
        if total > ground.area * (1 + 1e-5) + 1 or abs(total - unary_union(mine).area) > 1e-5 * total:
            faults.append(f"{case['plan']} field {n}: units overlap or reach beyond the ground")
        if abs(total - ground.area) > 1e-5 * ground.area + 1 and not case.get("gaps"):
            faults.append(f"{case['plan']} field {n}: units of {total} do not cover ground of {ground.area}")
    return faults, len(cores)


def main():
    plans = cores = 0
    for line in sys.stdin:
        faults, n = judge(json.loads(line))
        for f in faults:
            print("FAULT", f)
        plans += 1
        cores += n
    print(f"judged {plans} plans, {cores} cores")


main()
