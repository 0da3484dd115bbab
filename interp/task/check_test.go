package task

import (
	"bytes"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

func TestCheck(t *testing.T) {
	ring := func(r orb.Ring) func(f *File) {
		return func(f *File) { f.Tasks[0].Zones[1].Shape[0][1] = r }
	}
	grid := func(change func(g *Grid)) func(f *File) {
		return func(f *File) {
			f.Tasks = gridded(false).Tasks
			change(f.Tasks[0].Grid)
		}
	}
	nan := math.NaN()
	for _, c := range []struct {
		change func(f *File)
		want   string // "" where it is written
	}{
		{func(f *File) { f.Tasks[0].Zones[0].Rate = -1 }, `task 1 ("Lime on North"): zone 1: a rate of -1 mg/m² is below 0`},
		{func(f *File) { f.Tasks[0].Zones[0].Rate = 2147483647 }, ""},
		{func(f *File) { f.Tasks[0].Zones[0].Rate = 2147483648 }, "above 2147483647"},
		{func(f *File) { f.Tasks[0].Zones[0].Rate = nan }, "NaN"},
		{func(f *File) { f.Tasks[0].Zones = nil }, "nothing to spread"},
		{func(f *File) { f.Tasks[0].Zones[0].Shape = nil }, "zone 1: no ground"},
		{func(f *File) { f.Tasks[0].Grid = &Grid{} }, "both zones and a grid"},
		{func(f *File) { f.Tasks[0].Outside.Default = -2 }, "default rate: a rate of -2"},
		{func(f *File) { f.Tasks[0].Outside.PositionLost = nan }, "rate without position"},
		{func(f *File) { f.Tasks[0].Outside.OutOfField = math.Inf(1) }, "rate out of the field"},
		{func(f *File) { f.Tasks[0].Field = 2 }, "field 2 of 2"},
		{func(f *File) { f.Tasks[0].Field = -1 }, "field -1 of 2"},
		{func(f *File) { f.Tasks[0].Product = 2 }, "product 2 of 2"},
		{func(f *File) { f.Tasks[0].Unit = 4 }, "unit 4 is not known"},
		{func(f *File) { f.Tasks[0].Unit = -1 }, "unit -1 is not known"},
		{func(f *File) { f.Tasks[0].Name = " \n" }, "task 1 (\" \\n\"): no name"},
		{func(f *File) { f.Fields[0].Name = "" }, `field 1 (""): no name`},
		{func(f *File) { f.Products[0].Name = "\x00" }, "product 1"},
		{func(f *File) { f.Fields[0].Area = 4294967294 }, ""},
		{func(f *File) { f.Fields[0].Area = 4294967295 }, "area"},
		{func(f *File) { f.Fields[0].Area = -1 }, "area"},
		{func(f *File) { f.Fields[0].Area = nan }, "area"},
		{func(f *File) { f.Products[0].Density = 2147483.647 }, ""},
		{func(f *File) { f.Products[0].Density = 2147483.648 }, "density"},
		{func(f *File) { f.Products[0].Density = -1 }, "density"},
		{func(f *File) { f.Products[0].Density = nan }, "density"},
		{func(f *File) { f.Fields = make([]Field, maxItems+1) }, "10001 fields"},
		{func(f *File) { f.Products = make([]Product, maxItems+1) }, "10001 products"},
		{func(f *File) { f.Tasks = make([]Task, maxItems+1) }, "10001 tasks"},
		{func(f *File) { f.Notes = []string{strings.Repeat("x", maxNotes-1)} }, ""},
		{func(f *File) { f.Notes = []string{strings.Repeat("x", maxNotes)} }, "notes of 32769 bytes"},

		{func(f *File) { f.Fields[0].Boundary[1] = nil }, "polygon 2: no ring"},
		{ring(box(-180, -90, 180, 90)), ""},
		{ring(box(0, 0, 180.1, 1)), "zone 2: polygon 1, ring 2: vertex 2: longitude 180.1"},
		{ring(box(0, -90.1, 1, 1)), "latitude -90.1"},
		{ring(box(0, nan, 1, 1)), "latitude NaN"},
		{ring(box(0, 0, math.Inf(1), 1)), "longitude +Inf"},
		{ring(nil), "0 vertices"},
		{ring(orb.Ring{{0, 0}, {1, 0}, {0, 0}}), "3 vertices"},
		{ring(orb.Ring{{0, 0}, {1, 0}, {1, 1}, {0, 1}}), "ends where it begins"},
		{ring(orb.Ring{{0, 0}, {1, 0}, {2, 0}, {0, 0}}), "no ground within it"},
		{ring(box(0, 0, 4e-10, 1)), "no ground within it"},
		{ring(box(0, 0, 6e-10, 1)), ""},

		{grid(func(g *Grid) { g.Values[4] = -1 }), "grid: row 2 from the south, column 2: a rate of -1"},
		{grid(func(g *Grid) { g.Values = g.Values[1:] }), "5 values for 3 columns and 2 rows"},
		{grid(func(g *Grid) { g.Columns, g.Values = 0, nil }), "0 columns"},
		{grid(func(g *Grid) { g.Rows = -2 }), "-2 rows"},
		{grid(func(g *Grid) { g.Columns, g.Rows = MaxCells, 2 }), "larger cells"},
		{grid(func(g *Grid) { g.Columns, g.Rows = math.MaxInt, math.MaxInt }), "larger cells"},
		{grid(func(g *Grid) { g.CellEast = 1 }), ""},
		{grid(func(g *Grid) { g.CellEast = 1.1 }), "cells of 1.1"},
		{grid(func(g *Grid) { g.CellNorth = 9e-9 }), "cells of"},
		{grid(func(g *Grid) { g.CellNorth = nan }), "cells of"},
		{grid(func(g *Grid) { g.West = nan }), "beyond the earth"},
		{grid(func(g *Grid) { g.West = -180.1 }), "beyond the earth"},
		{grid(func(g *Grid) { g.West, g.CellEast = 177, 1 }), ""},
		{grid(func(g *Grid) { g.West, g.CellEast = 177.1, 1 }), "beyond the earth"},
		{grid(func(g *Grid) { g.South, g.CellNorth = 88, 1 }), ""},
		{grid(func(g *Grid) { g.South, g.CellNorth = 88.1, 1 }), "beyond the earth"},
		{grid(func(g *Grid) { g.South = -90.1 }), "beyond the earth"},
	} {
		f := zoned()
		c.change(f)
		var b bytes.Buffer
		err := Write(&b, f)
		if c.want == "" {
			if err != nil {
				t.Errorf("refused: %v", err)
			} else if unpack(t, b.Bytes()) == nil {
				t.Error("not read back")
			}
			continue
		}
		if err == nil || !strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%v does not say %q", err, c.want)
		}
		if b.Len() > 0 {
			t.Errorf("%q: %d bytes were written", c.want, b.Len())
		}
	}
}

