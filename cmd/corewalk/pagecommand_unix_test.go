//go:build unix

package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// install puts a program of a few lines of shell where programs are looked for,
// and nothing else but the shell's own.
func install(t *testing.T, name, script string) {
	t.Helper()
	dir := t.TempDir()
	if name != "" {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("#!/bin/sh\n"+script), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	t.Setenv("PATH", dir)
}

func smallPage(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	path := filepath.Join(dir, reportFile)
	if err := os.WriteFile(path, []byte(`<!DOCTYPE html><html lang="en" data-units="us"><head><title>x</title></head><body></body></html>`), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

const printer = `for a; do case "$a" in --print-to-pdf=*) out="${a#--print-to-pdf=}";; file://*) page="${a#file://}";; esac; done
read -r line < "$page"
printf '%%PDF-1.4 %s' "$line" > "$out"
`

func TestReportPrints(t *testing.T) {
	page := smallPage(t)
	install(t, "chromium", printer)
	for _, c := range []struct{ paper, want string }{{"", "size: letter"}, {"a4", "size: a4"}} {
		args := []string{"report", filepath.Dir(page), "--pdf", "--force"}
		if c.paper != "" {
			args = append(args, "--paper", c.paper)
		}
		out := mustCall(t, args...)
		pdf, err := os.ReadFile(filepath.Join(filepath.Dir(page), "report.pdf"))
		if err != nil || !strings.HasPrefix(string(pdf), "%PDF-") || !strings.Contains(string(pdf), c.want) || !strings.Contains(out, "report.pdf") {
			t.Errorf("paper %q: %s, %v, said %q", c.paper, pdf, err, out)
		}
	}
	// What is there already is not written over unasked.
	if _, said, status := call(t, "report", page, "--pdf"); status != exitFailed || !strings.Contains(said, "--force") {
		t.Errorf("status %d, %q", status, said)
	}
}

func TestReportTellsWhyItCannotPrintOrOpen(t *testing.T) {
	for _, c := range []struct {
		name, program, script string
		args                  []string
		want                  string
	}{
		{"no browser", "", "", []string{"--pdf"}, "no Chromium or Chrome was found"},
		{"it fails", "chromium", "echo first >&2; echo no display >&2; exit 4", []string{"--pdf"}, "no display"},
		{"it prints nothing", "chromium", "exit 0", []string{"--pdf"}, "printed nothing"},
		{"nothing opens", "", "", []string{"--open"}, "yourself"},
		{"it cannot open", opener(), "echo no method >&2; exit 3", []string{"--open"}, "no method"},
	} {
		page := smallPage(t)
		install(t, c.program, c.script)
		_, said, status := call(t, append([]string{"report", page}, c.args...)...)
		if status != exitFailed || !strings.Contains(said, c.want) || strings.Count(strings.TrimSpace(said), "\n") > 0 {
			t.Errorf("%s: status %d, %q", c.name, status, said)
		}
		if _, err := os.Stat(filepath.Join(filepath.Dir(page), "report.pdf")); err == nil {
			t.Errorf("%s: a PDF is left behind", c.name)
		}
	}
}

func TestReportOpens(t *testing.T) {
	page := smallPage(t)
	told := filepath.Join(t.TempDir(), "told")
	install(t, opener(), "echo \"$1\" > "+told)
	mustCall(t, "report", page, "--open")
	if got, err := os.ReadFile(told); err != nil || strings.TrimSpace(string(got)) != page {
		t.Errorf("it was told %q, %v", got, err)
	}
}
