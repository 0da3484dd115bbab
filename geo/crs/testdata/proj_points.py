#!/usr/bin/python3
"""What PROJ makes of coordinate systems, for the reference tests of this package.

Input: one EPSG code a line, in mode "read" with a WKT text after it, in mode
"shift" with the code of a transformation. Output: one line of JSON for each,
in modes "table" and "shift" with N times four little-endian doubles after it
(longitude, latitude, x, y). Points are drawn from the area of use.
"""
import json
import sys

import numpy as np
from pyproj import CRS, Transformer

mode, count = sys.argv[1], int(sys.argv[2])
out = sys.stdout.buffer


def put(obj, *columns):
    out.write((json.dumps(obj) + "\n").encode())
    if columns:
        out.write(np.column_stack(columns).astype("<f8").tobytes())


def area(crs):
    a = crs.area_of_use
    west, east = a.west, a.east
    if east < west:
        east += 360
    return west, a.south, east, a.north


def points(crs, seed, n):
    rng = np.random.default_rng(seed)
    west, south, east, north = area(crs)
    # Mercator has no poles.
    north, south = min(north, 89.8), max(south, -89.8)
    lon = (rng.uniform(west, east, n) + 180) % 360 - 180
    return lon, rng.uniform(south, north, n)


def plain(name):
    return "".join(c for c in name.lower().replace(" ensemble", "") if c.isalnum())


for line in sys.stdin:
    code, _, rest = line.strip().partition(" ")
    code = int(code)
    crs = CRS.from_epsg(code)
    base = crs if crs.is_geographic else crs.geodetic_crs
    if mode == "table":
        lon, lat = points(crs, code, count)
        if crs.is_geographic:
            x, y = lon, lat
        else:
            x, y = Transformer.from_crs(base, crs, always_xy=True).transform(lon, lat)
        put(dict(code=code, base=base.to_epsg(), n=count), lon, lat, x, y)
    elif mode == "shift":
        lon, lat = points(crs, code, count)
        t = Transformer.from_pipeline("urn:ogc:def:coordinateOperation:EPSG::" + rest)
        y, x = t.transform(lat, lon)
        put(dict(code=code, base=base.to_epsg(), n=count), lon, lat, x, y)
    elif mode == "texts":
        lon, lat = points(crs, code, 1)
        kinds = ["WKT1_ESRI", "WKT1_GDAL", "WKT2_2015", "WKT2_2019", "WKT2_2019_SIMPLIFIED"]
        put(dict(code=code, at=[lon[0], lat[0]], texts={k: crs.to_wkt(k) for k in kinds}))
    elif mode == "read":
        answer = dict(code=code, datum="", want=plain(base.datum.name), off=-1, error="")
        try:
            ours = CRS.from_wkt(rest)
            ob = ours if ours.is_geographic else ours.geodetic_crs
            answer["datum"] = plain(ob.datum.name)
            lon, lat = points(crs, code, 5)
            if crs.is_geographic:
                same = ob.ellipsoid.semi_major_metre == base.ellipsoid.semi_major_metre
                answer["off"] = 0.0 if same and ours.is_geographic else 1e9
            else:
                f = crs.axis_info[0].unit_conversion_factor
                x, y = Transformer.from_crs(base, crs, always_xy=True).transform(lon, lat)
                u, v = Transformer.from_crs(ob, ours, always_xy=True).transform(lon, lat)
                answer["off"] = float(np.max(np.hypot(u - x, v - y)) * f)
        except Exception as e:
            answer["error"] = str(e)
        put(answer)