// A task has 255 codes, one of which says that there is nothing outside.
func TestCodes(t *testing.T) {
	part := orb.Polygon{box(9, 52, 9.01, 52.01)}
	f := zoned()
	f.Tasks = f.Tasks[:1]
	f.Tasks[0].Zones = []Zone{{Rate: 1}, {Rate: 2}}
	for i := range 254 {
		z := &f.Tasks[0].Zones[i%2]
		z.Shape = append(z.Shape, part)
	}
	if got := unpack(t, pack(t, f)); len(got.Tasks[0].Zones) != 254 {
		t.Errorf("%d zones came back", len(got.Tasks[0].Zones))
	}
	f.Tasks[0].Outside.OutOfField = 1
	if err := f.Check(); err == nil || !strings.Contains(err.Error(), "256 parts of zones") {
		t.Error(err)
	}

	g := gridded(true)
	grid := g.Tasks[0].Grid
	grid.Columns, grid.Rows, grid.Values = 256, 1, make([]int32, 256)
	for i := range grid.Values {
		grid.Values[i] = int32(i)
	}
	if err := g.Check(); err == nil || !strings.Contains(err.Error(), "more than 255 different rates") {
		t.Error(err)
	}
	grid.Values[255] = 3
	if got := unpack(t, pack(t, g)).Tasks[0].Grid; !slices.Equal(got.Values, grid.Values) {
		t.Errorf("came back as %v", got.Values)
	}
	grid.Values[255], grid.Coded = 255, false
	if err := g.Check(); err != nil {
		t.Error(err)
	}
}

