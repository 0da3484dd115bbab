//go:build reference

package geo

import (
	"math"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/geo/plane"
)

// Strips of nothing to a few centimetres between parts: what is written is
// valid by GEOS too, in degrees as they stand in the file.
func TestReferenceLonLatShapeAgainstGEOS(t *testing.T) {
	type testCase struct {
		Mode   string            `json:"mode"`
		Shapes []crs.LonLatShape `json:"shapes"`
	}
	rnd := random(80)
	c := testCase{Mode: "valid"}
	for range 500 {
		s := siteAt(t, 358*rnd.Float64()-179, 120*rnd.Float64()-60)
		p := orb.Polygon{}
		x, y, slant := s.at[0], s.at[1], 200*(rnd.Float64()-0.5)
		p = append(p, orb.Ring{{x - 1, y - 1}, {x + 20, y - 1}, {x + 20 + slant, y + 101}, {x - 1 + slant, y + 101}, {x - 1, y - 1}})
		for range 8 {
			w := 0.2 + rnd.Float64()
			p = append(p, orb.Ring{{x, y}, {x + slant, y + 100}, {x + w + slant, y + 100}, {x + w/2 + slant/2, y + 50 + 0.01*rnd.Float64()}, {x + w, y}, {x, y}})
			x += w + 0.03*rnd.Float64()
		}
		shape, _, err := plane.New(orb.MultiPolygon{p})
		if err != nil {
			t.Fatal(err)
		}
		ll, err := s.frame.LonLatShape(shape)
		if err != nil {
			t.Fatal(err)
		}
		c.Shapes = append(c.Shapes, ll)
	}
	valid := ask[testCase, []bool](t, []testCase{c})[0]
	for i, ok := range valid {
		if !ok {
			t.Errorf("shape %d is not valid: %v", i, c.Shapes[i])
		}
	}
}

// MayCore against distances by GEOS.
func TestReferenceMayCoreAgainstGEOS(t *testing.T) {
	type exclusion struct {
		Ring   orb.Ring `json:"ring"`
		Point  *XY      `json:"point"`
		Margin float64  `json:"margin"`
	}
	type testCase struct {
		Mode       string      `json:"mode"`
		Boundary   orb.Ring    `json:"boundary"`
		Margin     float64     `json:"margin"`
		Exclusions []exclusion `json:"exclusions"`
		Points     []XY        `json:"points"`
	}
	rnd := random(81)
	var cases []testCase
	var fields []*Field
	for len(cases) < 100 {
		s := siteAt(t, 358*rnd.Float64()-179, 120*rnd.Float64()-60)
		o := Outline{Boundary: shapeOf(s.wobbly(rnd, 0, 0, 300, 8+rnd.IntN(60))), Setback: 10 * rnd.Float64()}
		for range rnd.IntN(5) {
			x, y := 400*(rnd.Float64()-0.5), 400*(rnd.Float64()-0.5)
			p := Part{Where: "x", Setback: 15 * rnd.Float64(), Points: []LonLat{s.place(x, y)}}
			if rnd.IntN(2) == 0 {
				p.Points, p.Shape = nil, shapeOf(s.wobbly(rnd, x, y, 40, 6+rnd.IntN(20)))
			}
			o.Exclusions = append(o.Exclusions, p)
		}
		f, err := Map(o)
		if err != nil || len(f.Boundary) != 1 || len(f.Boundary[0]) != 1 {
			continue
		}
		c := testCase{Mode: "keeps", Boundary: f.Boundary[0][0], Margin: f.Margin(f.Setback), Exclusions: []exclusion{}}
		for i := range f.Exclusions {
			e := &f.Exclusions[i]
			x := exclusion{Margin: f.Margin(e.Setback), Ring: orb.Ring{}}
			if len(e.Points) > 0 {
				x.Point = &e.Points[0]
			} else {
				x.Ring = e.Shape[0][0]
			}
			c.Exclusions = append(c.Exclusions, x)
		}
		b := f.Boundary.Bound().Pad(20)
		for range 500 {
			c.Points = append(c.Points, XY{b.Min[0] + rnd.Float64()*(b.Max[0]-b.Min[0]), b.Min[1] + rnd.Float64()*(b.Max[1]-b.Min[1])})
		}
		cases, fields = append(cases, c), append(fields, f)
	}
	allowed := 0
	for i, keeps := range ask[testCase, []bool](t, cases) {
		for k, want := range keeps {
			if got := fields[i].MayCore(cases[i].Points[k]); got != want {
				t.Errorf("field %d, %v: %v, GEOS %v", i, cases[i].Points[k], got, want)
			}
			if want {
				allowed++
			}
		}
	}
	if math.Abs(float64(allowed)/50_000-0.35) > 0.2 {
		t.Errorf("%d of 50,000 places are allowed", allowed)
	}
	t.Logf("%d of 50,000 places allowed", allowed)
}
