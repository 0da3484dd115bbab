package walk

import (
	"math"
	"math/rand/v2"

	"corewalk/geo/plane"
	"github.com/paulmach/orb"
)

// A frame's coordinates are about this large.
const east, north = 500_000, 4_650_000

func random(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 9)) }

func xy(x, y float64) plane.XY { return plane.XY{east + x, north + y} }

// polygon makes a shape of corners given as x, y, x, y ...
func polygon(c ...float64) plane.Shape {
	return plane.Shape{{ringOf(c...)}}
}

func ringOf(c ...float64) orb.Ring {
	var r orb.Ring
	for i := 0; i < len(c); i += 2 {
		r = append(r, orb.Point(xy(c[i], c[i+1])))
	}
	return append(r, r[0])
}

func rect(x0, y0, x1, y1 float64) plane.Shape { return polygon(x0, y0, x1, y0, x1, y1, x0, y1) }

// blob is a ring about a place whose radius wanders between half and all of r.
func blob(rnd *rand.Rand, x, y, r float64, corners int) plane.Shape {
	var c []float64
	for i := range corners {
		a := 2 * math.Pi * (float64(i) + 0.5*rnd.Float64()) / float64(corners)
		d := r * (0.5 + 0.5*rnd.Float64())
		c = append(c, x+d*math.Cos(a), y+d*math.Sin(a))
	}
	return polygon(c...)
}

// scene is a few obstacles of all kinds in a square of 1000 m: blobs,
// rectangles on whole hundreds of metres that touch, blobs with an island.
func scene(rnd *rand.Rand, n int) []plane.Shape {
	var out []plane.Shape
	for range n {
		x, y := 1000*rnd.Float64(), 1000*rnd.Float64()
		switch rnd.IntN(4) {
		case 0:
			out = append(out, blob(rnd, x, y, 50+250*rnd.Float64(), 3+rnd.IntN(8)))
		case 1:
			x, y = math.Round(x/100)*100, math.Round(y/100)*100
			out = append(out, rect(x, y, x+100*float64(1+rnd.IntN(3)), y+100*float64(1+rnd.IntN(3))))
		case 2:
			out = append(out, blob(rnd, x, y, 150, 12))
		default:
			s := blob(rnd, x, y, 200, 9)
			s[0] = append(s[0], blob(rnd, x, y, 60, 5)[0][0])
			out = append(out, s)
		}
	}
	return out
}

// secondOpinion is a plain one on ways: every vertex sees or does not
// see every other, and Floyd and Warshall (1962) do the rest. It shares no code
// with Ground.
type secondOpinion struct {
	shapes []plane.Shape
	sides  [][2]plane.XY
	places []plane.XY
}

func newSecondOpinion(shapes []plane.Shape) *secondOpinion {
	o := &secondOpinion{shapes: shapes}
	for _, s := range shapes {
		for _, p := range s {
			for _, r := range p {
				for i := 1; i < len(r); i++ {
					o.sides = append(o.sides, [2]plane.XY{plane.XY(r[i-1]), plane.XY(r[i])})
					o.places = append(o.places, plane.XY(r[i]))
				}
			}
		}
	}
	return o
}

// deep reports whether p lies in an obstacle by the even-odd rule, and further
// than by from every side.
func (o *secondOpinion) deep(p plane.XY, by float64) bool {
	in := false
	for _, s := range o.shapes {
		odd := false
		for _, poly := range s {
			for _, r := range poly {
				for i := 1; i < len(r); i++ {
					a, b := r[i-1], r[i]
					if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(p[1]-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
						odd = !odd
					}
				}
			}
		}
		in = in || odd
	}
	if !in {
		return false
	}
	for _, s := range o.sides {
		if toSegment(p, s[0], s[1]) <= by {
			return o.deepInUnion(p, by)
		}
	}
	return true
}

// deepInUnion looks all round a place by a side, which may be one inside
// another obstacle or between two.
func (o *secondOpinion) deepInUnion(p plane.XY, by float64) bool {
	for k := range 24 {
		a := 2 * math.Pi * (float64(k) + 0.37) / 24
		q := plane.XY{p[0] + 3*by*math.Cos(a), p[1] + 3*by*math.Sin(a)}
		in := false
		for _, s := range o.shapes {
			in = in || plane.NewLocator(s).Contains(q)
		}
		if !in {
			return false
		}
	}
	return true
}

func toSegment(p, a, b plane.XY) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	t := ((p[0]-a[0])*dx + (p[1]-a[1])*dy) / (dx*dx + dy*dy)
	t = max(0, min(1, t))
	return p.Distance(plane.XY{a[0] + t*dx, a[1] + t*dy})
}

// sees cuts the line at every side and looks at each piece's middle.
func (o *secondOpinion) sees(a, b plane.XY) bool {
	cuts := []float64{0, 1}
	dx, dy := b[0]-a[0], b[1]-a[1]
	for _, s := range o.sides {
		ex, ey := s[1][0]-s[0][0], s[1][1]-s[0][1]
		fx, fy := s[0][0]-a[0], s[0][1]-a[1]
		if det := dx*ey - dy*ex; det != 0 {
			t, u := (fx*ey-fy*ex)/det, (fx*dy-fy*dx)/det
			if t > 0 && t < 1 && u > -1e-9 && u < 1+1e-9 {
				cuts = append(cuts, t)
			}
		}
		for _, v := range s { // vertices on the line, of sides along it too
			t := ((v[0]-a[0])*dx + (v[1]-a[1])*dy) / (dx*dx + dy*dy)
			if t > 0 && t < 1 && toSegment(v, a, b) < 1e-6 {
				cuts = append(cuts, t)
			}
		}
	}
	for i := range cuts { // the pieces in any order: next cut after each
		next := 2.0
		for _, t := range cuts {
			if t > cuts[i] && t < next {
				next = t
			}
		}
		if next > 1 || (next-cuts[i])*math.Hypot(dx, dy) < 1e-3 {
			continue
		}
		m := (cuts[i] + next) / 2
		if o.deep(plane.XY{a[0] + m*dx, a[1] + m*dy}, 1e-5) {
			return false
		}
	}
	return true
}

// distances returns the lengths of the shortest ways between all stops; +Inf
// where there is none.
func (o *secondOpinion) distances(stops []plane.XY) [][]float64 {
	all := append(append([]plane.XY{}, stops...), o.places...)
	n := len(all)
	d := make([][]float64, n)
	for i := range d {
		d[i] = make([]float64, n)
	}
	for i := range n {
		for j := range i {
			d[i][j] = math.Inf(1)
			if all[i] == all[j] {
				d[i][j] = 0
			} else if o.sees(all[i], all[j]) {
				d[i][j] = all[i].Distance(all[j])
			}
			d[j][i] = d[i][j]
		}
	}
	for k := range n {
		for i := range n {
			for j := range n {
				d[i][j] = min(d[i][j], d[i][k]+d[k][j])
			}
		}
	}
	return d[:len(stops)]
}
