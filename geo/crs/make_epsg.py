#!/usr/bin/python3
"""Writes datums.csv and epsg.csv from PROJ's copy of the EPSG Dataset.

    /usr/bin/python3 make_epsg.py [/usr/share/proj/proj.db]

The dataset's version stands in the first line of both files, as proj.db's
own metadata gives it. EPSG Dataset: (c) IOGP, https://epsg.org.

A datum is taken when the dataset ties it to WGS 84 by a null shift of at most
4 m, when it is a later realisation of NAD83, or when it stands in HELMERT
below. A projected system is taken when its datum is one of those, its method
is done in this package, and its axes point east and north.
"""
import csv
import math
import os
import sqlite3
import sys

# Geographic system -> the transformation to WGS 84 that is used for it: the
# newest of the dataset's that covers the whole country.
HELMERT = {
    4277: 1314,   # OSGB36
    4289: 4833,   # Amersfoort
    4314: 1777,   # DHDN
    4299: 1641,   # TM65
    4300: 1954,   # TM75
    4188: 1955,   # OSNI 1952
    4312: 1618,   # MGI
    4313: 15929,  # BD72
    4124: 1896,   # RT90
    4123: 10099,  # KKJ
    4272: 1564,   # NZGD49
}

# Names of datums that are met in files but are not aliases in proj.db: what
# GDAL wrote before version 3.
EXTRA_NAMES = {
    4152: ["NAD83_High_Accuracy_Regional_Network"],
    4617: ["NAD83_Canadian_Spatial_Reference_System"],
    4258: ["European_Terrestrial_Reference_System_1989"],
    7844: ["D_GDA_2020"],
    4674: ["Sistema_de_Referencia_Geocentrico_para_America_del_Sur_2000"],
    4313: ["Reseau_National_Belge_1972"],
}

METHODS = {
    9807: "tm", 9801: "lcc", 9802: "lcc", 1051: "lcc", 1102: "lcc",
    9822: "albers", 9804: "merc", 9805: "merc", 1024: "webmerc",
    9820: "laea", 9809: "stereo", 9810: "polar", 9829: "polar",
}

# EPSG parameter code -> column
PARAMS = {
    8801: "lat0", 8802: "lon0", 8805: "k", 8806: "fe", 8807: "fn",
    8821: "lat0", 8822: "lon0", 8823: "lat1", 8824: "lat2", 8826: "fe",
    8827: "fn", 1038: "k", 8832: "lat1", 8833: "lon0",
}


def num(v):
    """The shortest text that reads back as v."""
    if v == int(v) and abs(v) < 1e15:
        return str(int(v))
    return repr(v)


def sexagesimal(v):
    """Degrees from DDD.MMSSsss, EPSG unit 9110."""
    text = "%.10f" % abs(v)
    d, frac = text.split(".")
    deg = int(d) + int(frac[:2]) / 60 + float(frac[2:4] + "." + frac[4:]) / 3600
    return math.copysign(deg, v)


