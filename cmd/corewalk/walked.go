package main

import (
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"corewalk/geo"
	"corewalk/geo/gpx"
	"corewalk/geo/plane"
	"corewalk/geo/vector"
	"corewalk/sampling"
	"corewalk/sampling/visits"
)

const walkedFile = "walked.geojson"

// defaultReach is how far from its planned spot a core may have been taken when
// no name tells which it is: three times the error of a telephone under open sky
// (about 4.9 m, attributed to GPS.gov).
const defaultReach = 15.0

// walkedRecord is what --json prints of the cores as they were walked.
type walkedRecord struct {
	Cores    int            `json:"cores"`
	Visited  int            `json:"visited"`
	By       map[string]int `json:"visited_by"`
	Unmoved  int            `json:"unmoved"` // known from a waypoint that came back at its planned place alone
	Missed   []string       `json:"missed"`
	Outside  []string       `json:"outside_their_unit"`
	Far      []string       `json:"further_than_reach"`
	Strays   []string       `json:"strays"`
	Spare    []string       `json:"second_waypoints"`
	MeanOffM float64        `json:"mean_off_m"`
	MostOffM float64        `json:"most_off_m"`
}

// walkedCore is one core as it was taken.
type walkedCore struct {
	name   string
	field  string
	unit   int
	ids    []string // samples that it goes into
	plan   geo.LonLat
	at     geo.LonLat // where it was taken; plan when it was not
	status string     // visited, unmoved or missed
	by     string
	off    float64 // true metres from the planned spot
	out    bool    // of its unit
	far    bool
}

// walked are the cores of a plan as a handheld says that they were taken.
type walked struct {
	record   walkedRecord
	cores    []walkedCore
	strays   []gpx.Waypoint
	bySample map[string][]int // core indexes
}

// readHandheld reads a handheld's file.
func readHandheld(path string) (*gpx.Document, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, readError(err)
	}
	defer f.Close()
	d, err := gpx.Read(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if len(d.Waypoints) == 0 && len(d.Tracks) == 0 {
		return nil, fmt.Errorf("%s holds neither waypoints nor tracks; save them on the handheld and export again", path)
	}
	return &d, nil
}

// readWalked matches a handheld's file with the cores of a plan.
func readWalked(path string, reach float64, fields []*geo.Field, units []sampling.PlannedUnit) (*walked, error) {
	d, err := readHandheld(path)
	if err != nil {
		return nil, err
	}
	return matchWalked(d, path, reach, fields, units)
}

// matchWalked matches what a handheld's file holds with the cores of a plan.
func matchWalked(d *gpx.Document, path string, reach float64, fields []*geo.Field, units []sampling.PlannedUnit) (*walked, error) {
	w := &walked{bySample: map[string][]int{}, record: walkedRecord{By: map[string]int{}, Missed: []string{}, Outside: []string{}, Far: []string{}, Strays: []string{}, Spare: []string{}}}
	w.plan(units)
	marks := w.share(fields, d.Waypoints)
	for i, f := range fields {
		if err := w.match(f, units, d.Waypoints, marks[i], d.Tracks, reach); err != nil {
			return nil, fmt.Errorf("%s: field %s: %w", path, f.Name, err)
		}
	}
	return w, w.count()
}

// plan lists the cores that were to be taken, each once though it may go into
// several samples.
func (w *walked) plan(units []sampling.PlannedUnit) {
	place := map[string]int{}
	for _, u := range units {
		for _, c := range u.Cores {
			key := u.Field + "\x00" + c.Name
			k, known := place[key]
			if !known || c.Name == "" {
				k = len(w.cores)
				place[key] = k
				w.cores = append(w.cores, walkedCore{name: c.Name, field: u.Field, unit: u.Unit, plan: c.At, at: c.At, status: "missed"})
			}
			w.cores[k].ids = append(w.cores[k].ids, u.ID)
			w.bySample[u.ID] = append(w.bySample[u.ID], k)
		}
	}
}

// share gives every waypoint to the field that has a core of its name or, else,
// to the one that it lies nearest to.
func (w *walked) share(fields []*geo.Field, waypoints []gpx.Waypoint) [][]int {
	named := map[string]int{}
	index := map[string]int{}
	for i, f := range fields {
		index[f.Name] = i
	}
	for _, c := range w.cores {
		named[strings.ToUpper(c.name)] = index[c.field]
	}
	edges := make([]plane.Edges, len(fields))
	inside := make([]*plane.Locator, len(fields))
	for i, f := range fields {
		edges[i].AddShape(f.Boundary)
		inside[i] = plane.NewLocator(f.Boundary)
	}
	out := make([][]int, len(fields))
	for k, p := range waypoints {
		if i, ok := named[strings.ToUpper(strings.TrimSpace(p.Name))]; ok {
			out[i] = append(out[i], k)
			continue
		}
		best, least := 0, math.Inf(1)
		for i, f := range fields {
			at, err := f.Frame.XY(p.At)
			if err != nil {
				continue
			}
			if inside[i].Contains(at) {
				best = i
				break
			}
			if d := edges[i].Distance(at, min(least, 1e6)); d < least {
				best, least = i, d
			}
		}
		out[best] = append(out[best], k)
	}
	return out
}

