//go:build reference

package task

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"corewalk/geo/crs"
)

// The published schema of task files lies in the folder COREWALK_SCHEMAS, with
// the one that it includes, by default the one named shared/schemas beside the
// checkout.
func TestReferenceSchema(t *testing.T) {
	folder := os.Getenv("COREWALK_SCHEMAS")
	if folder == "" {
		folder = "../../../shared/schemas"
	}
	schema := filepath.Join(folder, "ISO11783_TaskFile_V4-3.xsd")
	if _, err := os.Stat(schema); err != nil {
		t.Fatalf("set COREWALK_SCHEMAS to the folder with ISO11783_TaskFile_V4-3.xsd: %v", err)
	}
	dir := t.TempDir()
	xmllint := func(xml []byte) (string, error) {
		name := filepath.Join(dir, "TASKDATA.XML")
		if err := os.WriteFile(name, xml, 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command("xmllint", "--noout", "--nonet", "--schema", schema, name).CombinedOutput()
		return string(out), err
	}
	var good []byte
	for i, f := range referenceFiles(t) {
		_, content := entries(t, pack(t, f))
		xml := content["TASKDATA/TASKDATA.XML"]
		if out, err := xmllint(xml); err != nil {
			t.Errorf("file %d: %v: %.2000s", i, err, out)
		}
		if i == 0 {
			good = xml
		}
	}
	// The check can fail: by a bound, a name, a length, an attribute. That what is
	// referred to is there, xmllint does not look for; TestReferences does.
	for _, c := range [][2]string{
		{`B="250000"`, `B="2147483648"`}, {`<TZN`, `<TZM`}, {`D="123456"`, ``}, {`B="Potash"`, `B="a name of more than 32 characters."`},
	} {
		bad := bytes.Replace(good, []byte(c[0]), []byte(c[1]), 1)
		_, err := xmllint(bad)
		if err == nil || bytes.Equal(bad, good) {
			t.Errorf("%s for %s: %v", c[1], c[0], err)
		}
	}
}

func referenceFiles(t *testing.T) []*File {
	many := &File{Farm: "many", Products: []Product{{Name: "lime"}}}
	for i := range 300 {
		w := float64(i) / 100
		s := crs.LonLatShape{{box(w, 1, w+0.009, 1.01)}}
		many.Fields = append(many.Fields, Field{Name: fmt.Sprint("field ", i), Boundary: s, Area: 1e6})
		task := Task{Name: fmt.Sprint("task ", i), Field: i, Unit: Unit(i % int(units))}
		if i%2 == 0 {
			task.Zones = []Zone{{Rate: float64(i), Shape: s}, {Rate: 1, Shape: s}}
		} else {
			task.Grid = &Grid{South: 1, West: w, CellNorth: 1e-8, CellEast: 0.003, Columns: 3, Rows: 1, Values: []int32{1, 2, 3}, Coded: i%3 == 0}
		}
		many.Tasks = append(many.Tasks, task)
	}
	f, p := frameAt(t, 9, 52)
	grid, err := FromRaster(rates(rand.New(rand.NewPCG(9, 9)), f, p, 3, 100, 100), f, KgPerHa, 1)
	if err != nil {
		t.Fatal(err)
	}
	raster := gridded(false)
	raster.Tasks[0].Grid = grid
	out := []*File{zoned(), gridded(false), gridded(true), {}, many, raster}
	r := rand.New(rand.NewPCG(10, 11783))
	for range 60 {
		out = append(out, randomFile(r))
	}
	return out
}
