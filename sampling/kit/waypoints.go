package kit

import (
	"fmt"
	"slices"
	"strings"

	"corewalk/geo"
	"corewalk/geo/gpx"
	"corewalk/sampling"
)

// Stop is a core as a person walks to it.
type Stop struct {
	Name       string // as the plan has it: short, unique, plain
	At         geo.LonLat
	Field      string
	Unit       int    // number of the sampling unit in its field
	Part       string // management unit or problem area in words; empty where there is none
	Number, Of int    // of the unit's cores
	IDs        []string
	Depths     []string // of the samples; empty where the plan has none
}

// Stops returns the cores of a plan in walking order.
func Stops(p *sampling.Plan) []Stop {
	var out []Stop
	for _, fp := range p.Fields {
		out = slices.Grow(out, fp.Cores())
		for _, u := range fp.Units {
			part := part(fp, u)
			for _, c := range u.Cores {
				s := Stop{Name: c.Name, At: c.LonLat, Field: fp.Field.Name, Unit: u.Number, Part: part, Number: c.Number, Of: len(u.Cores)}
				for _, x := range u.SamplesOf(c) {
					s.IDs = append(s.IDs, x.ID)
					if d := x.Depth.String(); d != "" {
						s.Depths = append(s.Depths, d)
					}
				}
				out = append(out, s)
			}
		}
	}
	return out
}

// PlannedStops returns the cores of a plan file, as Stops does.
func PlannedStops(units []sampling.PlannedUnit) []Stop {
	var out []Stop
	for from := 0; from < len(units); {
		to := from + 1
		for to < len(units) && units[to].Field == units[from].Field && units[to].Unit == units[from].Unit {
			to++
		}
		at := map[string]int{}
		first := len(out)
		for _, u := range units[from:to] {
			for _, c := range u.Cores {
				i, known := at[c.Name]
				if !known {
					i = len(out)
					at[c.Name] = i
					out = append(out, Stop{Name: c.Name, At: c.At, Field: u.Field, Unit: u.Unit, Part: plannedPart(u), Number: c.Number})
				}
				out[i].IDs = append(out[i].IDs, u.ID)
				if u.Depth != "" {
					out[i].Depths = append(out[i].Depths, u.Depth)
				}
			}
		}
		own := out[first:]
		slices.SortStableFunc(own, func(a, b Stop) int { return a.Number - b.Number })
		for i := range own {
			own[i].Of = len(own)
		}
		from = to
	}
	return out
}

func part(fp *sampling.FieldPlan, u *sampling.Unit) string {
	d := fp.Field.Divisions[u.Division]
	var out []string
	if d.Name != "" {
		out = append(out, d.Label())
	}
	if u.ComparisonOf >= 0 {
		out = append(out, "healthy ground beside "+fp.Field.Divisions[u.ComparisonOf].Label())
	}
	return strings.Join(out, ", ")
}

func plannedPart(u sampling.PlannedUnit) string {
	var out []string
	switch {
	case u.Problem != "":
		out = append(out, geo.Division{Kind: geo.Problem, Name: u.Problem}.Label())
	case u.Management != "":
		out = append(out, geo.Division{Kind: geo.Management, Name: u.Management}.Label())
	}
	if u.ComparisonOf != "" {
		out = append(out, "healthy ground beside "+geo.Division{Kind: geo.Problem, Name: u.ComparisonOf}.Label())
	}
	return strings.Join(out, ", ")
}

// comment says which samples a core goes into, its number and the depths.
func (s Stop) comment() string {
	text := fmt.Sprintf("%s core %d of %d", strings.Join(s.IDs, "+"), s.Number, s.Of)
	if len(s.Depths) > 0 {
		text += ", " + strings.Join(s.Depths, "+")
	}
	return text
}

func (s Stop) description() string {
	text := fmt.Sprintf("%s, unit %d", s.Field, s.Unit)
	if s.Part != "" {
		text += ", " + s.Part
	}
	return text
}

// Handheld is what a receiver takes.
type Handheld struct {
	// Long names are sample id and number of the core; short ones those of the
	// plan.
	Long bool
	// NameLimit is the most characters of a name; 0 for the plan's own, which
	// have at most 10.
	NameLimit int
	// Limit is the most waypoints of a file; 0 for any.
	Limit int
}

// Waypoints returns the stops as GPX documents: every one a waypoint with its
// samples, the number of its core and the depth in the comment, and one route to
// each field in walking order. There are several documents where there are more
// stops than a file may have; they part between units where that can be. Where
// names do not keep the limit, short ones become plain numbers in walking order,
// with the plan's name in the comment; long ones are an error.
func Waypoints(stops []Stop, h Handheld, creator string) ([]gpx.Document, error) {
	names, err := h.names(stops)
	if err != nil {
		return nil, err
	}
	points := make([]gpx.Waypoint, len(stops))
	for i, s := range stops {
		points[i] = gpx.Waypoint{At: s.At, Name: names[i], Comment: s.comment(), Description: s.description()}
		if !h.Long && names[i] != s.Name {
			points[i].Comment = s.Name + ": " + points[i].Comment
		}
	}
	var out []gpx.Document
	for _, r := range h.split(stops) {
		d := gpx.Document{Creator: creator, Waypoints: points[r[0]:r[1]]}
		for from := r[0]; from < r[1]; {
			to := from
			for to < r[1] && stops[to].Field == stops[from].Field {
				to++
			}
			d.Routes = append(d.Routes, gpx.Route{Name: oneLine(stops[from].Field), Waypoints: points[from:to]})
			from = to
		}
		out = append(out, d)
	}
	if out == nil {
		out = []gpx.Document{{Creator: creator}}
	}
	return out, nil
}

// oneLine makes a name of a route, which receivers show on one line.
func oneLine(s string) string {
	if s = strings.Join(strings.Fields(s), " "); s == "" {
		return "field"
	}
	return s
}

func (h Handheld) names(stops []Stop) ([]string, error) {
	out := make([]string, len(stops))
	longest := 0
	for i, s := range stops {
		out[i] = s.Name
		if h.Long {
			out[i] = fmt.Sprintf("%s-%02d", s.IDs[0], s.Number)
		}
		longest = max(longest, len([]rune(out[i])))
	}
	if h.NameLimit == 0 || longest <= h.NameLimit {
		return out, nil
	}
	if h.Long {
		return nil, fmt.Errorf("long names have up to %d characters, and %d are allowed; allow more, or take short names", longest, h.NameLimit)
	}
	digits := len(fmt.Sprint(len(stops)))
	if digits > h.NameLimit {
		return nil, fmt.Errorf("%d waypoints cannot have names of their own with %d characters; allow %d", len(stops), h.NameLimit, digits)
	}
	for i := range stops {
		out[i] = fmt.Sprintf("%0*d", digits, i+1)
	}
	return out, nil
}

// split returns the stops of each file, from and to.
func (h Handheld) split(stops []Stop) [][2]int {
	var out [][2]int
	from := 0
	for at := 0; at < len(stops); {
		to := at
		for to < len(stops) && stops[to].Field == stops[at].Field && stops[to].Unit == stops[at].Unit {
			to++
		}
		if h.Limit > 0 && to-from > h.Limit && at > from {
			out, from = append(out, [2]int{from, at}), at // the unit goes into the next file
		}
		for h.Limit > 0 && to-from > h.Limit { // a unit larger than a file
			out, from = append(out, [2]int{from, from + h.Limit}), from+h.Limit
		}
		at = to
	}
	if from < len(stops) {
		out = append(out, [2]int{from, len(stops)})
	}
	return out
}
