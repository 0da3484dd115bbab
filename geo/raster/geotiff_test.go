package raster

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"reflect"
	"runtime"
	"sync"
	"testing"
)

func encode(t testing.TB, g *Grid) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := WriteGeoTIFF(&b, g); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func decode(b []byte) (*Grid, error) { return ReadGeoTIFF(bytes.NewReader(b), int64(len(b))) }

func TestGeoTIFFRoundTrip(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {1, 1300}, {1300, 1}, {512, 512}, {513, 511}} {
		g := withError(size[0], size[1])
		if size[0] == 512 {
			g.More = nil
		}
		got, err := decode(encode(t, g))
		if err != nil {
			t.Errorf("%v: %v", size, err)
			continue
		}
		if !reflect.DeepEqual(got, g) {
			t.Errorf("%v: came back changed: %+v, %v", size, got.Geometry, got.Meta)
		}
	}
}

func TestGeoTIFFExtremes(t *testing.T) {
	g := New(Geometry{West: -0.1, North: 1e7 + 1.0/3, Pixel: 0.1, Width: 4, Height: 2, EPSG: maxEPSG})
	copy(g.Data, []float32{math.MaxFloat32, -math.MaxFloat32, math.SmallestNonzeroFloat32, 0, NoData, -9999.001, float32(math.Copysign(0, -1))})
	got, err := decode(encode(t, g))
	if err != nil {
		t.Fatal(err)
	}
	for i := range g.Data {
		if math.Float32bits(got.Data[i]) != math.Float32bits(g.Data[i]) {
			t.Errorf("value %d: got %v, want %v", i, got.Data[i], g.Data[i])
		}
	}
	if got.Geometry != g.Geometry || got.Meta != nil {
		t.Errorf("got %+v, %v", got.Geometry, got.Meta)
	}
}

// The grid is the same, so the bytes are, on any number of processors and next
// to other rasters that use the same encoders.
func TestGeoTIFFDeterministic(t *testing.T) {
	grids := []*Grid{withError(1030, 300), wavy(20, 20), wavy(700, 60)}
	var want [][]byte
	for _, g := range grids {
		want = append(want, encode(t, g))
	}
	for _, n := range []int{1, 3, 8} {
		old := runtime.GOMAXPROCS(n)
		var wg sync.WaitGroup
		for i := range 12 {
			wg.Go(func() {
				if !bytes.Equal(encode(t, grids[i%3]), want[i%3]) {
					t.Errorf("raster %d: other bytes with %d processors", i%3, n)
				}
			})
		}
		wg.Wait()
		runtime.GOMAXPROCS(old)
	}
}

// directories returns the images of a file and where each directory starts.
func directories(t *testing.T, b []byte) (images []*tiffFile, starts []uint32) {
	t.Helper()
	for at := binary.LittleEndian.Uint32(b[4:]); at != 0; {
		f := &tiffFile{r: bytes.NewReader(b), size: uint64(len(b)), order: binary.LittleEndian, entries: map[uint16]tiffEntry{}}
		if err := f.readDirectory(uint64(at)); err != nil {
			t.Fatal(err)
		}
		images, starts = append(images, f), append(starts, at)
		at = binary.LittleEndian.Uint32(b[at+2+12*uint32(len(f.entries)):])
	}
	return images, starts
}

