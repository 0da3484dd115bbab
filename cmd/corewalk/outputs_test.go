package main

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

func TestStaged(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	put := func(force bool, text string) error {
		o := &outputs{dir: dir, force: force}
		f, err := o.stage("a/b.txt", func(w io.Writer) error { _, err := io.WriteString(w, text); return err })
		if err != nil {
			return err
		}
		o.take(f)
		return o.commit()
	}
	long := strings.Repeat("0123456789abcdef", 20_000)
	if err := put(false, long); err != nil {
		t.Fatal(err)
	}
	if err := put(false, long); err != nil {
		t.Errorf("the same once more: %v", err)
	}
	for _, other := range []string{long[:len(long)-1] + "x", long[1:], ""} {
		if err := put(false, other); err == nil || !strings.Contains(err.Error(), "--force") {
			t.Errorf("another content of %d bytes: %v", len(other), err)
		}
	}
	if err := put(true, "other"); err != nil {
		t.Error(err)
	}
	if got := tree(t, dir); len(got) != 1 || got["a/b.txt"] != "other" {
		t.Errorf("%d files: %v", len(got), got)
	}
}

// A step that fails takes away what it staged, and the folder that it made.
func TestStagedFails(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new")
	o := &outputs{dir: dir}
	if _, err := o.stage("a", func(io.Writer) error { return fmt.Errorf("bad") }); err == nil {
		t.Fatal("no error")
	}
	o.discard()
	if _, err := os.Stat(dir); err == nil {
		t.Error("the folder is still there")
	}
}

// TestInterrupted runs itself once more and has that told to stop.
func TestInterrupted(t *testing.T) {
	if dir := os.Getenv("COREWALK_TEST_INTERRUPTED"); dir != "" {
		o := &outputs{dir: dir}
		if _, err := o.stage("a", func(w io.Writer) error { _, err := io.WriteString(w, "something"); return err }); err != nil {
			t.Fatal(err)
		}
		fmt.Println("staged")
		select {}
	}
	dir := filepath.Join(t.TempDir(), "new")
	c := exec.Command(os.Args[0], "-test.run=TestInterrupted$")
	c.Env = append(os.Environ(), "COREWALK_TEST_INTERRUPTED="+dir)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var errs strings.Builder
	c.Stderr = &errs
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadFull(out, make([]byte, len("staged\n"))); err != nil {
		t.Fatal(err)
	}
	if err := c.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := c.Wait(); err == nil || c.ProcessState.ExitCode() != exitFailed || !strings.Contains(errs.String(), "interrupted") {
		t.Errorf("%v: %s", err, errs.String())
	}
	if _, err := os.Stat(dir); err == nil {
		t.Error("the folder is still there")
	}
}

// While one writes into a folder, another is told who it is, and nothing changes.
func TestOneWriterToAFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	first, second := &outputs{dir: dir}, &outputs{dir: dir, force: true}
	text := func(s string) func(io.Writer) error {
		return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
	}
	f, err := first.stage("a", text("first"))
	if err != nil {
		t.Fatal(err)
	}
	first.take(f)
	if err := second.add("a", text("second")); err != nil {
		t.Fatal(err)
	}
	if err := second.commit(); err == nil || !strings.Contains(err.Error(), dir+" is being written by ") {
		t.Errorf("the second writer got %v", err)
	}
	if _, err := (&outputs{dir: dir}).stage("b", text("third")); err == nil || !strings.Contains(err.Error(), "is being written by ") {
		t.Errorf("the third writer got %v", err)
	}
	if err := first.commit(); err != nil {
		t.Fatal(err)
	}
	if err := second.commit(); err != nil {
		t.Fatal(err)
	}
	if got := tree(t, dir); len(got) != 1 || got["a"] != "second" {
		t.Errorf("there is %v", got)
	}
}

// What a killed program left behind goes with the next run, and nothing else does.
func TestLeftoversGo(t *testing.T) {
	dir := t.TempDir()
	job := write(t, filepath.Join(dir, "job.yaml"), "boundary: {file: fields.geojson, name: NAME}\nplan: {design: grid, cell: 2ha, seed: 1}\nkit:\n")
	write(t, filepath.Join(dir, "fields.geojson"), twoFields)
	mustCall(t, "run", job)
	out := filepath.Join(dir, "out")
	want := tree(t, out)
	for _, name := range []string{leftover + "123", filepath.Join(leftover+"77", "5"), filepath.Join("kit", leftover+"9"), folderLock} {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(out, name)), 0o777); err != nil {
			t.Fatal(err)
		}
		write(t, filepath.Join(out, name), "half")
	}
	write(t, filepath.Join(out, ".notes"), "mine")
	os.Remove(filepath.Join(out, "kit", "labels.pdf"))
	mustCall(t, "run", job)
	want[".notes"] = "mine"
	sameTrees(t, want, tree(t, out))
}

// Where there can be no lock, that is no reason to write nothing.
func TestNoLockToBeHad(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, folderLock), 0o777); err != nil {
		t.Fatal(err)
	}
	o := &outputs{dir: dir}
	if err := o.add("a", func(w io.Writer) error { _, err := io.WriteString(w, "there"); return err }); err != nil {
		t.Fatal(err)
	}
	if err := o.commit(); err != nil {
		t.Fatal(err)
	}
	if got := tree(t, dir); got["a"] != "there" {
		t.Errorf("there is %v", got)
	}
}
