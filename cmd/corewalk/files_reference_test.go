//go:build reference

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"corewalk/geo/gpx"
	"corewalk/geo/raster"
	"corewalk/geo/vector"
)

// tool runs a program and returns what it printed.
func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %s: %v: %s", name, strings.Join(args, " "), err, out)
	}
	return string(out)
}

// schemas is the folder of the published schemas.
func schemas() string {
	if folder := os.Getenv("COREWALK_SCHEMAS"); folder != "" {
		return folder
	}
	return "../../../shared/schemas"
}

func demoFarm(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "farm")
	mustCall(t, "demo", dir)
	return dir
}

func TestReferenceGeoJSON(t *testing.T) {
	dir := demoFarm(t)
	files, err := filepath.Glob(filepath.Join(dir, "season", "*.geojson"))
	if err != nil || len(files) != 6 {
		t.Fatalf("%v, %v", files, err)
	}
	verdict := tool(t, python, append([]string{"testdata/judge_geojson.py"}, files...)...)
	if strings.Contains(verdict, "FAULT") || !strings.Contains(verdict, "judged 6 files") {
		t.Error(verdict)
	}
	for _, f := range files {
		layer, err := vector.Read(f, vector.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if out := tool(t, "ogrinfo", "-al", "-so", f); !strings.Contains(out, fmt.Sprintf("Feature Count: %d\n", len(layer.Features))) || strings.Contains(out, "ERROR") {
			t.Errorf("ogrinfo %s: %s", f, out)
		}
	}
}

func TestReferenceWaypoints(t *testing.T) {
	dir := demoFarm(t)
	file := filepath.Join(dir, "season", "waypoints.gpx")
	tool(t, "xmllint", "--noout", "--schema", filepath.Join(schemas(), "gpx-1.1.xsd"), file)
	back := filepath.Join(t.TempDir(), "back.gpx")
	tool(t, "gpsbabel", "-i", "gpx", "-f", file, "-o", "gpx,gpxver=1.1", "-F", back)
	a, b := waypointsOf(t, file), waypointsOf(t, back)
	if len(a) != 708 || len(a) != len(b) {
		t.Fatalf("%d waypoints went in, %d came back", len(a), len(b))
	}
	for i := range a {
		if a[i].Name != b[i].Name || a[i].Comment != b[i].Comment || a[i].Description != b[i].Description ||
			math.Abs(a[i].At[0]-b[i].At[0]) > 1e-8 || math.Abs(a[i].At[1]-b[i].At[1]) > 1e-8 {
			t.Errorf("%+v came back as %+v", a[i], b[i])
		}
	}
}

// By way of KML every waypoint of the kit keeps its name, whatever the names and
// the files are.
func TestReferenceWaypointsByKML(t *testing.T) {
	dir := demoFarm(t)
	for _, args := range [][]string{{"--names", "short"}, {"--names", "long", "--name-limit", "20"}, {"--name-limit", "4", "--limit", "200"}} {
		out := t.TempDir()
		mustCall(t, append([]string{"kit", "--plan", filepath.Join(dir, "season", planFile), "--out", out}, args...)...)
		files, err := filepath.Glob(filepath.Join(out, "waypoints*.gpx"))
		if err != nil || len(files) == 0 {
			t.Fatal(files, err)
		}
		names := map[string]bool{}
		for _, file := range files {
			tool(t, "xmllint", "--noout", "--schema", filepath.Join(schemas(), "gpx-1.1.xsd"), file)
			kml, back := file+".kml", file+".back"
			tool(t, "gpsbabel", "-i", "gpx", "-f", file, "-o", "kml", "-F", kml)
			tool(t, "gpsbabel", "-i", "kml", "-f", kml, "-o", "gpx", "-F", back)
			came := map[string]bool{}
			for _, w := range waypointsOf(t, back) {
				came[w.Name] = true
			}
			for _, w := range waypointsOf(t, file) {
				if !came[w.Name] || names[w.Name] {
					t.Errorf("%v: %s did not come back, or is there twice", args, w.Name)
				}
				names[w.Name] = true
			}
		}
		if len(names) != 708 {
			t.Errorf("%v: %d names", args, len(names))
		}
	}
}

func waypointsOf(t *testing.T, path string) []gpx.Waypoint {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d, err := gpx.Read(f)
	if err != nil {
		t.Fatal(err)
	}
	return d.Waypoints
}

func TestReferenceGeoTIFF(t *testing.T) {
	dir := demoFarm(t)
	index := filepath.Join(dir, "season", surfacesFile)
	surfaces, err := readSurfaces(index)
	if err != nil || len(surfaces.Surfaces) != 12 {
		t.Fatalf("%d surfaces, %v", len(surfaces.Surfaces), err)
	}
	for _, record := range surfaces.Surfaces {
		grid, err := readGrid(index, record)
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(dir, "season", filepath.FromSlash(record.File))
		var info struct {
			Size         []int     `json:"size"`
			GeoTransform []float64 `json:"geoTransform"`
			STAC         struct {
				EPSG int `json:"proj:epsg"`
			} `json:"stac"`
			Bands []struct {
				Type   string  `json:"type"`
				NoData float64 `json:"noDataValue"`
			} `json:"bands"`
		}
		if err := json.Unmarshal([]byte(tool(t, "gdalinfo", "-json", file)), &info); err != nil {
			t.Fatal(err)
		}
		if info.STAC.EPSG != 32615 || info.Bands[0].Type != "Float32" || info.Bands[0].NoData != float64(raster.NoData) ||
			fmt.Sprint(info.Size) != fmt.Sprint([]int{grid.Width, grid.Height}) ||
			fmt.Sprint(info.GeoTransform) != fmt.Sprint([]float64{grid.West, 5, 0, grid.North, 0, -5}) {
			t.Errorf("%s: %+v", record.File, info)
		}
		for k := range 10 {
			col, row := (k*37+11)%grid.Width, (k*53+17)%grid.Height
			x, y := grid.Center(col, row)
			out := tool(t, "gdallocationinfo", "-b", "1", "-valonly", "-geoloc", file, fmt.Sprintf("%.3f", x), fmt.Sprintf("%.3f", y))
			got, err := strconv.ParseFloat(strings.TrimSpace(out), 64)
			if err != nil || float32(got) != grid.At(col, row) {
				t.Errorf("%s at %v, %v: gdal says %s, we %v", record.File, x, y, out, grid.At(col, row))
			}
		}
	}
}

// TestReferenceSameCores plans the same fields from files in four systems,
// written by GDAL through PROJ.
func TestReferenceSameCores(t *testing.T) {
	dir := t.TempDir()
	for seed := range uint64(6) {
		boundary, exclude := roughFarm(t, dir, seed)
		for _, design := range []string{"grid", "strata"} {
			var want []float64
			for _, system := range []string{"", "26915", "3418", "3857"} {
				// The farm is moved to Iowa, where these systems are at home.
				moved := filepath.Join(dir, fmt.Sprintf("moved%d.geojson", seed))
				shift(t, boundary, moved)
				around := filepath.Join(dir, fmt.Sprintf("around%d.geojson", seed))
				shift(t, exclude, around)
				file := moved
				if system != "" {
					file = filepath.Join(dir, fmt.Sprintf("f%d_%s.shp", seed, system))
					tool(t, "ogr2ogr", "-overwrite", "-t_srs", "EPSG:"+system, file, moved)
				}
				out := filepath.Join(dir, fmt.Sprintf("o%d_%s_%s", seed, design, system))
				mustCall(t, "plan", "--boundary", file, "--name", "name", "--exclude", around+"@12m", "--design", design, "--cell", "1ha",
					"--samples", "11", "--cores", "12", "--setback", "10m", "--spacing", "5m", "--depth", "0-8in", "--seed", "7", "--out", out)
				got := coresByPROJ(t, filepath.Join(out, planFile))
				if want == nil {
					want = got
					continue
				}
				if len(got) != len(want) {
					t.Fatalf("seed %d, %s, EPSG:%s: %d coordinates, want %d", seed, design, system, len(got), len(want))
				}
				worst := 0.0
				for i := range got {
					worst = math.Max(worst, math.Abs(got[i]-want[i]))
				}
				if worst > 0.02 {
					t.Errorf("seed %d, %s, EPSG:%s: cores are up to %.3f m off", seed, design, system, worst)
				}
			}
		}
	}
}

// shift copies a GeoJSON file 100 degrees west and 10 south.
func shift(t *testing.T, from, to string) {
	t.Helper()
	const script = `
import json, sys
def move(c): return [c[0] - 101.2, c[1] - 9.9] if isinstance(c[0], (int, float)) else [move(x) for x in c]
d = json.load(open(sys.argv[1]))
for f in d["features"]: f["geometry"]["coordinates"] = move(f["geometry"]["coordinates"])
json.dump(d, open(sys.argv[2], "w"))
`
	tool(t, python, "-c", script, from, to)
}

// coresByPROJ returns the cores of a plan in metres of UTM zone 15, by PROJ.
func coresByPROJ(t *testing.T, plan string) []float64 {
	t.Helper()
	const script = `
import json, sys
from pyproj import Transformer
to = Transformer.from_crs("EPSG:4326", "EPSG:32615", always_xy=True)
d = json.load(open(sys.argv[1]))
print(json.dumps([v for f in d["features"] if f["properties"]["kind"] == "core" for v in to.transform(*f["geometry"]["coordinates"])]))
`
	var out []float64
	if err := json.Unmarshal([]byte(tool(t, python, "-c", script, plan)), &out); err != nil {
		t.Fatal(err)
	}
	if len(out) == 0 {
		t.Fatalf("%s has no cores", plan)
	}
	return out
}

// TestReferenceOxfordRun carries the Oxford and meuse data through a whole run
// and compares every leave-one-out prediction with R's gstat. (The data: see
// testdata/soil/README.md.)
func TestReferenceOxfordRun(t *testing.T) {
	dir := t.TempDir()
	soil, err := filepath.Abs("../../testdata/soil")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, source, analytes, patch string
		columns                       []string
	}{
		{"oxford", `points: ` + soil + `/oxford.csv, x: XCOORD, y: YCOORD, crs: "EPSG:32630"`, "pH, P, K, Mg", "pH < 6.5", []string{"PH1", "PHOS1", "POT1", "MG1"}},
		{"meuse", `points: ` + soil + `/meuse.csv, x: x, y: y, crs: "EPSG:28992"`, "zinc, lead", "zinc > 500", []string{"zinc", "lead"}},
	} {
		job := write(t, filepath.Join(dir, c.name+".yaml"), fmt.Sprintf("farm: %s\nresults: {%s}\nsurface: {analytes: [%s], pixel: 10m, power: 2, near: all}\nzone: {patch: [%q]}\nout: %s\n",
			c.name, c.source, c.analytes, c.patch, c.name))
		mustCall(t, "run", job)
		index, err := readSurfaces(filepath.Join(dir, c.name, surfacesFile))
		if err != nil {
			t.Fatal(err)
		}
		if len(index.Surfaces) != len(c.columns) {
			t.Fatalf("%s: %d surfaces", c.name, len(index.Surfaces))
		}
		residuals, err := readResiduals(filepath.Join(dir, c.name, residualsFile), everyAnalyte)
		if err != nil {
			t.Fatal(err)
		}
		for i, column := range c.columns {
			cv := index.Surfaces[i].CrossValidation
			cv.Each = residuals[surfaceKey{index.Surfaces[i].Field, index.Surfaces[i].Analyte}]
			rmse, predicted := gstat(t, filepath.Join(soil, c.name+".csv"), column)
			if off := math.Abs(cv.RMSE/rmse - 1); off > 1e-9 {
				t.Errorf("%s %s: RMSE %.15g, gstat %.15g", c.name, column, cv.RMSE, rmse)
			}
			if len(cv.Each) != len(predicted) {
				t.Fatalf("%s %s: %d predictions, gstat has %d", c.name, column, len(cv.Each), len(predicted))
			}
			for _, e := range cv.Each {
				row, err := strconv.Atoi(strings.TrimPrefix(e.ID, "r"))
				if err != nil {
					// Oxford has ids of its own, counted from 1.
					t.Fatalf("%s: id %q", c.name, e.ID)
				}
				if strings.HasPrefix(e.ID, "r") {
					row--
				}
				if want := predicted[row-1]; math.Abs(e.Predicted/want-1) > 1e-9 {
					t.Errorf("%s %s, sample %s: %.15g, gstat %.15g", c.name, column, e.ID, e.Predicted, want)
				}
			}
		}
		zones, err := vector.Read(filepath.Join(dir, c.name, zonesFile), vector.Options{})
		if err != nil {
			t.Fatal(err)
		}
		if len(zones.Features) < 3 {
			t.Errorf("%s: %d features in the zones; want several patches and the rest", c.name, len(zones.Features))
		}
		verdict := tool(t, python, "testdata/judge_geojson.py", filepath.Join(dir, c.name, zonesFile))
		if strings.Contains(verdict, "FAULT") {
			t.Error(verdict)
		}
	}
}

// gstat cross-validates inverse distance weighting with power 2 and all
// neighbours, leaving one out.
func gstat(t *testing.T, csv, column string) (rmse float64, predicted []float64) {
	t.Helper()
	script := fmt.Sprintf(`
suppressMessages({library(sp); library(gstat)})
d <- read.csv(%q)
xy <- intersect(c("XCOORD", "YCOORD", "x", "y"), names(d))
coordinates(d) <- d[, xy]
r <- krige.cv(%s ~ 1, d, model = NULL, set = list(idp = 2), verbose = FALSE)
cat("RESULT", sprintf("%%.17g", c(sqrt(mean(r$residual^2)), r$var1.pred)), "\n")
`, csv, column)
	cmd := exec.Command("Rscript", "-e", script)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	out, err := cmd.Output()
	_, numbers, ok := strings.Cut(string(out), "RESULT")
	if err != nil || !ok {
		t.Fatalf("Rscript: %v: %s", err, errs.String())
	}
	for i, f := range strings.Fields(numbers) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			rmse = v
		} else {
			predicted = append(predicted, v)
		}
	}
	return rmse, predicted
}
