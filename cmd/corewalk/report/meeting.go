package report

import (
	"fmt"
	"unicode/utf8"
)

// met is a patch of another analyte that shares ground with one.
type met struct {
	id   string
	area float64
}

// meetings returns for each patch those that it meets.
func meetings(list []Meeting) map[string][]met {
	out := map[string][]met{}
	for _, m := range list {
		a, b := m.Patches[0], m.Patches[1]
		out[a] = append(out[a], met{b, m.Area})
		out[b] = append(out[b], met{a, m.Area})
	}
	return out
}

// meets says which patches one meets, and over how much ground; nothing where
// there are none.
func (p *page) meets(with []met) string {
	var words []string
	for _, m := range with {
		words = append(words, fmt.Sprintf("%s over %s", m.id, p.area(m.area)))
	}
	return list(words)
}

// addOthers outlines the patches of other analytes that meet those of a.
func (m *surfaceMap) addOthers(s *site, f *Field, a *Analyte) {
	wanted := map[string]bool{}
	meets := meetings(f.Meetings)
	for _, set := range a.Patches {
		for _, patch := range set.Patches {
			for _, other := range meets[patch.ID] {
				wanted[other.id] = true
			}
		}
	}
	for i := range f.Analytes {
		for _, set := range f.Analytes[i].Patches {
			for _, patch := range set.Patches {
				if !wanted[patch.ID] {
					continue
				}
				o := s.view.outline(patch.Shape)
				at, ok := o.free(m.taken)
				if !ok {
					continue
				}
				half := 4 * float64(utf8.RuneCountInString(patch.ID))
				at.x = max(min(at.x, s.view.width-half), half)
				m.taken = append(m.taken, at)
				m.Others = append(m.Others, patchMark{
					Path:  o.path(),
					Label: label{X: coord(at.x), Y: coord(at.y), Text: patch.ID, Class: "other", Full: patch.ID + ": " + set.Limit},
				})
			}
		}
	}
	if len(m.Others) > 0 {
		m.Key = append(m.Key, keyItem{"otherline", "patch of another analyte that meets one of these"})
	}
}
