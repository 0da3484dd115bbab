package season

import (
	"path/filepath"
	"testing"
	"time"
)

// Benchmark200k puts 200,000 results of five seasons, with 100,000 units and as many
// cores, into a record, carries them out of it and into another one, which is the
// same.
func Benchmark200k(b *testing.B) {
	for b.Loop() {
		dir := b.TempDir()
		first, again := filepath.Join(dir, "farm.gpkg"), filepath.Join(dir, "again.gpkg")
		b.StopTimer()
		bundle := invented(20_000, 6)
		b.StartTimer()
		if err := Create(background, first, nothing); err != nil {
			b.Fatal(err)
		}
		r, err := Open(background, first)
		if err != nil {
			b.Fatal(err)
		}
		defer r.Close()
		start := time.Now()
		took := func(what string) {
			b.ReportMetric(time.Since(start).Seconds(), "s-"+what)
			start = time.Now()
		}
		for _, name := range []string{"2021", "2022", "2023", "2024", "2025"} {
			if _, err := r.Add(background, Season{Name: name, Date: name + "-04-01"}, these(bundle), false); err != nil {
				b.Fatal(err)
			}
		}
		took("add")
		if err := r.Export(background, into(dir)); err != nil {
			b.Fatal(err)
		}
		took("export")
		if err := Import(background, dir, again); err != nil {
			b.Fatal(err)
		}
		took("import")
		b.StopTimer()
		x, err := Open(background, again)
		if err != nil {
			b.Fatal(err)
		}
		defer x.Close()
		want, err := r.Digest(background)
		if err != nil {
			b.Fatal(err)
		}
		took("digest")
		if got, err := x.Digest(background); err != nil || got != want {
			b.Fatalf("another record, %v", err)
		}
		b.StartTimer()
	}
}
