package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The page of a job made anew is that of its run, and nothing else is touched.
func TestReportOfAJob(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, "demo", dir)
	season := filepath.Join(dir, "season")
	page := filepath.Join(season, reportFile)
	first, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadDir(season)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(page); err != nil {
		t.Fatal(err)
	}
	mustCall(t, "report", filepath.Join(dir, "job.yaml"))
	again, err := os.ReadFile(page)
	if err != nil || !bytes.Equal(first, again) {
		t.Errorf("the page is another one: %d and %d bytes, %v", len(first), len(again), err)
	}
	if after, err := os.ReadDir(season); err != nil || len(after) != len(before) {
		t.Errorf("%d entries, then %d, %v", len(before), len(after), err)
	}
	if out := mustCall(t, "report", season); !strings.Contains(out, page) {
		t.Errorf("said %q", out)
	}
}

func TestReportRefusals(t *testing.T) {
	dir := t.TempDir()
	table := filepath.Join(dir, "lab.csv")
	if err := os.WriteFile(table, []byte("id,pH\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args   []string
		status int
		want   string
	}{
		{[]string{"report"}, exitUsage, "one job file, folder or page"},
		{[]string{"report", table}, exitFailed, "is not a page"},
		{[]string{"report", dir}, exitFailed, "report.html is not there"},
		{[]string{"report", filepath.Join(dir, "job.yaml")}, exitFailed, "job.yaml is not there"},
		{[]string{"report", dir, "--paper", "a5", "--pdf"}, exitUsage, "letter or a4"},
		{[]string{"report", dir, "--paper", "a4"}, exitUsage, "--pdf"},
	} {
		if _, said, status := call(t, c.args...); status != c.status || !strings.Contains(said, c.want) {
			t.Errorf("%q: status %d, %q", c.args, status, said)
		}
	}
}

// The ten answers of the README stand on the page where it says they do.
func TestReadingThePage(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	mustCall(t, "demo", dir)
	page, err := os.ReadFile(filepath.Join(dir, "season", reportFile))
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(readme), "| a grower asks |")
	rest, _, ended := strings.Cut(rest, "\n\n")
	if !ok || !ended {
		t.Fatal("the README has no questions")
	}
	lines := strings.Split(rest, "\n")[2:]
	if len(lines) != 10 {
		t.Fatalf("%d questions", len(lines))
	}
	for _, line := range lines {
		cells := strings.Split(line, "|")
		place := strings.TrimSpace(cells[2])
		if place == "the farm's name" {
			place = `<p class="done">Sampled: `
		}
		if !strings.Contains(string(page), place) {
			t.Errorf("%s: nothing on the page is called %q", cells[1], place)
		}
	}
}
