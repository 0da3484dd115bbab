package vector

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"corewalk/geo/crs"
)

// maxBytes is the most that a file, or what is read from a zip, may hold. A
// layer takes a few times its file's size in memory.
const maxBytes = 256 << 20

// maxCells bounds columns times features: in GeoJSON a small file can ask for
// a column of its own for each feature.
const maxCells = 16 << 20

// maxSize bounds vertices plus 16 times features, rings and lines, which take
// about that much more memory: in GeoJSON, and in empty records of a
// shapefile, they take few bytes of the file.
const maxSize = 32 << 20

// Options for Read. The zero value takes everything from the file.
type Options struct {
	// CRS names the system of the file's coordinates, as crs.FromText takes
	// it. It goes before what the file says of itself.
	CRS string
	// Encoding names the code page of a shapefile's table, for example
	// "windows-1252". It goes before what the file says of itself.
	Encoding string
}

// Read reads a GeoJSON file, a shapefile with the files beside it, or a zip
// with one of either. What the file is, its first bytes decide, not its name.
// A layer without features is no error.
func Read(path string, opt Options) (*Layer, error) {
	data, err := readFile(path)
	if err != nil {
		return nil, err
	}
	layer, err := readSource(source{
		name: filepath.Base(path),
		data: data,
		sidecar: func(ext string) (string, []byte, error) {
			return diskSidecar(path, ext)
		},
	}, opt, true)
	if err != nil {
		return nil, err
	}
	layer.Path = path
	return layer, nil
}

// Parse reads GeoJSON that is in memory as Read would from a file of that path.
func Parse(path string, data []byte) (*Layer, error) {
	none := func(string) (string, []byte, error) { return "", nil, nil }
	layer, err := readSource(source{name: filepath.Base(path), data: data, sidecar: none}, Options{}, false)
	if err != nil {
		return nil, err
	}
	layer.Path = path
	return layer, nil
}

// source is the main file of a layer and a way to the files that belong to it.
type source struct {
	name string // for messages
	data []byte
	// sidecar returns the file of the same stem with ext (".dbf"), in any
	// letter case. Its name is "" when there is none.
	sidecar func(ext string) (name string, data []byte, err error)
}

// readSource tells by the first bytes what src is. A zip in a zip is refused.
func readSource(src source, opt Options, zipAllowed bool) (*Layer, error) {
	d := newDecoder(src.name)
	if opt.CRS != "" {
		sys, err := crs.FromText(opt.CRS)
		if err != nil {
			return nil, err
		}
		d.layer.CRS, d.layer.CRSFrom = sys, "given"
	}
	text := bytes.TrimPrefix(src.data, []byte("\xef\xbb\xbf"))
	start := bytes.TrimLeft(text[:min(len(text), 4096)], " \t\r\n")
	ext := strings.ToLower(filepath.Ext(src.name))
	var err error
	switch {
	case zipAllowed && bytes.HasPrefix(src.data, []byte("PK\x03\x04")), zipAllowed && bytes.HasPrefix(src.data, []byte("PK\x05\x06")):
		return readZip(src, opt)
	case isShapefile(src.data) && ext == ".shx":
		err = errors.New("this is the index of a shapefile; give the .shp file")
	case isShapefile(src.data):
		d.layer.Format = Shapefile
		err = d.shapefile(src, opt)
	case bytes.HasPrefix(start, []byte("{")):
		d.layer.Format = GeoJSON
		err = d.geoJSON(text)
	case len(start) == 0:
		err = errors.New("the file is empty")
	case ext == ".dbf" || ext == ".prj" || ext == ".cpg":
		err = errors.New("this is a part of a shapefile; give the .shp file")
	case ext == ".shp":
		err = errors.New("not a shapefile: it does not start with the number 9994")
	case ext == ".geojson" || ext == ".json":
		if err = checkJSON(text); err == nil {
			err = errors.New("not GeoJSON: the text is not an object")
		}
	default:
		err = errors.New("neither GeoJSON nor a shapefile nor a zip of one")
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", src.name, err)
	}
	d.layer.Notices, d.layer.Faults = d.notes.lines(), d.notes.all
	return &d.layer, nil
}

// readFile reads a file of at most maxBytes.
func readFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	if info.IsDir() {
		return nil, fmt.Errorf("%s: is a folder; give the file in it", filepath.Base(path))
	}
	data, err := readAtMost(f, maxBytes, info.Size())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", filepath.Base(path), err)
	}
	return data, nil
}

// readAtMost reads all of r, which says that it holds size bytes, or fails
// when there are more than most.
func readAtMost(r io.Reader, most, size int64) ([]byte, error) {
	tooBig := fmt.Errorf("larger than %d MB, which is more than is read", maxBytes>>20)
	if size > most {
		return nil, tooBig
	}
	var buf bytes.Buffer
	// The size a file states is trusted for no more than a first guess.
	buf.Grow(int(min(size, 64<<20)) + bytes.MinRead)
	n, err := buf.ReadFrom(io.LimitReader(r, most+1))
	if err != nil {
		return nil, err
	}
	if n > most {
		return nil, tooBig
	}
	return buf.Bytes(), nil
}

// diskSidecar finds the file beside path that differs in its extension.
func diskSidecar(path, ext string) (string, []byte, error) {
	dir := filepath.Dir(path)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return "", nil, err
	}
	names := make([]string, 0, len(entries))
	for _, e := range entries {
		if !e.IsDir() {
			names = append(names, e.Name())
		}
	}
	name := pickSidecar(names, filepath.Base(path), ext)
	if name == "" {
		return "", nil, nil
	}
	data, err := readFile(filepath.Join(dir, name))
	return name, data, err
}

// pickSidecar chooses from names the one with the stem of base and the
// extension ext. The stem in the same letter case goes first, then the
// extension in the letter case of base's.
func pickSidecar(names []string, base, ext string) string {
	stem := strings.TrimSuffix(base, filepath.Ext(base))
	if b := filepath.Ext(base); b == strings.ToUpper(b) {
		ext = strings.ToUpper(ext)
	}
	best, bestRank := "", 0
	for _, name := range names {
		e := filepath.Ext(name)
		s := strings.TrimSuffix(name, e)
		if !strings.EqualFold(e, ext) || !strings.EqualFold(s, stem) {
			continue
		}
		rank := 1
		if s == stem {
			rank += 2
		}
		if e == ext {
			rank++
		}
		if rank > bestRank {
			best, bestRank = name, rank
		}
	}
	return best
}
