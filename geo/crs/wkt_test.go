package crs_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"corewalk/geo/crs"
)

func prj(t testing.TB, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", "wkt", name+".prj"))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestTexts(t *testing.T) {
	for _, c := range []struct {
		file string
		epsg int
		unit string
	}{
		{"esri_wgs84", 4326, "degree"},
		{"esri_nad83", 4269, "degree"},
		{"esri_iowa_south_feet", 3418, "US survey foot"},
		{"esri_utm15n_lines", 26915, "metre"},
		{"esri_web_mercator", 3857, "metre"},
		{"esri_web_mercator_old", 3857, "metre"},
		{"esri_albers", 5070, "metre"},
		{"esri_brackets", 5070, "metre"},
		{"esri_michigan_south_intl_feet", 2253, "foot"},
		{"esri_illinois_east_with_vertical", 3435, "US survey foot"},
		{"gdal_iowa_south_ftus", 3418, "US survey foot"},
		{"gdal_web_mercator", 3857, "metre"},
		{"gdal_rd_new", 28992, "metre"},
		{"gdal_bound", 28992, "metre"},
		{"gdal_compound", 4269, "degree"},
		{"wkt2_compound", 6318, "degree"},
		{"wkt2_compound_bng", 27700, "metre"},
		{"gdal_ups_north", 5041, "metre"},
		{"gdal_antarctic", 3031, "metre"},
		{"wkt2_iowa_south_ftus", 3418, "US survey foot"},
		{"wkt2_web_mercator", 3857, "metre"},
		{"wkt2_wgs84", 4326, "degree"},
	} {
		s, err := crs.FromText("\uFEFF" + prj(t, c.file))
		if err != nil {
			t.Errorf("%s: %v", c.file, err)
			continue
		}
		unit, _ := s.Unit()
		if s.EPSG() != c.epsg || unit != c.unit {
			t.Errorf("%s: EPSG:%d in %s, want %d in %s", c.file, s.EPSG(), unit, c.epsg, c.unit)
			continue
		}
		// Down to the digits that the text is written with.
		want, err := crs.FromEPSG(c.epsg)
		if err != nil {
			t.Fatal(err)
		}
		p := crs.LonLat{-90, 41}
		if c.epsg == 28992 || c.epsg == 27700 {
			p = crs.LonLat{5, 52}
		}
		if strings.HasSuffix(c.file, "antarctic") {
			p[1] = -75
		}
		x, y, err := s.Forward(p)
		wx, wy, werr := want.Forward(p)
		if err != nil || werr != nil || math.Hypot(x-wx, y-wy) > 1e-4 {
			t.Errorf("%s: %.6f, %.6f (%v), want %.6f, %.6f (%v)", c.file, x, y, err, wx, wy, werr)
		}
	}
}

