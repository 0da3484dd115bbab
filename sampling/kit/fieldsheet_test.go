package kit

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/plane"
	"corewalk/sampling"
)

// Whatever the shape of a field and the number of its bags, map, table,
// checklist and changes have room on the page, and every row has its place.
func TestFieldLayout(t *testing.T) {
	f := fonts(t)
	for _, paper := range []Paper{Letter(), A4()} {
		s := newSheet("", paper, f)
		width := paper.Width - 2*fieldMargin
		below, beside := checkBlock{s, fieldMargin, width, 2}.height(), checkBlock{s, fieldMargin, sideWidth, 1}.height()
		for _, high := range []float64{1e-4, 0.1, 0.3, 0.7, 1, 1.5, 4, 1e4} {
			for rows := range 200 {
				shape := fieldShape{paper, rows, high, below, beside}
				l := layOutField(shape)
				used := headHeight + l.mapHeight + stripHeight + tableHead + float64(l.first)*l.row + changesHeight(l.changes) + footHeight + 6
				if l.beside {
					if l.mapHeight < beside {
						t.Errorf("%s, %d rows, height %g: the checklist is higher than the map", paper.Name, rows, high)
					}
				} else {
					used += below
				}
				if used > paper.Height-2*fieldMargin+1e-6 || l.mapHeight < 40 || l.row < 5.5 || l.changes < 2 {
					t.Errorf("%s, %d rows, height %g: %+v takes %.1f mm", paper.Name, rows, high, l, used)
				}
				if got := l.first + (l.pages()-1)*l.each; got < rows || l.pages() > 1 && got-l.each >= rows {
					t.Errorf("%s, %d rows: %+v has %d pages", paper.Name, rows, l, l.pages())
				}
				if rows <= 15 && l.pages() != 1 {
					t.Errorf("%s, %d rows, height %g: %d pages", paper.Name, rows, high, l.pages())
				}
				if y := fieldMargin + 9 + tableHead + float64(l.each)*l.row; l.pages() > 1 && y > paper.Height-fieldMargin-footHeight {
					t.Errorf("%s: a page that goes on reaches to %.1f mm", paper.Name, y)
				}
			}
		}
	}
}

func rectangle(east, north float64) crs.LonLatShape {
	return crs.LonLatShape{{orb.Ring{{-93, 42}, {-93 + east, 42}, {-93 + east, 42 + north}, {-93, 42 + north}, {-93, 42}}}}
}

// Fields of any shape, with few or very many units, are drawn; a page to a
// field, and more where the table goes on.
func TestFieldSheetPages(t *testing.T) {
	for name, c := range map[string]struct {
		shape crs.LonLatShape
		p     sampling.Params
		want  int
	}{
		"wide":  {rectangle(0.02, 0.001), sampling.Params{Design: sampling.Grid, Cell: 20000, Cores: 10, Spacing: 3}, 1},
		"tall":  {rectangle(0.001, 0.02), sampling.Params{Design: sampling.Grid, Cell: 20000, Cores: 10, Spacing: 3}, 1},
		"many":  {rectangle(0.012, 0.009), sampling.Params{Design: sampling.Grid, Cell: 10000, Cores: 15, Spacing: 3}, 4},
		"small": {rectangle(0.00003, 0.00002), sampling.Params{Design: sampling.Units, Cores: 5}, 1},
	} {
		c.p.Depths, c.p.Seed = []sampling.Depth{{To: 8, Unit: "in"}}, 3
		p := packet(t, plan(t, c.p, geo.Outline{Name: name, Boundary: c.shape}))
		for _, paper := range []Paper{Letter(), A4()} {
			b := made(t, makers()["fieldsheet.pdf"], p, work(t, paper, 2, 5))
			if got := pages(b); got != c.want {
				t.Errorf("%s on %s: %d pages for %d units, want %d", name, paper.Name, got, p.Samples(), c.want)
			}
		}
	}
	p := packet(t, oddPlan(t))
	if got := pages(made(t, makers()["fieldsheet.pdf"], p, work(t, Letter(), 2, 5))); got != len(p.Fields) {
		t.Errorf("%d pages for %d fields", got, len(p.Fields))
	}
}

// Exclusions that are lines and points are drawn, too, and a place that is no
// number is an error instead of a broken page.
func TestFieldSheetOfLinesAndPoints(t *testing.T) {
	p := packet(t, plan(t, oneUnit(), geo.Outline{Name: "Home", Boundary: box(0, 0, 3), Exclusions: []geo.Part{
		{Name: "ditch", Lines: []crs.LonLatLine{{{-93, 42.001}, {-92.9985, 42.0012}}}, Setback: 3},
		{Name: "well", Points: []geo.LonLat{{-92.9992, 42.0021}}, Setback: 10},
	}}))
	if n := len(p.Fields[0].Field.Exclusions); n != 2 {
		t.Fatalf("%d exclusions", n)
	}
	made(t, makers()["fieldsheet.pdf"], p, work(t, A4(), 2, 5))
	p.Fields[0].Units[0].Cores[0].At[0] = nan()
	if err := p.FieldSheet(&bytes.Buffer{}, work(t, A4(), 2, 5)); err == nil {
		t.Error("a core at no number is drawn")
	}
}

