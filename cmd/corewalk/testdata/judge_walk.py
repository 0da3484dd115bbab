"""Measure the walks of plans with a visibility graph of GEOS (shapely) and the
scale of PROJ (pyproj): a second opinion that shares no code with corewalk.

Reads paths of plans from standard input, one to a line; for each field prints
its name, the length in metres by the graph, the length that the plan states,
and how many legs lead round something.
"""
import heapq
import json
import sys

from pyproj import Proj, Transformer
from shapely.geometry import LineString, Point, shape
from shapely.ops import transform, unary_union
from shapely.prepared import prep


def shortest(a, b, blocked, corners, seen):
    """The way from a to b whose legs do not cross the blocked ground."""
    if not crosses(a, b, blocked):
        return a.distance(b), False
    nodes = [a, b] + corners

    def sees(i, j):
        key = (i, j) if i >= 2 and j >= 2 else None
        if key in seen:
            return seen[key]
        free = not crosses(nodes[i], nodes[j], blocked)
        if key:
            seen[key] = seen[(j, i)] = free
        return free

    best = {0: 0.0}
    queue = [(0.0, 0)]
    while queue:
        d, i = heapq.heappop(queue)
        if i == 1:
            return d, True
        if d > best[i]:
            continue
        for j in range(1, len(nodes)):
            if j != i:
                step = d + nodes[i].distance(nodes[j])
                if step < best.get(j, 1e18) and sees(i, j):
                    best[j] = step
                    heapq.heappush(queue, (step, j))
    return a.distance(b), False


def crosses(a, b, blocked):
    if a.equals(b):
        return False
    return blocked.intersects(LineString([a, b]))


def main():
    for path in sys.stdin.read().split():
        with open(path) as f:
            features = json.load(f)["features"]
        for field in [f for f in features if f["properties"]["kind"] == "field"]:
            p = field["properties"]
            crs = p["crs"]
            to = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform
            exclusions = [transform(to, shape(f["geometry"])) for f in features
                          if f["properties"]["kind"] == "exclusion" and f["properties"]["field"] == p["name"]
                          and f["geometry"]["type"].endswith("Polygon")]
            ground = unary_union(exclusions)
            parts = getattr(ground, "geoms", [ground])
            corners = [Point(c) for g in parts for r in [g.exterior, *g.interiors] for c in r.coords[:-1]]
            # The outline itself may be walked along.
            blocked = prep(ground.buffer(-1e-6))
            stops = [Point(to(*f["geometry"]["coordinates"])) for f in features
                     if f["properties"]["kind"] == "core" and f["properties"]["field"] == p["name"]]
            if "start_lon" in p:
                stops.insert(0, Point(to(p["start_lon"], p["start_lat"])))
            seen, length, round_ = {}, 0.0, 0
            for a, b in zip(stops, stops[1:]):
                d, way = shortest(a, b, blocked, corners, seen)
                length += d
                round_ += way
            west, south, east, north = shape(field["geometry"]).bounds
            scale = Proj(crs).get_factors((west + east) / 2, (south + north) / 2).meridional_scale
            print(p["name"], length / scale, p["walk_m"], round_, sep="\t")


main()
