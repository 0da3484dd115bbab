//go:build reference

package lab

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestReferenceLibreOffice has LibreOffice open a table as CSV, where it guesses
// what is a number or a date, and save it as .xlsx. Ids that it has turned into
// something else are told with their cells; all others join as from the CSV.
func TestReferenceLibreOffice(t *testing.T) {
	dir := t.TempDir()
	text := "Sample ID,pH,P (ppm)\nBC01P,6.4,18\n0012,6.1,<5\n12-3,6.2,20\n3/4,6.3,21\n1E5,6.5,22\nDEC1,6.6,23\n'77,6.7,24\nTRUE,6.8,25\n"
	csv := filepath.Join(dir, "lab.csv")
	if err := os.WriteFile(csv, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("soffice", "-env:UserInstallation=file://"+filepath.Join(dir, "profile"), "--headless", "--convert-to", "xlsx", "--outdir", dir, csv).CombinedOutput()
	if err != nil {
		t.Fatalf("soffice: %v: %s", err, out)
	}
	raw, err := os.ReadFile(filepath.Join(dir, "lab.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	table := mustRead(t, raw, Options{})
	notices := strings.Join(table.Notices(), "\n")
	ids := []string{"BC01P", "0012", "12-3", "3/4", "1E5", "DEC1", "'77", "TRUE"}
	samples := make([]SampleRef, len(ids))
	for i, id := range ids {
		samples[i].ID = id
	}
	r := Join(samples, table)
	if err := r.Check(); err != nil {
		t.Error(err)
	}
	if r.Counts.Rows != len(ids) {
		t.Errorf("%d rows of %d", r.Counts.Rows, len(ids))
	}
	mangled := map[int]bool{}
	for _, m := range table.Marks {
		mangled[m.Row] = true
	}
	turned := 0
	for i, f := range r.Rows {
		same := f.ID == ids[i]
		if !same {
			turned++
		}
		if same && f.Fate != Joined || !same && !mangled[f.Row] {
			t.Errorf("row %d: %q has become %q, %s; marks: %s", f.Row, ids[i], f.ID, f.Fate, notices)
		}
	}
	if turned == 0 {
		t.Error("LibreOffice has turned nothing into a number or date; the check checks nothing")
	}
	t.Logf("%d of %d ids were turned:\n%s", turned, len(ids), notices)
}
