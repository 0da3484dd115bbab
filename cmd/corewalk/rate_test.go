package main

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/raster"
	"corewalk/geo/vector"
	"corewalk/interp/rate"
	"corewalk/interp/task"
)

const (
	stone  = "stone: CCE 92, mesh 4/8/60 100/90/55, moisture 2, rule iowa, 26 USD/ton, step 100 lb/ac"
	potash = "potash: 0-0-60, 480 USD/ton"
	npk    = "npk: 10-20-20, 300 USD/ton, largest 200 kg/ha"
)

// rateArgs are the flags of rates on the farm in a folder.
func rateArgs(in string, more ...string) []string {
	return append([]string{"rate", "--results", filepath.Join(in, resultsFile), "--surfaces", filepath.Join(in, surfacesFile),
		"--zones", filepath.Join(in, zonesFile), "--out", filepath.Join(in, "r"), "--force"}, more...)
}

var allTables = []string{
	"--use", "iowa-2002-lime", "--use", "tri-state-2020-p", "--use", "tri-state-2020-k",
	"--crop", "corn, 180 bu/ac, pH 6.5", "--crop", "alfalfa: alfalfa, 6 ton/ac, pH 6.9", "--zones-of", "pH",
}

// massKey is what masses are summed by.
type massKey struct{ field, product string }

func sumsOf(s rateSummary) map[massKey]float64 {
	out := map[massKey]float64{}
	for _, r := range s.Rates {
		out[massKey{r.Field, r.Product}] += r.Kilograms
	}
	return out
}

func sameMass(t *testing.T, what string, got, want map[massKey]float64) {
	t.Helper()
	for k, w := range want {
		if g := got[k]; !(math.Abs(g-w) <= 1e-9*max(w, 1)) {
			t.Errorf("%s, %v: %.9f kg, the totals say %.9f", what, k, g, w)
		}
	}
}

// areaIn is the true area of a shape in degrees, in the frame of its field.
func areaIn(t *testing.T, f geo.Frame, s crs.LonLatShape) float64 {
	t.Helper()
	shape, _, err := f.Shape(s)
	if err != nil {
		t.Fatal(err)
	}
	return f.GeodesicArea(shape)
}

func frames(t *testing.T, in string) map[string]geo.Frame {
	t.Helper()
	r, err := readResults(filepath.Join(in, resultsFile))
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]geo.Frame{}
	for _, f := range r.Fields {
		out[f.Name] = f.Frame
	}
	return out
}

