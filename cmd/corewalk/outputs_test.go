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
