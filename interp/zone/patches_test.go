package zone

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// Corner of the drawn surfaces: far from the origin, as a field's frame is.
const west, north = 512_340, 5_401_220

// picture makes a surface of 10 m pixels of digits; a dot has no value.
func picture(rows ...string) *raster.Grid {
	g := &raster.Grid{Geometry: raster.Geometry{West: west, North: north, Pixel: 10, Width: len(rows[0]), Height: len(rows), EPSG: 32632}}
	for _, row := range rows {
		for _, c := range row {
			v := raster.NoData
			if c != '.' {
				v = float32(c - '0')
			}
			g.Data = append(g.Data, v)
		}
	}
	return g
}

// box is a rectangle in metres east and south of the corner.
func box(x0, y0, x1, y1 float64) plane.Shape {
	return plane.Shape{{{{west + x0, north - y1}, {west + x1, north - y1}, {west + x1, north - y0}, {west + x0, north - y0}, {west + x0, north - y1}}}}
}

// divide maps the pixels to the ground that holds their middle.
func divide(g *raster.Grid, ground []Ground) []int32 {
	out := make([]int32, len(g.Data))
	for px := range out {
		out[px] = -1
	}
	for i, gr := range ground {
		in := plane.NewLocator(gr.Shape)
		for px := range out {
			if x, y := g.Center(px%g.Width, px/g.Width); out[px] < 0 && in.Contains(plane.XY{x, y}) {
				out[px] = int32(i)
			}
		}
	}
	return out
}

// words writes patches: number, division, area, mean, vertices without the
// closing ones, and rings.
func words(r Result) string {
	var b strings.Builder
	for _, p := range r.Patches {
		rings := 0
		for _, polygon := range p.Shape {
			rings += len(polygon)
		}
		fmt.Fprintf(&b, "%d: d%d %.2f m2 mean %.3g (%g-%g) of %d, %d corners %d rings\n", p.Number, p.Division, p.Area, p.Mean, p.Least, p.Greatest, p.Pixels, p.Shape.Vertices(), rings)
	}
	fmt.Fprintf(&b, "rest: %.2f m2 mean %.3g (%g-%g) of %d", r.Rest.Area, r.Rest.Mean, r.Rest.Least, r.Rest.Greatest, r.Rest.Pixels)
	if r.Rest.Blank > 0 {
		fmt.Fprintf(&b, ", blank %.2f m2", r.Rest.Blank)
	}
	if r.Dropped > 0 {
		fmt.Fprintf(&b, "\ndropped: %d of %.2f m2", r.Dropped, r.DroppedArea)
	}
	return b.String()
}

