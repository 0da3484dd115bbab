package main

import (
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
)

// doneFile is written last into the folder of a field. It says what the field's
// files hang on and what they are, so that a later run knows what is done.
const doneFile = "done.json"

// done is what doneFile holds.
type done struct {
	Format  int    `json:"format"`
	Program string `json:"program"`
	// Key is the hash of inputs and parameters; "" while the files are being
	// replaced, when Files are those of before and after.
	Key    string     `json:"key"`
	Record farmRecord `json:"record"`
	Files  []ownFile  `json:"files"`
}

// ownFile is a file that a run has written.
type ownFile struct {
	File   string `json:"file"` // relative to the field's folder, with slashes
	Bytes  int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

func readDone(dir string) (*done, error) {
	path := filepath.Join(dir, doneFile)
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var d done
	outside := func(f ownFile) bool { return !filepath.IsLocal(filepath.FromSlash(f.File)) }
	if err := json.Unmarshal(data, &d); err != nil || d.Format != 1 || !strings.HasPrefix(d.Program, "corewalk ") || slices.ContainsFunc(d.Files, outside) {
		return nil, fmt.Errorf("%s is not what a farm run writes; take it away, or choose another output folder", path)
	}
	return &d, nil
}

// ownFiles lists the files below a folder.
func ownFiles(dir string) ([]ownFile, error) {
	var out []ownFile
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		f, err := ownFileAt(dir, filepath.ToSlash(name))
		out = append(out, f)
		return err
	})
	return out, err
}

func ownFileAt(dir, name string) (ownFile, error) {
	f, err := os.Open(filepath.Join(dir, filepath.FromSlash(name)))
	if err != nil {
		return ownFile{}, err
	}
	defer f.Close()
	sum := sha256.New()
	n, err := io.Copy(sum, f)
	return ownFile{name, n, hex.EncodeToString(sum.Sum(nil))}, err
}

// errChanged tells that a file is not as it was written.
type errChanged struct{ path string }

func (e errChanged) Error() string {
	return e.path + " was changed since it was written; give --force to write it anew, or choose another output folder"
}

// whole reports whether all files are there. It fails on one that was changed.
func (d *done) whole(dir string) (bool, error) {
	for _, want := range d.Files {
		got, err := ownFileAt(dir, want.File)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return false, nil
		case err != nil:
			return false, readError(err)
		case got != want:
			return false, errChanged{filepath.Join(dir, filepath.FromSlash(want.File))}
		}
	}
	return true, nil
}

// has reports whether a file is as some run wrote it.
func (d *done) has(f ownFile) bool { return d != nil && slices.Contains(d.Files, f) }

// made are the files of a field where they were made, with doneFile among them, on
// their way to the field's folder.
type made struct {
	field     *farmField
	from, dir string
	done
}

// seal lists the files and writes doneFile beside them.
func (m *made) seal() (err error) {
	if m.Files, err = ownFiles(m.from); err != nil {
		return err
	}
	data, err := m.encode()
	if err != nil {
		return err
	}
	return writeUnsynced(filepath.Join(m.from, doneFile), data)
}

// settle moves the files to the field's folder, doneFile last. A folder that is not
// there yet appears whole. In one that is there, nothing that was not written by a
// run is changed without force, and nothing such is ever deleted. Everything must
// have been synced.
func (m *made) settle(force bool, inputs []os.FileInfo) error {
	dir := m.dir
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		if err := os.Rename(m.from, dir); err != nil {
			return cannotWrite(dir, err)
		}
		return nil
	}
	old, err := readDone(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	var due []ownFile
	for _, f := range m.Files {
		path := filepath.Join(dir, filepath.FromSlash(f.File))
		there, err := ownFileAt(dir, f.File)
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return fmt.Errorf("cannot look at the output %s: %w", path, err)
		case there == f:
			continue
		case isInput(path, inputs):
			return fmt.Errorf("%s is an input and would be overwritten; choose another output folder", path)
		case !force && !(old != nil && old.Key == "" && old.has(there)):
			return fmt.Errorf("%s exists and would change; give --force to overwrite it, or choose another output folder", path)
		}
		due = append(due, f)
	}
	stale, err := old.stale(dir, m.Files)
	if err != nil {
		return err
	}
	if len(stale) > 0 && !force && old.Key != "" {
		return fmt.Errorf("%s was written by an earlier run and is not written any more; give --force to take it away, or choose another output folder", filepath.Join(dir, filepath.FromSlash(stale[0].File)))
	}
	if len(due)+len(stale) > 0 {
		// Until all is in place the folder is nobody's finished work.
		between := m.done
		between.Key, between.Files = "", slices.Clone(m.Files)
		if old != nil {
			for _, f := range old.Files {
				if !slices.Contains(between.Files, f) {
					between.Files = append(between.Files, f)
				}
			}
		}
		if err := between.write(dir); err != nil {
			return err
		}
	}
	folders := []string{dir}
	for _, f := range due {
		path := filepath.Join(dir, filepath.FromSlash(f.File))
		if folder := filepath.Dir(path); !slices.Contains(folders, folder) {
			folders = append(folders, folder)
			if err := os.MkdirAll(folder, 0o777); err != nil {
				return cannotWrite(path, err)
			}
		}
		if err := os.Rename(filepath.Join(m.from, filepath.FromSlash(f.File)), path); err != nil {
			return cannotWrite(path, err)
		}
	}
	for _, f := range stale {
		if err := os.Remove(filepath.Join(dir, filepath.FromSlash(f.File))); err != nil {
			return cannotWrite(filepath.Join(dir, f.File), err)
		}
	}
	for _, folder := range folders {
		if err := syncFolder(folder); err != nil {
			return cannotWrite(folder, err)
		}
	}
	return m.write(dir)
}

// stale lists the files that an earlier run wrote, that are as it wrote them, and
// that are not written any more.
func (d *done) stale(dir string, now []ownFile) ([]ownFile, error) {
	if d == nil {
		return nil, nil
	}
	var out []ownFile
	for _, f := range d.Files {
		if slices.ContainsFunc(now, func(x ownFile) bool { return x.File == f.File }) {
			continue
		}
		there, err := ownFileAt(dir, f.File)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, readError(err)
		}
		if err == nil && there == f && !slices.Contains(out, f) {
			out = append(out, f)
		}
	}
	return out, nil
}

func (d done) encode() ([]byte, error) {
	data, err := json.MarshalIndent(d, "", "  ")
	return append(data, '\n'), err
}

// write puts doneFile into a folder, if it is not there as it is.
func (d done) write(dir string) error {
	data, err := d.encode()
	if err != nil {
		return err
	}
	path := filepath.Join(dir, doneFile)
	if same, err := (outFile{data: data}).is(path); err == nil && same {
		return nil
	}
	return writeFile(path, data)
}

func isInput(path string, inputs []os.FileInfo) bool {
	info, err := os.Stat(path)
	return err == nil && slices.ContainsFunc(inputs, func(in os.FileInfo) bool { return os.SameFile(in, info) })
}
