"""Areas of rings on the WGS 84 ellipsoid with geodesic edges, by GeographicLib
through pyproj; whether polygons are valid, by GEOS through shapely. One case of
JSON a line on stdin, one answer a line on stdout."""
import json
import sys

from pyproj import Geod
from shapely.geometry import MultiPolygon, Point, Polygon
from shapely.prepared import prep

geod = Geod(ellps="WGS84")


def area(case):
    return [abs(geod.polygon_area_perimeter(*zip(*r))[0]) for r in case["rings"]]


def valid(case):
    return [MultiPolygon([Polygon(p[0], p[1:]) for p in s]).is_valid for s in case["shapes"]]


def keeps(case):
    """Whether cores keep their distance from the boundary and exclusions."""
    field = Polygon(case["boundary"])
    inside, edge = prep(field), field.exterior
    exclusions = [(Polygon(e["ring"]) if e["ring"] else Point(e["point"]), e["margin"]) for e in case["exclusions"]]
    return [bool(inside.contains(p) and edge.distance(p) >= case["margin"] and all(e.distance(p) >= m for e, m in exclusions))
            for p in map(Point, case["points"])]


MODES = {"area": area, "valid": valid, "keeps": keeps}
for line in sys.stdin:
    case = json.loads(line)
    print(json.dumps(MODES[case["mode"]](case)))