// Slanted lines lie on the ground, and not in its holes.
func TestHatch(t *testing.T) {
	square := func(x, y, side float64) orb.LineString {
		return orb.LineString{{x, y}, {x + side, y}, {x + side, y + side}, {x, y + side}, {x, y}}
	}
	rings := []orb.LineString{square(10, 10, 30), square(20, 20, 10)}
	lines := hatch(rings, Rect{0, 0, 100, 100}, 1)
	total := 0.0
	for _, l := range lines {
		total += math.Hypot(l[1][0]-l[0][0], l[1][1]-l[0][1])
		for _, share := range []float64{0.01, 0.5, 0.99} {
			x, y := l[0][0]+share*(l[1][0]-l[0][0]), l[0][1]+share*(l[1][1]-l[0][1])
			if x < 10 || x > 40 || y < 10 || y > 40 || x > 20 && x < 30 && y > 20 && y < 30 {
				t.Errorf("%v leaves the ground at %.2f, %.2f", l, x, y)
			}
		}
	}
	// Lines an x apart of 1 stand 1/√2 apart, so that their length is the area by √2.
	if want := 800 * math.Sqrt2; math.Abs(total-want) > 0.02*want {
		t.Errorf("%.1f mm of lines, want about %.1f", total, want)
	}
	if got := hatch([]orb.LineString{square(500, 500, 20)}, Rect{0, 0, 100, 100}, 1); len(got) != 0 {
		t.Errorf("%d lines off the paper", len(got))
	}
}

// Numbers and names on the map lie on none other, and on no core.
func TestMapWriting(t *testing.T) {
	p := packet(t, foreignPlan(t))
	for i := range p.Fields {
		s := newSheet("", A4(), fonts(t))
		s.page()
		m := newMap(s, &p.Fields[i], Rect{12, 40, 120, 110})
		m.draw()
		taken, dots := m.taken.all(), m.dots.all()
		if len(taken) < 100 || len(dots) != p.Fields[i].Cores() {
			t.Errorf("only %d things are written, %d cores", len(taken), len(dots))
		}
		for k, r := range taken {
			for j, q := range taken[:k] {
				if r.Overlaps(q) {
					t.Errorf("field %d: %d and %d overlap: %+v, %+v", i, j, k, q, r)
				}
			}
			for _, d := range dots {
				if d.Overlaps(r) {
					t.Errorf("field %d: %+v lies on a core", i, r)
				}
			}
			if !m.on.Holds(r) {
				t.Errorf("field %d: %+v leaves the map", i, r)
			}
		}
	}
}

// all returns what was added, each once.
func (c *crowd) all() []Rect {
	var out []Rect
	for _, cell := range c.cells {
		for _, r := range cell {
			if !slices.Contains(out, r) {
				out = append(out, r)
			}
		}
	}
	return out
}

// The squares of paper make no difference to what is free.
func TestCrowd(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	on := Rect{12, 40, 100, 80}
	c := newCrowd(on)
	var all []Rect
	for range 3000 {
		x := Rect{on.X - 10 + 120*r.Float64(), on.Y - 10 + 100*r.Float64(), 8 * r.Float64(), 4 * r.Float64()}
		want := true
		for _, q := range all {
			want = want && !q.Overlaps(x)
		}
		if got := c.free(x); got != want {
			t.Fatalf("%+v is free: %v, want %v", x, got, want)
		}
		if r.IntN(10) == 0 {
			c.add(x)
			all = append(all, x)
		}
	}
}

// The scale bar is a round length and as long as it says.
func TestScaleBar(t *testing.T) {
	for _, size := range []float64{1e-5, 1e-3, 0.02, 0.1} {
		f, err := geo.Map(geo.Outline{Name: "f", Boundary: rectangle(size, size)})
		if err != nil {
			t.Fatal(err)
		}
		m := newMap(newSheet("", A4(), fonts(t)), &PacketField{Field: f}, Rect{0, 0, 150, 150})
		for us, unit := range map[bool]float64{true: geo.Foot, false: 1} {
			length, text := m.barLength(us)
			var n float64
			var name string
			if _, err := fmt.Sscanf(text, "%g %s", &n, &name); err != nil {
				t.Fatal(text, err)
			}
			if on := length * m.scale; on < 12 || on > 32.1 {
				t.Errorf("%g degrees: %s is %.1f mm long", size, text, on)
			}
			// The frame's metres differ from true ones by less than 0.1 %.
			if d := math.Abs(length/(n*unit) - 1); d > 1e-3 {
				t.Errorf("%g degrees: %s is drawn as %.4f m", size, text, length)
			}
		}
		if dx, dy := m.trueNorth(); math.Abs(math.Hypot(dx, dy)-1) > 1e-9 || dy < 0.99 {
			t.Errorf("north is %g, %g", dx, dy)
		}
	}
}

// A unit too small for its number still has it somewhere on the map.
func TestNumberOfATinyUnit(t *testing.T) {
	p := packet(t, plan(t, oneUnit(), home()))
	f := &p.Fields[0]
	c := f.Field.Boundary.Bound().Center()
	f.Units[0].Shape = plane.Shape{{orb.Ring{{c[0], c[1]}, {c[0] + 1e-3, c[1]}, {c[0], c[1] + 1e-3}, {c[0], c[1]}}}}
	s := newSheet("", A4(), fonts(t))
	s.page()
	m := newMap(s, f, Rect{12, 40, 120, 110})
	if _, r := m.spot(&f.Units[0]); !m.on.Holds(r) {
		t.Errorf("the number is at %+v", r)
	}
}
