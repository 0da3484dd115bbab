package geo

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/tidwall/rtree"

	"corewalk/geo/crs"
	"corewalk/geo/plane"
	"corewalk/geo/vector"
)

// Outcome of a finding.
type Outcome string

const (
	Mended  Outcome = "mended"  // by the stated rule; the area it changes is told
	Refused Outcome = "refused" // cannot be mended without guessing
)

// Finding is one fault of a file, with its place.
type Finding struct {
	Feature int      `json:"feature,omitempty"` // in the file, from 1; 0 for the file as a whole
	Name    string   `json:"name,omitempty"`
	Ring    int      `json:"ring,omitempty"` // within the feature, from 1
	At      *LonLat  `json:"at,omitempty"`   // longitude and latitude
	Problem string   `json:"problem"`        // its kind, in a word or two
	Text    string   `json:"text"`           // what is wrong
	Outcome Outcome  `json:"outcome"`
	Done    string   `json:"done"`                 // what was done, or why nothing was
	AreaM2  *float64 `json:"area_m2,omitempty"`    // true area that the fault concerns
	Changed *float64 `json:"changed_m2,omitempty"` // change of the feature's true area by the mending
}

// Inspected is one feature of an inspected layer.
type Inspected struct {
	Index     int         `json:"feature"`
	Name      string      `json:"name,omitempty"`
	Geometry  string      `json:"geometry"` // polygon, line, points or none
	Parts     int         `json:"parts"`
	Holes     int         `json:"holes"`
	Vertices  int         `json:"vertices"`
	AreaM2    float64     `json:"area_m2"`     // true, after mending
	Perimeter float64     `json:"perimeter_m"` // true length of all rings, or of the lines
	Extent    *[4]float64 `json:"extent,omitempty"`

	// Shape is the mended polygons, in degrees.
	Shape crs.LonLatShape `json:"-"`
}

// Inspection is what there is to say of a layer.
type Inspection struct {
	Features []Inspected
	Findings []Finding
	AreaM2   float64     // true, of all polygons together
	Extent   *[4]float64 // west, south, east, north in degrees; nil without geometry
}

// Refused reports whether anything was found that could not be mended.
func (i *Inspection) Refused() bool {
	return slices.ContainsFunc(i.Findings, func(f Finding) bool { return f.Outcome == Refused })
}

// Inspect looks at every feature of a layer. Faults of polygons are mended by
// one rule: all rings of a feature are noded where they meet, the ground inside
// an odd number of them is kept, and parts and holes under 1 m² are dropped.
// Where features overlap, the first in the file keeps the ground. name is the
// column that names the features, "" to look for a usual one.
func Inspect(l *vector.Layer, name string) (*Inspection, error) {
	column, err := (Source{Layer: l, Name: name}).nameColumn()
	if err != nil {
		return nil, err
	}
	in := &Inspection{Features: []Inspected{}, Findings: []Finding{}}
	for _, f := range l.Faults {
		in.Findings = append(in.Findings, readFinding(f))
	}
	for i := range l.Features {
		f := &l.Features[i]
		x := Inspected{Index: f.Index, Geometry: "none"}
		if column != "" {
			x.Name, _ = l.Text(f, column)
		}
		switch {
		case len(f.Shape) > 0:
			in.polygon(l, f, &x)
		case len(f.Lines) > 0:
			x.Geometry, x.Parts = "line", len(f.Lines)
			in.lines(f, &x)
		case len(f.Points) > 0:
			x.Geometry, x.Parts, x.Vertices = "points", len(f.Points), len(f.Points)
			x.extend(orb.MultiPoint(points(f.Points)).Bound())
		}
		in.Features = append(in.Features, x)
	}
	for i := range in.Findings {
		f := &in.Findings[i]
		if k := slices.IndexFunc(in.Features, func(x Inspected) bool { return x.Index == f.Feature }); k >= 0 && f.Name == "" {
			f.Name = in.Features[k].Name
		}
	}
	if err := in.overlaps(); err != nil {
		return nil, err
	}
	all := orb.Bound{Min: orb.Point{1, 1}, Max: orb.Point{-1, -1}}
	for _, x := range in.Features {
		in.AreaM2 += x.AreaM2
		if x.Extent != nil {
			all = union(all, orb.Bound{Min: orb.Point{x.Extent[0], x.Extent[1]}, Max: orb.Point{x.Extent[2], x.Extent[3]}})
		}
	}
	if !all.IsEmpty() {
		in.Extent = extent(all)
	}
	return in, nil
}

