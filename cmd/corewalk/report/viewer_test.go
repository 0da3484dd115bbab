package report

import (
	"bytes"
	"compress/zlib"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"io"
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/raster"
)

// unpack is what the page's script does with a packed grid.
func unpack(t *testing.T, g *packedGrid) []float64 {
	t.Helper()
	packed, err := base64.StdEncoding.DecodeString(g.Data)
	if err != nil {
		t.Fatal(err)
	}
	z, err := zlib.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	out := make([]float64, g.Width*g.Height)
	last, nan := 0.0, math.NaN()
	for i := range out {
		token, n := binary.Uvarint(data)
		data = data[n:]
		if out[i] = nan; token == 0 {
			continue
		}
		d := float64(int64((token-1)>>1) ^ -int64((token-1)&1))
		west, north, between := nan, nan, nan
		if i%g.Width > 0 {
			west = out[i-1]
		}
		if i >= g.Width {
			north = out[i-g.Width]
			if i%g.Width > 0 {
				between = out[i-g.Width-1]
			}
		}
		expected := last
		switch {
		case !math.IsNaN(west + north + between):
			expected = west + north - between
		case !math.IsNaN(west):
			expected = west
		case !math.IsNaN(north):
			expected = north
		}
		out[i] = expected + d
		last = out[i]
	}
	if len(data) > 0 {
		t.Fatalf("%d bytes are left over", len(data))
	}
	return out
}

func TestPackedGridsHoldWhatIsShown(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 1))
	for n := range 200 {
		g := raster.New(raster.Geometry{West: 1, North: 2, Pixel: 3, Width: 1 + random.IntN(12), Height: 1 + random.IntN(12)})
		places := random.IntN(4)
		size := math.Pow(10, random.Float64()*6-1)
		for i := range g.Data {
			switch random.IntN(5) {
			case 0:
				g.Data[i] = raster.NoData
			case 1:
				g.Data[i] = 0
			default:
				g.Data[i] = float32((random.Float64() - 0.3) * size)
			}
		}
		for i, v := range unpack(t, pack(g, places)) {
			want := "none"
			if f := g.Data[i]; f != raster.NoData {
				want = fixed(float64(f), places)
			}
			got := "none"
			if !math.IsNaN(v) {
				got = fixed(v/math.Pow(10, float64(places)), places)
			}
			if got != want {
				t.Fatalf("grid %d, pixel %d: %s, want %s", n, i, got, want)
			}
		}
	}
	huge := raster.New(raster.Geometry{Pixel: 1, Width: 1, Height: 1})
	huge.Data[0] = 1e30
	if pack(huge, 2) != nil {
		t.Error("a value beyond all whole numbers was packed")
	}
}

func grounds(t *testing.T, d Data) []ground {
	t.Helper()
	var out []ground
	for _, m := range regexp.MustCompile(`(?s)<script type="application/json">(.*?)</script>`).FindAllStringSubmatch(whole(t, d), -1) {
		var g ground
		if err := json.Unmarshal([]byte(m[1]), &g); err != nil {
			t.Fatal(err)
		}
		out = append(out, g)
	}
	return out
}

func TestGroundOfTheLargeMap(t *testing.T) {
	d := invented()
	f := &d.Fields[0]
	f.LonLat = func(p plane.XY) (geo.LonLat, error) {
		return geo.LonLat{-93 + (p[0]-west)*1e-5, 42 + (p[1]-south)*1e-5}, nil
	}
	page := whole(t, d)
	g := grounds(t, d)
	if len(g) != len(d.Fields) {
		t.Fatalf("%d maps for %d fields", len(g), len(d.Fields))
	}
	packed, doubtful := 0, 0
	for _, l := range g[0].Layers {
		if !strings.Contains(page, `id="`+l.ID+`-ground"`) || !strings.Contains(page, `<option value="`+l.ID+`">`) {
			t.Errorf("layer %s has no figure or no place in the list", l.ID)
		}
		if l.Grid != nil {
			packed++
			unpack(t, l.Grid)
		}
		if l.Banner != "" {
			doubtful++
		}
	}
	if packed == 0 || doubtful == 0 || len(g[0].Patches) != 4 {
		t.Errorf("%d surfaces, %d doubts, %d patches", packed, doubtful, len(g[0].Patches))
	}
	for _, p := range append(g[0].Patches, g[0].Units...) {
		if !strings.Contains(page, `id="`+p.Path+`"`) {
			t.Errorf("nothing has the id %s", p.Path)
		}
	}
	// The corners: the place of the map's left upper one, back in metres.
	c := g[0].Corners
	if len(c) != 4 || math.Abs(c[0][0]-(-93-g[0].Left/g[0].Scale*1e-5)) > 1e-9 || math.Abs(c[3][1]-(42+(400-(g[0].Height-g[0].Top)/g[0].Scale)*1e-5)) > 1e-9 {
		t.Errorf("corners %v", c)
	}
}

// A page of many surfaces stays small: what has no room cannot be read off.
func TestSurfacesHaveABound(t *testing.T) {
	d := invented()
	random := rand.New(rand.NewPCG(3, 1))
	big := raster.New(raster.Geometry{West: west, North: south + 400, Pixel: 1, Width: 400, Height: 400})
	for i := range big.Data {
		big.Data[i] = float32(5 + 2*random.Float64())
	}
	a := d.Fields[0].Analytes[0]
	a.Grid = big
	d.Fields[0].Analytes = nil
	for i := range 6 {
		a.Name = "pH" + strconv.Itoa(i)
		d.Fields[0].Analytes = append(d.Fields[0].Analytes, a)
	}
	sum := 0
	for _, g := range grounds(t, d) {
		for _, l := range g.Layers {
			if l.Grid != nil {
				sum += len(l.Grid.Data)
			}
		}
	}
	if sum == 0 || sum > gridRoom {
		t.Errorf("surfaces take %d bytes", sum)
	}
	if !strings.Contains(write(t, d), "no room on this page") {
		t.Error("the page does not say that surfaces cannot be read off")
	}
}
