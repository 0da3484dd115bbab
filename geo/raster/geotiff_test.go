package raster

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"reflect"
	"runtime"
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
	for _, size := range [][2]int{{1, 1}, {1, 300}, {300, 1}, {256, 256}, {257, 255}} {
		g := wavy(size[0], size[1])
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

// The grid is the same, so the bytes are, on any number of processors.
func TestGeoTIFFDeterministic(t *testing.T) {
	g := wavy(520, 300)
	want := encode(t, g)
	for _, n := range []int{1, 3, 8} {
		old := runtime.GOMAXPROCS(n)
		got := encode(t, g)
		runtime.GOMAXPROCS(old)
		if !bytes.Equal(got, want) {
			t.Errorf("other bytes with %d processors", n)
		}
	}
}

// The form that the format asks for: tags in ascending order, all values and
// tiles at even offsets, and the directory before the first tile.
func TestGeoTIFFLayout(t *testing.T) {
	b := encode(t, wavy(300, 300))
	n := int(binary.LittleEndian.Uint16(b[8:]))
	widths := map[uint16]uint32{typeASCII: 1, typeShort: 2, typeLong: 4, typeDouble: 8}
	last, end := uint16(0), uint32(0)
	for i := range n {
		e := b[10+12*i:]
		tag, width := binary.LittleEndian.Uint16(e), widths[binary.LittleEndian.Uint16(e[2:])]
		if tag <= last {
			t.Errorf("tag %d follows tag %d", tag, last)
		}
		last = tag
		if size := width * binary.LittleEndian.Uint32(e[4:]); size > 4 {
			offset := binary.LittleEndian.Uint32(e[8:])
			if offset%2 != 0 || offset < end {
				t.Errorf("tag %d: value at %d", tag, offset)
			}
			end = offset + size
		}
	}
	f, err := openTIFF(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	offsets, err := f.uints(tagTileOffsets)
	if err != nil || len(offsets) != 4 {
		t.Fatalf("%d tiles, %v", len(offsets), err)
	}
	for _, offset := range offsets {
		if offset%2 != 0 || offset < end {
			t.Errorf("tile at %d, values end at %d", offset, end)
		}
		end = offset
	}
}

// A second image, as an overview would be, is chained and placed before the
// tiles of the first.
func TestWriteTIFFSeveralImages(t *testing.T) {
	big, small := wavy(300, 100), wavy(100, 100)
	tags, err := geoFields(big)
	if err != nil {
		t.Fatal(err)
	}
	first, err := newImage(big.Data, 300, 100, tags)
	if err != nil {
		t.Fatal(err)
	}
	second, err := newImage(small.Data, 100, 100, nil)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := writeTIFF(&b, []tiffImage{first, second}); err != nil {
		t.Fatal(err)
	}
	got, err := decode(b.Bytes())
	if err != nil || !reflect.DeepEqual(got, big) {
		t.Errorf("first image: %v", err)
	}
	f, err := openTIFF(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	before, err := f.uints(tagTileOffsets)
	if err != nil {
		t.Fatal(err)
	}
	next := binary.LittleEndian.Uint32(b.Bytes()[8+2+12*len(first.fields):])
	f.entries = map[uint16]tiffEntry{}
	if err := f.readDirectory(uint64(next)); err != nil {
		t.Fatal(err)
	}
	after, err := f.uints(tagTileOffsets)
	if err != nil || len(after) != 1 || after[0] >= before[0] {
		t.Errorf("tiles at %v and %v, %v", before, after, err)
	}
	l, err := f.layout()
	if err != nil {
		t.Fatal(err)
	}
	if data, err := f.pixels(l); err != nil || !reflect.DeepEqual(data, small.Data) {
		t.Errorf("second image: %v", err)
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
	narrow := New(Geometry{Pixel: 1, Width: 1, Height: maxTiles*tileSide + 1, EPSG: 32615})
	wantError(t, WriteGeoTIFF(&bytes.Buffer{}, narrow), "tiles")
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
	g := wavy(300, 60)
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
