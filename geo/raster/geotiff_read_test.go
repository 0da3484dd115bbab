package raster

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// patch returns a copy of the file in which edit has changed the entry of a tag:
// its type, count and value or offset.
func patch(t *testing.T, b []byte, tag uint16, edit func(entry []byte)) []byte {
	t.Helper()
	b = bytes.Clone(b)
	for i := range int(binary.LittleEndian.Uint16(b[8:])) {
		if e := b[10+12*i:][:12]; binary.LittleEndian.Uint16(e) == tag {
			edit(e)
			return b
		}
	}
	t.Fatalf("no tag %d", tag)
	return nil
}

func short(v uint16) func([]byte) {
	return func(e []byte) { binary.LittleEndian.PutUint16(e[8:], v) }
}

func long(v uint32) func([]byte) {
	return func(e []byte) { binary.LittleEndian.PutUint32(e[8:], v) }
}

func count(v uint32) func([]byte) {
	return func(e []byte) { binary.LittleEndian.PutUint32(e[4:], v) }
}

func retag(v uint16) func([]byte) {
	return func(e []byte) { binary.LittleEndian.PutUint16(e, v) }
}

func TestReadRefuses(t *testing.T) {
	g := wavy(300, 20)
	good := encode(t, g)
	one := encode(t, wavy(20, 20))
	replace := func(old, new string) []byte { return bytes.Replace(good, []byte(old), []byte(new), 1) }
	keys := func(key uint16) []byte {
		return binary.LittleEndian.AppendUint16([]byte{byte(key), byte(key >> 8), 0, 0}, 1)
	}
	setKey := func(key, value uint16) []byte {
		b := bytes.Clone(good)
		i := bytes.Index(b, keys(key))
		binary.LittleEndian.PutUint16(b[i+6:], value)
		return b
	}
	for _, c := range []struct {
		name string
		file []byte
		part string
	}{
		{"empty", nil, "not a tiff"},
		{"zip", []byte("PK\x03\x04 some more"), "not a tiff"},
		{"wrong number", []byte("II\x2b\x01\x08\x00\x00\x00"), "42"},
		{"big", []byte("II\x2b\x00\x08\x00\x00\x00"), "BigTIFF"},
		{"directory outside", []byte("II\x2a\x00\xff\xff\x00\x00"), "outside the file"},
		{"header only", good[:8], "outside the file"},
		{"directory cut", good[:40], "outside the file"},
		{"tile cut", good[:len(good)-2], "outside the file"},
		{"no width", patch(t, good, tagWidth, long(0)), "0 columns"},
		{"too wide", patch(t, good, tagWidth, long(math.MaxUint32)), "above the limit"},
		{"width a text", patch(t, good, tagWidth, func(e []byte) { e[2] = typeASCII }), "type 2"},
		{"two widths", patch(t, good, tagWidth, func(e []byte) { e[2] = typeShort; e[4] = 2 }), "holds 2 values"},
		{"twice", patch(t, good, tagHeight, retag(tagWidth)), "there twice"},
		{"more columns than tiles", patch(t, good, tagWidth, long(600)), "2 offsets and 2 lengths for 3 blocks"},
		{"16 bits", patch(t, good, tagBits, short(16)), "one band of float32"},
		{"integers", patch(t, good, tagSampleFormat, short(1)), "one band of float32"},
		{"three bands", patch(t, good, tagSamples, short(3)), "one band of float32"},
		{"lzw", patch(t, good, tagCompression, short(5)), "compression 5"},
		{"not compressed", patch(t, good, tagCompression, short(1)), "too short for its pixels"},
		{"predictor", patch(t, good, tagPredictor, short(2)), "predictor 2"},
		{"rotated rows", patch(t, good, tagPlanar, func(e []byte) { retag(tagOrientation)(e); short(3)(e) }), "orientation 3"},
		{"no tile height", patch(t, good, tagTileHeight, short(0)), "blocks of 256 columns and 0 rows"},
		{"huge tile", patch(t, one, tagTileHeight, func(e []byte) { e[2] = typeLong; long(1 << 19)(e) }), "too short for its pixels"},
		{"tile grown", patch(t, one, tagTileHeight, short(257)), "unexpected EOF"},
		{"tile shrunk", patch(t, one, tagTileHeight, short(255)), "more data than pixels"},
		{"left out tile", patch(t, one, tagTileByteCounts, long(0)), "missing"},
		{"tile outside", patch(t, one, tagTileOffsets, long(math.MaxUint32-3)), "outside the file"},
		{"tile in the header", patch(t, one, tagTileOffsets, long(8)), "zlib"},
		{"offsets without end", patch(t, good, tagTileOffsets, count(math.MaxUint32)), "outside the file"},
		{"no scale", patch(t, good, tagPixelScale, retag(33551)), "no plain georeference"},
		{"scale of longs", patch(t, good, tagPixelScale, func(e []byte) { e[2] = typeLong }), "type 4"},
		{"no keys", patch(t, good, tagGeoKeys, retag(34734)), "no coordinate system"},
		{"keys cut", patch(t, good, tagGeoKeys, count(12)), "no coordinate system"},
		{"geographic", setKey(keyModelType, 2), "not a projected one"},
		{"no code", setKey(keyProjected, userDefined), "without an EPSG code"},
		{"code 0", setKey(keyProjected, 0), "without an EPSG code"},
		{"small code", setKey(keyProjected, 7), "EPSG:7"},
		{"no data word", replace("-9999\x00", "none!\x00"), "not a number"},
		{"metadata cut", replace("</GDALMetadata>", "</GDALMetadato>"), "metadata"},
		{"metadata name", replace(`name="quoted"`, `name="quo:ed"`), "metadata name"},
		{"metadata twice", replace(`name="quoted"`, `name="lines" `), "there twice"},
	} {
		_, err := decode(c.file)
		if err == nil || !strings.Contains(err.Error(), c.part) || !strings.HasPrefix(err.Error(), "geotiff: ") {
			t.Errorf("%s: got error %v, want one with %q", c.name, err, c.part)
		}
	}
}

