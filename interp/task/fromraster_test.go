package task

import (
	"bytes"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/raster"
)

func frameAt(t *testing.T, lon, lat float64) (geo.Frame, geo.XY) {
	t.Helper()
	f, err := geo.FrameAt(crs.LonLat{lon, lat})
	if err != nil {
		t.Fatal(err)
	}
	p, err := f.XY(crs.LonLat{lon, lat})
	if err != nil {
		t.Fatal(err)
	}
	return f, p
}

// rates is a raster of random rates in kg/ha, a tenth of it without, its north-west
// corner at p.
func rates(r *rand.Rand, f geo.Frame, p geo.XY, pixel float64, width, height int) *raster.Grid {
	g := &raster.Grid{Geometry: raster.Geometry{West: p.X(), North: p.Y(), Pixel: pixel, Width: width, Height: height, EPSG: f.EPSG()}}
	for range width * height {
		v := float32(r.IntN(5000000)) / 100
		if r.IntN(10) == 0 {
			v = raster.NoData
		}
		g.Data = append(g.Data, v)
	}
	return g
}

// The grid, written and read, gives the raster: at the middle of every pixel its
// rate, wherever on earth the pixels are and however they are turned.
func TestRasterBack(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, at := range [][2]float64{
		{9, 52}, {6.001, 52}, {11.999, 52}, {-93.6, 42}, {0.01, 0.001}, {5.99, -0.001}, {147, -42}, {6.1, 83.5}, {177.5, -79.5}, {-177.1, 10}, {3.1, 62},
	} {
		for _, pixel := range []float64{0.5, 3.3, 10, 250} {
			f, p := frameAt(t, at[0], at[1])
			src := rates(r, f, p, pixel, 1+r.IntN(60), 1+r.IntN(60))
			g, err := FromRaster(src, f, KgPerHa, 1+r.IntN(3))
			if err != nil {
				t.Fatalf("%v, pixels of %g m: %v", at, pixel, err)
			}
			file := gridded(false)
			file.Tasks[0].Grid = g
			back := unpack(t, pack(t, file)).Tasks[0].Grid
			for i, v := range src.Data {
				x, y := src.Center(i%src.Width, i/src.Width)
				ll, err := f.LonLat(geo.XY{x, y})
				if err != nil {
					t.Fatal(err)
				}
				want := int32(0)
				if v != raster.NoData {
					want = int32(math.Round(float64(v) * KgPerHa))
				}
				if got, ok := back.At(ll); !ok || got != want {
					t.Fatalf("%v, pixels of %g m: pixel %d has %d (%v), not %d", at, pixel, i, got, ok, want)
				}
			}
		}
	}
}

// Every cell has the rate of the pixel under its middle, and no cell has another.
func TestCells(t *testing.T) {
	f, p := frameAt(t, 11.9, 52)
	src := rates(rand.New(rand.NewPCG(3, 4)), f, p, 10, 40, 30)
	g, err := FromRaster(src, f, KgPerHa, 1)
	if err != nil {
		t.Fatal(err)
	}
	seen := make([]int, len(src.Data))
	for row := range g.Rows {
		for col := range g.Columns {
			xy, err := f.XY(crs.LonLat{g.West + (float64(col)+0.5)*g.CellEast, g.South + (float64(row)+0.5)*g.CellNorth})
			if err != nil {
				t.Fatal(err)
			}
			x, y := int(math.Floor((xy[0]-src.West)/10)), int(math.Floor((src.North-xy[1])/10))
			want := int32(0)
			if x >= 0 && x < 40 && y >= 0 && y < 30 {
				seen[y*40+x]++
				if v := src.Data[y*40+x]; v != raster.NoData {
					want = int32(math.Round(float64(v) * KgPerHa))
				}
			}
			if got := g.Values[row*g.Columns+col]; got != want {
				t.Fatalf("cell %d, %d has %d, not %d", col, row, got, want)
			}
		}
	}
	for i, n := range seen {
		if n < 1 || n > 4 {
			t.Errorf("pixel %d has %d cells", i, n)
		}
	}
	// Cells are not smaller than they must be.
	if side := math.Sqrt(g.CellArea(0)); side < 9 || side > 10 {
		t.Errorf("cells of %g m for pixels of 10 m", side)
	}
}

