"""Asks GEOS, through shapely, what geo/plane answers. One case of JSON a line
on stdin, one answer of JSON a line on stdout."""
import json
import sys

import numpy as np
from shapely.geometry import LineString, MultiPolygon, Point, Polygon
from shapely.ops import polygonize, unary_union
from shapely.prepared import prep


def shape(parts):
    polygons = [Polygon(p[0], p[1:]) for p in parts or []]
    return polygons[0] if len(polygons) == 1 else MultiPolygon(polygons)


def odd(rings, p):
    """Whether p lies inside an odd number of the rings."""
    count = 0
    for a in rings:
        (x0, y0), (x1, y1) = a[:-1].T, a[1:].T
        up = (y0 > p.y) != (y1 > p.y)
        with np.errstate(divide="ignore", invalid="ignore"):
            at = x0 + (x1 - x0) * (p.y - y0) / (y1 - y0)
        count += int(np.sum(up & (p.x < at)))
    return count % 2 == 1


def even_odd(case):
    """Noded lines, polygonized; the faces inside an odd number of rings."""
    rings = [np.array(r) for r in case["rings"]]
    lines = unary_union([LineString(r[i:i + 2]) for r in rings for i in range(len(r) - 1) if tuple(r[i]) != tuple(r[i + 1])])
    ground = unary_union([f for f in polygonize(lines) if odd(rings, f.representative_point())])
    # As is documented, parts and holes under 1 square metre go.
    parts = []
    for p in getattr(ground, "geoms", [ground]):
        if not p.is_empty and Polygon(p.exterior).area >= 1:
            parts.append(Polygon(p.exterior, [h for h in p.interiors if Polygon(h).area >= 1]))
    return compare(shape(case["got"]), unary_union(parts))


def compare(got, want):
    off = got.symmetric_difference(want).area if got.is_valid else -1
    return {"valid": got.is_valid, "area": want.area, "got": got.area, "off": off}


def overlay(case):
    a, b = shape(case["a"]), shape(case["b"])
    want = {"intersect": a.intersection(b), "subtract": a.difference(b), "union": a.union(b),
            "in": a.buffer(-case["d"], resolution=16), "out": b.buffer(case["d"], resolution=16)}
    answer = {k: compare(shape(case["got"][k]), w) for k, w in want.items()}
    for k, source in ("in", a), ("out", b):
        answer[k].update(reach(shape(case["got"][k]), source.boundary))
    return answer


def reach(got, edge):
    """The least and greatest distance from the outline of got to the edge."""
    if got.is_empty:
        return {}
    lines = [r for p in getattr(got, "geoms", [got]) for r in [p.exterior, *p.interiors]]
    off = [edge.distance(r.interpolate(t)) for r in lines for t in np.linspace(0, r.length, 60)]
    return {"least": min(off), "greatest": max(off)}


def locate(case):
    s = shape(case["a"])
    p, edge = prep(s), s.boundary
    points = [Point(q) for q in case["points"]]
    return {"inside": [p.intersects(q) for q in points], "distance": [edge.distance(q) for q in points]}


MODES = {"even_odd": even_odd, "overlay": overlay, "locate": locate}
for line in sys.stdin:
    case = json.loads(line)
    print(json.dumps(MODES[case["mode"]](case)))
