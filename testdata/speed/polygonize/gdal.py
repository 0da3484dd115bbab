# Times GDAL's polygons of a raster of classes, written into memory alone.
import sys, time
from osgeo import gdal, ogr
gdal.UseExceptions()
source = gdal.Open(sys.argv[1])
raster = gdal.GetDriverByName("MEM").CreateCopy("", source)
target = ogr.GetDriverByName("Memory").CreateDataSource("")
layer = target.CreateLayer("zones", None, ogr.wkbPolygon)
layer.CreateField(ogr.FieldDefn("class", ogr.OFTInteger))
start = time.perf_counter()
gdal.Polygonize(raster.GetRasterBand(1), None, layer, 0)
seconds = time.perf_counter() - start
count, area = 0, 0
for f in layer:
    count += 1
    area += (f.GetField(0) + 1) * f.GetGeometryRef().GetArea()
print("%.4f %d %.0f" % (seconds, count, area))