// The check sum of deflate catches a changed bit in the data.
func TestReadRefusesDamage(t *testing.T) {
	b := encode(t, wavy(20, 20))
	b[len(b)-20] ^= 4
	if _, err := decode(b); err == nil {
		t.Error("damaged data was read")
	}
}

// Overlapping tiles would let a small file fill much memory.
func TestReadRefusesOverlap(t *testing.T) {
	g := New(Geometry{Pixel: 1, Width: 256, Height: 256 * 8, EPSG: 32615})
	b := encode(t, g)
	f, err := openTIFF(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	first, err := f.uints(tagTileOffsets)
	if err != nil {
		t.Fatal(err)
	}
	at := f.order.Uint32(f.entries[tagTileOffsets].inner)
	for i := range first {
		binary.LittleEndian.PutUint32(b[at+4*uint32(i):], first[0])
	}
	short := b[:first[1]]
	_, err = ReadGeoTIFF(bytes.NewReader(short), int64(len(short)))
	wantError(t, err, "overlap")
}

func TestReadPixelIsPoint(t *testing.T) {
	g := wavy(20, 20)
	b := encode(t, g)
	i := bytes.Index(b, []byte{1, 4, 0, 0, 1, 0, 1, 0}) // key 1025 with one value, 1
	b[i+6] = pixelIsPoint
	got, err := decode(b)
	if err != nil {
		t.Fatal(err)
	}
	if got.West != g.West-1.25 || got.North != g.North+1.25 {
		t.Errorf("corner at %v, %v: half a pixel of 2.5 m from %v, %v expected", got.West, got.North, g.West, g.North)
	}
}

// Files of GDAL in the forms that are read: see testdata/README.md for what the
// pixels hold.
func TestReadFilesOfGDAL(t *testing.T) {
	files, err := filepath.Glob("testdata/gdal-*.tif")
	if err != nil || len(files) != 4 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	want := &Grid{Geometry: Geometry{West: 500000, North: 4600000, Pixel: 10, Width: 20, Height: 12, EPSG: 32615}}
	for i := range 20 * 12 {
		v := float32(i%20) + float32(i/20)/8
		if i%7 == 3 {
			v = NoData
		}
		want.Data = append(want.Data, v)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		got, err := decode(b)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		got.Meta = nil
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: got %+v\n%v", name, got.Geometry, got.Data)
		}
	}
}

// Whatever the bytes: no panic, no more values than the file can hold, and what
// is read can be written and read again unchanged.
func FuzzReadGeoTIFF(f *testing.F) {
	f.Add(encode(f, wavy(3, 2)))
	files, err := filepath.Glob("testdata/gdal-*.tif")
	if err != nil || len(files) == 0 {
		f.Fatalf("no files: %v", err)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		g, err := decode(b)
		if err != nil {
			return
		}
		if len(g.Data) != g.Width*g.Height || len(g.Data) > maxInflate*len(b) {
			t.Fatalf("%d by %d pixels, %d values from %d bytes", g.Width, g.Height, len(g.Data), len(b))
		}
		if g.Width > tileSide || g.Height > tileSide {
			return // more tiles would only slow the search down
		}
		again, err := decode(encode(t, g))
		if err != nil || !reflect.DeepEqual(again, g) {
			t.Fatalf("came back changed: %v", err)
		}
	})
}
