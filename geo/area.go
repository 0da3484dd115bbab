package geo

import (
	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// Area returns the true area of s on the ellipsoid in square metres, its edges
// being straight in the frame: the integral of 1/k² over the plane, k the scale.
// Since edges are straight in one plane, the areas of the parts of a field add
// up to that of the field.
//
// Over one polygon 1/k² is taken for a polynomial of the second degree, which is
// good to 1e-9 up to 5000 ha. Geodesics between the corners, which other
// programs take for the edges, bulge from straight lines by about L²x/8R² (L the
// edge, x the distance from the central meridian, R the earth's radius): some
// centimetres over some kilometres at the rim of a zone, or at most 2e-6 of the
// area of such a field.
func (f Frame) Area(s plane.Shape) float64 {
	var sum float64
	for _, polygon := range s {
		if len(polygon) == 0 || len(polygon[0]) == 0 {
			continue
		}
		b := polygon[0].Bound()
		c := b.Center()
		var m moments
		for i, ring := range polygon {
			m.add(ring, c, i == 0)
		}
		w, h := (b.Max[0]-b.Min[0])/2, (b.Max[1]-b.Min[1])/2
		if m.one == 0 || w == 0 || h == 0 {
			continue
		}
		// 1/k² at the middle, on the sides and in the corners of the bound.
		var q [3][3]float64
		for i := range q {
			for j := range q[i] {
				k := f.Scale(XY{c[0] + float64(i-1)*w, c[1] + float64(j-1)*h})
				q[i][j] = 1 / (k * k)
			}
		}
		sum += q[1][1]*m.one +
			(q[2][1]-q[0][1])/2*m.x/w + (q[1][2]-q[1][0])/2*m.y/h +
			(q[2][1]-2*q[1][1]+q[0][1])/2*m.xx/(w*w) + (q[1][2]-2*q[1][1]+q[1][0])/2*m.yy/(h*h) +
			(q[2][2]-q[2][0]-q[0][2]+q[0][0])/4*m.xy/(w*h)
	}
	return sum
}

// moments are the integrals of 1, x, y, x², xy and y² over a polygon.
type moments struct{ one, x, y, xx, xy, yy float64 }

// add adds a shell, or takes a hole off, about the place o. Which way the ring
// turns is no matter. The sums over edges follow from Green's theorem.
func (m *moments) add(ring orb.Ring, o orb.Point, shell bool) {
	var r moments
	for i := 1; i < len(ring); i++ {
		ax, ay, bx, by := ring[i-1][0]-o[0], ring[i-1][1]-o[1], ring[i][0]-o[0], ring[i][1]-o[1]
		cross := ax*by - bx*ay
		r.one += cross / 2
		r.x += (ax + bx) * cross / 6
		r.y += (ay + by) * cross / 6
		r.xx += (ax*ax + ax*bx + bx*bx) * cross / 12
		r.yy += (ay*ay + ay*by + by*by) * cross / 12
		r.xy += (ax*by + 2*ax*ay + 2*bx*by + bx*ay) * cross / 24
	}
	sign := 1.0
	if (r.one > 0) != shell {
		sign = -1
	}
	m.one += sign * r.one
	m.x += sign * r.x
	m.y += sign * r.y
	m.xx += sign * r.xx
	m.yy += sign * r.yy
	m.xy += sign * r.xy
}