func TestRefusedTexts(t *testing.T) {
	iowa, rd := prj(t, "esri_iowa_south_feet"), prj(t, "gdal_rd_new")
	web, utm := prj(t, "esri_web_mercator"), prj(t, "esri_utm15n_lines")
	change := func(text, old, new string) string {
		t.Helper()
		if !strings.Contains(text, old) {
			t.Fatalf("%q is not in the text", old)
		}
		return strings.Replace(text, old, new, 1)
	}
	for _, c := range []struct {
		name, text string
		want       []string
	}{
		{"NAD27", prj(t, "esri_nad27_utm15n"), []string{"D_North_American_1927", "EPSG:4326"}},
		{"Paris", prj(t, "gdal_ntf_paris"), []string{"datum", "Nouvelle"}},
		{"prime meridian", change(utm, `"Greenwich",0.0`, `"Ferro",-17.6666666666667`), []string{"Ferro", "Greenwich"}},
		{"projection", prj(t, "gdal_lv95"), []string{"CH1903"}},
		{"projection 2", change(utm, `"Transverse_Mercator"`, `"Krovak"`), []string{"Krovak", "EPSG:4326"}},
		{"geocentric", prj(t, "gdal_geocentric"), []string{"GEOCCS"}},
		{"south axes", prj(t, "gdal_south_africa"), []string{"Transverse_Mercator_South_Orientated"}},
		{"west axis", change(rd, `["Easting",EAST]`, `["Westing",WEST]`), []string{"west"}},
		{"no scale", change(utm, `PARAMETER["Scale_Factor",0.9996],`, ``), []string{"lacks a scale factor"}},
		{"no central meridian", change(utm, `PARAMETER["Central_Meridian",-93.0],`, ``), []string{"lacks a central meridian"}},
		{"no false easting", change(utm, `PARAMETER["False_Easting",500000.0],`, ``), []string{"lacks a false easting"}},
		{"second parallel on a cylinder", change(utm, `PARAMETER["Scale`, `PARAMETER["Standard_Parallel_2",3],PARAMETER["Scale`), []string{"standard parallel"}},
		{"unknown parameter", change(utm, `PARAMETER["Scale`, `PARAMETER["Azimuth",3],PARAMETER["Scale`), []string{"Azimuth"}},
		{"given twice", change(utm, `PARAMETER["Scale`, `PARAMETER["Latitude_Of_Center",0.0],PARAMETER["Scale`), []string{"twice"}},
		{"scale", change(utm, `0.9996`, `9996`), []string{"9996"}},
		{"latitude", change(iowa, `41.78333333333333`, `417`), []string{"417"}},
		{"cone that is none", change(change(iowa, `40.61666666666667`, `-30`), `41.78333333333333`, `30`), []string{"-30"}},
		{"number", change(utm, `0.9996`, `0x1p-2`), []string{"0x1p-2"}},
		{"NaN", change(utm, `0.9996`, `NaN`), []string{"NaN"}},
		{"huge", change(utm, `500000.0`, `1e400`), []string{"1e400"}},
		{"sphere type", change(web, `"Auxiliary_Sphere_Type",0.0`, `"Auxiliary_Sphere_Type",1.0`), []string{"Auxiliary_Sphere_Type"}},
		{"ellipsoid", change(utm, `6378137.0,298.257222101`, `6378206.4,294.9786982`), []string{"D_North_American_1983", "6.3782064e+06"}},
		{"equator", change(utm, `6378137.0,`, `6378206.4,`), []string{"D_North_American_1983", "6.3782064e+06"}},
		{"no datum", `GEOGCS["x",UNIT["Degree",0.0174532925199433]]`, []string{"no datum"}},
		{"no unit", change(utm, ",\n    UNIT[\"Meter\",1.0]", ""), []string{"unit of length"}},
		{"unit", change(utm, `UNIT["Meter",1.0]`, `UNIT["Meter",0.0]`), []string{"not plausible"}},
		{"sphere under another projection", change(change(prj(t, "esri_web_mercator_old"), `["Mercator"]`, `["Lambert_Azimuthal_Equal_Area"]`), `"Standard_Parallel_1"`, `"Latitude_Of_Origin"`), []string{"datum"}},
		{"scale and parallel", `PROJCS["x",` + prj(t, "esri_wgs84") + `,PROJECTION["Mercator"],PARAMETER["False_Easting",0],PARAMETER["False_Northing",0],PARAMETER["Central_Meridian",0],` +
			`PARAMETER["Standard_Parallel_1",40],PARAMETER["Scale_Factor",0.99],UNIT["Meter",1.0]]`, []string{"cannot both hold"}},
		{"one parallel off the origin", change(iowa, `PARAMETER["Standard_Parallel_2",41.78333333333333],`, ``), []string{"two ways"}},
		{"truncated", utm[:len(utm)/2], []string{"WKT text"}},
		{"after the end", rd + "]", []string{"after the end"}},
		{"quote", `GEOGCS["x`, []string{"closing quote"}},
		{"deep", strings.Repeat("A[", 100000), []string{"levels"}},
		{"long", `GEOGCS["` + strings.Repeat("x", 1<<20) + `"]`, []string{"too long"}},
		{"mixed brackets", `GEOGCS["x")`, []string{"closing bracket"}},
		{"local", `LOCAL_CS["site",UNIT["metre",1]]`, []string{"LOCAL_CS"}},
		{"bound to itself", `BOUNDCRS[SOURCECRS[BOUNDCRS[SOURCECRS["x"]]]]`, []string{"SOURCECRS"}},
		{"a word", `"x"`, []string{"not a WKT text"}},
		{"nothing", ``, []string{"missing"}},
	} {
		s, err := crs.FromWKT(c.text)
		if err == nil {
			t.Errorf("%s: taken as %s, EPSG:%d", c.name, s.Name(), s.EPSG())
			continue
		}
		msg := err.Error()
		for _, w := range c.want {
			if !strings.Contains(msg, w) {
				t.Errorf("%s: %q does not say %q", c.name, msg, w)
			}
		}
		if len(msg) > 400 || strings.ContainsAny(msg, "\n\r") {
			t.Errorf("%s: not one line of fair length: %q", c.name, msg)
		}
	}
}