// Rate times area, summed over the ground in every file, is the total: with the
// areas that stand in the file, and with those of its outlines.
func TestMassesAreTheSameInEveryFile(t *testing.T) {
	in := zonedSeason(t)
	frame := frames(t, in)
	for _, more := range [][]string{
		{"--by", "zone", "--product", stone, "--product", npk, "--product", potash},
		{"--by", "unit", "--product", stone, "--product", potash, "--units", "us"},
		{"--by", "surface", "--product", stone, "--product", npk, "--product", potash, "--rate-unit", "ton/ac", "--smooth", "--smallest", "0.5ac"},
	} {
		var s rateSummary
		os.RemoveAll(filepath.Join(in, "r"))
		summary(t, &s, rateArgs(in, slices.Concat(allTables, more)...)...)
		total := sumsOf(s)
		layer, err := vector.Read(filepath.Join(in, "r", ratesFile), vector.Options{})
		if err != nil {
			t.Fatal(err)
		}
		byAttribute, byOutline := map[massKey]float64{}, map[massKey]float64{}
		add := func(l *vector.Layer, rateColumn, unitColumn, areaColumn, fieldColumn, productColumn string) {
			for i := range l.Features {
				f := &l.Features[i]
				number := func(name string) float64 { v, _ := f.Values[l.Column(name)].(float64); return v }
				text := func(name string) string { v, _ := l.Text(f, name); return v }
				per, ok := rate.KgPerHa(text(unitColumn))
				if !ok {
					t.Fatalf("%s: rate in %q", l.Path, text(unitColumn))
				}
				key := massKey{text(fieldColumn), text(productColumn)}
				byAttribute[key] += number(rateColumn) * per * number(areaColumn)
				byOutline[key] += number(rateColumn) * per * areaIn(t, frame[key.field], f.Shape) / geo.Hectare
			}
		}
		add(layer, "rate", "rate_unit", "area_ha", "field", "product")
		sameMass(t, "GeoJSON, areas as written", byAttribute, total)
		sameMass(t, "GeoJSON, areas of outlines", byOutline, total)

		clear(byAttribute)
		clear(byOutline)
		files, err := filepath.Glob(filepath.Join(in, "r", "prescriptions", "*.shp"))
		if err != nil || len(files) == 0 {
			t.Fatal(files, err)
		}
		for _, path := range files {
			l, err := vector.Read(path, vector.Options{})
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range l.Columns {
				if len(c.Name) > 10 {
					t.Errorf("%s: column %s", path, c.Name)
				}
			}
			add(l, "RATE", "UNIT", "AREA_HA", "FIELD", "PRODUCT")
		}
		for _, sums := range []map[massKey]float64{byAttribute, byOutline} {
			for k := range total {
				if k.product == "" {
					sums[k] = total[k] // what has no product has no prescription
				}
			}
		}
		sameMass(t, "shapefile, areas as written", byAttribute, total)
		sameMass(t, "shapefile, areas of outlines", byOutline, total)

		file := readTask(t, filepath.Join(in, "r", taskFile))
		sums := map[massKey]float64{}
		for _, k := range file.Tasks {
			name := file.Fields[k.Field].Name
			for _, z := range k.Zones {
				if z.Rate != math.Trunc(z.Rate) {
					t.Errorf("%s: rate %v mg/m2", k.Name, z.Rate)
				}
				sums[massKey{name, file.Products[k.Product].Name}] += z.Rate / task.KgPerHa * areaIn(t, frame[name], z.Shape) / geo.Hectare
			}
		}
		for k := range total {
			if k.product == "" {
				sums[k] = total[k]
			}
		}
		sameMass(t, "task file", sums, total)

		rows, err := csv.NewReader(bytes.NewReader(mustRead(t, filepath.Join(in, "r", rateTableFile)))).ReadAll()
		if err != nil || len(rows) != len(layer.Features)+1 {
			t.Errorf("rates.csv has %d rows for %d features: %v", len(rows), len(layer.Features), err)
		}
	}
}

