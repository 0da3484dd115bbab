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
	first := binary.LittleEndian.Uint32(b[4:])
	for i := range int(binary.LittleEndian.Uint16(b[first:])) {
		if e := b[int(first)+2+12*i:][:12]; binary.LittleEndian.Uint16(e) == tag {
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
	good := encode(t, wavy(600, 20))
	one := encode(t, wavy(20, 20))
	two := encode(t, withError(20, 20))
	// swap keeps the length of the file: spaces go where XML allows them.
	swap := func(b []byte, old, new string) []byte {
		if !bytes.Contains(b, []byte(old)) {
			t.Fatalf("no %q", old)
		}
		return bytes.Replace(b, []byte(old), []byte(new+strings.Repeat(" ", len(old)-len(new))), 1)
	}
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
		{"tile cut", good[:len(good)-6], "outside the file"},
		{"no width", patch(t, good, tagWidth, long(0)), "0 columns"},
		{"too wide", patch(t, good, tagWidth, long(math.MaxUint32)), "above the limit"},
		{"width a text", patch(t, good, tagWidth, func(e []byte) { e[2] = typeASCII }), "type 2"},
		{"two widths", patch(t, good, tagWidth, func(e []byte) { e[2] = typeShort; e[4] = 2 }), "holds 2 values"},
		{"twice", patch(t, good, tagHeight, retag(tagWidth)), "there twice"},
		{"more columns than tiles", patch(t, good, tagWidth, long(800)), "2 offsets and 2 lengths for 3 blocks"},
		{"16 bits", patch(t, good, tagBits, short(16)), "tag 258 of band 1 is 16"},
		{"integers", patch(t, good, tagSampleFormat, short(1)), "tag 339 of band 1 is 1"},
		{"three bands", patch(t, good, tagSamples, short(3)), "tag 258 holds 1 values for 3 bands"},
		{"no bands", patch(t, good, tagSamples, short(0)), "0 bands"},
		{"bands without end", patch(t, good, tagSamples, func(e []byte) { e[2] = typeLong; long(math.MaxUint32)(e) }), "bands"},
		{"too many values", patch(t, patch(t, good, tagSamples, short(math.MaxUint16)), tagHeight, long(5000)), "65535 bands is above the limit"},
		{"bands together", patch(t, two, tagPlanar, short(1)), "3 offsets and 3 lengths for 1 blocks"},
		{"neither together nor apart", patch(t, two, tagPlanar, short(3)), "planar configuration 3"},
		{"bands apart", patch(t, two, tagSamples, short(2)), "tag 258 holds 3 values for 2 bands"},
		{"name twice", swap(two, `UNITTYPE" sample="0" role="unittype"`, `X" sample="0" role="description"`), "description of band 1 is there twice"},
		{"name with a line end", swap(two, `">pH<`, "\">p\n<"), "one line of plain text"},
		{"unit with a space", swap(two, `">µS/`, `"> S/`), "unit of band 2"},
		{"lzw", patch(t, good, tagCompression, short(5)), "compression 5"},
		{"not compressed", patch(t, good, tagCompression, short(1)), "too short for its pixels"},
		{"predictor", patch(t, good, tagPredictor, short(2)), "predictor 2"},
		{"rotated rows", patch(t, good, tagPlanar, func(e []byte) { retag(tagOrientation)(e); short(3)(e) }), "orientation 3"},
		{"no tile height", patch(t, good, tagTileHeight, short(0)), "blocks of 304 columns and 0 rows"},
		{"huge tile", patch(t, one, tagTileHeight, func(e []byte) { e[2] = typeLong; long(1 << 19)(e) }), "too short for its pixels"},
		{"tile grown", patch(t, one, tagTileHeight, short(33)), "unexpected EOF"},
		{"tile shrunk", patch(t, one, tagTileHeight, short(31)), "more data than pixels"},
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
	g := New(Geometry{Pixel: 1, Width: 512, Height: 512 * 8, EPSG: 32615})
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

// Items about bands that are not there, and others about bands than name and
// unit, are none of ours.
func TestReadPassesOverOtherItems(t *testing.T) {
	g := wavy(20, 20)
	b := encode(t, g)
	b = bytes.Replace(b, []byte(`sample="0" role="unittype"`), []byte(`sample="1" role="unittype"`), 1)
	b = bytes.Replace(b, []byte(`role="description"`), []byte(`role="descriptive"`), 1)
	got, err := decode(b)
	if err != nil {
		t.Fatal(err)
	}
	g.Name, g.Unit = "", ""
	if !reflect.DeepEqual(got, g) {
		t.Errorf("got %q, %q, %q", got.Name, got.Unit, got.Meta)
	}
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
	f.Add(encode(f, withError(3, 2)))
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
		if err := g.check(); err != nil {
			t.Fatal(err)
		}
		if n := len(g.Data) * g.bandCount(); n > maxInflate*len(b) {
			t.Fatalf("%d values from %d bytes", n, len(b))
		}
		if g.Width > maxTileSide || g.Height > maxTileSide || len(g.More) > 8 {
			return // more tiles would only slow the search down
		}
		again, err := decode(encode(t, g))
		if err != nil || !reflect.DeepEqual(again, g) {
			t.Fatalf("came back changed: %v", err)
		}
	})
}
