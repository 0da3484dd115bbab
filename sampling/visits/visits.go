package visits

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"github.com/tidwall/rtree"

	"corewalk/geo"
)

// SamePlace is the distance in metres within which a waypoint lies at a planned
// place. GPX files have 7 decimals of a degree, which are about a centimetre, and
// a handheld may round once more.
const SamePlace = 0.05

// Core is a planned core.
type Core struct {
	Name string // as it was loaded into the handheld
	Unit int    // its sampling unit, as Match hands it to inside
	At   geo.XY // in the frame of its field
}

// Mark is a waypoint of a handheld.
type Mark struct {
	Name string
	At   geo.XY // in the frame of the cores' field
}

// Track is where a handheld has been, in the frame of the cores' field: segments
// of points in the order of time.
type Track [][]geo.XY

// Evidence is what shows a visit.
type Evidence string

const (
	ByName     Evidence = "name"     // a waypoint with the name of the core
	ByNearness Evidence = "nearness" // a waypoint near the core
	ByTrack    Evidence = "track"    // a track that passes near the core
)

// Visit is where a core was taken.
type Visit struct {
	Core    int // index into the cores
	Mark    int // index into the marks; -1 where a track is the evidence
	At      geo.XY
	Off     float64 // metres from the planned place
	By      Evidence
	Far     bool // beyond reach; only a name can show such a visit
	Outside bool // of the core's own sampling unit
}

// Outcome says what became of every core and every waypoint. Each core is in one
// of Visits, Unmoved and Missed, and each waypoint in one of Visits, Returned,
// Spare and Strays. All but Visits hold indices; all are in ascending order, Visits
// in that of the cores.
type Outcome struct {
	Visits   []Visit
	Unmoved  []int // cores whose planned waypoint came back and nothing else; to be taken as planned, if at all
	Missed   []int // cores without any trace
	Returned []int // waypoints at a planned place
	Spare    []int // waypoints with the name of a core for which a nearer one was taken
	Strays   []int // waypoints that stand for no core
}

// Match finds the visits of the cores of one field, by the rules in the comment
// of the package. All distances are metres of the field's frame. A waypoint or
// track point exactly at reach is within it; a reach that is negative or NaN is 0.
// inside reports whether a place lies in a sampling unit; nil stands for one that
// always says so.
//
// A place that is not finite, or lies more than 1e9 m from the origin, takes no
// part: such a core is missed, such a waypoint is a stray, and a track has a gap
// there. Cores, waypoints and tracks may each be empty.
//
// Where the waypoints of several fields are in one file, those of the other fields
// are strays; a waypoint belongs to no field if it is a stray of each.
func Match(cores []Core, inside func(unit int, p geo.XY) bool, marks []Mark, tracks []Track, reach float64) Outcome {
	if !(reach >= 0) {
		reach = 0
	}
	m := newMatcher(cores, marks, reach)
	m.byName()
	m.returned()
	m.byNearness()
	m.byTrack(tracks)
	return m.outcome(inside)
}

// fate is what a waypoint turned out to be.
type fate uint8

const (
	stray fate = iota
	taken
	returned
	spare
)

type matcher struct {
	cores  []Core
	marks  []Mark
	reach2 float64
	order  []int          // of the marks whose places can be used, independent of the file
	named  map[string]int // core of a name; -1 for several
	visits []Visit        // by core; By is empty where there is none
	same   []bool         // by core: a waypoint came back unmoved
	fates  []fate         // by mark
}

func newMatcher(cores []Core, marks []Mark, reach float64) *matcher {
	m := &matcher{
		cores: cores, marks: marks, reach2: reach * reach,
		named: make(map[string]int, len(cores)), visits: make([]Visit, len(cores)),
		same: make([]bool, len(cores)), fates: make([]fate, len(marks)),
	}
	for i, c := range cores {
		name := folded(c.Name)
		if name == "" || !usable(c.At) {
			continue
		}
		if _, twice := m.named[name]; twice {
			m.named[name] = -1
		} else {
			m.named[name] = i
		}
	}
	for i, k := range marks {
		if usable(k.At) {
			m.order = append(m.order, i)
		}
	}
	slices.SortFunc(m.order, func(i, j int) int {
		a, b := marks[i], marks[j]
		return cmp.Or(cmp.Compare(a.At[0], b.At[0]), cmp.Compare(a.At[1], b.At[1]), cmp.Compare(a.Name, b.Name), cmp.Compare(i, j))
	})
	return m
}