// The form that the format asks for: tags in ascending order, all values at
// even offsets, directories first, then blocks without a gap, the last image
// first, each tile between its length and its last bytes.
func TestGeoTIFFLayout(t *testing.T) {
	for _, g := range []*Grid{wavy(1, 1), wavy(300, 300), withError(1100, 600)} {
		b := encode(t, g)
		images, starts := directories(t, b)
		end := uint32(8 + len(structure))
		widths := map[uint16]uint32{typeASCII: 1, typeShort: 2, typeLong: 4, typeDouble: 8}
		for i, f := range images {
			if starts[i] != end || end%2 != 0 {
				t.Errorf("directory %d at %d, the one before ends at %d", i, starts[i], end)
			}
			last := uint16(0)
			end += uint32(2 + 12*len(f.entries) + 4)
			for e := b[starts[i]+2 : end-4]; len(e) > 0; e = e[12:] {
				tag, width := binary.LittleEndian.Uint16(e), widths[binary.LittleEndian.Uint16(e[2:])]
				if tag <= last {
					t.Errorf("tag %d follows tag %d", tag, last)
				}
				last = tag
				if size := width * binary.LittleEndian.Uint32(e[4:]); size > 4 {
					if offset := binary.LittleEndian.Uint32(e[8:]); offset != end {
						t.Errorf("tag %d: value at %d, expected at %d", tag, offset, end)
					}
					end += size + size%2
				}
			}
		}
		for i := len(images) - 1; i >= 0; i-- {
			l, err := images[i].layout()
			if err != nil {
				t.Fatal(err)
			}
			for k, offset := range l.offsets {
				count := l.counts[k]
				if offset != end+4 || binary.LittleEndian.Uint32(b[end:]) != count {
					t.Errorf("image %d, tile %d at %d, expected at %d", i, k, offset, end+4)
				}
				end = offset + count + 4
				if !bytes.Equal(b[end-4:end], b[end-8:end-4]) {
					t.Errorf("image %d, tile %d: last bytes are not repeated", i, k)
				}
			}
		}
		if int(end) != len(b) {
			t.Errorf("file of %d bytes, blocks end at %d", len(b), end)
		}
	}
}

// The block says how long it is, and its end makes an even length.
func TestGeoTIFFStructureBlock(t *testing.T) {
	var size int
	if _, err := fmt.Sscanf(structure, "GDAL_STRUCTURAL_METADATA_SIZE=%06d bytes\n", &size); err != nil {
		t.Fatal(err)
	}
	if size != len(structureItems) || len(structure)%2 != 0 {
		t.Errorf("says %d of %d bytes, %d in all", size, len(structureItems), len(structure))
	}
}

func TestTiling(t *testing.T) {
	for _, c := range [][3]int{{1, 1, 16}, {16, 1, 16}, {17, 1, 32}, {160, 1, 160}, {512, 1, 512}, {513, 2, 272}, {1024, 2, 512}, {1025, 3, 352}, {4000, 8, 512}} {
		if count, side := tiling(c[0]); count != c[1] || side != c[2] {
			t.Errorf("%d pixels: %d tiles of %d, want %d of %d", c[0], count, side, c[1], c[2])
		}
	}
	for n := 1; n < 5000; n++ {
		count, side := tiling(n)
		if count*side < n || (count-1)*side >= n || side > maxTileSide || side%16 != 0 {
			t.Errorf("%d pixels: %d tiles of %d", n, count, side)
		}
	}
}