// A block of one rate has the mass of its ground, but for cells along its rim.
func TestMassOfRaster(t *testing.T) {
	f, p := frameAt(t, 8, 47)
	src := rates(rand.New(rand.NewPCG(5, 6)), f, p, 5, 200, 100)
	for i := range src.Data {
		src.Data[i] = 300
	}
	g, err := FromRaster(src, f, KgPerHa, 1)
	if err != nil {
		t.Fatal(err)
	}
	scale := f.Scale(geo.XY{p.X() + 500, p.Y() - 250})
	want := 300 * 1000 * 500 / 1e4 / (scale * scale)
	if got := g.Mass(); math.Abs(got/want-1) > 0.001 {
		t.Errorf("%g kg in the grid, %g kg in the raster", got, want)
	}
	// Finer cells follow the rim, and rates that change from pixel to pixel.
	for i := range src.Data {
		src.Data[i] = float32(i * i % 601)
	}
	want = 0
	for _, v := range src.Data {
		want += float64(v) * 25 / 1e4 / (scale * scale)
	}
	if g, err = FromRaster(src, f, KgPerHa, 8); err != nil {
		t.Fatal(err)
	}
	if got := g.Mass(); math.Abs(got/want-1) > 0.0002 {
		t.Errorf("%g kg in the fine grid, %g kg in the raster", got, want)
	}
}

// The area of a cell against the closed formula for a zone between two parallels
// (Snyder 1987, 3-12), and all cells of the earth against the ellipsoid's.
func TestCellArea(t *testing.T) {
	wgs := crs.WGS84()
	e := math.Sqrt(wgs.F * (2 - wgs.F))
	q := func(lat float64) float64 {
		s := math.Sin(lat * math.Pi / 180)
		return (1 - e*e) * (s/(1-e*e*s*s) - math.Log((1-e*s)/(1+e*s))/(2*e))
	}
	g := &Grid{West: -180, South: -90, CellNorth: 1, CellEast: 1, Columns: 1, Rows: 180}
	var sum float64
	for row := range g.Rows {
		want := wgs.A * wgs.A / 2 * math.Pi / 180 * (q(float64(row)-89) - q(float64(row)-90))
		if got := g.CellArea(row); math.Abs(got/want-1) > 1e-11 {
			t.Errorf("row %d: %g m², not %g", row, got, want)
		}
		sum += g.CellArea(row) * 360
	}
	// 510065621.724 km²: NIMA TR8350.2, 2000, table 3.3 gives the axes; the figure follows.
	if math.Abs(sum/510065621724089-1) > 1e-12 {
		t.Errorf("the earth has %.0f m²", sum)
	}
}

func TestMass(t *testing.T) {
	g := gridded(false).Tasks[0].Grid
	want := (0+1+float64(math.MaxInt32))*g.CellArea(0)/1e6 + (256+65536+7)*g.CellArea(1)/1e6
	if got := g.Mass(); math.Abs(got/want-1) > 1e-15 {
		t.Errorf("%g kg, not %g", got, want)
	}
}

func TestAt(t *testing.T) {
	g := &Grid{South: 10, West: 20, CellNorth: 1, CellEast: 0.5, Columns: 2, Rows: 2, Values: []int32{1, 2, 3, 4}}
	for _, c := range []struct {
		at   crs.LonLat
		want int32
		ok   bool
	}{
		{crs.LonLat{20, 10}, 1, true}, {crs.LonLat{20.5, 10}, 2, true}, {crs.LonLat{20, 11}, 3, true}, {crs.LonLat{20.99, 11.99}, 4, true},
		{crs.LonLat{21, 11}, 0, false}, {crs.LonLat{20, 12}, 0, false}, {crs.LonLat{19.99, 11}, 0, false}, {crs.LonLat{math.NaN(), 11}, 0, false},
	} {
		if got, ok := g.At(c.at); got != c.want || ok != c.ok {
			t.Errorf("%v: %d, %v", c.at, got, ok)
		}
	}
}

