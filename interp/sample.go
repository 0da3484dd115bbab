package interp

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"corewalk/geo/plane"
)

// Sample is the figure of one composite for one analyte, at its place.
type Sample struct {
	ID    string   // sample id
	At    plane.XY // metres
	Value float64
	// Division is the index of the management unit or problem area that the
	// sample lies in, 0 or more.
	Division int
}

// The limits below keep every weight a normal number, so that no scaling is
// needed: 1/d^p lies between 1e-169 and 1e60 for any two places and any power.
const (
	samePlace = 1e-3 // metres: nearer than this is the same place
	farthest  = 1e8  // metres: largest coordinate, beyond any projected system
	largest   = 1e30 // largest figure: it and its sums fit float32
	noFigure  = -9999
)

// place is one position with one figure: a sample, or the mean of the samples
// taken there.
type place struct {
	x, y, value float64
	ids         []string
}

func (p place) id() string { return strings.Join(p.ids, "+") }

func (s Sample) validate() error {
	x, y := s.At.X(), s.At.Y()
	switch {
	case !(math.Abs(x) <= farthest && math.Abs(y) <= farthest):
		return fmt.Errorf("sample %q: position (%g, %g) is not in metres on the map", s.ID, x, y)
	case !(math.Abs(s.Value) <= largest):
		return fmt.Errorf("sample %q: %g is not a figure; leave the sample out where there is no result", s.ID, s.Value)
	case s.Value == noFigure:
		return fmt.Errorf("sample %q: %g marks a missing figure; leave the sample out where there is no result", s.ID, s.Value)
	case s.Division < 0:
		return fmt.Errorf("sample %q: division %d: the sample lies in no division", s.ID, s.Division)
	}
	return nil
}

// merge makes places of the samples of one division. Going through them by
// easting, then northing, a sample nearer than samePlace to the first one of a
// place joins it, so that places are never nearer to each other than that and
// do not depend on the order of the input. The figure of a place is the mean
// of its samples, its position that of the first. The places come back by
// easting, then northing. The samples are reordered.
func merge(samples []Sample) []place {
	slices.SortFunc(samples, func(a, b Sample) int {
		return cmp.Or(cmp.Compare(a.At.X(), b.At.X()), cmp.Compare(a.At.Y(), b.At.Y()),
			cmp.Compare(a.ID, b.ID), cmp.Compare(a.Value, b.Value))
	})
	type cell struct{ x, y int64 }
	at := func(p plane.XY) cell {
		return cell{int64(math.Floor(p.X() / samePlace)), int64(math.Floor(p.Y() / samePlace))}
	}
	var places []place
	known := map[cell][]int{}
	for _, s := range samples {
		c := at(s.At)
		home := -1
		for dx := int64(-1); dx <= 1; dx++ {
			for dy := int64(-1); dy <= 1; dy++ {
				for _, i := range known[cell{c.x + dx, c.y + dy}] {
					near := squared(places[i].x-s.At.X(), places[i].y-s.At.Y()) < samePlace*samePlace
					if near && (home < 0 || i < home) {
						home = i
					}
				}
			}
		}
		if home < 0 {
			known[c] = append(known[c], len(places))
			places = append(places, place{s.At.X(), s.At.Y(), s.Value, []string{s.ID}})
			continue
		}
		// The figure is a sum until all are in.
		places[home].value += s.Value
		places[home].ids = append(places[home].ids, s.ID)
	}
	for i := range places {
		places[i].value /= float64(len(places[i].ids))
	}
	return places
}

// squared is the squared distance. The conversions keep the compiler from
// fusing the products, so that every processor gives the same bytes.
func squared(dx, dy float64) float64 { return float64(dx*dx) + float64(dy*dy) }
