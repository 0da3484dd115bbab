"""Second opinion on ways round obstacles, by shapely: reads one case a line
(obstacles as polygons of rings, two ends, the way found) and answers with the
length of the shortest way over the graph of all vertices (-1: none), and with
the length of the given way that lies deeper than 1 mm in an obstacle."""
import heapq
import json
import math
import sys

from shapely.geometry import LineString, Polygon
from shapely.ops import unary_union
from shapely.prepared import prep


def shortest(ground, places):
    # Shrunk by a hair, so that touching an outline crosses nothing.
    solid = prep(ground.buffer(-1e-5, join_style=2))
    n = len(places)
    best = [math.inf] * n
    best[0] = 0.0
    done = [False] * n
    heap = [(0.0, 0)]
    while heap:
        d, i = heapq.heappop(heap)
        if done[i]:
            continue
        if i == 1:
            return d
        done[i] = True
        for j in range(n):
            if done[j]:
                continue
            l = d + math.dist(places[i], places[j])
            if l < best[j] and not solid.intersects(LineString([places[i], places[j]])):
                best[j] = l
                heapq.heappush(heap, (l, j))
    return -1


for line in sys.stdin:
    case = json.loads(line)
    polygons = [Polygon(p[0], p[1:]) for s in case["obstacles"] for p in s]
    ground = unary_union(polygons)
    a, b = case["way"][0], case["way"][-1]
    places = [tuple(a), tuple(b)]
    places += sorted({tuple(p) for g in polygons for r in [g.exterior, *g.interiors] for p in r.coords})
    answer = {"shortest": shortest(ground, places)}
    way = LineString(case["way"])
    answer["inside"] = way.intersection(ground.buffer(-1e-3, join_style=2)).length
    print(json.dumps(answer))
