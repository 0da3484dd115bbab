package season

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// Benchmark200k carries 200,000 results of five seasons out of a record and into
// another one, which is the same.
func Benchmark200k(b *testing.B) {
	dir := b.TempDir()
	r, err := Create(background, filepath.Join(dir, "farm.gpkg"))
	if err != nil {
		b.Fatal(err)
	}
	defer r.Close()
	for _, name := range []string{"2021", "2022", "2023", "2024", "2025"} {
		if _, err := r.Add(background, Season{Name: name, Date: name + "-04-01"}, invented(20_000, 6), false); err != nil {
			b.Fatal(err)
		}
	}
	want, err := r.Digest(background)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		out := filepath.Join(b.TempDir(), "out")
		if err := os.MkdirAll(out, 0o777); err != nil {
			b.Fatal(err)
		}
		files, err := r.Export(background)
		if err != nil {
			b.Fatal(err)
		}
		for _, f := range files {
			var text bytes.Buffer
			if err := f.Write(&text); err != nil {
				b.Fatal(err)
			}
			if err := os.WriteFile(filepath.Join(out, f.Name), text.Bytes(), 0o644); err != nil {
				b.Fatal(err)
			}
		}
		again := filepath.Join(out, "again.gpkg")
		if err := Import(background, out, again); err != nil {
			b.Fatal(err)
		}
		x, err := Open(background, again)
		if err != nil {
			b.Fatal(err)
		}
		got, err := x.Digest(background)
		if err != nil || got != want {
			b.Fatalf("another record, %v", err)
		}
		x.Close()
	}
}
