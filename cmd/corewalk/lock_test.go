package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestLock(t *testing.T) {
	dir := t.TempDir()
	for _, path := range []string{dir, filepath.Join(dir, "record.gpkg")} {
		release, err := holdLock(path)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := holdLock(path); err == nil || !strings.Contains(err.Error(), "is being written by ") || !strings.Contains(err.Error(), "process ") {
			t.Errorf("%s: a second one got %v", path, err)
		}
		release()
		again, err := holdLock(path)
		if err != nil {
			t.Errorf("%s: after it was let go: %v", path, err)
			continue
		}
		again()
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	// A file that somebody left behind holds nobody up.
	if err := os.WriteFile(filepath.Join(dir, ".corewalk.lock"), []byte("who was here\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	release, err := holdLock(dir)
	if err != nil {
		t.Fatal(err)
	}
	release()
	if _, err := holdLock(filepath.Join(dir, "no", "folder")); err == nil || !strings.Contains(err.Error(), "cannot write") {
		t.Errorf("a lock where there is no folder: %v", err)
	}
}
