package kit

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"corewalk/geo"
	"corewalk/sampling"
)

// Labels lie on the paper, one beside another, and none on another.
func TestLabelsLieOnTheSheet(t *testing.T) {
	for _, p := range []Paper{Letter(), A4()} {
		for columns := 1; columns <= 4; columns++ {
			for rows := 1; rows <= 15; rows++ {
				for _, gap := range []float64{0, 3} {
					l := sheetOf(p, columns, rows)
					l.Across, l.Down = gap, gap
					if err := l.Validate(); err != nil {
						if !strings.Contains(err.Error(), "at least 40 x 20 mm") {
							t.Errorf("%s %dx%d: %v", p.Name, columns, rows, err)
						}
						continue
					}
					sheet := Rect{l.Left, l.Top, p.Width - l.Left - l.Right, p.Height - l.Top - l.Bottom}
					each := columns * rows
					for i := range each {
						page, r := l.At(i)
						if page != 0 || !sheet.Holds(r) || r.Width < 40 || r.Height < 20 {
							t.Errorf("%s %dx%d: label %d is %+v on page %d", p.Name, columns, rows, i+1, r, page)
						}
						for k := range i {
							if _, q := l.At(k); q.Overlaps(r) {
								t.Errorf("%s %dx%d: labels %d and %d overlap", p.Name, columns, rows, k+1, i+1)
							}
						}
					}
					if page, r := l.At(each); page != 1 || r != first(l) {
						t.Errorf("%s %dx%d: the label after the sheet is %+v on page %d", p.Name, columns, rows, r, page)
					}
				}
			}
		}
	}
}

func first(l LabelSheet) Rect {
	l.Start = 1
	_, r := l.At(0)
	return r
}

func TestLabelsStartAt(t *testing.T) {
	l := sheetOf(A4(), 3, 10)
	_, seventh := l.At(6)
	l.Start = 7
	if page, r := l.At(0); page != 0 || r != seventh {
		t.Errorf("the first label is %+v on page %d, want %+v", r, page, seventh)
	}
	if page, r := l.At(24); page != 1 || r != first(l) {
		t.Errorf("label 25 is %+v on page %d", r, page)
	}
	for n, want := range map[int]int{0: 1, 1: 1, 24: 1, 25: 2, 54: 2, 55: 3} {
		if got := l.Pages(n); got != want {
			t.Errorf("%d labels take %d sheets, want %d", n, got, want)
		}
	}
	p := packet(t, oddPlan(t))
	if p.Samples() != 56 {
		t.Fatalf("%d samples", p.Samples())
	}
	for start, want := range map[int]int{1: 2, 4: 2, 7: 3} {
		o := work(t, Letter(), 2, 5)
		o.Labels = sheetOf(Letter(), 3, 10)
		o.Labels.Start = start
		if got := pages(made(t, makers()["labels.pdf"], p, o)); got != want {
			t.Errorf("labels from %d: %d pages, want %d", start, got, want)
		}
	}
}

func TestLabelsRefuse(t *testing.T) {
	p := packet(t, oddPlan(t))
	for name, c := range map[string]struct {
		change func(*LabelSheet)
		want   string
	}{
		"too many":      {func(l *LabelSheet) { l.Columns, l.Rows = 9, 99 }, "9x99 are out of range"},
		"none":          {func(l *LabelSheet) { l.Columns = 0 }, "out of range"},
		"too small":     {func(l *LabelSheet) { l.Columns, l.Rows = 4, 15 }, "at least 40 x 20 mm"},
		"wide margins":  {func(l *LabelSheet) { l.Left, l.Right = 300, 300 }, "narrower margins"},
		"no number":     {func(l *LabelSheet) { l.Left = nan() }, "lengths from zero up"},
		"below zero":    {func(l *LabelSheet) { l.Down = -1 }, "lengths from zero up"},
		"start at 0":    {func(l *LabelSheet) { l.Start = 0 }, "labels 1 to 10; start-at 0"},
		"start too far": {func(l *LabelSheet) { l.Start = 11 }, "start-at 11"},
	} {
		o := work(t, Letter(), 2, 5)
		c.change(&o.Labels)
		if err := p.Labels(&bytes.Buffer{}, o); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	p.Fields[0].Units[0].Samples[0].ID = strings.Repeat("B", 41)
	if err := p.Labels(&bytes.Buffer{}, work(t, Letter(), 2, 5)); err == nil || !strings.Contains(err.Error(), "labels take up to 40") {
		t.Errorf("long id: %v", err)
	}
	if _, err := ParsePaper("a5"); err == nil {
		t.Error("paper a5 is taken")
	}
}

// The rectangles of a code are its dark modules, each once.
func TestSymbol(t *testing.T) {
	q, err := newSymbol(LabelCode("bc07k", "0123ABCD"))
	if err != nil || q.side != 21+8 {
		t.Fatal(q.side, err)
	}
	dark := map[[2]int]int{}
	for _, r := range q.dark {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				dark[[2]int{x, y}]++
				if x < 4 || y < 4 || x >= 25 || y >= 25 {
					t.Fatalf("module %d,%d lies in the quiet zone", x, y)
				}
			}
		}
	}
	for at, n := range dark {
		if n != 1 {
			t.Errorf("module %v is drawn %d times", at, n)
		}
	}
	// The three finders: a ring of dark, a ring of light, a dark heart.
	for _, corner := range [][2]int{{4, 4}, {18, 4}, {4, 18}} {
		for y := range 7 {
			for x := range 7 {
				ring := max(abs(x-3), abs(y-3))
				if got := dark[[2]int{corner[0] + x, corner[1] + y}] == 1; got != (ring != 2) {
					t.Errorf("finder at %v: module %d,%d is dark: %v", corner, x, y, got)
				}
			}
		}
	}
	if 5*len(q.dark) > 4*len(dark) {
		t.Errorf("%d rectangles for %d modules", len(q.dark), len(dark))
	}
}