func TestPatches(t *testing.T) {
	all := func(g *raster.Grid) []Ground {
		return []Ground{{"all", box(0, 0, float64(10*g.Width), float64(10*g.Height))}}
	}
	for _, c := range []struct {
		name   string
		grid   *raster.Grid
		ground []Ground // nil: all of the surface
		limit  string
		opt    Options
		want   string
	}{
		{"none", picture("777", "777"), nil, "pH < 6", Options{},
			"rest: 600.00 m2 mean 7 (7-7) of 6"},
		{"a constant surface, all beyond", picture("555", "555"), nil, "pH < 6", Options{},
			"1: d0 600.00 m2 mean 5 (5-5) of 6, 4 corners 1 rings\nrest: 0.00 m2 mean 0 (0-0) of 0"},
		{"equal to the limit is not below", picture("666"), nil, "pH < 6", Options{},
			"rest: 300.00 m2 mean 6 (6-6) of 3"},
		{"equal to the limit is at most", picture("666"), nil, "pH <= 6", Options{},
			"1: d0 300.00 m2 mean 6 (6-6) of 3, 4 corners 1 rings\nrest: 0.00 m2 mean 0 (0-0) of 0"},
		{"no values", picture("...", "..."), nil, "pH < 6", Options{},
			"rest: 600.00 m2 mean 0 (0-0) of 0, blank 600.00 m2"},
		{"no value is not beyond", picture(".5.", "777"), nil, "pH < 6", Options{},
			"1: d0 100.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\nrest: 500.00 m2 mean 7 (7-7) of 3"},
		{"a single pixel", picture("777", "747", "777"), nil, "pH < 6", Options{},
			"1: d0 100.00 m2 mean 4 (4-4) of 1, 4 corners 1 rings\nrest: 800.00 m2 mean 7 (7-7) of 8"},
		{"a surface of a single pixel", picture("4"), nil, "pH < 6", Options{},
			"1: d0 100.00 m2 mean 4 (4-4) of 1, 4 corners 1 rings\nrest: 0.00 m2 mean 0 (0-0) of 0"},
		{"touching at a corner", picture("57", "75"), nil, "pH < 6", Options{},
			"1: d0 100.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\n2: d0 100.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\nrest: 200.00 m2 mean 7 (7-7) of 2"},
		{"a hole", picture("2345", "2795", "2345"), nil, "pH < 6", Options{},
			"1: d0 1000.00 m2 mean 3.5 (2-5) of 10, 8 corners 2 rings\nrest: 200.00 m2 mean 8 (7-9) of 2"},
		{"holes that touch at a corner", picture("7777777", "7555557", "7575557", "7557557", "7555557", "7777777"), nil, "P < 6", Options{},
			"1: d0 1800.00 m2 mean 5 (5-5) of 18, 12 corners 3 rings\nrest: 2400.00 m2 mean 7 (7-7) of 24"},
		{"a hole that touches the outside at a corner", picture("55577", "57577", "55757", "55557"), nil, "P < 6", Options{},
			"1: d0 1200.00 m2 mean 5 (5-5) of 12, 14 corners 3 rings\nrest: 800.00 m2 mean 7 (7-7) of 8"},
		{"a patch within a hole", picture("55555", "57775", "57577", "57775", "55555"), nil, "P < 6", Options{},
			"1: d0 1500.00 m2 mean 5 (5-5) of 15, 12 corners 1 rings\n2: d0 100.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\nrest: 900.00 m2 mean 7 (7-7) of 9"},
		{"numbers by area, then from the west, then from the north", picture("5757", "7774", "5777", "7744"), nil, "P < 6", Options{},
			"1: d0 200.00 m2 mean 4 (4-4) of 2, 4 corners 1 rings\n2: d0 100.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\n3: d0 100.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\n" +
				"4: d0 100.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\n5: d0 100.00 m2 mean 4 (4-4) of 1, 4 corners 1 rings\nrest: 1000.00 m2 mean 7 (7-7) of 10"},
		{"small ones are dropped", picture("57755", "77775"), nil, "P < 6", Options{Smallest: 100.5},
			"1: d0 300.00 m2 mean 5 (5-5) of 3, 6 corners 1 rings\nrest: 700.00 m2 mean 6.71 (5-7) of 7\ndropped: 1 of 100.00 m2"},
		{"two divisions, one level", picture("5555"), []Ground{{"w", box(0, 0, 20, 10)}, {"e", box(20, 0, 40, 10)}}, "P < 6", Options{},
			"1: d0 200.00 m2 mean 5 (5-5) of 2, 4 corners 1 rings\n2: d1 200.00 m2 mean 5 (5-5) of 2, 4 corners 1 rings\nrest: 0.00 m2 mean 0 (0-0) of 0"},
		{"an edge between divisions through a pixel", picture("5557"), []Ground{{"w", box(0, 0, 18, 10)}, {"e", box(18, 0, 40, 10)}}, "P < 6", Options{},
			// Column 1 is the western one's; its last 2 m are the eastern one's and
			// take column 2's value.
			"1: d0 180.00 m2 mean 5 (5-5) of 2, 4 corners 1 rings\n2: d1 120.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\nrest: 100.00 m2 mean 7 (7-7) of 1"},
		{"an unlike neighbour across the edge", picture("5577"), []Ground{{"w", box(0, 0, 22, 10)}, {"e", box(22, 0, 40, 10)}}, "P < 6", Options{},
			"1: d0 220.00 m2 mean 5 (5-5) of 2, 4 corners 1 rings\nrest: 180.00 m2 mean 7 (7-7) of 2"},
		{"ground off the pixel edges, beyond the surface a little", picture("557"), []Ground{{"all", box(-4, -3, 27, 12)}}, "P < 6", Options{},
			"1: d0 360.00 m2 mean 5 (5-5) of 2, 4 corners 1 rings\nrest: 105.00 m2 mean 7 (7-7) of 1"},
		{"falls apart at the outline", picture("555", "555"),
			[]Ground{{"u", plane.Shape{{{{west, north - 20}, {west + 10, north - 20}, {west + 10, north - 4}, {west + 20, north - 4}, {west + 20, north - 20}, {west + 30, north - 20}, {west + 30, north}, {west, north}, {west, north - 20}}}}}},
			"P < 6", Options{},
			"1: d0 440.00 m2 mean 5 (5-5) of 4, 8 corners 1 rings\nrest: 0.00 m2 mean 0 (0-0) of 0"},
		{"two fields of one division", picture("5555"), []Ground{{"two", append(box(0, 0, 14, 10), box(21, 0, 40, 10)...)}}, "P < 6", Options{},
			"1: d0 190.00 m2 mean 5 (5-5) of 2, 4 corners 1 rings\n2: d0 140.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\nrest: 0.00 m2 mean 0 (0-0) of 0"},
		{"a part without the middle of a pixel", picture("555", "577"), []Ground{{"two", append(box(0, 0, 30, 14), box(0, 16, 4, 20)...)}}, "P < 6", Options{},
			"1: d0 420.00 m2 mean 5 (5-5) of 3, 4 corners 1 rings\n2: d0 16.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\nrest: 0.00 m2 mean 0 (0-0) of 0"},
		{"a kept strip with the value of a dropped part", picture("57"), []Ground{{"two", append(box(4, 4, 6, 6), box(7, 0, 10, 10)...)}}, "P < 6", Options{Smallest: 10},
			"1: d0 30.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\nrest: 4.00 m2 mean 5 (5-5) of 1\ndropped: 1 of 4.00 m2"},
		{"ground without the middle of a pixel", picture("55", "55"), []Ground{{"strip", box(0, 0, 20, 4)}}, "P < 6", Options{},
			"rest: 80.00 m2 mean 0 (0-0) of 0, blank 80.00 m2"},
		{"no ground", picture("55"), []Ground{{}}, "P < 6", Options{},
			"rest: 0.00 m2 mean 0 (0-0) of 0"},
		{"the nearest of a strip, the northern of two", picture("777", "747", "777", "757", "777"),
			[]Ground{{"c", plane.Shape{{{{west + 8, north - 50}, {west + 20, north - 50}, {west + 20, north}, {west + 8, north}, {west + 8, north - 50}}}}}}, "P < 6", Options{},
			"1: d0 120.00 m2 mean 4 (4-4) of 1, 4 corners 1 rings\n2: d0 120.00 m2 mean 5 (5-5) of 1, 4 corners 1 rings\nrest: 360.00 m2 mean 7 (7-7) of 3"},
	} {
		t.Run(c.name, func(t *testing.T) {
			ground := c.ground
			if ground == nil {
				ground = all(c.grid)
			}
			l, err := ParseLimit(c.limit)
			if err != nil {
				t.Fatal(err)
			}
			division := divide(c.grid, ground)
			r, err := Patches(c.grid, ground, division, l, c.opt)
			if err != nil {
				t.Fatal(err)
			}
			if got := words(r); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
			partition(t, ground, r)
		})
	}
}