// readFinding turns what was mended while the file was read into a finding.
func readFinding(f vector.Fault) Finding {
	out := Finding{Problem: "file", Text: f.What, Outcome: Mended, Done: "read all the same"}
	if f.Place != "" {
		fmt.Sscanf(f.Place, "feature %d", &out.Feature)
		fmt.Sscanf(f.Place, "record %d", &out.Feature)
		if _, ring, ok := strings.Cut(f.Place, ", ring "); ok {
			fmt.Sscanf(ring, "%d", &out.Ring)
		}
	}
	// The reader's lines say the fault and, behind a semicolon, what was done.
	if what, done, ok := strings.Cut(f.What, "; "); ok {
		out.Text, out.Done = what, done
	}
	for word, kind := range map[string]string{"not closed": "unclosed ring", "turn": "winding", "three different": "empty ring", "hole outside": "hole outside"} {
		if strings.Contains(out.Text, word) {
			out.Problem = kind
		}
	}
	return out
}

// polygon inspects and mends one feature of polygons.
func (in *Inspection) polygon(l *vector.Layer, f *vector.Feature, x *Inspected) {
	x.Geometry, x.Parts = "polygon", len(f.Shape)
	x.extend(orb.MultiPolygon(f.Shape).Bound())
	found := func(problem string, ring int, at *LonLat, outcome Outcome, done, text string, args ...any) *Finding {
		in.Findings = append(in.Findings, Finding{
			Feature: f.Index, Name: x.Name, Ring: ring, At: at, Problem: problem, Text: fmt.Sprintf(text, args...), Outcome: outcome, Done: done,
		})
		return &in.Findings[len(in.Findings)-1]
	}
	middle, ok := plane.Shape(f.Shape).Centroid()
	if !ok {
		middle = XY(orb.MultiPolygon(f.Shape).Bound().Center())
	}
	if l.CRS.Conformal() && l.CRS.EPSG() != 3857 {
		if k := l.CRS.Scale(LonLat(middle)); !(math.Abs(k-1) < 0.02) {
			at := LonLat(middle)
			found("system contradicted", 0, &at, Refused, "the file is in another system than it says; give --crs with the right one",
				"%s is not made for this place: lengths would be %.0f %% off", l.CRS.Name(), 100*math.Abs(k-1))
			return
		}
	}
	frame, err := FrameAt(LonLat(middle))
	if err != nil {
		found("out of range", 0, nil, Refused, "coordinates may be swapped, or in another system than the file says", "%v", err)
		return
	}
	drawn, err := frame.project(f.Shape)
	if err != nil {
		found("out of range", 0, nil, Refused, "coordinates may be swapped, or in another system than the file says", "%v", err)
		return
	}
	ring := 0
	for i, polygon := range drawn {
		var shell *plane.Locator
		for k, r := range polygon {
			ring++
			x.Vertices += max(len(r)-1, 0)
			if k > 0 {
				x.Holes++
			}
			in.ring(found, frame, f.Shape[i][k], r, ring)
			// The reader tells of a shapefile's rings by itself.
			if area := plane.SignedArea(r); l.Format == vector.GeoJSON && math.Abs(area) >= plane.Sliver && (area > 0) != (k == 0) {
				found("winding", ring, nil, Mended, "taken as what its place says, and written the right way", "turns the wrong way (RFC 7946: outlines counter-clockwise, holes clockwise)")
			}
			if k == 0 {
				shell = plane.NewLocator(plane.Shape{{r}})
			} else if p, outside := outsider(shell, r); outside {
				found("hole outside", ring, frame.at(p), Mended, "the even-odd rule makes ground of what lies outside", "is a hole that lies outside its outline")
			}
		}
	}
	mended, repaired, err := plane.New(drawn)
	if err != nil {
		found("no ground", 0, nil, Refused, "redraw it", "%v", err)
		return
	}
	if mended.Area() < plane.Sliver {
		found("no ground", 0, nil, Refused, "redraw it or delete it", "less than 1 m² of ground is left")
		return
	}
	mended, dropped := mended.WithoutSlivers()
	x.AreaM2 = frame.GeodesicArea(mended)
	scale := frame.Scale(XY(mended.Bound().Center()))
	x.Perimeter = mended.Perimeter() / scale
	drawnArea := repaired.Before / (scale * scale)
	done := fmt.Sprintf("by the even-odd rule: %.4f ha drawn, %.4f ha kept", drawnArea/Hectare, x.AreaM2/Hectare)
	if repaired.Crossing {
		places := repaired.Crossings
		changed := x.AreaM2 - drawnArea
		for i, p := range places {
			if i == maxPlaces {
				found("crossing", 0, nil, Mended, "as the others", "%d more places where rings cross, touch along an edge or overlap", len(places)-i)
				break
			}
			fd := found("crossing", 0, frame.at(p), Mended, done,
				"rings cross, touch along an edge or overlap")
			fd.Changed = &changed
		}
		if len(places) == 0 {
			fd := found("crossing", 0, frame.at(repaired.At), Mended, done,
				"a ring runs along itself or along another")
			fd.Changed = &changed
		}
	}
	if n := repaired.Slivers + dropped; n > 0 {
		found("sliver", 0, nil, Mended, "dropped", "%d parts or holes of less than 1 m²", n)
	}
	if !repaired.Crossing && dropped == 0 {
		x.Shape = f.Shape
		return
	}
	shape, err := frame.LonLatShape(mended)
	if err != nil {
		found("out of range", 0, nil, Refused, "redraw it", "%v", err)
		return
	}
	x.Shape = shape
}

