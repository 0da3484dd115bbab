package report

import (
	"bytes"
	"encoding/base64"
	"image/png"
	"math"
	"strings"
	"testing"

	"corewalk/geo"
	"corewalk/geo/raster"
)

func TestNumbers(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct{ got, want string }{
		{fixed(nan, 2), "–"}, {fixed(inf, 0), "–"}, {fixed(-0.001, 1), "0.0"}, {fixed(-1.25, 1), "−1.2"}, {fixed(3, -1), "3"},
		{significant(0.27, 2), "0.27"}, {significant(1234, 2), "1234"}, {significant(0, 2), "0"}, {significant(0.01234, 3), "0.0123"},
		{percent(0.004), "less than 1\u00a0%"}, {percent(0.7), "70\u00a0%"}, {percent(0), "0\u00a0%"},
		{plural(1, "core", "cores"), "1 core"}, {plural(0, "core", "cores"), "0 cores"},
		{list(nil), ""}, {list([]string{"a"}), "a"}, {list([]string{"a", "b", "c"}), "a, b and c"},
		{acres(geo.Acre * 3.2), "3.20 ac"}, {acres(100), "1076 sq ft"}, {hectares(12345), "1.23 ha"},
		{hectares(900), "900 m²"}, {hectares(2e6), "200 ha"}, {acres(nan), "–"},
		{one(measures{}.areaInWords(1e4), true), "2.47 ac (1.00 ha)"}, {one(measures{}.areaInWords(1e4), false), "1.00 ha"},
		{coord(-0.04), "0"}, {coord(1.25), "1.3"}, {short("grün und sehr lang, viel zu lang"), "grün und sehr lang,…"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func TestFigures(t *testing.T) {
	a := Analyte{Values: []Value{{"a", 6.1, ""}, {"b", 5.25, ""}, {"c", 0.05, "<"}}}
	f := figuresOf(&a)
	if got := f.value(a.Values[0]) + " " + f.value(a.Values[2]) + " " + f.figure(5.6789); got != "6.10 < 0.1 5.68" {
		t.Errorf("got %s", got)
	}
}

func TestWhereabouts(t *testing.T) {
	field := rect(0, 0, 300, 300)
	for _, c := range []struct {
		x, y float64
		want string
	}{{10, 10, "in the southwest"}, {150, 150, "in the middle"}, {290, 290, "in the northeast"}, {150, 290, "in the north"}, {290, 150, "in the east"}} {
		if got := whereabouts(field, rect(c.x-5, c.y-5, c.x+5, c.y+5)); got != c.want {
			t.Errorf("at %g, %g: %s", c.x, c.y, got)
		}
	}
	if got := whereabouts(field, rect(0, 0, 300, 250)); got != "over most" {
		t.Errorf("most of the field: %s", got)
	}
	if got := whereabouts(field, nil); got != "" {
		t.Errorf("nothing lies %s", got)
	}
}

func TestScaleBar(t *testing.T) {
	for _, c := range []struct {
		side float64
		us   bool
		want string
	}{{400, true, "200 ft"}, {400, false, "100 m"}, {4, false, "1 m"}, {9000, false, "2 km"}} {
		v, ok := newView(box{0, 0, c.side, c.side, true})
		if !ok || v.scaleBar(c.us).Label != c.want {
			t.Errorf("%g m: %+v", c.side, v.scaleBar(c.us))
		}
	}
	if _, ok := newView(box{}); ok {
		t.Error("nothing has a view")
	}
}

// North is up: the view turns y round.
func TestViewIsNorthUp(t *testing.T) {
	v, _ := newView(box{100, 1000, 200, 1100, true})
	if !(v.y(1100) < v.y(1000)) || !(v.x(100) < v.x(200)) || v.y(1100) != margin {
		t.Errorf("%+v", v)
	}
}

func TestTicks(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		want   string
	}{{5, 7, "5.0 5.5 6.0 6.5 7.0"}, {112, 231, "120 140 160 180 200 220"}, {0.021, 0.029, "0.022 0.024 0.026 0.028"}, {3, 3, ""}, {-4, 5, "−4 −2 0 2 4"}} {
		var labels []string
		for _, tick := range ticks(c.lo, c.hi) {
			labels = append(labels, tick.Label)
			if tick.At < 0 || tick.At > 100 {
				t.Errorf("%v", tick)
			}
		}
		if got := strings.Join(labels, " "); got != c.want {
			t.Errorf("%g to %g: %s, want %s", c.lo, c.hi, got, c.want)
		}
	}
	if ticks(0, math.Inf(1)) != nil || ticks(math.NaN(), 1) != nil {
		t.Error("ticks between numbers that are none")
	}
}

func TestCoarser(t *testing.T) {
	g := raster.New(raster.Geometry{West: 10, North: 20, Pixel: 2, Width: 5, Height: 3})
	for i := range g.Data {
		g.Data[i] = float32(i)
	}
	g.Data[14] = raster.NoData
	c := g.Coarser(3)
	if c.Width != 3 || c.Height != 2 || c.Pixel != 4 || c.West != 10 || c.North != 20 {
		t.Fatalf("%+v", c.Geometry)
	}
	want := []float32{3, 5, 6.5, 10.5, 12.5, raster.NoData}
	for i, v := range c.Data {
		if v != want[i] {
			t.Errorf("pixel %d: %g, want %g", i, v, want[i])
		}
	}
	if g.Coarser(5) != g {
		t.Error("a small grid need not change")
	}
}

func TestPicture(t *testing.T) {
	g := raster.New(raster.Geometry{Pixel: 1, Width: 1500, Height: 900})
	for i := range g.Data {
		g.Data[i] = float32(math.Sin(float64(i%1500)/90) + math.Cos(float64(i/1500)/70))
	}
	g.Data[0] = raster.NoData
	small := g.Coarser(pictureSide(1))
	uri, err := dataURI(small, raster.Dew, -2, 2)
	if err != nil {
		t.Fatal(err)
	}
	b, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(string(uri), "data:image/png;base64,"))
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if got := img.Bounds().Size(); got.X != 500 || got.Y != 300 {
		t.Errorf("size %v", got)
	}
	if len(b) > 120_000 {
		t.Errorf("a picture of %d bytes is too much for a page", len(b))
	}
	if pictureSide(160) != 300 || pictureSide(1_000_000) != shortestSide {
		t.Error("many pictures are not smaller")
	}
}

// A label must stand on the shape it names.
func TestLabelsStandInside(t *testing.T) {
	f := invented().Fields[0]
	v, _ := newView(box{west, south, west + 400, south + 400, true})
	o := v.outline(f.Boundary)
	free, _ := o.free([]spot{{100, 100}, {200, 200}})
	middle, _ := o.middle()
	corner, _ := o.corner(8, 14)
	for i, s := range []spot{free, middle, corner} {
		x0, x1, ok := o.inside(s.y)
		if !ok || s.x < x0 || s.x > x1 {
			t.Errorf("label %d at %v is off the field", i, s)
		}
	}
	if _, ok := (outline{}).free(nil); ok {
		t.Error("nothing has a place for a label")
	}
}
