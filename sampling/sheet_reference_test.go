//go:build reference

package sampling

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestReferenceIDsThroughASpreadsheet has a spreadsheet program read ids as
// CSV, which it guesses the types of, and write them as a workbook. Ids of
// another make go through it as well, to see that it does guess.
func TestReferenceIDsThroughASpreadsheet(t *testing.T) {
	dir := t.TempDir()
	convert := func(name string, ids []string) string {
		t.Helper()
		from, to := filepath.Join(dir, name+".csv"), filepath.Join(dir, name+".xlsx")
		if err := os.WriteFile(from, []byte(strings.Join(ids, "\n")+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command("ssconvert", from, to).CombinedOutput(); err != nil {
			t.Fatalf("ssconvert: %v: %s", err, out)
		}
		return to
	}
	ids := sheetIDs(t)
	sameIDs(t, convert("ids", ids), ids)
	if _, turned := readSheet(t, convert("others", []string{"0012", "1E5", "3/4", "TRUE"})); turned == 0 {
		t.Error("the spreadsheet takes 1E5 and 3/4 for text; it guesses nothing")
	}
}