// GDAL's WKT1 calls Web Mercator "Mercator_1SP". Any one of its marks must do,
// and without a mark it is the true one.
func TestWebMercatorMarks(t *testing.T) {
	text := prj(t, "gdal_web_mercator")
	i := strings.Index(text, "EXTENSION[")
	j := strings.Index(text, `AUTHORITY["EPSG","3857"]`)
	if i < 0 || j < i {
		t.Fatal(text)
	}
	head, ext, code := text[:i], text[i:j], text[j:]
	unnamed := strings.Replace(head, "WGS 84 / Pseudo-Mercator", "x", 1)
	none := "AXIS[\"up\",UP]]" // a third axis is no mark
	for name, c := range map[string]struct {
		text string
		want int
	}{
		"extension": {unnamed + ext + none, 3857},
		"code":      {unnamed + code, 3857},
		"old code":  {unnamed + strings.Replace(code, "3857", "900913", 1), 3857},
		"name":      {head + none, 3857},
		"none":      {unnamed + none, 3395},
	} {
		s, err := crs.FromWKT(c.text)
		if err != nil || s.EPSG() != c.want {
			t.Errorf("%s: %v: %s", name, err, c.text)
		}
	}
}

// A code in the text does not outweigh its numbers.
func TestWrongAuthority(t *testing.T) {
	text := prj(t, "gdal_iowa_south_ftus")
	for claim, want := range map[string]int{"3417": 3418, "99999999": 3418, "x": 3418} {
		s, err := crs.FromWKT(strings.Replace(text, `"EPSG","3418"`, `"EPSG","`+claim+`"`, 1))
		if err != nil || s.EPSG() != want {
			t.Errorf("%s: %v", claim, err)
		}
	}
	s, err := crs.FromWKT(strings.Replace(text, `"central_meridian",-93.5`, `"central_meridian",-93.6`, 1))
	if err != nil || s.EPSG() != 0 {
		t.Errorf("other numbers under the code: %v", err)
	}
}

