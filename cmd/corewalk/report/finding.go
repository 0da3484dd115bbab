package report

import (
	"fmt"
	"strings"

	"corewalk/geo/plane"
)

// find adds the patches of an analyte to the findings at the top of the page.
func (p *page) find(ap *analytePage, field string, s *site, f *Field, a *Analyte) {
	fig := figuresOf(a)
	meets := meetings(f.Meetings)
	for _, set := range a.Patches {
		if len(set.Patches) == 0 {
			p.Quiet = append(p.Quiet, set.Limit+" in "+field)
		}
		for _, patch := range set.Patches {
			x := finding{
				Link: ap.ID, ID: patch.ID, Limit: set.Limit, Field: field,
				Where: whereabouts(f.Boundary, patch.Shape), Size: p.areaInWords(patch.Area),
				Difference: difference(fig, patch.Mean, set.Rest.Mean),
			}
			if f.Area > 0 && finite(patch.Area) {
				x.Size += ", " + percent(patch.Area/f.Area) + " of the field"
			}
			switch {
			case a.Basis == "surface" && patch.Composites == 0:
				x.Inside = "No composite was taken inside it: it is read off the surface alone. Sample it before acting on it."
			case a.Basis == "surface" && !a.Supported:
				x.Inside = "The surface it was drawn on is NOT supported."
			case patch.Composites > 0:
				x.Inside = plural(patch.Composites, "composite", "composites") + " taken inside it."
			}
			if finite(patch.Chance) {
				x.Inside += " Chance of a place in it to be truly beyond the limit: " + chance(patch.Chance) + "."
			}
			if with := p.meets(meets[patch.ID]); with != "" {
				x.Inside += " It meets " + with + "."
			}
			x.Inside = strings.TrimSpace(x.Inside)
			x.Next = p.next(s, f, patch)
			p.Findings = append(p.Findings, x)
		}
	}
}

func difference(fig figures, here, rest float64) string {
	switch {
	case !finite(here):
		return "without a mean"
	case !finite(rest):
		return fmt.Sprintf("%s on average; there is no rest of the field to compare with", fig.withUnit(here))
	case here == rest:
		return fmt.Sprintf("%s on average, as in the rest of the field", fig.withUnit(here))
	}
	by, how := here-rest, "higher"
	if by < 0 {
		by, how = -by, "lower"
	}
	return fmt.Sprintf("%s on average, %s %s than the %s of the rest of the field", fig.withUnit(here), fig.figure(by), how, fig.figure(rest))
}

// next says what to do about a patch: where to look at it, and what rates say of
// its ground. s may be nil.
func (p *page) next(s *site, f *Field, patch Patch) string {
	at, ok := patchSpot(s, patch.Shape)
	said := "go and look"
	if ok && f.LonLat != nil {
		if ll, err := f.LonLat(at); err == nil {
			said += fmt.Sprintf(" (a place inside it: %.5f, %.5f)", ll.Lat(), ll.Lon())
		}
	}
	if patch.Composites == 0 {
		said += "; take a composite in it, and one beside it, before anything is spread by it."
	} else {
		said += "; next time give it a sample of its own, and one of the ground beside it."
	}
	var rates []string
	for i := range f.Rates {
		r := &f.Rates[i]
		if !ok || r.Product == "" {
			continue
		}
		for _, g := range r.Grounds {
			if finite(g.Rate) && len(g.Shape) > 0 && plane.NewLocator(g.Shape).Contains(at) {
				rates = append(rates, r.Product+" "+p.rate(g.Rate)+" "+p.rateUnit())
				break
			}
		}
	}
	if len(rates) > 0 {
		said += " Rates there: " + list(rates) + "."
	}
	return said
}

// patchSpot is a place inside a patch, in metres.
func patchSpot(s *site, shape plane.Shape) (plane.XY, bool) {
	if s == nil {
		return plane.XY{}, false
	}
	at, ok := s.view.outline(shape).middle()
	x := plane.XY{s.view.west + (at.x-s.view.left)/s.view.scale, s.view.north - (at.y-s.view.top)/s.view.scale}
	return x, ok && finite(x[0]) && finite(x[1])
}