func mustRead(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func readTask(t *testing.T, path string) *task.File {
	t.Helper()
	data := mustRead(t, path)
	f, err := task.Read(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// A task file with grids: read back at the middle of every pixel of the surface,
// they are the rates of the zones there, and their masses are told.
func TestTaskGridIsTheRaster(t *testing.T) {
	in := zonedSeason(t)
	var s rateSummary
	summary(t, &s, rateArgs(in, "--use", "iowa-2002-lime", "--target-ph", "6.5", "--by", "surface", "--task", "grid", "--product", "stone: ENV 63, largest 20 ton/ac")...)
	file := readTask(t, filepath.Join(in, "r", taskFile))
	frame := frames(t, in)
	layer, err := vector.Read(filepath.Join(in, "r", ratesFile), vector.Options{})
	if err != nil {
		t.Fatal(err)
	}
	index, err := readSurfaces(filepath.Join(in, surfacesFile))
	if err != nil {
		t.Fatal(err)
	}
	compared := 0
	for _, k := range file.Tasks {
		name := file.Fields[k.Field].Name
		x := rated{field: &geo.Field{Name: name, Frame: frame[name]}}
		at := slices.IndexFunc(index.Surfaces, func(r surfaceRecord) bool { return r.Field == name && r.Analyte == "pH" })
		g, err := readGrid(filepath.Join(in, surfacesFile), index.Surfaces[at])
		if err != nil {
			t.Fatal(err)
		}
		x.geometry = &g.Geometry
		var zones []task.Zone
		for i := range layer.Features {
			f := &layer.Features[i]
			if field, _ := layer.Text(f, "field"); field == name {
				kg, _ := f.Values[layer.Column("kg_per_ha")].(float64)
				zones = append(zones, task.Zone{Rate: kg * task.KgPerHa, Shape: f.Shape})
			}
		}
		burnt, err := x.burn(zones)
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range burnt.Data {
			px, py := burnt.Center(i%burnt.Width, i/burnt.Width)
			p, err := frame[name].LonLat(geo.XY{px, py})
			if err != nil {
				t.Fatal(err)
			}
			want := int32(0)
			if v != raster.NoData {
				want = int32(math.Round(float64(v) * task.KgPerHa))
				compared++
			}
			if got, ok := k.Grid.At(p); !ok || got != want {
				t.Fatalf("%s, pixel %d: %d mg/m2 in the file, %d on the raster", name, i, got, want)
			}
		}
		r := s.Rates[slices.IndexFunc(s.Rates, func(r rateRecord) bool { return r.Field == name })]
		if r.TaskKg == nil || math.Abs(*r.TaskKg-k.Grid.Mass()) > 1e-9*k.Grid.Mass() {
			t.Errorf("%s: the grid has %.6f kg, rates.json says %v", name, k.Grid.Mass(), r.TaskKg)
		} else if math.Abs(*r.TaskKg/r.Kilograms-1) > 0.02 {
			t.Errorf("%s: the grid has %g kg, the zones %g", name, *r.TaskKg, r.Kilograms)
		}
	}
	if compared < 10000 {
		t.Errorf("only %d pixels compared", compared)
	}
}

// A table refuses what it is not made for, with one line and status 1.
func TestRateGuards(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "p.csv"), "id,lon,lat,pH,Mehlich buffer pH,P Olsen (ppm),K Mehlich-3 (lb/ac),CEC\n"+
		"A1,-93.6,42.0,5.4,6.2,9,240,12\nA2,-93.601,42.001,5.2,6.1,8,250,12\nA3,-93.602,42.002,6.9,6.7,8,250,12\nA4,-93.602,42.001,5.9,6.7,8,250,12\n")
	job := write(t, filepath.Join(dir, "job.yaml"), "farm: x\nresults: {points: p.csv, x: lon, y: lat, id: id, crs: \"EPSG:4326\"}\nout: o\n")
	mustCall(t, "run", job)
	for _, c := range []struct{ sample, args, want string }{
		{"A1", "--use north-carolina-lime --target-ph 6.8", "above what its buffer can tell of"},
		{"A4", "--use north-carolina-lime --target-ph 6.5", "buffer pH 6.7 is above the table"},
		{"A1", "--use iowa-2002-lime --target-ph 6.5", "is by Mehlich, and the table is for SMP only"},
		{"A1", "--use tri-state-2020-p --crop corn,180_bu/ac --depth 0-8in", "P is by Olsen"},
		{"A1", "--use new-jersey-k", "in lb/ac and the depth of the sample isn't known"},
		{"A1", "--use tri-state-2020-k --crop corn,180_bu/ac", "depth of the sample isn't known"},
		{"A1", "--use tri-state-2020-k --crop corn,180_bu/ac --depth 0-6in", "0 to 8 in and has no rule for others"},
		{"A1", "--use no-such-table", "there is no table"},
		{"Z9", "--use new-jersey-k --depth 0-8in", "no sample"},
	} {
		args := []string{"rate", "--results", filepath.Join(dir, "o", resultsFile), "--explain", c.sample}
		for _, a := range strings.Fields(c.args) {
			args = append(args, strings.ReplaceAll(a, "_", " "))
		}
		_, stderr, status := call(t, args...)
		if status != exitFailed || !strings.Contains(stderr, c.want) || strings.Count(strings.TrimSpace(stderr), "\n") > 0 {
			t.Errorf("%s: status %d: %s", c.args, status, stderr)
		}
	}
	out := mustCall(t, "rate", "--results", filepath.Join(dir, "o", resultsFile), "--explain", "A3", "--use", "north-carolina-lime", "--target-ph", "6.5")
	if !strings.Contains(out, "rate: 0 ton/ac of CaCO3: pH 6.9 is at or above the target of 6.5") {
		t.Errorf("pH above target:\n%s", out)
	}
	// North Carolina's rule by hand: (6.6 - 6.2) × 4 × (6.5 - 5.4) / (6.6 - 5.4).
	out = mustCall(t, "rate", "--results", filepath.Join(dir, "o", resultsFile), "--explain", "A1", "--use", "north-carolina-lime", "--target-ph", "6.5")
	if !strings.Contains(out, "rate: 1.6 × 0.9166666667 = 1.466666667 ton/ac") {
		t.Errorf("explanation:\n%s", out)
	}
}

// A job whose rates are refused ends with that, and its page is there.
func TestPageWithoutRates(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "farm")
	mustCall(t, "demo", dir)
	text := strings.Replace(string(mustRead(t, filepath.Join(dir, "job.yaml"))), "use: [iowa-2002-lime, tri-state-2020-p, tri-state-2020-k]", "use: [tri-state-1995-p]", 1)
	text = regexp.MustCompile(`(?s)  product: .*\]\n`).ReplaceAllString(text, "")
	job := write(t, filepath.Join(dir, "other.yaml"), strings.Replace(text, "out: season", "out: other", 1))
	_, stderr, status := call(t, "run", job)
	if status != exitFailed || !strings.Contains(stderr, "there is no rate anywhere") {
		t.Errorf("status %d: %s", status, stderr)
	}
	if page := string(mustRead(t, filepath.Join(dir, "other", reportFile))); !strings.Contains(page, "there are no rates: ") {
		t.Error("the page does not say that there are no rates")
	}
	if _, err := os.Stat(filepath.Join(dir, "other", ratesFile)); err == nil {
		t.Error("there is a file of rates")
	}
}