// maxPlaces is the most crossings of one feature that are told one by one.
const maxPlaces = 100

func (f Frame) at(p XY) *LonLat {
	ll, err := f.LonLat(p)
	if err != nil {
		return nil
	}
	ll = Round7(ll)
	return &ll
}

type find func(problem string, ring int, at *LonLat, outcome Outcome, done, text string, args ...any) *Finding

// ring looks for doubled points, spikes and rings without ground. degrees and
// r are the same ring in both systems.
func (in *Inspection) ring(found find, frame Frame, degrees, r orb.Ring, n int) {
	doubled := 0
	var first orb.Point
	var tidy orb.Ring
	for i, p := range r {
		if i > 0 && degrees[i] == degrees[i-1] {
			if doubled == 0 {
				first = degrees[i]
			}
			doubled++
			continue
		}
		tidy = append(tidy, p)
	}
	if doubled > 0 {
		at := Round7(LonLat(first))
		found("doubled point", n, &at, Mended, "dropped", "%d points stand there twice in a row", doubled)
	}
	spikes := 0
	for i := 1; i < len(tidy) && len(tidy) > 3; i++ {
		next := i + 1
		if next == len(tidy) {
			next = 1
		}
		if isSpike(XY(tidy[i-1]), XY(tidy[i]), XY(tidy[next])) {
			if spikes++; spikes <= maxPlaces {
				found("spike", n, frame.at(XY(tidy[i])), Mended, "cut off by the even-odd rule", "runs out to a point and back along the same line")
			}
		}
	}
	// A ring like an 8 has none in sum, but ground all the same.
	if math.Abs(plane.SignedArea(r)) < plane.Sliver {
		if s, _, err := plane.New(orb.MultiPolygon{{r}}); err != nil || s.Area() < plane.Sliver {
			found("no area", n, frame.at(XY(r[0])), Mended, "dropped where it is not the only one", "has less than 1 m² of ground")
		}
	}
}

// isSpike reports whether the way from a over b to c turns back on itself,
// within a millimetre of the shorter leg's end.
func isSpike(a, b, c XY) bool {
	ux, uy, vx, vy := a[0]-b[0], a[1]-b[1], c[0]-b[0], c[1]-b[1]
	dot, cross := ux*vx+uy*vy, ux*vy-uy*vx
	longer := math.Max(math.Hypot(ux, uy), math.Hypot(vx, vy))
	return dot > 0 && longer > 0 && math.Abs(cross)/longer < 1e-3
}

