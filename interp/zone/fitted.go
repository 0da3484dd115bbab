package zone

import (
	"cmp"
	"slices"

	"github.com/paulmach/orb"

	"corewalk/geo/plane"
)

// fitted returns the grounds with the vertices of one that lie on an edge of
// another, but for rounding, as vertices of the other too: so that divisions
// with an edge in common have the same vertices on it.
func fitted(ground []Ground) []Ground {
	if len(ground) < 2 {
		return ground
	}
	type vertex struct {
		at     orb.Point
		ground int
	}
	var all []vertex
	for i, gr := range ground {
		for _, polygon := range gr.Shape {
			for _, ring := range polygon {
				for _, p := range ring[:max(len(ring)-1, 0)] {
					all = append(all, vertex{p, i})
				}
			}
		}
	}
	slices.SortFunc(all, func(p, q vertex) int {
		return cmp.Or(cmp.Compare(p.at[0], q.at[0]), cmp.Compare(p.at[1], q.at[1]), cmp.Compare(p.ground, q.ground))
	})
	// Overlays are right to a few times the rounding of the coordinates.
	const slack = 1e-8
	between := func(i int, a, b orb.Point) []orb.Point {
		low, high := min(a[1], b[1])-slack, max(a[1], b[1])+slack
		from, _ := slices.BinarySearchFunc(all, min(a[0], b[0])-slack, func(v vertex, x float64) int { return cmp.Compare(v.at[0], x) })
		length := plane.XY(a).Distance(plane.XY(b))
		ux, uy := (b[0]-a[0])/length, (b[1]-a[1])/length
		along := func(p orb.Point) float64 { return float64((p[0]-a[0])*ux) + float64((p[1]-a[1])*uy) }
		var found []orb.Point
		for _, v := range all[from:] {
			if v.at[0] > max(a[0], b[0])+slack {
				break
			}
			if v.ground == i || v.at[1] < low || v.at[1] > high {
				continue
			}
			off := float64((v.at[1]-a[1])*ux) - float64((v.at[0]-a[0])*uy)
			if s := along(v.at); off < slack && off > -slack && s > slack && s < length-slack {
				found = append(found, v.at)
			}
		}
		slices.SortFunc(found, func(p, q orb.Point) int {
			return cmp.Or(cmp.Compare(along(p), along(q)), cmp.Compare(p[0], q[0]), cmp.Compare(p[1], q[1]))
		})
		return slices.Compact(found)
	}
	out := make([]Ground, len(ground))
	for i, gr := range ground {
		out[i].Name = gr.Name
		for _, polygon := range gr.Shape {
			var p orb.Polygon
			for _, ring := range polygon {
				var r orb.Ring
				for k, at := range ring {
					if k > 0 {
						r = append(r, between(i, ring[k-1], at)...)
					}
					r = append(r, at)
				}
				p = append(p, r)
			}
			out[i].Shape = append(out[i].Shape, p)
		}
	}
	return out
}