func TestHalve(t *testing.T) {
	const no = NoData
	data := []float32{
		1, 3, no, no, 8,
		5, no, no, no, 4,
		7, 1, -9998, -10000, no,
	}
	// A mean that would be NoData moves by the least step; odd edges go alone.
	want := []float32{3, no, 6, 4, math.Nextafter32(no, 0), no}
	if got := halve(data, 5, 3); !reflect.DeepEqual(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
	huge := []float32{math.MaxFloat32, math.MaxFloat32, math.MaxFloat32, math.MaxFloat32}
	if got := halve(huge, 2, 2); got[0] != math.MaxFloat32 {
		t.Errorf("mean of the largest values: %v", got)
	}
}

// Every image below the first is an overview that holds the halved values of
// the one above, as many as it takes to fit a tile.
func TestGeoTIFFOverviews(t *testing.T) {
	for size, overviews := range map[[2]int]int{{1, 1}: 0, {512, 512}: 0, {513, 2}: 1, {3, 1300}: 2, {1025, 700}: 2} {
		g := withError(size[0], size[1])
		images, _ := directories(t, encode(t, g))
		if len(images) != 1+overviews {
			t.Fatalf("%v: %d images", size, len(images))
		}
		width, height := size[0], size[1]
		want := [][]float32{g.Data, g.More[0].Data, g.More[1].Data}
		for i, f := range images {
			l, err := f.layout()
			if err != nil {
				t.Fatal(err)
			}
			got, err := f.pixels(l)
			if err != nil {
				t.Fatal(err)
			}
			kind, err := f.uint(tagSubfileType, 0)
			if err != nil || kind != uint32(min(i, 1)) || l.width != width || l.height != height || !reflect.DeepEqual(got, want) {
				t.Errorf("%v, image %d: kind %d (%v), %d by %d, or other values", size, i, kind, err, l.width, l.height)
			}
			for b := range want {
				want[b] = halve(want[b], width, height)
			}
			width, height = (width+1)/2, (height+1)/2
		}
	}
}

func TestWriteRefuses(t *testing.T) {
	for _, c := range []struct {
		part  string
		spoil func(g *Grid)
	}{
		{"0 columns", func(g *Grid) { g.Width = 0 }},
		{"-1 rows", func(g *Grid) { g.Height = -1 }},
		{"limit of 268435456 pixels", func(g *Grid) { g.Width, g.Height = math.MaxInt, math.MaxInt }},
		{"holds 11 values: it needs 12", func(g *Grid) { g.Data = g.Data[:11] }},
		{"value NaN at column 1, row 2", func(g *Grid) { g.Data[9] = float32(math.NaN()) }},
		{"value +Inf at column 3, row 0", func(g *Grid) { g.Data[3] = float32(math.Inf(1)) }},
		{"value -Inf at column 0, row 0", func(g *Grid) { g.Data[0] = float32(math.Inf(-1)) }},
		{"pixel side", func(g *Grid) { g.Pixel = 0 }},
		{"corner", func(g *Grid) { g.West = math.NaN() }},
		{"EPSG:0", func(g *Grid) { g.EPSG = 0 }},
		{"EPSG:32767", func(g *Grid) { g.EPSG = 32767 }},
	} {
		g := wavy(4, 3)
		c.spoil(g)
		var b bytes.Buffer
		wantError(t, WriteGeoTIFF(&b, g), c.part)
		wantError(t, WriteASCII(&b, g), c.part)
		if b.Len() != 0 {
			t.Errorf("%s: %d bytes written", c.part, b.Len())
		}
	}
	wantError(t, WriteGeoTIFF(&bytes.Buffer{}, nil), "no raster")
	for name, value := range map[string]string{
		"": "x", "a=b": "x", "a:b": "x", " a": "x", "a\n": "x", "a\x00b": "x",
		"bell": "\a", "bytes": "\xff", "end": "x ", "empty": "", "point": "\uffff",
	} {
		g := wavy(4, 3)
		g.Meta = map[string]string{name: value}
		wantError(t, WriteGeoTIFF(&bytes.Buffer{}, g), "metadata")
	}
	for part, bands := range map[string][]Band{
		"band 2 of the raster, of 4 columns": {{Data: make([]float32, 11)}},
		"row 1 of band 3":                    {{Data: make([]float32, 12)}, {Data: append(make([]float32, 5), float32(math.NaN()), 0, 0, 0, 0, 0, 0)}},
		"name of band 2":                     {{Name: "two\nlines", Data: make([]float32, 12)}},
		"unit of band 2":                     {{Unit: " mg/kg", Data: make([]float32, 12)}},
		"65536 bands":                        make([]Band, maxBands),
	} {
		g := wavy(4, 3)
		g.More = bands
		wantError(t, WriteGeoTIFF(&bytes.Buffer{}, g), part)
	}
}

type fullDisk struct{ room int }

var errFull = errors.New("disk full")

func (d *fullDisk) Write(b []byte) (int, error) {
	if d.room -= len(b); d.room < 0 {
		return 0, errFull
	}
	return len(b), nil
}

func TestWriteErrorsAreReported(t *testing.T) {
	g := withError(1100, 60)
	size := len(encode(t, g))
	for _, room := range []int{0, size / 2, size - 1} {
		if err := WriteGeoTIFF(&fullDisk{room}, g); !errors.Is(err, errFull) {
			t.Errorf("room for %d bytes: %v", room, err)
		}
	}
	for _, room := range []int{0, 5000} {
		if err := WriteASCII(&fullDisk{room}, g); !errors.Is(err, errFull) {
			t.Errorf("room for %d bytes: %v", room, err)
		}
	}
}

func TestWriteASCII(t *testing.T) {
	g := New(Geometry{West: 100.5, North: 200, Pixel: 2.5, Width: 3, Height: 2, EPSG: 32615})
	copy(g.Data, []float32{1, 0.1, -2.5e-9, NoData, 123456.78})
	var b bytes.Buffer
	if err := WriteASCII(&b, g); err != nil {
		t.Fatal(err)
	}
	want := "ncols 3\nnrows 2\nxllcorner 100.5\nyllcorner 195\ncellsize 2.5\nNODATA_value -9999\n" +
		"1 0.1 -2.5e-09\n-9999 123456.78 -9999\n"
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}