func abs(n int) int { return max(n, -n) }

// Odd names and ids are written, too.
func TestLabelsOfOddNames(t *testing.T) {
	for _, id := range []string{"é ü", "lower", "=1+1", strings.Repeat("9", 40)} {
		p := packet(t, oddPlan(t))
		p.Fields[0].Units[0].Samples[0].ID = id
		if b := made(t, makers()["labels.pdf"], p, work(t, A4(), 4, 13)); !bytes.HasPrefix(b, []byte("%PDF-")) {
			t.Errorf("%q: no PDF", id)
		}
	}
}

func TestLabelText(t *testing.T) {
	p := packet(t, plan(t, sampling.Params{
		Design: sampling.Units, Cores: 1, Composites: 2, Depths: []sampling.Depth{{To: 8, Unit: "in"}},
	}, geo.Outline{Name: "Home", Boundary: box(0, 0, 3), Management: []geo.Part{{Name: "corn", Where: "corn", Shape: box(0, 0, 1)}}}))
	f := &p.Fields[0]
	o := Paperwork{Farm: "Hill", Date: "2026-11-25"}
	var got []string
	for i := range f.Units {
		for _, s := range f.Units[i].Samples {
			got = append(got, fmt.Sprint(o.labelText(f, &f.Units[i], s)))
		}
	}
	corn := slices.IndexFunc(f.Units, func(u PacketUnit) bool { return u.Management == "corn" })
	if corn < 0 {
		t.Fatalf("no unit is of corn: %v", got)
	}
	u := f.Units[corn]
	want := fmt.Sprintf("{%s Home Hill Unit %d, composite 1, corn 0-8in 1 core corn 2026-11-25}", u.Samples[0].ID, u.Number)
	if got[len(u.Samples)*corn] != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

// The dark ground of a code keeps out of the margin of its label, the quiet zone
// lies on the label, and modules fall on the dots of printers.
func TestCodePlace(t *testing.T) {
	const step = 25.4 / 150
	for _, paper := range []Paper{Letter(), A4()} {
		for columns := 1; columns <= 4; columns++ {
			for rows := 1; rows <= 13; rows++ {
				l := sheetOf(paper, columns, rows)
				l.Left, l.Top = 7.77, 9.31
				if l.Validate() != nil {
					continue
				}
				for i := range columns * rows {
					_, r := l.At(i)
					for _, side := range []int{29, 33, 37, 41} {
						x, y, m := codePlace(r, side)
						whole := Rect{x, y, m * float64(side), m * float64(side)}
						if !r.Inset(labelMargin).Holds(whole.Inset(quiet*m)) || !r.Holds(whole) || m < 0.33 {
							t.Errorf("%s %dx%d, label %d, %d modules of %.3f mm at %+v leave %+v", paper.Name, columns, rows, i+1, side, m, whole, r)
						}
						for _, v := range []float64{x, y, m} {
							if v /= step; math.Abs(v-math.Round(v)) > 1e-6 {
								t.Errorf("%s %dx%d, label %d: %.3f steps", paper.Name, columns, rows, i+1, v)
							}
						}
					}
				}
			}
		}
	}
}
