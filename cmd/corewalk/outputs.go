package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"corewalk/geo/vector"
)

// outputs gathers the files of one step. Nothing is on disk until commit.
type outputs struct {
	dir    string
	force  bool
	inputs []string // never to be overwritten
	files  []outFile
}

type outFile struct {
	name string // relative to dir
	data []byte
}

// add takes a file by what writes it.
func (o *outputs) add(name string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	o.files = append(o.files, outFile{name, b.Bytes()})
	return nil
}

func (o *outputs) addJSON(name string, v any) error {
	return o.add(name, func(w io.Writer) error {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		e.SetEscapeHTML(false)
		return e.Encode(v)
	})
}

func (o *outputs) addGeoJSON(name string, c vector.Collection) error {
	return o.add(name, func(w io.Writer) error { return vector.WriteGeoJSON(w, c) })
}

// commit writes the files: each to a temporary file beside its place, synced,
// then renamed, so that a reader sees the old file or the new one. Before the
// first of them, all are looked at: an input is never overwritten, another
// file only with force or when it has the same content anyway.
func (o *outputs) commit() error {
	var due []outFile
	for _, f := range o.files {
		path := filepath.Join(o.dir, f.name)
		for _, in := range o.inputs {
			if same(in, path) {
				return fmt.Errorf("%s is an input and would be overwritten; choose another output folder", path)
			}
		}
		old, err := os.ReadFile(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return fmt.Errorf("cannot look at the output %s: %w", path, err)
		case bytes.Equal(old, f.data):
			continue
		case !o.force:
			return fmt.Errorf("%s exists and would change; give --force to overwrite it, or choose another output folder", path)
		}
		due = append(due, f)
	}
	for _, f := range due {
		if err := writeFile(filepath.Join(o.dir, f.name), f.data); err != nil {
			return err
		}
	}
	return nil
}

// names lists the files with their folder, in the order in which they were
// added.
func (o *outputs) names() []string {
	out := make([]string, len(o.files))
	for i, f := range o.files {
		out[i] = filepath.Join(o.dir, f.name)
	}
	return out
}

func same(a, b string) bool {
	x, err := os.Stat(a)
	if err != nil {
		return false
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y)
}

func writeFile(path string, data []byte) (err error) {
	fail := func(err error) error {
		var p *fs.PathError
		if errors.As(err, &p) {
			err = p.Err
		}
		return fmt.Errorf("cannot write %s: %w", path, err)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return fail(err)
	}
	t, err := os.CreateTemp(filepath.Dir(path), ".corewalk-*")
	if err != nil {
		return fail(err)
	}
	defer func() {
		if err != nil {
			t.Close()
			os.Remove(t.Name())
		}
	}()
	if _, err := t.Write(data); err != nil {
		return fail(err)
	}
	if err := t.Chmod(0o644); err != nil {
		return fail(err)
	}
	if err := t.Sync(); err != nil {
		return fail(err)
	}
	if err := t.Close(); err != nil {
		return fail(err)
	}
	if err := os.Rename(t.Name(), path); err != nil {
		return fail(err)
	}
	return nil
}

// inputHash tells which file went into an output.
type inputHash struct {
	File   string `json:"file"`
	SHA256 string `json:"sha256"`
}

// hashInputs returns the hashes of the inputs, a shapefile with all its parts.
// Only base names are kept, so that outputs do not depend on where the job
// lies.
func hashInputs(paths []string) ([]inputHash, error) {
	out := []inputHash{}
	for _, path := range paths {
		for _, part := range partsOf(path) {
			data, err := os.ReadFile(part)
			if err != nil {
				return nil, readError(err)
			}
			sum := sha256.Sum256(data)
			h := inputHash{filepath.Base(part), hex.EncodeToString(sum[:])}
			if !slices.Contains(out, h) {
				out = append(out, h)
			}
		}
	}
	return out, nil
}

// partsOf returns the files of a shapefile, in any letter case, or the file
// itself.
func partsOf(path string) []string {
	if !strings.EqualFold(filepath.Ext(path), ".shp") {
		return []string{path}
	}
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return []string{path}
	}
	stem := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	var out []string
	for _, e := range entries {
		ext := filepath.Ext(e.Name())
		if strings.EqualFold(strings.TrimSuffix(e.Name(), ext), stem) &&
			slices.Contains([]string{".shp", ".shx", ".dbf", ".prj", ".cpg"}, strings.ToLower(ext)) {
			out = append(out, filepath.Join(filepath.Dir(path), e.Name()))
		}
	}
	return out
}

// readError says in plain words that an input cannot be read.
func readError(err error) error {
	var p *fs.PathError
	if !errors.As(err, &p) {
		return err
	}
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s is not there; check the name and the folder", p.Path)
	}
	return fmt.Errorf("%s cannot be read: %w", p.Path, p.Err)
}

// header is the foreign member that every collection carries.
type header struct {
	Format     int         `json:"format"`
	Program    string      `json:"program"`
	Seed       *uint64     `json:"seed,omitempty"`
	Parameters any         `json:"parameters,omitempty"`
	Analytes   any         `json:"analytes,omitempty"`
	Parent     *parent     `json:"parent,omitempty"`
	Inputs     []inputHash `json:"inputs"`
}

func newHeader(parameters any, inputs []string) (header, error) {
	hashes, err := hashInputs(inputs)
	return header{Format: 1, Program: "corewalk " + version, Parameters: parameters, Inputs: hashes}, err
}