func TestFromRasterRefuses(t *testing.T) {
	f, p := frameAt(t, 9, 52)
	for _, c := range []struct {
		change func(g *raster.Grid)
		unit   float64
		want   string
	}{
		{func(g *raster.Grid) { g.Width = 0 }, 1, "without pixels"},
		{func(g *raster.Grid) { g.Height = -1 }, 1, "without pixels"},
		{func(g *raster.Grid) { g.Width, g.Height = 1<<40, 1<<40 }, 1, "take larger ones"},
		{func(g *raster.Grid) { g.Width = 3 }, 1, "has 4 values"},
		{func(g *raster.Grid) { g.EPSG = 32601 }, 1, "EPSG:32601"},
		{func(g *raster.Grid) { g.Pixel = 0 }, 1, "pixels of 0 m"},
		{func(g *raster.Grid) { g.Pixel = math.NaN() }, 1, "pixels of NaN m"},
		{func(g *raster.Grid) { g.Pixel = math.Inf(1) }, 1, "pixels of +Inf m"},
		{func(g *raster.Grid) { g.Pixel = 1e-4 }, 1, "too small"},
		{func(g *raster.Grid) { g.Pixel = 2e5 }, 1, "too large"},
		{func(g *raster.Grid) { g.West = 1e9 }, 1, "raster: "},
		{func(g *raster.Grid) { g.Data[2] = -1 }, 1, "row 2, column 1: a rate of -1"},
		{func(g *raster.Grid) { g.Data[3] = float32(math.Inf(1)) }, 1, "row 2, column 2"},
		{func(g *raster.Grid) { g.Data[3] = 3e7 }, KgPerHa, "above 2147483647"},
		{func(g *raster.Grid) {}, math.NaN(), "row 1, column 1"},
	} {
		src := &raster.Grid{Geometry: raster.Geometry{West: p.X(), North: p.Y(), Pixel: 10, Width: 2, Height: 2, EPSG: f.EPSG()}, Data: []float32{1, 2, 3, 4}}
		c.change(src)
		if _, err := FromRaster(src, f, c.unit, 1); err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%v does not say %q", err, c.want)
		}
	}
	for _, fine := range []int{-1, 0, 101} {
		src := rates(rand.New(rand.NewPCG(1, 1)), f, p, 10, 2, 2)
		if _, err := FromRaster(src, f, 1, fine); err == nil || !strings.Contains(err.Error(), "as fine as the pixels") {
			t.Errorf("%d: %v", fine, err)
		}
	}
	if _, err := FromRaster(nil, f, 1, 1); err == nil {
		t.Error("no raster is taken")
	}
	across, q := frameAt(t, 179.999, 0)
	if _, err := FromRaster(rates(rand.New(rand.NewPCG(1, 1)), across, q, 10, 100, 2), across, 1, 1); err == nil || !strings.Contains(err.Error(), "180th meridian") {
		t.Error(err)
	}
	// NaN and no value are ground that is not treated.
	src := &raster.Grid{Geometry: raster.Geometry{West: p.X(), North: p.Y(), Pixel: 10, Width: 2, Height: 1, EPSG: f.EPSG()}, Data: []float32{raster.NoData, float32(math.NaN())}}
	g, err := FromRaster(src, f, 1, 1)
	if err != nil || g.Mass() != 0 {
		t.Errorf("%v, %v", g, err)
	}
}

func TestFromRasterDeterministic(t *testing.T) {
	var first []byte
	for range 2 {
		f, p := frameAt(t, 9, 52)
		g, err := FromRaster(rates(rand.New(rand.NewPCG(7, 8)), f, p, 3, 30, 20), f, KgPerHa, 1)
		if err != nil {
			t.Fatal(err)
		}
		file := gridded(false)
		file.Tasks[0].Grid = g
		data := pack(t, file)
		if first != nil && !bytes.Equal(first, data) {
			t.Error("the same raster gave other bytes")
		}
		first = data
	}
}