// Grads, and a false easting in the file's own unit.
func TestUnits(t *testing.T) {
	const grad = `GEOGCS["grads",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["grad",0.015707963267948967]]`
	s, err := crs.FromWKT(grad)
	if err != nil {
		t.Fatal(err)
	}
	x, y, err := s.Forward(crs.LonLat{-90, 45})
	if name, m := s.Unit(); err != nil || math.Abs(x+100) > 1e-12 || math.Abs(y-50) > 1e-12 || name != "grad" || m != 0 || s.EPSG() != 0 {
		t.Errorf("%g, %g %s (%v)", x, y, name, err)
	}
	if p, err := s.Inverse(x, y); err != nil || math.Abs(p[0]+90) > 1e-12 || math.Abs(p[1]-45) > 1e-12 {
		t.Errorf("%v (%v)", p, err)
	}
	if r, err := crs.FromWKT(s.WKT()); err != nil || r.WKT() != s.WKT() {
		t.Errorf("%v: %s", err, s.WKT())
	}
	// Parameters of a WKT1 text are in the unit of its geographic system.
	tm := func(geog, lon0 string, unit string, fe float64) *crs.System {
		s, err := crs.FromWKT(fmt.Sprintf(`PROJCS["x",%s,PROJECTION["Transverse_Mercator"],PARAMETER["latitude_of_origin",0],PARAMETER["central_meridian",%s],`+
			`PARAMETER["scale_factor",1],PARAMETER["false_easting",%v],PARAMETER["false_northing",0],UNIT[%s]]`, geog, lon0, fe, unit))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	p := crs.LonLat{-90, 0}
	for _, c := range []struct {
		s      *crs.System
		metres float64
	}{
		{tm(grad, "-100", `"metre",1`, 500000), 500000},
		{tm(prj(t, "esri_wgs84"), "-90", `"Foot_US",0.3048006096012192`, 2000000), 609601.2192024384},
		{tm(prj(t, "esri_wgs84"), "-90", `"Foot_US",0.304800609601219`, 2000000), 609601.2192024384},
		{tm(prj(t, "esri_wgs84"), "-90", `"Foot (International)",0.3048`, 2000000), 609600},
		{tm(prj(t, "esri_wgs84"), "-90", `"kilometre",1000`, 500), 500000},
	} {
		x, _, err := c.s.Forward(p)
		name, m := c.s.Unit()
		if err != nil || math.Abs(x*m-c.metres) > 1e-7 {
			t.Errorf("%s: %.9f m (%v), want %.9f", name, x*m, err, c.metres)
		}
	}
}

// A cone with one standard parallel away from the latitude of origin exists in
// WKT2 alone; its .prj must not lose the parallel.
func TestOneParallelOffOrigin(t *testing.T) {
	text := prj(t, "wkt2_iowa_south_ftus")
	i, j := strings.Index(text, `PARAMETER["Latitude of 2nd`), strings.Index(text, `PARAMETER["Easting at`)
	text = text[:i] + `PARAMETER["Scale factor at natural origin",0.9999,SCALEUNIT["unity",1]],` + text[j:]
	text = strings.Replace(text, "Lambert Conic Conformal (2SP)", "Lambert Conic Conformal (1SP variant B)", 1)
	s, err := crs.FromWKT(text)
	if err != nil {
		t.Fatal(err)
	}
	r, err := crs.FromWKT(s.WKT())
	if err != nil {
		t.Fatal(err)
	}
	p := crs.LonLat{-92, 41}
	x, y, _ := s.Forward(p)
	u, v, _ := r.Forward(p)
	if x == 0 || math.Hypot(u-x, v-y) > 1e-6 {
		t.Errorf("%f, %f, from its own text %f, %f: %s", x, y, u, v, s.WKT())
	}
	at := crs.LonLat{-93.5, 41.7833333333333}
	if k := s.Scale(at); math.Abs(k-0.9999) > 1e-9 {
		t.Errorf("scale at the parallel %.10f", k)
	}
}

func TestFromText(t *testing.T) {
	for text, want := range map[string]int{
		"EPSG:26915": 26915, "epsg:4326": 4326, " 26915 \n": 26915, "OGC:CRS84": 4326, "CRS84": 4326, "CRS:84": 4326,
		"urn:ogc:def:crs:EPSG::26915": 26915, "urn:ogc:def:crs:EPSG:9.8.5:3418": 3418, "urn:ogc:def:crs:OGC:1.3:CRS84": 4326,
		"http://www.opengis.net/def/crs/EPSG/0/4326": 4326, "https://www.opengis.net/def/crs/EPSG/0/3857": 3857,
		"http://www.opengis.net/def/crs/OGC/1.3/CRS84":      4326,
		"http://www.opengis.net/gml/srs/epsg.xml#3857":      3857,
		prj(t, "esri_utm15n_lines"):                         26915,
		"urn:x-ogc:def:crs:EPSG:6345":                       6345,
		strings.ToLower("EPSG:28992"):                       28992,
		"\uFEFF" + prj(t, "esri_wgs84") + "\x00\x00\r\n \t": 4326,
	} {
		s, err := crs.FromText(text)
		if err != nil || s.EPSG() != want {
			t.Errorf("%q: %v", text, err)
		}
	}
	for _, text := range []string{"", " ", ":", "EPSG:", "EPSG:x", "EPSG:-4326", "EPSG:+4326", "ESRI:102003", "+proj=utm +zone=15", `{"type":"x"}`,
		"NAD83", "4326.0", "EPSG:4326:5", "EPSG:99999999999999999999", "84", "OGC:84", strings.Repeat("9", 1<<20), "[", "]", "("} {
		if s, err := crs.FromText(text); err == nil {
			t.Errorf("%q: taken as EPSG:%d", text, s.EPSG())
		} else if len(err.Error()) > 300 {
			t.Errorf("%q...: %d bytes of message", text[:min(10, len(text))], len(err.Error()))
		}
	}
}

func FuzzFromWKT(f *testing.F) {
	files, err := filepath.Glob("testdata/wkt/*.prj")
	if err != nil || len(files) < 20 {
		f.Fatal(files, err)
	}
	for _, name := range files {
		f.Add(prj(f, strings.TrimSuffix(filepath.Base(name), ".prj")))
	}
	f.Fuzz(func(t *testing.T, text string) {
		s, err := crs.FromWKT(text)
		if err != nil {
			if s != nil {
				t.Fatal("a system along with an error")
			}
			return
		}
		// What is read can be used, and is written so that it reads the same.
		r, err := crs.FromWKT(s.WKT())
		if err != nil {
			t.Fatalf("%v: %s", err, s.WKT())
		}
		for _, p := range []crs.LonLat{{-93, 42}, {5, 52}, {0, 0}, {180, -90}} {
			x, y, err := s.Forward(p)
			if err != nil {
				continue
			}
			u, v, err := r.Forward(p)
			_, m := s.Unit()
			if err != nil || !(math.Hypot(u-x, v-y)*m <= 1e-3+1e-9*math.Hypot(x, y)*m) {
				t.Fatalf("%v: %g, %g; its own text gives %g, %g (%v): %s", p, x, y, u, v, err, s.WKT())
			}
			q, err := s.Inverse(x, y)
			if err == nil && (math.IsNaN(q[0]) || math.IsNaN(q[1])) {
				t.Fatal(q)
			}
		}
	})
}