func TestProductsRefused(t *testing.T) {
	for text, want := range map[string]string{
		"l: CCE 0":                              "neutralises nothing",
		"l: CCE 400":                            "give 5 to 250",
		"l: ENV 0":                              "neutralises nothing",
		"l: ENV 0 lb/ton":                       "give 5 to 250",
		"l: CCE 92, mesh 4/8 100/90":            "need the rule of a state",
		"l: CCE 92, mesh 4/8 100/90, rule iowa": "60 mesh",
		"l: CCE 92, mesh 4/8/60 100/90":         "as many mesh numbers",
		"l: CCE 92, rule nowhere":               "no rule",
		"l: CCE 92, 0-46-0":                     "one or the other",
		"urea":                                  "name comes first",
		"x: 0-0-0":                              "nothing in it",
		"x: 90-90-90":                           "270 %",
		"x: 0-46-0, 0 USD/ton":                  "above 0",
		"x: 0-46-0, 5 USD/ton, 6 USD/ton":       "twice",
		"x: 0-46-0, -5 USD/ton":                 "not understood",
		"x: 0-46-0, step 5":                     "with its unit",
		"x: 0-46-0, bulk 5":                     "kg/m3",
		"x: 0-46-0,":                            "nothing between",
		":0-46-0":                               "name comes first",
		"":                                      "name comes first",
	} {
		if _, err := parseProduct(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
	p, err := parseProduct("quarry: ENV 1262.24 lb/ton, 26 USD/ton, bulk 95 lb/ft3, largest 2 ton/ac, least 500 lb/ac, step 100 lb/ac, lift")
	if err != nil {
		t.Fatal(err)
	}
	lb, _ := rate.KgPerHa("lb/ac")
	for what, pair := range map[string][2]float64{
		"ENV": {p.Lime.ENV, 63.112}, "price": {p.PricePerKg, 26 / (2000 * 0.45359237)}, "bulk": {p.Density, 95 * 16.01846337},
		"largest": {p.Spreader.Largest, 4000 * lb}, "least": {p.Spreader.Least, 500 * lb}, "step": {p.Spreader.Step, 100 * lb},
	} {
		if math.Abs(pair[0]/pair[1]-1) > 1e-6 {
			t.Errorf("%s: %v, want %v", what, pair[0], pair[1])
		}
	}
	if p.currency != "USD" || !p.Spreader.LiftBelowLeast {
		t.Errorf("%+v", p)
	}
}

// Zones on a surface that is not supported have the figures of the sampling
// units, unless the user insists.
func TestRatesFallBack(t *testing.T) {
	in := zonedSeason(t)
	args := []string{"--use", "tri-state-2020-k", "--crop", "corn, 180 bu/ac", "--by", "surface", "--product", potash}
	_, stderr, status := call(t, rateArgs(in, args...)...)
	if status != 0 || !strings.Contains(stderr, "field Long Slip: the surface of K is not supported, so its figures are those of the sampling units") {
		t.Fatalf("status %d: %s", status, stderr)
	}
	before := mustRead(t, filepath.Join(in, "r", ratesFile))
	_, stderr, status = call(t, rateArgs(in, append(args, "--insist")...)...)
	if status != 0 || strings.Contains(stderr, "surface of K is not supported") {
		t.Fatalf("status %d: %s", status, stderr)
	}
	if bytes.Equal(before, mustRead(t, filepath.Join(in, "r", ratesFile))) {
		t.Error("insisting changes nothing")
	}
}

// Ground above the limit of a table for phosphorus that gets some, as its zone has
// less on the mean, is told; rates by surface leave it out.
func TestGroundAboveTheLimitIsTold(t *testing.T) {
	in := zonedSeason(t)
	own := write(t, filepath.Join(in, "own.yaml"), ownPhosphorus)
	args := []string{"--table", own, "--use", "ours-p", "--crop", "corn, 180 bu/ac", "--product", "TSP: 0-46-0"}
	_, stderr, status := call(t, rateArgs(in, append(args, "--zones-of", "pH", "--by", "zone")...)...)
	if status != 0 || !strings.Contains(stderr, "above the limit of table ours-p, over which no P2O5 is to be spread") {
		t.Fatalf("status %d: %s", status, stderr)
	}
	_, stderr, status = call(t, rateArgs(in, append(args, "--by", "surface")...)...)
	if status != 0 || strings.Contains(stderr, "above the limit") {
		t.Fatalf("status %d: %s", status, stderr)
	}
}

const ownPhosphorus = `- {name: ours-p, kind: nutrient, region: here, soil: any, crops: [{name: corn, yield: bu/ac, highest: 400, removal: 0.35}],
   inputs: [{analyte: P, methods: [Mehlich-3], unit: mg/kg, min: 0, max: 2000}], by: P, depth: {inches: 8, others: refuse},
   out: {of: P2O5, unit: lb/ac}, none_above: 36, formula: {build_up: {per_unit: 5, bands: [{critical: 20, maintenance: 100}]}},
   source: {author: us, title: our trials, place: here}, verified: seen}
`

// Zones that lie over each other, that leave ground out, and of another field.
func TestZonesAreHeldAgainstTheGround(t *testing.T) {
	in := zonedSeason(t)
	lines := strings.Split(string(mustRead(t, filepath.Join(in, zonesFile))), "\n")
	one := slices.IndexFunc(lines, func(s string) bool {
		return strings.Contains(s, `"id":"pH-2"`) && strings.Contains(s, `"field":"Home Ground"`)
	})
	if one < 0 {
		t.Fatal("there is no such zone")
	}
	for _, c := range []struct {
		change func([]string) []string
		want   string
		status int
	}{
		{func(l []string) []string { return slices.Insert(l, one, l[one]) }, "lie over each other", exitFailed},
		{func(l []string) []string { return slices.Delete(l, one, one+1) }, "lie in no zone, and get nothing", exitDone},
		{func(l []string) []string {
			for i := range l {
				l[i] = strings.ReplaceAll(l[i], `"field":"Long Slip"`, `"field":"Nowhere"`)
			}
			return l
		}, "field Long Slip has no zones in the file", exitDone},
	} {
		path := write(t, filepath.Join(in, "changed.geojson"), strings.Join(c.change(slices.Clone(lines)), "\n"))
		args := rateArgs(in, "--use", "iowa-2002-lime", "--target-ph", "6.5", "--product", stone)
		args[slices.Index(args, "--zones")+1] = path
		if _, stderr, status := call(t, args...); status != c.status || !strings.Contains(stderr, c.want) {
			t.Errorf("%s: status %d: %s", c.want, status, stderr)
		}
	}
}

// A run with fewer products tells which prescriptions are not of it.
func TestLeftoversAreTold(t *testing.T) {
	in := zonedSeason(t)
	args := []string{"--use", "iowa-2002-lime", "--target-ph", "6.9", "--task", "no"}
	if _, stderr, status := call(t, rateArgs(in, append(args, "--product", stone)...)...); status != 0 || strings.Contains(stderr, "earlier run") {
		t.Fatalf("status %d: %s", status, stderr)
	}
	_, stderr, status := call(t, rateArgs(in, append(args, "--product", "stone: ENV 60, largest 50 ton/ac")...)...)
	if status != 0 || !strings.Contains(stderr, "Home-Ground-stone-2.shp") || !strings.Contains(stderr, "earlier run") || strings.Contains(stderr, "Home-Ground-stone.shp") {
		t.Errorf("status %d: %s", status, stderr)
	}
}

// Cautions, sources and how they were verified stand in every file.
func TestEveryFileHasTheCautions(t *testing.T) {
	in := zonedSeason(t)
	zipped, err := zip.OpenReader(filepath.Join(in, taskFile))
	if err != nil {
		t.Fatal(err)
	}
	defer zipped.Close()
	var xml bytes.Buffer
	for _, f := range zipped.File {
		if strings.HasSuffix(f.Name, "TASKDATA.XML") {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			xml.ReadFrom(r)
		}
	}
	files := map[string]string{"task file": xml.String()}
	for _, name := range []string{ratesFile, rateTotalsFile, reportFile} {
		files[name] = string(mustRead(t, filepath.Join(in, name)))
	}
	about, err := filepath.Glob(filepath.Join(in, "prescriptions", "*.shp.xml"))
	if err != nil || len(about) < 9 {
		t.Fatal(about, err)
	}
	for _, path := range about {
		files[filepath.Base(path)] = string(mustRead(t, path))
	}
	for name, text := range files {
		for _, want := range []string{rate.CautionAdvice, rate.CautionRules, rate.CautionPlan, rate.CautionDust} {
			if !strings.Contains(text, want) && !strings.Contains(text, strings.ReplaceAll(want, "--", "- -")) {
				t.Errorf("%s lacks %q", name, want)
			}
		}
		if !strings.Contains(text, "tri-state-2020") && !strings.Contains(text, "iowa-2002-lime") {
			t.Errorf("%s names no table", name)
		}
	}
	for _, pattern := range []string{"*.dbf"} {
		tables, _ := filepath.Glob(filepath.Join(in, "prescriptions", pattern))
		for _, path := range tables {
			if !bytes.Contains(mustRead(t, path), []byte(shortAdvice)) {
				t.Errorf("%s lacks the caution", path)
			}
		}
	}
	if text := string(mustRead(t, filepath.Join(in, rateTableFile))); strings.Count(text, shortAdvice) != strings.Count(text, "\n")-1 {
		t.Error("rates.csv lacks the caution in some row")
	}
}

// The totals of the demonstration: variable against uniform, in mass and money.
func TestVariableAgainstUniform(t *testing.T) {
	in := zonedSeason(t)
	var s rateSummary
	if err := json.Unmarshal(mustRead(t, filepath.Join(in, rateTotalsFile)), &s); err != nil {
		t.Fatal(err)
	}
	if len(s.Rates) != 9 || len(s.Tables) != 3 {
		t.Fatalf("%d rates by %d tables", len(s.Rates), len(s.Tables))
	}
	for _, name := range []string{resultsFile, surfacesFile, zonesFile, "Home-Ground_pH.tif", "Long-Slip_P.tif"} {
		if !slices.ContainsFunc(s.Inputs, func(h inputHash) bool { return h.File == name }) {
			t.Errorf("%s is not among the inputs", name)
		}
	}
	for _, r := range s.Rates {
		if r.UniformKg == nil || r.Cost == nil || r.UniformCost == nil {
			t.Errorf("%s, %s: not compared", r.Field, r.Product)
			continue
		}
		if d := *r.OverKg - *r.UnderKg - (*r.UniformKg - r.Kilograms); math.Abs(d) > 1e-6 {
			t.Errorf("%s, %s: too much less too little is off by %g kg", r.Field, r.Product, d)
		}
		if r.Kilograms > 0 && math.Abs(*r.Cost / *r.UniformCost * (*r.UniformKg) / r.Kilograms - 1) > 1e-9 && *r.UniformKg > 0 {
			t.Errorf("%s, %s: costs do not go with masses", r.Field, r.Product)
		}
	}
	page := string(mustRead(t, filepath.Join(in, reportFile)))
	for _, want := range []string{"iowa-2002-lime", "PM 1688", "quarry lime (invented)", "USD"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

func TestRateRefused(t *testing.T) {
	in := zonedSeason(t)
	lime := []string{"--use", "iowa-2002-lime", "--target-ph", "6.5"}
	for _, c := range []struct {
		args   []string
		want   string
		status int
	}{
		{[]string{"--use", "tri-state-2020-p", "--use", "tri-state-1995-p"}, "both for P2O5", 1},
		{append(lime, "--crop", "Nowhere: corn"), "no field or management unit of that name", 1},
		{append(lime, "--crop", "corn", "--crop", "wheat"), "another crop for the same ground", 1},
		{append(lime, "--product", potash), "nothing that a table asks for", 1},
		{append(lime, "--zones-of", "K", "--by", "zone"), "there are no zones", 1},
		{append(lime, "--by", "moon"), "not known", 2},
		{append(lime, "--rate-unit", "stone/rood"), "not known", 2},
		{append(lime, "--product", "a: ENV 60, 5 USD/ton", "--product", "b: 0-46-0, 5 EUR/t"), "one currency", 2},
		{append(lime, "--explain", "pH-1"), "write the field, too", 1},
		{[]string{"--use", "iowa-2002-lime"}, "it needs a target pH", 1},
		{append(lime, "--table", filepath.Join(in, "none.yaml")), "is not there", 1},
	} {
		stdout, stderr, status := call(t, rateArgs(in, c.args...)...)
		if status != c.status || !strings.Contains(stderr, c.want) {
			t.Errorf("%v: status %d, %s%s", c.args, status, stdout, stderr)
		}
	}
	if _, err := os.Stat(filepath.Join(in, "r")); err == nil {
		t.Error("something was written")
	}
}

var stepForm = regexp.MustCompile(`^(.*): ([0-9.×/()+ -]+) = ([0-9.]+)`)

// The explanation of a zone goes from its means to what is spread, every number
// being used that was found before.
func TestExplainAZone(t *testing.T) {
	in := zonedSeason(t)
	out := mustCall(t, rateArgs(in, "--use", "iowa-2002-lime", "--target-ph", "6.5", "--product", stone, "--explain", "Home Ground/pH-1")...)
	lines := strings.Split(out, "\n")
	steps := 0
	for i, line := range lines {
		m := stepForm.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		steps++
		got, ok := calculate(m[2])
		want, err := parseNumber(m[3])
		if !ok || err != nil || math.Abs(got-want) > 1e-9*math.Abs(want) {
			t.Errorf("%q: a calculator says %v", line, got)
		}
		for _, number := range regexp.MustCompile(`[0-9.]{8,}`).FindAllString(m[2], -1) {
			if !strings.Contains(strings.Join(lines[:i], "\n"), number) && number != "1.120851156" {
				t.Errorf("%q: %s was not found before", line, number)
			}
		}
	}
	if steps < 6 || !strings.Contains(out, "means of ") {
		t.Errorf("%d steps:\n%s", steps, out)
	}
}

// calculate does what a pocket calculator with brackets does.
func calculate(text string) (float64, bool) {
	tokens := regexp.MustCompile(`[0-9.]+|[×/()+-]`).FindAllString(text, -1)
	at, ok := 0, true
	next := func() string {
		if at < len(tokens) {
			return tokens[at]
		}
		return ""
	}
	var sum func() float64
	factor := func() float64 {
		t := next()
		at++
		if t == "(" {
			v := sum()
			at++
			return v
		}
		v, err := parseNumber(t)
		ok = ok && err == nil
		return v
	}
	product := func() float64 {
		v := factor()
		for next() == "×" || next() == "/" {
			op := next()
			at++
			if w := factor(); op == "×" {
				v *= w
			} else {
				v /= w
			}
		}
		return v
	}
	sum = func() float64 {
		v := product()
		for next() == "+" || next() == "-" {
			op := next()
			at++
			if w := product(); op == "+" {
				v += w
			} else {
				v -= w
			}
		}
		return v
	}
	v := sum()
	return v, ok && at == len(tokens)
}