// outsider returns a vertex of a hole that lies clear of its shell.
func outsider(shell *plane.Locator, hole orb.Ring) (XY, bool) {
	for _, p := range hole {
		if !shell.Contains(XY(p)) {
			return XY(p), true
		}
	}
	return XY{}, false
}

func (in *Inspection) lines(f *vector.Feature, x *Inspected) {
	for _, l := range f.Lines {
		bound := orb.LineString(l).Bound()
		x.extend(bound)
		x.Vertices += len(l)
		frame, err := FrameAt(LonLat(bound.Center()))
		if err != nil {
			continue
		}
		line, err := frame.Line(l)
		if err != nil {
			continue
		}
		for i := 1; i < len(line); i++ {
			x.Perimeter += XY(line[i]).Distance(XY(line[i-1])) / frame.Scale(XY(line[i]))
		}
	}
}

func points(list []LonLat) []orb.Point {
	out := make([]orb.Point, len(list))
	for i, p := range list {
		out[i] = orb.Point(p)
	}
	return out
}

func (x *Inspected) extend(b orb.Bound) {
	if x.Extent != nil {
		b = b.Union(orb.Bound{Min: orb.Point{x.Extent[0], x.Extent[1]}, Max: orb.Point{x.Extent[2], x.Extent[3]}})
	}
	x.Extent = extent(b)
}

func extent(b orb.Bound) *[4]float64 {
	lo, hi := Round7(LonLat(b.Min)), Round7(LonLat(b.Max))
	return &[4]float64{lo[0], lo[1], hi[0], hi[1]}
}

// overlaps finds polygons that share ground and gives it to the first of them.
func (in *Inspection) overlaps() error {
	var tree rtree.RTreeG[int]
	for i, x := range in.Features {
		if len(x.Shape) == 0 {
			continue
		}
		b := orb.MultiPolygon(x.Shape).Bound()
		var earlier []int
		tree.Search([2]float64(b.Min), [2]float64(b.Max), func(_, _ [2]float64, k int) bool {
			earlier = append(earlier, k)
			return true
		})
		tree.Insert([2]float64(b.Min), [2]float64(b.Max), i)
		slices.Sort(earlier)
		for _, k := range earlier {
			if err := in.overlap(k, i); err != nil {
				return err
			}
		}
	}
	return nil
}

// overlap compares the features at first and later.
func (in *Inspection) overlap(first, later int) error {
	a, b := &in.Features[first], &in.Features[later]
	if len(b.Shape) == 0 || len(a.Shape) == 0 {
		return nil
	}
	frame, err := FrameAt(LonLat(orb.MultiPolygon(b.Shape).Bound().Center()))
	if err != nil {
		return nil
	}
	s, _, err := frame.Shape(a.Shape)
	if err != nil {
		return nil
	}
	t, _, err := frame.Shape(b.Shape)
	if err != nil {
		return nil
	}
	shared, err := plane.Intersect(s, t)
	if err != nil {
		return fmt.Errorf("features %d and %d: %w", a.Index, b.Index, err)
	}
	area := frame.GeodesicArea(shared)
	if area < plane.Sliver {
		return nil
	}
	f := Finding{Feature: b.Index, Name: b.Name, Problem: "overlap", AreaM2: &area, Outcome: Mended,
		Text: fmt.Sprintf("shares %.4f ha with feature %d", area/1e4, a.Index), Done: "the first in the file keeps it"}
	if a.Name != "" {
		f.Text += " (" + a.Name + ")"
	}
	if c, ok := shared.Centroid(); ok {
		f.At = frame.at(c)
	}
	left, err := plane.Subtract(t, s)
	if err != nil {
		return fmt.Errorf("features %d and %d: %w", a.Index, b.Index, err)
	}
	if left.Area() < plane.Sliver {
		f.Outcome, f.Done = Refused, "it covers the same ground; delete one of them"
		in.Findings = append(in.Findings, f)
		return nil
	}
	before := b.AreaM2
	if b.Shape, err = frame.LonLatShape(left); err != nil {
		return err
	}
	b.AreaM2 = frame.GeodesicArea(left)
	changed := b.AreaM2 - before
	f.Changed = &changed
	in.Findings = append(in.Findings, f)
	return nil
}
