package main

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"syscall"

	"corewalk/geo/vector"
)

// outputs gathers the files of one step. Nothing takes its place before commit.
// From the first thing that it puts on disk until it is committed or discarded,
// nobody else writes into its folder.
type outputs struct {
	dir    string
	force  bool
	inputs []string // never to be overwritten
	files  []outFile

	// Of a caller that keeps others off the folder itself: lets go of it when the
	// program is interrupted.
	keeper func()
	// The folder is new and the caller's alone, who minds interrupts and syncs all
	// of it before anything in it counts.
	private bool

	staging struct {
		sync.Mutex
		letGo func() // of the folder, for others; nil: nothing is on disk
		dir   string
		calm  func() // ends the watch for an interrupt
	}
}

// outFile is a file to be: its content, or a file of the staging folder.
type outFile struct {
	name   string // relative to dir
	data   []byte
	staged string
}

// add takes a file by what writes it.
func (o *outputs) add(name string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	o.files = append(o.files, outFile{name: name, data: b.Bytes()})
	return nil
}

// stage writes a file to a folder beside the outputs, so that memory does not
// grow with what a step writes, and several goroutines can. The file is taken
// with take.
func (o *outputs) stage(name string, write func(io.Writer) error) (f outFile, err error) {
	dir, err := o.stagingDir()
	if err != nil {
		return outFile{}, cannotKeep(filepath.Join(o.dir, name), err)
	}
	t, err := os.CreateTemp(dir, "")
	if err != nil {
		return outFile{}, cannotWrite(filepath.Join(o.dir, name), err)
	}
	defer func() {
		if e := t.Close(); err == nil && e != nil {
			err = cannotWrite(filepath.Join(o.dir, name), e)
		}
	}()
	b := bufio.NewWriterSize(t, 1<<16)
	if err := write(b); err != nil {
		return outFile{}, fmt.Errorf("%s: %w", name, err)
	}
	sync := t.Sync
	if o.private {
		sync = func() error { return nil }
	}
	for _, do := range []func() error{b.Flush, func() error { return t.Chmod(0o644) }, sync} {
		if err := do(); err != nil {
			return outFile{}, cannotWrite(filepath.Join(o.dir, name), err)
		}
	}
	return outFile{name: name, staged: t.Name()}, nil
}

// take adds files that were staged.
func (o *outputs) take(files ...outFile) { o.files = append(o.files, files...) }

func (o *outputs) stagingDir() (string, error) {
	if err := o.open(); err != nil {
		return "", err
	}
	o.staging.Lock()
	defer o.staging.Unlock()
	if o.staging.dir != "" {
		return o.staging.dir, nil
	}
	var err error
	if o.staging.dir, err = os.MkdirTemp(o.dir, leftover); err == nil && !o.private {
		o.staging.calm = onInterrupt(func() {
			o.sweep()
			if o.keeper != nil {
				o.keeper()
			}
		})
	}
	return o.staging.dir, err
}

// leftover begins the names of what is on its way to its place. Of a program that
// was killed it stays behind, for the next one that has the folder to take away.
const leftover = ".corewalk-"

// open makes the folder and keeps others off it.
func (o *outputs) open() (err error) {
	o.staging.Lock()
	defer o.staging.Unlock()
	switch {
	case o.staging.letGo != nil:
		return nil
	case o.keeper == nil && !o.private:
		o.staging.letGo, err = keepFolder(o.dir)
	default:
		o.staging.letGo, err = func() {}, os.MkdirAll(o.dir, 0o777)
	}
	return err
}