// folded returns a name without what handhelds change of it.
func folded(name string) string { return strings.ToLower(strings.ToUpper(strings.TrimSpace(name))) }

func usable(p geo.XY) bool { return math.Abs(p[0]) <= 1e9 && math.Abs(p[1]) <= 1e9 }

// core returns the core whose name the mark has, or -1.
func (m *matcher) core(mark int) int {
	if i, ok := m.named[folded(m.marks[mark].Name)]; ok {
		return i
	}
	return -1
}

func (m *matcher) visit(core, mark int, at geo.XY, by Evidence) {
	planned := m.cores[core].At
	m.visits[core] = Visit{
		Core: core, Mark: mark, At: at, By: by,
		Off: planned.Distance(at), Far: distance2(planned, at) > m.reach2,
	}
}

func (m *matcher) byName() {
	for _, k := range m.order {
		i := m.core(k)
		if i < 0 {
			continue
		}
		at, v := m.marks[k].At, m.visits[i]
		switch d := distance2(m.cores[i].At, at); {
		case d <= SamePlace*SamePlace:
			m.same[i], m.fates[k] = true, returned
		case v.By != "" && distance2(m.cores[i].At, v.At) <= d:
			m.fates[k] = spare
		default:
			if v.By != "" {
				m.fates[v.Mark] = spare
			}
			m.visit(i, k, at, ByName)
			m.fates[k] = taken
		}
	}
}

// returned finds the waypoints without a core's name that lie at planned places.
func (m *matcher) returned() {
	var planned rtree.RTreeG[int]
	for i, c := range m.cores {
		if usable(c.At) {
			planned.Insert(c.At, c.At, i)
		}
	}
	for _, k := range m.order {
		if m.core(k) >= 0 {
			continue
		}
		p := m.marks[k].At
		planned.Search(
			[2]float64{p[0] - SamePlace, p[1] - SamePlace}, [2]float64{p[0] + SamePlace, p[1] + SamePlace},
			func(at, _ [2]float64, i int) bool {
				if distance2(at, p) <= SamePlace*SamePlace {
					m.same[i], m.fates[k] = true, returned
				}
				return true
			})
	}
}

func (m *matcher) byNearness() {
	var cores, marks []int
	var planned, seen []geo.XY
	for i, c := range m.cores {
		if usable(c.At) && m.visits[i].By == "" {
			cores, planned = append(cores, i), append(planned, c.At)
		}
	}
	for _, k := range m.order {
		if m.core(k) < 0 && m.fates[k] == stray {
			marks, seen = append(marks, k), append(seen, m.marks[k].At)
		}
	}
	for _, pair := range nearestPairs(planned, seen, m.reach2) {
		k := marks[pair[1]]
		m.visit(cores[pair[0]], k, m.marks[k].At, ByNearness)
		m.fates[k] = taken
	}
}

func (m *matcher) byTrack(tracks []Track) {
	var walked walked
	for i, c := range m.cores {
		if !usable(c.At) || m.visits[i].By != "" {
			continue
		}
		if walked.seen == nil {
			walked.add(tracks)
		}
		if at, ok := walked.nearest(c.At); ok && distance2(c.At, at) <= m.reach2 {
			m.visit(i, -1, at, ByTrack)
		}
	}
}

func (m *matcher) outcome(inside func(int, geo.XY) bool) Outcome {
	var out Outcome
	for i, v := range m.visits {
		switch {
		case v.By != "":
			v.Outside = inside != nil && !inside(m.cores[i].Unit, v.At)
			out.Visits = append(out.Visits, v)
		case m.same[i]:
			out.Unmoved = append(out.Unmoved, i)
		default:
			out.Missed = append(out.Missed, i)
		}
	}
	for k, f := range m.fates {
		switch f {
		case stray:
			out.Strays = append(out.Strays, k)
		case returned:
			out.Returned = append(out.Returned, k)
		case spare:
			out.Spare = append(out.Spare, k)
		}
	}
	return out
}