func TestLimitInThePrecisionOfTheSurface(t *testing.T) {
	g := picture("55")
	g.Data = []float32{5.9, 5.9}
	ground := []Ground{{"all", box(0, 0, 20, 10)}}
	for op, want := range map[string]int{"<": 0, "<=": 1, ">": 0, ">=": 1} {
		r, err := Patches(g, ground, []int32{0, 0}, Limit{"pH", op, 5.9}, Options{})
		if err != nil || len(r.Patches) != want {
			t.Errorf("%s: %d patches of a surface of the limit itself (%v), want %d", op, len(r.Patches), err, want)
		}
	}
}

func TestPatchesRefused(t *testing.T) {
	g := picture("55", "57")
	ground := []Ground{{"all", box(0, 0, 20, 20)}}
	division := []int32{0, 0, 0, 0}
	limit := Limit{"pH", "<", 6}
	nan := picture("55", "57")
	nan.Data[2] = float32(math.NaN())
	short := picture("55", "57")
	short.Data = short.Data[:3]
	for _, c := range []struct {
		name     string
		grid     *raster.Grid
		ground   []Ground
		division []int32
		limit    Limit
		opt      Options
		want     string
	}{
		{"no surface", nil, ground, division, limit, Options{}, "no surface"},
		{"too few values", short, ground, division, limit, Options{}, "with 3 values is not whole"},
		{"not a number", nan, ground, division, limit, Options{}, "row 1, column 0 of the surface: NaN"},
		{"map too short", g, ground, division[:3], limit, Options{}, "divisions are given for 3"},
		{"unknown division", g, ground, []int32{0, 0, 1, 0}, limit, Options{}, "row 1, column 0 of the surface: there is no division 1"},
		{"unknown division below", g, ground, []int32{0, -2, 0, 0}, limit, Options{}, "there is no division -2"},
		{"operator", g, ground, division, Limit{"pH", "=", 6}, Options{}, `"=" is not known`},
		{"limit", g, ground, division, Limit{"pH", "<", math.Inf(1)}, Options{}, "+Inf is not a number"},
		{"smallest", g, ground, division, limit, Options{Smallest: -1}, "smallest area of -1"},
		{"smallest", g, ground, division, limit, Options{Smallest: math.NaN()}, "smallest area of NaN"},
		{"far", g, []Ground{{"far", box(0, 0, 30.1, 20)}}, division, limit, Options{}, `ground "far" at (512370.1`},
		{"nowhere", g, []Ground{{"odd", plane.Shape{{{{0, 0}, {math.NaN(), 0}, {0, 1}, {0, 0}}}}}}, division, limit, Options{}, `ground "odd" at (0.0, 0.0)`},
	} {
		if _, err := Patches(c.grid, c.ground, c.division, c.limit, c.opt); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// TestDivisionMapMustFit has pixels wholly within the ground that the map does
// not have, and the other way round.
func TestDivisionMapMustFit(t *testing.T) {
	g := picture("55555", "55555", "55555", "55555", "55555")
	limit := Limit{"pH", "<", 6}
	ground := []Ground{{"all", box(1, 1, 49, 49)}}
	division := divide(g, ground)
	division[2*5+2] = -1
	if _, err := Patches(g, ground, division, limit, Options{}); err == nil || !strings.Contains(err.Error(), "row 2, column 2 of the surface: ground \"all\" and the division map disagree") {
		t.Errorf("a pixel left out: %v", err)
	}
	ring := box(1, 1, 49, 49)
	ring[0] = append(ring[0], orb.Ring{{west + 19, north - 19}, {west + 31, north - 19}, {west + 31, north - 31}, {west + 19, north - 31}, {west + 19, north - 19}})
	ground = []Ground{{"ring", ring}}
	division = divide(g, ground)
	division[2*5+2] = 0
	if _, err := Patches(g, ground, division, limit, Options{}); err == nil || !strings.Contains(err.Error(), "disagree") {
		t.Errorf("a pixel too many: %v", err)
	}
}
