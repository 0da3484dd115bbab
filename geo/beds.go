package geo

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

// BedSource is a file of raised beds: polygons, or points in the middle of beds
// with a size. A feature's own width, length (with their unit, as 4ft) and
// bearing, in columns of these names, go before the common ones.
type BedSource struct {
	Source
	Width, Length float64 // true metres, of points without a size of their own; 0: none
	Bearing       float64 // of the length, degrees clockwise from true north
}

// Rectangle returns the ground of width by length true metres about p, the
// length on a bearing in degrees clockwise from true north.
func Rectangle(p LonLat, width, length, bearing float64) (crs.LonLatShape, error) {
	frame, err := FrameAt(p)
	if err != nil {
		return nil, err
	}
	middle, err := frame.XY(p)
	if err != nil {
		return nil, err
	}
	north, err := frame.North(middle)
	if err != nil {
		return nil, err
	}
	scale := frame.Scale(middle)
	a := north - bearing*math.Pi/180
	along := XY{math.Cos(a) * length / 2 * scale, math.Sin(a) * length / 2 * scale}
	across := XY{math.Sin(a) * width / 2 * scale, -math.Cos(a) * width / 2 * scale}
	var ring orb.Ring
	for _, c := range [][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}, {-1, -1}} {
		ll, err := frame.LonLat(XY{
			middle[0] + c[0]*across[0] + c[1]*along[0],
			middle[1] + c[0]*across[1] + c[1]*along[1],
		})
		if err != nil {
			return nil, err
		}
		ring = append(ring, orb.Point(Round7(ll)))
	}
	return crs.LonLatShape{{ring}}, nil
}

// North returns the angle of true north at a place of the frame, in radians
// counter-clockwise from the frame's east.
func (f Frame) North(at XY) (float64, error) {
	ll, err := f.LonLat(at)
	if err != nil {
		return 0, err
	}
	const step = 1e-3 // degree, 111 m
	a, err := f.XY(LonLat{ll[0], ll[1] - step})
	if err != nil {
		return 0, err
	}
	b, err := f.XY(LonLat{ll[0], ll[1] + step})
	return math.Atan2(b[1]-a[1], b[0]-a[0]), err
}

// parts returns the beds with their ground.
func (s BedSource) parts() ([]Part, error) {
	list, err := s.Source.parts("bed")
	if err != nil {
		return nil, err
	}
	byIndex := map[string]*vector.Feature{}
	for i := range s.Layer.Features {
		f := &s.Layer.Features[i]
		byIndex[fmt.Sprintf("%s: feature %d", base(s.Layer.Path), f.Index)] = f
	}
	names := map[string]string{}
	for i := range list {
		p := &list[i]
		if where, twice := names[p.Name]; twice {
			return nil, fmt.Errorf("%s has the name of %s; give each bed a name of its own", p.Where, where)
		}
		names[p.Name] = p.Where
		if len(p.Shape) > 0 {
			continue
		}
		where, _, _ := strings.Cut(p.Where, " (")
		width, length, bearing, err := s.size(byIndex[where])
		if err != nil {
			return nil, fmt.Errorf("%s: %w", p.Where, err)
		}
		switch {
		case len(p.Points) != 1:
			return nil, fmt.Errorf("%s is neither a polygon nor one point; draw a bed as one of them", p.Where)
		case width == 0 || length == 0:
			return nil, fmt.Errorf("%s is a point without a size; give one for all beds, as in 4ft x 8ft, or a width and a length in the file", p.Where)
		}
		if p.Shape, err = Rectangle(p.Points[0], width, length, bearing); err != nil {
			return nil, fmt.Errorf("%s: %w", p.Where, err)
		}
		p.Points = nil
	}
	return list, nil
}

// size returns the measures of a bed, its own before the common ones.
func (s BedSource) size(f *vector.Feature) (width, length, bearing float64, err error) {
	width, length, bearing = s.Width, s.Length, s.Bearing
	for _, m := range []struct {
		column string
		to     *float64
	}{{"width", &width}, {"length", &length}} {
		text, _ := s.Layer.Text(f, m.column)
		if strings.TrimSpace(text) == "" {
			continue
		}
		if *m.to, err = ParseLength(text); err != nil {
			return 0, 0, 0, fmt.Errorf("its %s: %w", m.column, err)
		}
		if !(*m.to > 0 && *m.to <= 1000) {
			return 0, 0, 0, fmt.Errorf("its %s of %s is out of range; take up to 1000 m", m.column, text)
		}
	}
	if text, _ := s.Layer.Text(f, "bearing"); strings.TrimSpace(text) != "" {
		if bearing, err = ParseBearing(text); err != nil {
			return 0, 0, 0, fmt.Errorf("its bearing: %w", err)
		}
	}
	return width, length, bearing, nil
}

// field makes the beds of a file one field.
func (s BedSource) field(name string, setback float64) ([]Outline, []string, error) {
	beds, err := s.parts()
	if err != nil {
		return nil, nil, err
	}
	if len(beds) == 0 {
		return nil, nil, fmt.Errorf("%s holds no bed", base(s.Layer.Path))
	}
	if name == "" {
		name = strings.TrimSuffix(base(s.Layer.Path), extension(s.Layer.Path))
	}
	o := Outline{Name: name, Setback: setback}
	for _, b := range beds {
		o.Boundary = append(o.Boundary, b.Shape...)
	}
	return []Outline{o}, nil, nil
}

// spread gives every field its beds.
func (s BedSource) spread(near *finder) ([]string, error) {
	beds, err := s.parts()
	if err != nil {
		return nil, err
	}
	lost := 0
	for _, b := range beds {
		if !near.each(b.bound().Pad(1e-6), func(o *Outline) {
			o.Management = append(o.Management, b)
			o.Beds = true
		}) {
			lost++
		}
	}
	if lost > 0 {
		return []string{fmt.Sprintf("%s: %d of its %d beds lie in no field", base(s.Layer.Path), lost, len(beds))}, nil
	}
	return nil, nil
}

func extension(path string) string {
	if i := strings.LastIndexByte(base(path), '.'); i > 0 {
		return base(path)[i:]
	}
	return ""
}
