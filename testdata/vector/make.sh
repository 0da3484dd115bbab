#!/bin/sh
# Makes the files here from fields.geojson, an invented farm, with GDAL (3.6.2
# made those that are kept). Run in this folder.
set -e
rm -f utm.* stateplane.* mercator.* z25d.* latin1.* UPPER.* zipped.zip points.* lines.* crs84.geojson epsg26915.geojson
ogr2ogr -q -t_srs EPSG:26915 -lco ENCODING=UTF-8 utm.shp fields.geojson
ogr2ogr -q -t_srs EPSG:3418 -lco ENCODING=UTF-8 stateplane.shp fields.geojson
ogr2ogr -q -t_srs EPSG:3857 -lco ENCODING=UTF-8 mercator.shp fields.geojson
ogr2ogr -q -t_srs EPSG:26915 -dim XYZ -nlt POLYGON25D z25d.shp fields.geojson
ogr2ogr -q -lco ENCODING=ISO-8859-1 latin1.shp fields.geojson
ogr2ogr -q -t_srs EPSG:26915 -lco ENCODING=UTF-8 upper.shp fields.geojson
for e in shp shx dbf prj cpg; do mv upper.$e UPPER.$(echo $e | tr a-z A-Z); done
ogr2ogr -q -sql "SELECT ST_PointOnSurface(geometry) AS geometry, id FROM fields" -dialect sqlite -t_srs EPSG:26915 points.shp fields.geojson
ogr2ogr -q -sql "SELECT ST_ExteriorRing(ST_GeometryN(geometry, 1)) AS geometry, id FROM fields" -dialect sqlite -t_srs EPSG:26915 lines.shp fields.geojson
ogr2ogr -q crs84.geojson fields.geojson
ogr2ogr -q -t_srs EPSG:26915 -lco RFC7946=NO -lco COORDINATE_PRECISION=9 epsg26915.geojson fields.geojson
python3 - <<'PY'
import zipfile
with zipfile.ZipFile('zipped.zip', 'w', zipfile.ZIP_DEFLATED) as z:
    for e in ('shp', 'shx', 'dbf', 'prj', 'cpg'):
        z.write('utm.' + e, zipfile.ZipInfo('farm/utm.' + e).filename)
    z.writestr('__MACOSX/farm/._utm.shp', 'x')
    z.writestr('farm/readme.txt', 'x')
PY
