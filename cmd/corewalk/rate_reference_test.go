//go:build reference

package main

import (
	"archive/zip"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The task files of a farm, with zones and with grids, by the published schema.
func TestReferenceTaskFileSchema(t *testing.T) {
	in := zonedSeason(t)
	for _, kind := range []string{"zones", "grid"} {
		mustCall(t, rateArgs(in, append(allTables, "--task", kind, "--by", "surface", "--product", stone, "--product", npk, "--product", potash, "--farm", "Ærø & <Łąka>")...)...)
		z, err := zip.OpenReader(filepath.Join(in, "r", taskFile))
		if err != nil {
			t.Fatal(err)
		}
		defer z.Close()
		for _, f := range z.File {
			if f.Name != "TASKDATA/TASKDATA.XML" {
				continue
			}
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			data, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(t.TempDir(), "TASKDATA.XML")
			if err := os.WriteFile(path, data, 0o644); err != nil {
				t.Fatal(err)
			}
			tool(t, "xmllint", "--noout", "--nonet", "--schema", filepath.Join(schemas(), "ISO11783_TaskFile_V4-3.xsd"), path)
			for _, want := range []string{"<TZN", "<PDT", "<PFD", "<FRM", `A="0006"`} {
				if !strings.Contains(string(data), want) {
					t.Errorf("%s: %s is not there", kind, want)
				}
			}
			if got := strings.Contains(string(data), "<GRD"); got != (kind == "grid") {
				t.Errorf("%s: there is a grid: %v", kind, got)
			}
		}
	}
}

// Prescriptions in ogrinfo, and their masses with areas by GeographicLib, which
// rounds to some square millimetres at every edge.
func TestReferencePrescriptions(t *testing.T) {
	in := zonedSeason(t)
	var s rateSummary
	if err := json.Unmarshal(mustRead(t, filepath.Join(in, rateTotalsFile)), &s); err != nil {
		t.Fatal(err)
	}
	files, err := filepath.Glob(filepath.Join(in, "prescriptions", "*.shp"))
	if err != nil || len(files) < 9 {
		t.Fatal(files, err)
	}
	for _, path := range files {
		out := tool(t, "ogrinfo", "-al", "-so", path)
		for _, want := range []string{"ZONE: String", "RATE: Real", "UNIT: String", "PRODUCT: String", "PASS: Integer", "AREA_HA: Real", "MASS_KG: Real", "TABLE: String", "ADVICE: String", `GEOGCRS["WGS 84"`, "Geometry: Polygon"} {
			if !strings.Contains(out, want) {
				t.Errorf("%s: ogrinfo does not say %q:\n%s", filepath.Base(path), want, out)
			}
		}
		tool(t, "xmllint", "--noout", path+".xml")
	}
	const script = `
import json, sys
from osgeo import ogr
from pyproj import Geod
g = Geod(ellps="WGS84")
sums = {}
for path in sys.argv[1:]:
    data = ogr.Open(path) # kept, as its layer lives no longer
    layer = data.GetLayer(0)
    for f in layer:
        rate = f["RATE"]
        if rate is None:
            continue
        per = {"lb/ac": 0.45359237 / 0.40468564224}[f["UNIT"]]
        shape = f.GetGeometryRef()
        polygons = [shape] if shape.GetGeometryType() == ogr.wkbPolygon else [shape.GetGeometryRef(i) for i in range(shape.GetGeometryCount())]
        area = 0
        for polygon in polygons:
            for i in range(polygon.GetGeometryCount()):
                x = [p[0] for p in polygon.GetGeometryRef(i).GetPoints()]
                y = [p[1] for p in polygon.GetGeometryRef(i).GetPoints()]
                a = abs(g.polygon_area_perimeter(x, y)[0])
                area += a if i == 0 else -a
        key = f["FIELD"] + "|" + f["PRODUCT"]
        sums[key] = sums.get(key, 0) + rate * per * area / 1e4
print(json.dumps(sums))
`
	var sums map[string]float64
	if err := json.Unmarshal([]byte(tool(t, python, append([]string{"-c", script}, files...)...)), &sums); err != nil {
		t.Fatal(err)
	}
	worst := 0.0
	for _, r := range s.Rates {
		got := sums[fmt.Sprintf("%s|%s", r.Field, r.Product)]
		if off := math.Abs(got - r.Kilograms); off > 1e-8*max(r.Kilograms, 1) {
			t.Errorf("%s, %s: %.9f kg by GeographicLib's areas, %.9f in the totals", r.Field, r.Product, got, r.Kilograms)
		} else if r.Kilograms > 0 {
			worst = max(worst, off/r.Kilograms)
		}
	}
	t.Logf("masses with GeographicLib's areas differ by %.1e at most", worst)
}