// match matches the waypoints of one field, and all tracks, with its cores.
func (w *walked) match(f *geo.Field, units []sampling.PlannedUnit, waypoints []gpx.Waypoint, mine []int, tracks []gpx.Track, reach float64) error {
	shapes := map[int]*plane.Locator{}
	for _, u := range units {
		if u.Field == f.Name && shapes[u.Unit] == nil {
			s, _, err := f.Frame.Shape(u.Shape)
			if err != nil {
				return err
			}
			shapes[u.Unit] = plane.NewLocator(s)
		}
	}
	var cores []visits.Core
	var index []int
	for k, c := range w.cores {
		if c.field != f.Name {
			continue
		}
		at, err := f.Frame.XY(c.plan)
		if err != nil {
			return err
		}
		cores, index = append(cores, visits.Core{Name: c.name, Unit: c.unit, At: at}), append(index, k)
	}
	var marks []visits.Mark
	var of []int
	for _, k := range mine {
		p := waypoints[k]
		at, err := f.Frame.XY(p.At)
		if err != nil {
			w.stray(p)
			continue
		}
		marks, of = append(marks, visits.Mark{Name: p.Name, At: at}), append(of, k)
	}
	scale := f.Frame.Scale(geo.XY(f.Boundary.Bound().Center()))
	outcome := visits.Match(cores, func(unit int, p geo.XY) bool { return shapes[unit] != nil && shapes[unit].Contains(p) },
		marks, w.tracksNear(f, tracks, reach), reach*scale)
	for _, v := range outcome.Visits {
		c := &w.cores[index[v.Core]]
		ll, err := f.Frame.LonLat(v.At)
		if err != nil {
			return err
		}
		c.at, c.status, c.by, c.off, c.out, c.far = geo.Round7(ll), "visited", string(v.By), v.Off/scale, v.Outside, v.Far
	}
	for _, k := range outcome.Unmoved {
		w.cores[index[k]].status = "unmoved"
	}
	for _, k := range outcome.Strays {
		w.stray(waypoints[of[k]])
	}
	for _, k := range outcome.Spare {
		w.record.Spare = append(w.record.Spare, waypoints[of[k]].Name)
	}
	return nil
}

func (w *walked) stray(p gpx.Waypoint) {
	w.strays = append(w.strays, p)
	w.record.Strays = append(w.record.Strays, p.Name)
}

// tracksNear brings the tracks that come near a field into its frame.
func (w *walked) tracksNear(f *geo.Field, tracks []gpx.Track, reach float64) []visits.Track {
	near := f.Boundary.Bound().Pad(2*reach + 100)
	var out []visits.Track
	for _, t := range tracks {
		var track visits.Track
		for _, s := range t.Segments {
			var segment []geo.XY
			touches := false
			for _, p := range s {
				at, err := f.Frame.XY(p.At)
				if err != nil {
					continue
				}
				touches = touches || near.Contains(orb.Point(at))
				segment = append(segment, at)
			}
			if touches {
				track = append(track, segment)
			}
		}
		if len(track) > 0 {
			out = append(out, track)
		}
	}
	return out
}

var errNothingWalked = errors.New("nothing in the handheld's file comes near a core of the plan or has the name of one; is it of this plan?")

// count sums the cores up. It fails when nothing at all matches: it is the
// wrong file then.
func (w *walked) count() error {
	r := &w.record
	r.Cores = len(w.cores)
	for _, c := range w.cores {
		switch c.status {
		case "visited":
			r.Visited++
			r.By[c.by]++
			r.MeanOffM += c.off
			r.MostOffM = max(r.MostOffM, c.off)
			if c.out {
				r.Outside = append(r.Outside, c.name)
			}
			if c.far {
				r.Far = append(r.Far, c.name)
			}
		case "unmoved":
			r.Unmoved++
		default:
			r.Missed = append(r.Missed, c.name)
		}
	}
	if r.Visited+r.Unmoved == 0 {
		return errNothingWalked
	}
	r.MeanOffM = decimals(r.MeanOffM/float64(max(r.Visited, 1)), 2)
	r.MostOffM = decimals(r.MostOffM, 2)
	return nil
}

// at returns where a composite was taken: the mean of its cores that were
// visited or that came back unmoved. False when none of them was.
func (w *walked) at(id string) (geo.LonLat, bool) {
	var sum geo.LonLat
	n := 0.0
	for _, k := range w.bySample[id] {
		if c := w.cores[k]; c.status != "missed" {
			sum[0], sum[1] = sum[0]+c.at[0], sum[1]+c.at[1]
			n++
		}
	}
	if n == 0 {
		return geo.LonLat{}, false
	}
	return geo.Round7(geo.LonLat{sum[0] / n, sum[1] / n}), true
}

