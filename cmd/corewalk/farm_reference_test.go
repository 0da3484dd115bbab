//go:build reference

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A disk of 20 MB that fills up in the middle of a farm, or that cannot be written
// at all: one line, whole fields, and what there was. With room made, the run goes
// on to the files of an undisturbed one. Mounting needs root.
func TestReferenceFarmOnAFullDisk(t *testing.T) {
	dir := t.TempDir()
	const n = 40
	job := manyFields(t, dir, n)
	data, err := os.ReadFile(job)
	if err != nil {
		t.Fatal(err)
	}
	mustCall(t, "farm", "run", job)
	want := tree(t, filepath.Join(dir, "out"))
	disk := t.TempDir()
	tool(t, "mount", "-t", "tmpfs", "-o", "size=20m", "tmpfs", disk)
	t.Cleanup(func() { tool(t, "umount", disk) })
	out := filepath.Join(disk, "out")
	write(t, job, string(data)+"out: "+out+"\n")
	oneLineOf := func(says string) {
		t.Helper()
		_, said, status := call(t, "farm", "run", job, "--resume")
		if status != exitFailed || !strings.Contains(said, says) || strings.Count(said, "\n") != 1 {
			t.Errorf("status %d, %q, want %q", status, said, says)
		}
	}
	fill(t, filepath.Join(disk, "fill"), 400)
	oneLineOf("no space left on device; ")
	some, err := filepath.Glob(filepath.Join(out, fieldsFolder, "Field-*"))
	if err != nil || len(some) == 0 || len(some) >= n {
		t.Fatalf("%d of %d fields are there, %v", len(some), n, err)
	}
	for _, field := range some {
		if d, err := readDone(field); err != nil {
			t.Error(err)
		} else if whole, err := d.whole(field); !whole || err != nil {
			t.Errorf("%s is half written: %v", field, err)
		}
	}
	if left, _ := filepath.Glob(filepath.Join(out, fieldsFolder, ".*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	t.Logf("the disk was full after %d of %d fields", len(some), n)

	tool(t, "mount", "-o", "remount,ro", disk)
	oneLineOf("read-only file system")
	if _, said, status := call(t, "run", job); status != exitFailed || !strings.Contains(said, "read-only file system") || strings.Count(said, "\n") != 1 {
		t.Errorf("status %d, %q", status, said)
	}
	tool(t, "mount", "-o", "remount,rw", disk)
	if err := os.Remove(filepath.Join(disk, "fill")); err != nil {
		t.Fatal(err)
	}
	mustCall(t, "farm", "run", job, "--resume")
	sameTrees(t, want, tree(t, out))
}