// keepFolder makes a folder, keeps others off it, and takes away what a killed
// program left there. The function that comes back lets go of it; a folder that
// was made for nothing goes with it. Where there can be no lock nothing can be
// written either, and that is said of the first file that has to be.
func keepFolder(dir string) (letGo func(), err error) {
	_, err = os.Stat(dir)
	made := errors.Is(err, fs.ErrNotExist)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, err
	}
	unlock, err := holdLock(dir)
	if err == nil {
		if err = othersOff(dir, shard{}); err != nil {
			unlock()
		}
	}
	if held := (heldError{}); errors.As(err, &held) {
		return nil, err
	}
	locked := err == nil
	if locked {
		removeLeftovers(dir)
	}
	return sync.OnceFunc(func() {
		if locked {
			unlock()
		}
		if made {
			os.Remove(dir)
		}
	}), nil
}

// removeLeftovers takes away what a killed program left in a folder that no other
// one writes into.
func removeLeftovers(dir string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), leftover) {
			os.RemoveAll(filepath.Join(dir, e.Name()))
		}
	}
}

// onInterrupt does clean when the program is told to stop, and ends it. The
// function that comes back ends the watch.
func onInterrupt(clean func()) func() {
	told := make(chan os.Signal, 1)
	signal.Notify(told, os.Interrupt, syscall.SIGTERM)
	go func() {
		if _, ok := <-told; ok {
			clean()
			fmt.Fprintln(os.Stderr, "corewalk: interrupted; nothing of this step was written")
			os.Exit(exitFailed)
		}
	}()
	return sync.OnceFunc(func() {
		signal.Stop(told)
		close(told)
	})
}

// stagingFolder makes a folder of its own in the staging folder.
func (o *outputs) stagingFolder() (string, error) {
	dir, err := o.stagingDir()
	if err != nil {
		return "", err
	}
	return os.MkdirTemp(dir, "")
}

// discard takes away what was staged and not committed, and lets others at the
// folder.
func (o *outputs) discard() {
	if o.staging.letGo == nil {
		return
	}
	if o.staging.calm != nil {
		o.staging.calm()
	}
	o.sweep()
	o.staging.dir, o.staging.calm, o.staging.letGo = "", nil, nil
}

// sweep removes the staging folder and lets go of that of the outputs. Others may
// still be writing, hence more than one try.
func (o *outputs) sweep() {
	for range 5 {
		if o.staging.dir == "" || os.RemoveAll(o.staging.dir) == nil {
			break
		}
	}
	o.staging.letGo()
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
	defer o.discard()
	if err := o.open(); err != nil {
		return cannotKeep(slices.Concat(o.names(), []string{o.dir})[0], err)
	}
	due, err := o.due()
	if err != nil {
		return err
	}
	if o.staging.calm != nil {
		// Renaming takes a moment, and is not left half done.
		o.staging.calm()
		signal.Ignore(os.Interrupt, syscall.SIGTERM)
		defer signal.Reset(os.Interrupt, syscall.SIGTERM)
	}
	put := writeFile
	if o.private {
		put = writeUnsynced
	}
	var folders []string
	for _, f := range due {
		path := filepath.Join(o.dir, f.name)
		if dir := filepath.Dir(path); !slices.Contains(folders, dir) {
			folders = append(folders, dir)
			if err := os.MkdirAll(dir, 0o777); err != nil {
				return cannotWrite(path, err)
			}
			if !o.private && (dir != o.dir || o.staging.dir == "") {
				removeLeftovers(dir)
			}
		}
		if f.staged == "" {
			if err := put(path, f.data); err != nil {
				return err
			}
			continue
		}
		if err := os.Rename(f.staged, path); err != nil {
			return cannotWrite(path, err)
		}
	}
	if o.private {
		return nil
	}
	for _, dir := range folders {
		if err := syncFolder(dir); err != nil {
			return cannotWrite(dir, err)
		}
	}
	return nil
}