// notes says of a composite what a reader of its figures should know.
func (w *walked) notes(id string) []string {
	var missed, outside []string
	for _, k := range w.bySample[id] {
		switch c := w.cores[k]; {
		case c.status == "missed":
			missed = append(missed, c.name)
		case c.out:
			outside = append(outside, c.name)
		}
	}
	var out []string
	if len(missed) == len(w.bySample[id]) {
		return []string{"none of its cores was visited; it stands at their planned spots"}
	}
	if len(missed) > 0 {
		out = append(out, fmt.Sprintf("%d of %d cores not visited (%s)", len(missed), len(w.bySample[id]), shortList(missed)))
	}
	if len(outside) > 0 {
		out = append(out, fmt.Sprintf("%d cores taken outside the unit (%s)", len(outside), shortList(outside)))
	}
	return out
}

// shortList names up to eight and counts the rest.
func shortList(names []string) string {
	if len(names) > 8 {
		return strings.Join(names[:8], ", ") + fmt.Sprintf(" and %d more", len(names)-8)
	}
	return strings.Join(names, ", ")
}

// lines says the outcome for a person.
func (r walkedRecord) lines() []string {
	out := []string{fmt.Sprintf("walked: %d cores = %d visited + %d unmoved + %d not visited; visited ones lie %.1f m off their spots on average, %.1f m at most",
		r.Cores, r.Visited, r.Unmoved, len(r.Missed), r.MeanOffM, r.MostOffM)}
	for _, l := range []struct {
		names []string
		text  string
	}{
		{r.Missed, "not visited"}, {r.Outside, "visited outside their unit"}, {r.Far, "further from their spot than the reach, known by name"},
		{r.Spare, "second waypoints of a core, not used"}, {r.Strays, "waypoints of no core"},
	} {
		if len(l.names) > 0 {
			out = append(out, fmt.Sprintf("%s: %s", l.text, shortList(l.names)))
		}
	}
	return out
}

// add writes walked.geojson: the cores where they were taken, and waypoints that
// belong to none.
func (w *walked) add(out *outputs, head header) error {
	c := vector.Collection{Members: []vector.Member{{Name: "corewalk", Value: head}}}
	for _, x := range w.cores {
		at := x.at
		properties := []vector.Property{
			{Name: "kind", Value: sampling.KindCore},
			{Name: "name", Value: x.name},
			{Name: "sample", Value: x.ids[0]},
		}
		if len(x.ids) > 1 {
			properties = append(properties, vector.Property{Name: "samples", Value: strings.Join(x.ids, " ")})
		}
		properties = append(properties,
			vector.Property{Name: "field", Value: x.field},
			vector.Property{Name: "unit", Value: x.unit},
			vector.Property{Name: "status", Value: x.status},
		)
		if x.status == "visited" {
			properties = append(properties,
				vector.Property{Name: "by", Value: x.by},
				vector.Property{Name: "off_m", Value: decimals(x.off, 2)},
				vector.Property{Name: "outside_unit", Value: x.out},
			)
		}
		properties = append(properties,
			vector.Property{Name: "planned_lon", Value: x.plan.Lon()},
			vector.Property{Name: "planned_lat", Value: x.plan.Lat()},
		)
		c.Features = append(c.Features, vector.OutFeature{Point: &at, Properties: properties})
	}
	for _, s := range w.strays {
		at := geo.Round7(s.At)
		c.Features = append(c.Features, vector.OutFeature{Point: &at, Properties: []vector.Property{
			{Name: "kind", Value: "waypoint"}, {Name: "name", Value: s.Name}, {Name: "status", Value: "of no core"},
		}})
	}
	return out.addGeoJSON(walkedFile, c)
}

// walkedStep matches a handheld's file with a plan before the lab has answered.
func walkedStep(planPath string, r resultSource, out *outputs) (joinSummary, error) {
	layer, err := vector.Read(planPath, vector.Options{})
	if err != nil {
		return joinSummary{}, readError(err)
	}
	fields, err := sampling.ReadFields(layer)
	if err != nil {
		return joinSummary{}, err
	}
	units, err := sampling.ReadUnits(layer)
	if err != nil {
		return joinSummary{}, err
	}
	w, err := readWalked(r.walked, r.reach, fields, units)
	if err != nil {
		return joinSummary{}, err
	}
	inputs := []string{planPath, r.walked}
	head, err := newHeader(nil, inputs)
	if err != nil {
		return joinSummary{}, err
	}
	out.inputs = append(out.inputs, inputs...)
	if err := w.add(out, head); err != nil {
		return joinSummary{}, err
	}
	s := joinSummary{
		Analytes: []sampling.Analyte{}, Means: []meanRecord{}, Comparisons: []comparisonRecord{}, Walked: &w.record,
		Notices: []string{}, Files: slices.Clone(out.names()), lines: w.record.lines(),
	}
	return s, out.commit()
}