def main():
    path = sys.argv[1] if len(sys.argv) > 1 else "/usr/share/proj/proj.db"
    db = sqlite3.connect("file:%s?mode=ro" % path, uri=True)
    meta = dict(db.execute("select key, value from metadata"))
    head = "# EPSG Dataset %s (%s), from PROJ %s proj.db by make_epsg.py" % (
        meta["EPSG.VERSION"], meta["EPSG.DATE"], meta["PROJ.VERSION"])
    here = os.path.dirname(os.path.abspath(__file__))
    factor = {code: f for code, f in db.execute(
        "select code, conv_factor from unit_of_measure where auth_name='EPSG'")}
    factor[9003] = 1200 / 3937

    datums = {}
    for code, name, dcode, dname, ell, a, auom, rf, b in db.execute("""
            select g.code, g.name, d.code, d.name, e.code, e.semi_major_axis, e.uom_code, e.inv_flattening, e.semi_minor_axis
            from geodetic_crs g
            join geodetic_datum d on d.auth_name=g.datum_auth_name and d.code=g.datum_code
            join ellipsoid e on e.auth_name=d.ellipsoid_auth_name and e.code=d.ellipsoid_code
            where g.auth_name='EPSG' and g.type='geographic 2D' and g.deprecated=0
            and d.auth_name='EPSG' and d.prime_meridian_code=8901
            and g.coordinate_system_code in (6422, 6424) order by g.code"""):
        shift, acc, op = [0.0] * 7, None, 0
        if code == 4326:
            acc = 0.0
        elif code in HELMERT:
            op = HELMERT[code]
            r = db.execute("""select method_code, tx, ty, tz, rx, ry, rz, rotation_uom_code,
                scale_difference, scale_difference_uom_code, accuracy, translation_uom_code
                from helmert_transformation where auth_name='EPSG' and code=? and source_crs_code=?
                and target_crs_code=4326 and deprecated=0""", (op, code)).fetchone()
            method, rot, acc = r[0], list(r[4:7]), r[10]
            if method not in (9606, 9607) or r[9] != 9202 or r[11] != 9001:
                sys.exit("transformation %d: not a Helmert in metres and ppm" % op)
            sign = -1 if method == 9607 else 1  # coordinate frame: rotations the other way
            arcsec = factor[r[7]] / factor[9104]
            shift = list(r[1:4]) + [round(sign * v * arcsec, 12) for v in rot] + [r[8]]
        else:
            r = db.execute("""select code, accuracy from helmert_transformation
                where auth_name='EPSG' and source_crs_auth_name='EPSG' and source_crs_code=? and target_crs_code=4326
                and deprecated=0 and method_code in (9603, 9606, 9607) and accuracy<=4
                and tx=0 and ty=0 and tz=0 and ifnull(rx,0)=0 and ifnull(ry,0)=0 and ifnull(rz,0)=0
                and ifnull(scale_difference,0)=0 order by accuracy, code""", (code,)).fetchone()
            if r:
                op, acc = r
            elif name.startswith("NAD83("):
                acc = 2.0  # what the dataset states for those realisations that it ties
            else:
                continue
        a *= factor[auom]
        if rf is None:
            rf = a / (a - b * factor[auom])
        names = db.execute("""select alt_name, source from alias_name where table_name='geodetic_datum'
            and auth_name='EPSG' and code=? order by alt_name""", (dcode,)).fetchall()
        esri = [n for n, s in names if s == "ESRI"]
        gcs = db.execute("""select alt_name from alias_name where table_name='geodetic_crs'
            and auth_name='EPSG' and code=? and source='ESRI'""", (code,)).fetchone()
        ell_esri = db.execute("""select alt_name from alias_name where table_name='ellipsoid'
            and auth_name='EPSG' and code=? and source='ESRI'""", (ell,)).fetchone()
        ell_name = db.execute("select name from ellipsoid where auth_name='EPSG' and code=?", (ell,)).fetchone()[0]
        aliases = sorted({dname} | {n for n, _ in names} | set(EXTRA_NAMES.get(code, [])))
        datums[code] = [code, name, dname, gcs[0] if gcs else "",
                        esri[0] if esri else "", ell_esri[0] if ell_esri else ell_name,
                        num(a), num(rf)] + [num(v) if v else "" for v in shift] + [
                        num(acc), op or "", "|".join(aliases)]

    with open(os.path.join(here, "datums.csv"), "w", newline="", encoding="utf-8") as f:
        f.write(head + "\n")
        w = csv.writer(f, lineterminator="\n")
        w.writerow("base name datum gcs esri ellipsoid a rf dx dy dz rx ry rz ds accuracy operation aliases".split())
        w.writerows(datums[c] for c in sorted(datums))

    rows = []
    for r in db.execute("""select p.code, p.name, p.geodetic_crs_code, p.coordinate_system_code, c.method_code,
            c.param1_code, c.param1_value, c.param1_uom_code, c.param2_code, c.param2_value, c.param2_uom_code,
            c.param3_code, c.param3_value, c.param3_uom_code, c.param4_code, c.param4_value, c.param4_uom_code,
            c.param5_code, c.param5_value, c.param5_uom_code, c.param6_code, c.param6_value, c.param6_uom_code,
            c.param7_code, c.param7_value, c.param7_uom_code
            from projected_crs p join conversion_table c on c.auth_name=p.conversion_auth_name and c.code=p.conversion_code
            where p.auth_name='EPSG' and p.deprecated=0 and c.method_auth_name='EPSG'"""):
        code, name, base, cs, method = r[:5]
        if base not in datums or method not in METHODS:
            continue
        kind = METHODS[method]
        axes = db.execute("""select orientation, uom_code from axis where coordinate_system_auth_name='EPSG'
            and coordinate_system_code=? order by coordinate_system_order""", (cs,)).fetchall()
        turned = [o for o, _ in axes]
        if kind == "polar":
            # Every axis of a polar system points north or south; which meridian
            # is x follows from the method, if the first one is the easting.
            first = db.execute("""select name from axis where coordinate_system_auth_name='EPSG'
                and coordinate_system_code=? and coordinate_system_order=1""", (cs,)).fetchone()[0]
            order = 0 if first == "Easting" else 1
        elif turned == ["east", "north"]:
            order = 0
        elif turned == ["north", "east"]:
            order = 1
        else:
            continue
        unit = axes[0][1]
        if unit not in (9001, 9002, 9003):
            continue
        p = dict(lat0=0.0, lon0=0.0, lat1=0.0, lat2=0.0, k=1.0, fe=0.0, fn=0.0)
        for i in range(5, 26, 3):
            if r[i] is None:
                continue
            col, v, uom = PARAMS[r[i]], r[i + 1], r[i + 2]
            if col in ("fe", "fn"):
                v *= factor[uom]
            elif col != "k":
                v = sexagesimal(v) if uom == 9110 else v if uom == 9102 else math.degrees(v * factor[uom])
            p[col] = v
        if method == 9801:
            p["lat1"] = p["lat2"] = p["lat0"]
        if method == 1102:
            p["lat2"] = p["lat1"]
        if method == 9810:
            p["lat1"] = p["lat0"]
        if method == 9829:
            p["lat0"] = math.copysign(90, p["lat1"])
        default = dict(k=1.0)
        rows.append((order, [code, name, base, kind, {9001: "m", 9002: "ft", 9003: "ftUS"}[unit]] +
                     ["" if p[c] == default.get(c, 0.0) else num(p[c]) for c in "lat0 lon0 lat1 lat2 k fe fn".split()]))

    rows.sort(key=lambda x: (x[0], x[1][0]))
    with open(os.path.join(here, "epsg.csv"), "w", newline="", encoding="utf-8") as f:
        f.write(head + "; systems whose first axis is the easting stand first\n")
        w = csv.writer(f, lineterminator="\n")
        w.writerow("code name base method unit lat0 lon0 lat1 lat2 k fe fn".split())
        w.writerows(x[1] for x in rows)
    print(len(datums), "datums,", len(rows), "projected systems")


main()