// due lists the files that are not there yet as they are to be.
func (o *outputs) due() ([]outFile, error) {
	if o.private {
		return o.files, nil
	}
	var due []outFile
	for _, f := range o.files {
		path := filepath.Join(o.dir, f.name)
		for _, in := range o.inputs {
			if same(in, path) {
				return nil, fmt.Errorf("%s is an input and would be overwritten; choose another output folder", path)
			}
		}
		equal, err := f.is(path)
		switch {
		case errors.Is(err, fs.ErrNotExist):
		case err != nil:
			return nil, fmt.Errorf("cannot look at the output %s: %w", path, err)
		case equal:
			continue
		case !o.force:
			return nil, fmt.Errorf("%s exists and would change; give --force to overwrite it, or choose another output folder", path)
		}
		due = append(due, f)
	}
	return due, nil
}

// cannotKeep says that a folder cannot be had, or who has it.
func cannotKeep(path string, err error) error {
	if held := (heldError{}); errors.As(err, &held) {
		return err
	}
	return cannotWrite(path, err)
}

// syncFolder makes sure that what was renamed in a folder outlasts a loss of power.
// Where a file system or the system itself knows no such thing, it is left.
func syncFolder(dir string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, errors.ErrUnsupported) {
		return err
	}
	return nil
}

// is reports whether the file at path has the content of f.
func (f outFile) is(path string) (bool, error) {
	info, err := os.Stat(path)
	if err != nil {
		return false, err
	}
	size := int64(len(f.data))
	if f.staged != "" {
		staged, err := os.Stat(f.staged)
		if err != nil {
			return false, err
		}
		size = staged.Size()
	}
	if info.Mode().IsRegular() && info.Size() != size {
		return false, nil
	}
	old, err := os.Open(path)
	if err != nil {
		return false, err
	}
	defer old.Close()
	var data io.Reader = bytes.NewReader(f.data)
	if f.staged != "" {
		staged, err := os.Open(f.staged)
		if err != nil {
			return false, err
		}
		defer staged.Close()
		data = staged
	}
	return equal(old, data)
}

// equal reports whether two readers give the same bytes.
func equal(a, b io.Reader) (bool, error) {
	x, y := make([]byte, 1<<16), make([]byte, 1<<16)
	for {
		n, errA := io.ReadFull(a, x)
		m, errB := io.ReadFull(b, y)
		if !bytes.Equal(x[:n], y[:m]) {
			return false, nil
		}
		for _, err := range []error{errA, errB} {
			if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
				return false, err
			}
		}
		if errA != nil || errB != nil {
			return errA != nil && errB != nil, nil
		}
	}
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

func cannotWrite(path string, err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		err = l.Err
	}
	return fmt.Errorf("cannot write %s: %w", path, err)
}

func writeFile(path string, data []byte) (err error) {
	fail := func(err error) error { return cannotWrite(path, err) }
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return fail(err)
	}
	t, err := os.CreateTemp(filepath.Dir(path), leftover)
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

// writeUnsynced writes a file where nobody looks for it yet.
func writeUnsynced(path string, data []byte) error {
	if err := os.WriteFile(path, data, 0o644); err != nil {
		return cannotWrite(path, err)
	}
	return nil
}

// inputHash tells which file went into an output, or what of it.
type inputHash struct {
	File   string `json:"file"`
	Of     string `json:"of,omitempty"` // the field whose part of the file is meant; none: the whole
	SHA256 string `json:"sha256"`
}

// hashInputs returns the hashes of the inputs, a shapefile with all its parts.
// Only base names are kept, so that outputs do not depend on where the job
// lies.
func hashInputs(paths []string) ([]inputHash, error) {
	out := []inputHash{}
	for _, path := range paths {
		for _, part := range partsOf(path) {
			sum, err := hashFile(part)
			if err != nil {
				return nil, readError(err)
			}
			h := inputHash{File: filepath.Base(part), SHA256: sum}
			if !slices.Contains(out, h) {
				out = append(out, h)
			}
		}
	}
	return out, nil
}

func hashFile(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	sum := sha256.New()
	_, err = io.Copy(sum, f)
	return hex.EncodeToString(sum.Sum(nil)), err
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
