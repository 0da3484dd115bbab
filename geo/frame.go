// Package geo holds mapped fields: their boundaries, exclusions, management
// units and problem areas, each in one frame of metres, with the ground that
// can be sampled worked out.
package geo

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/geo/plane"
)

// LonLat is a position in WGS 84 degrees, longitude first.
type LonLat = crs.LonLat

// XY is a position in metres in a Frame.
type XY = plane.XY

// Frame turns longitude and latitude into metres and back for one field. It is
// a conformal projection with an EPSG code, so that any GIS knows it: the UTM
// zone of the field on WGS 84 or, for results that bring coordinates of their
// own, the projected system of those.
type Frame struct{ sys *crs.System }

// FrameAt returns the frame of a field whose middle is p: the UTM zone of p on
// WGS 84. It fails beyond the latitudes that UTM covers (80 south to 84 north).
func FrameAt(p LonLat) (Frame, error) {
	if !(math.Abs(p.Lon()) <= 180) {
		return Frame{}, fmt.Errorf("longitude %g is not a position on the earth", p.Lon())
	}
	if !(p.Lat() >= -80 && p.Lat() <= 84) {
		return Frame{}, fmt.Errorf("latitude %.5f lies outside UTM (80 south to 84 north); corewalk cannot map fields there", p.Lat())
	}
	return Frame{crs.UTM(crs.UTMZone(p))}, nil
}

// FrameOn returns a frame that is the given system, and false when it can't
// serve: it must be projected, conformal, in metres and have an EPSG code.
func FrameOn(s *crs.System) (Frame, bool) {
	if s == nil || s.Geographic() || !s.Conformal() || s.EPSG() == 0 || s.EPSG() == 3857 {
		return Frame{}, false
	}
	if _, metres := s.Unit(); metres != 1 {
		return Frame{}, false
	}
	return Frame{s}, true
}

// EPSG returns the code of the frame's system.
func (f Frame) EPSG() int { return f.sys.EPSG() }

// Name returns the name of the frame's system.
func (f Frame) Name() string { return f.sys.Name() }

// Same reports whether two frames are one system.
func (f Frame) Same(g Frame) bool { return f.EPSG() == g.EPSG() }

// XY projects a position.
func (f Frame) XY(p LonLat) (XY, error) {
	x, y, err := f.sys.Forward(p)
	return XY{x, y}, err
}

// LonLat takes a place in the frame back to degrees.
func (f Frame) LonLat(p XY) (LonLat, error) { return f.sys.Inverse(p[0], p[1]) }

// Scale returns the metres in the frame per metre on the ground (the WGS 84
// ellipsoid) at p.
func (f Frame) Scale(p XY) float64 {
	k, err := f.sys.ScaleAt(p[0], p[1])
	if err != nil {
		return 1
	}
	return k
}

// project brings polygons into the frame, ring by ring.
func (f Frame) project(s crs.LonLatShape) (orb.MultiPolygon, error) {
	out := make(orb.MultiPolygon, len(s))
	for i, polygon := range s {
		out[i] = make(orb.Polygon, len(polygon))
		for j, ring := range polygon {
			out[i][j] = make(orb.Ring, len(ring))
			for k, p := range ring {
				xy, err := f.XY(LonLat(p))
				if err != nil {
					return nil, fmt.Errorf("ring %d, vertex %d: %w", j+1, k+1, err)
				}
				out[i][j][k] = orb.Point(xy)
			}
		}
	}
	return out, nil
}

// Shape brings polygons in degrees into the frame and makes a valid shape of
// them, as plane.New does.
func (f Frame) Shape(s crs.LonLatShape) (plane.Shape, plane.Repaired, error) {
	projected, err := f.project(s)
	if err != nil {
		return nil, plane.Repaired{}, err
	}
	return plane.New(projected)
}

// LonLatShape takes a shape back to degrees, rounded to 1e-7 degree as files
// are written. Rounding can make rings touch or cross that ran within a
// centimetre of each other; such a shape is settled by the even-odd rule on the
// lattice of the rounding, so that what is written is valid. What is thinner
// than the rounding vanishes; the result can be empty.
func (f Frame) LonLatShape(s plane.Shape) (crs.LonLatShape, error) {
	degrees, err := f.LonLatVertices(s)
	if err != nil {
		return nil, err
	}
	const step = 1e7
	each := func(s orb.MultiPolygon, do func(orb.Point) orb.Point) {
		for _, polygon := range s {
			for _, ring := range polygon {
				for k, p := range ring {
					ring[k] = do(p)
				}
			}
		}
	}
	each(orb.MultiPolygon(degrees), func(p orb.Point) orb.Point { return orb.Point{p[0] * step, p[1] * step} })
	settled, err := plane.OnLattice(plane.Shape(degrees), 1)
	if err != nil {
		return nil, err
	}
	each(orb.MultiPolygon(settled), func(p orb.Point) orb.Point { return orb.Point{p[0] / step, p[1] / step} })
	return crs.LonLatShape(settled), nil
}

// LonLatVertices takes a shape back to degrees vertex by vertex, neither rounded
// nor settled, so that shapes with vertices in common keep them.
func (f Frame) LonLatVertices(s plane.Shape) (crs.LonLatShape, error) {
	out := make(crs.LonLatShape, len(s))
	for i, polygon := range s {
		out[i] = make(orb.Polygon, len(polygon))
		for j, ring := range polygon {
			out[i][j] = make(orb.Ring, len(ring))
			for k, p := range ring {
				ll, err := f.LonLat(XY(p))
				if err != nil {
					return nil, err
				}
				out[i][j][k] = orb.Point(ll)
			}
		}
	}
	return out, nil
}

// Line brings a line in degrees into the frame.
func (f Frame) Line(l crs.LonLatLine) (plane.Line, error) {
	out := make(plane.Line, len(l))
	for i, p := range l {
		xy, err := f.XY(LonLat(p))
		if err != nil {
			return nil, fmt.Errorf("vertex %d: %w", i+1, err)
		}
		out[i] = orb.Point(xy)
	}
	return out, nil
}

// Round7 rounds a position to 1e-7 degree (11 mm), the step that the files are
// written in.
func Round7(p LonLat) LonLat {
	return LonLat{math.Round(p[0]*1e7) / 1e7, math.Round(p[1]*1e7) / 1e7}
}

// roundShape rounds every vertex as Round7 does. A field is worked on as its
// plan writes it, so the same boundary gives the same plan to the bit from
// whichever file, in whichever system, it was read.
func roundShape(s crs.LonLatShape) crs.LonLatShape {
	out := make(crs.LonLatShape, len(s))
	for i, polygon := range s {
		out[i] = make(orb.Polygon, len(polygon))
		for j, ring := range polygon {
			out[i][j] = make(orb.Ring, len(ring))
			for k, p := range ring {
				out[i][j][k] = orb.Point(Round7(LonLat(p)))
			}
		}
	}
	return out
}

func roundLine(l crs.LonLatLine) crs.LonLatLine {
	out := make(crs.LonLatLine, len(l))
	for i, p := range l {
		out[i] = orb.Point(Round7(LonLat(p)))
	}
	return out
}