// The grids of a file have MaxCells cells together.
func TestCellsOfAll(t *testing.T) {
	f := gridded(false)
	half := &Grid{CellNorth: 1e-6, CellEast: 1e-6, Columns: MaxCells / 4096, Rows: 2048, Values: make([]int32, MaxCells/2)}
	f.Tasks[0].Grid = half
	f.Tasks = append(f.Tasks, f.Tasks[0])
	if err := f.Check(); err != nil {
		t.Error(err)
	}
	f.Tasks = append(f.Tasks, gridded(false).Tasks...)
	if err := f.Check(); err == nil || !strings.Contains(err.Error(), "task 3 (\"grid\"): more than 16777216 cells") {
		t.Error(err)
	}
}

func TestDesignator(t *testing.T) {
	long := strings.Repeat("ä", 32)
	for _, c := range []struct{ name, want string }{
		{"", ""}, {"  a b ", "a b"}, {"a\nb\x00c\x7f", "a b c"}, {"a\uFFFEb\uFFFF", "a b"}, {"a\xffb", "a b"},
		{long, long}, {long + "x", long},
		{strings.Repeat("🌾", 40), strings.Repeat("🌾", 32)},
		{strings.Repeat("x", 31) + "e\u0301tail", strings.Repeat("x", 31)},
		{strings.Repeat("x", 31) + " y", strings.Repeat("x", 31)},
		{strings.Repeat("\u0301", 40), strings.Repeat("\u0301", 32)},
	} {
		if got := designator(c.name); got != c.want {
			t.Errorf("%q is written as %q, not %q", c.name, got, c.want)
		}
		if again := designator(c.want); again != c.want {
			t.Errorf("%q, written, is written as %q", c.want, again)
		}
	}
}

func TestNotices(t *testing.T) {
	f := zoned()
	if got := f.Notices(); got != nil {
		t.Errorf("%q", got)
	}
	f.Farm = "a\tb"
	f.Fields[0].Name = strings.Repeat("x", 32) + "1"
	f.Fields[1].Name = strings.Repeat("x", 32)
	f.Tasks[0].Zones[1].Name = strings.Repeat("y", 33)
	got := f.Notices()
	want := []string{
		`farm "a\tb" is written as "a b": a task file holds names of 32 characters on one line`,
		`field "` + strings.Repeat("x", 32) + `1" is written as "` + strings.Repeat("x", 32) + `": a task file holds names of 32 characters on one line`,
		`field 1 and field 2 are both called "` + strings.Repeat("x", 32) + `" in the task file`,
		`zone "` + strings.Repeat("y", 33) + `" is written as "` + strings.Repeat("y", 32) + `": a task file holds names of 32 characters on one line`,
	}
	if !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}

func TestEmptyFile(t *testing.T) {
	if got := unpack(t, pack(t, &File{})); got.Program != "corewalk" || got.Version != "unknown" || got.Tasks != nil || got.Fields != nil || got.Products != nil {
		t.Errorf("%+v", got)
	}
	if err := checkShape(crs.LonLatShape{}); err != nil {
		t.Error(err)
	}
}
