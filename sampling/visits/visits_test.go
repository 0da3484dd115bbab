package visits

import (
	"fmt"
	"math"
	"reflect"
	"testing"

	"corewalk/geo"
)

// Three cores of two units, far enough from each other.
func three() []Core {
	return []Core{
		{"BC0101", 1, geo.XY{500000, 4600000}},
		{"BC0102", 1, geo.XY{500020, 4600000}},
		{"BC0201", 2, geo.XY{500040, 4600000}},
	}
}

func xy(east, north float64) geo.XY { return geo.XY{500000 + east, 4600000 + north} }

// west holds unit 1 below 30 m and unit 2 above.
func west(unit int, p geo.XY) bool { return (unit == 1) == (p[0] < 500030) }

func TestRules(t *testing.T) {
	visit := func(core, mark int, at geo.XY, off float64, by Evidence) Visit {
		return Visit{Core: core, Mark: mark, At: at, Off: off, By: by}
	}
	far := func(v Visit) Visit { v.Far = true; return v }
	outside := func(v Visit) Visit { v.Outside = true; return v }
	for _, c := range []struct {
		name   string
		marks  []Mark
		tracks []Track
		want   Outcome
	}{
		{name: "nothing", want: Outcome{Missed: []int{0, 1, 2}}},
		{
			name:  "a name, whatever its case and the space round it",
			marks: []Mark{{" bc0102\t", xy(23, 4)}},
			want:  Outcome{Visits: []Visit{visit(1, 0, xy(23, 4), 5, ByName)}, Missed: []int{0, 2}},
		},
		{
			name:  "a name beats nearness",
			marks: []Mark{{"BC0101", xy(21, 0)}, {"001", xy(0, 3)}},
			want: Outcome{
				Visits: []Visit{far(visit(0, 0, xy(21, 0), 21, ByName))},
				Missed: []int{1, 2}, Strays: []int{1},
			},
		},
		{
			name:  "a name far away and in the wrong unit",
			marks: []Mark{{"BC0101", xy(30, 40)}},
			want:  Outcome{Visits: []Visit{far(outside(visit(0, 0, xy(30, 40), 50, ByName)))}, Missed: []int{1, 2}},
		},
		{
			name:  "a name at reach is not far",
			marks: []Mark{{"BC0101", xy(6, 8)}},
			want:  Outcome{Visits: []Visit{visit(0, 0, xy(6, 8), 10, ByName)}, Missed: []int{1, 2}},
		},
		{
			name:  "a name three times: the nearest, the others are no match for their neighbours",
			marks: []Mark{{"BC0101", xy(19, 0)}, {"bc0101", xy(0, 3)}, {"BC0101", xy(0, -4)}},
			want:  Outcome{Visits: []Visit{visit(0, 1, xy(0, 3), 3, ByName)}, Missed: []int{1, 2}, Spare: []int{0, 2}},
		},
		{
			name:  "a name twice, equally far: by position",
			marks: []Mark{{"BC0101", xy(0, 3)}, {"BC0101", xy(0, -3)}},
			want:  Outcome{Visits: []Visit{visit(0, 1, xy(0, -3), 3, ByName)}, Missed: []int{1, 2}, Spare: []int{0}},
		},
		{
			name:  "names cut short or with a number are not guessed, near a core they count as any other",
			marks: []Mark{{"BC010", xy(1000, 0)}, {"BC0101 1", xy(1000, 5)}, {"BC01021", xy(22, 0)}},
			want:  Outcome{Visits: []Visit{visit(1, 2, xy(22, 0), 2, ByNearness)}, Missed: []int{0, 2}, Strays: []int{0, 1}},
		},
		{
			name:  "returned by name",
			marks: []Mark{{"BC0101", xy(0, 0)}, {"bc0102", xy(20.03, -0.03)}, {"BC0201", xy(40.06, 0)}},
			want: Outcome{
				Visits:  []Visit{visit(2, 2, xy(40.06, 0), xy(40.06, 0).Distance(xy(40, 0)), ByName)},
				Unmoved: []int{0, 1}, Returned: []int{0, 1},
			},
		},
		{
			name:  "returned with a name cut short",
			marks: []Mark{{"BC01", xy(0, 0)}, {"BC01", xy(20, 0.02)}},
			want:  Outcome{Unmoved: []int{0, 1}, Missed: []int{2}, Returned: []int{0, 1}},
		},
		{
			name:  "the name of one core at the place of another is the one it names",
			marks: []Mark{{"BC0101", xy(20, 0)}},
			want:  Outcome{Visits: []Visit{far(visit(0, 0, xy(20, 0), 20, ByName))}, Missed: []int{1, 2}},
		},
		{
			name:  "returned, and marked again under its name",
			marks: []Mark{{"BC0101", xy(0, 0)}, {"BC0101", xy(3, 4)}},
			want:  Outcome{Visits: []Visit{visit(0, 1, xy(3, 4), 5, ByName)}, Missed: []int{1, 2}, Returned: []int{0}},
		},
		{
			name:  "returned, and marked under another name",
			marks: []Mark{{"BC0101", xy(0, 0)}, {"001", xy(3, 4)}},
			want:  Outcome{Visits: []Visit{visit(0, 1, xy(3, 4), 5, ByNearness)}, Missed: []int{1, 2}, Returned: []int{0}},
		},
		{
			name:   "returned, and a track passes by",
			marks:  []Mark{{"BC0101", xy(0, 0)}, {"BC0102", xy(20, 0)}},
			tracks: []Track{{{xy(-5, 2), xy(5, 2)}}},
			want:   Outcome{Visits: []Visit{visit(0, -1, xy(0, 2), 2, ByTrack)}, Unmoved: []int{1}, Missed: []int{2}, Returned: []int{0, 1}},
		},
		{
			name:  "nearness: the nearest pair first, each once",
			marks: []Mark{{"1", xy(12, 0)}, {"2", xy(17, 0)}, {"3", xy(21, 0)}},
			want: Outcome{
				Visits: []Visit{visit(1, 2, xy(21, 0), 1, ByNearness)},
				Missed: []int{0, 2}, Strays: []int{0, 1},
			},
		},
		{
			name:  "nearness: a mark left over goes to the next core",
			marks: []Mark{{"1", xy(11, 0)}, {"2", xy(19, 0)}, {"3", xy(10, 0)}},
			want: Outcome{
				Visits: []Visit{visit(0, 2, xy(10, 0), 10, ByNearness), visit(1, 1, xy(19, 0), 1, ByNearness)},
				Missed: []int{2}, Strays: []int{0},
			},
		},
		{
			name:  "nearness: equally near to two cores, the first; outside its unit",
			marks: []Mark{{"", xy(30, 0)}},
			want:  Outcome{Visits: []Visit{outside(visit(1, 0, xy(30, 0), 10, ByNearness))}, Missed: []int{0, 2}},
		},
		{
			name:  "nearness: equally near marks, by position, then by name",
			marks: []Mark{{"b", xy(0, 5)}, {"a", xy(0, 5)}, {"z", xy(-5, 0)}, {"y", xy(-5, 0)}},
			want:  Outcome{Visits: []Visit{visit(0, 3, xy(-5, 0), 5, ByNearness)}, Missed: []int{1, 2}, Strays: []int{0, 1, 2}},
		},
		{
			name:  "nearness: beyond reach",
			marks: []Mark{{"", xy(0, 10.001)}},
			want:  Outcome{Missed: []int{0, 1, 2}, Strays: []int{0}},
		},
		{
			name:   "track: between its points, at its end, not across a gap",
			tracks: []Track{{{xy(-50, 3), xy(8, 3)}}, {{xy(25, 0), xy(25, 9)}, {xy(100, 0), xy(48, -6), xy(48, -60)}}},
			want: Outcome{Visits: []Visit{
				visit(0, -1, xy(0, 3), 3, ByTrack), visit(1, -1, xy(25, 0), 5, ByTrack), visit(2, -1, xy(48, -6), 10, ByTrack),
			}},
		},
		{
			name:   "track: the gap between two segments passes a core",
			tracks: []Track{{{xy(20, -50), xy(20, -11)}, {xy(20, 11), xy(20, 50)}}},
			want:   Outcome{Missed: []int{0, 1, 2}},
		},
		{
			name:   "track: a single point, segments without points, the lower easting of two places",
			tracks: []Track{{{xy(7, 0)}, {}, {xy(-7, 0)}}, {}, nil},
			want:   Outcome{Visits: []Visit{visit(0, -1, xy(-7, 0), 7, ByTrack)}, Missed: []int{1, 2}},
		},
		{
			name:   "track: a waypoint within reach comes first; outside",
			marks:  []Mark{{"", xy(9, 0)}},
			tracks: []Track{{{xy(0, 1), xy(33, 1)}}},
			want: Outcome{Visits: []Visit{
				visit(0, 0, xy(9, 0), 9, ByNearness), visit(1, -1, xy(20, 1), 1, ByTrack),
				visit(2, -1, xy(33, 1), math.Sqrt(50), ByTrack),
			}},
		},
	} {
		got := Match(three(), west, c.marks, c.tracks, 10)
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s:\ngot  %+v\nwant %+v", c.name, got, c.want)
		}
	}
}

func TestEdges(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	odd := []geo.XY{{nan, 0}, {0, nan}, {inf, 0}, {0, -inf}, {1e300, 0}, {nan, nan}}
	t.Run("nothing at all", func(t *testing.T) {
		if got := Match(nil, nil, nil, nil, 5); !reflect.DeepEqual(got, Outcome{}) {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("no cores", func(t *testing.T) {
		got := Match(nil, west, []Mark{{"a", xy(0, 0)}, {"", xy(1, 1)}}, []Track{{{xy(0, 0), xy(1, 1)}}}, 5)
		if !reflect.DeepEqual(got, Outcome{Strays: []int{0, 1}}) {
			t.Errorf("got %+v", got)
		}
	})
	t.Run("a name that two cores share says nothing", func(t *testing.T) {
		cores := []Core{{"A", 1, xy(0, 0)}, {"a ", 1, xy(5, 0)}, {"", 1, xy(50, 0)}}
		got := Match(cores, nil, []Mark{{"A", xy(4, 0)}, {"A", xy(900, 0)}, {"", xy(51, 0)}}, nil, 3)
		want := Outcome{
			Visits: []Visit{{Core: 1, Mark: 0, At: xy(4, 0), Off: 1, By: ByNearness}, {Core: 2, Mark: 2, At: xy(51, 0), Off: 1, By: ByNearness}},
			Missed: []int{0}, Strays: []int{1},
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("got %+v, want %+v", got, want)
		}
	})
	t.Run("cores at one place", func(t *testing.T) {
		cores := []Core{{"A", 1, xy(0, 0)}, {"B", 1, xy(0, 0)}, {"C", 1, xy(0, 0)}}
		marks := []Mark{{"y", xy(0, 1)}, {"x", xy(0, 1)}}
		got := Match(cores, nil, marks, nil, 3)
		want := Outcome{
			Visits: []Visit{{Core: 0, Mark: 1, At: xy(0, 1), Off: 1, By: ByNearness}, {Core: 1, Mark: 0, At: xy(0, 1), Off: 1, By: ByNearness}},
			Missed: []int{2},
		}
		if !reflect.DeepEqual(got, want) {
			t.Errorf("got %+v, want %+v", got, want)
		}
		// One that came back without its name stands for all of them.
		got = Match(cores, nil, []Mark{{"?", xy(0, 0.01)}}, nil, 3)
		if want := (Outcome{Unmoved: []int{0, 1, 2}, Returned: []int{0}}); !reflect.DeepEqual(got, want) {
			t.Errorf("got %+v, want %+v", got, want)
		}
	})
	t.Run("places that are none", func(t *testing.T) {
		var marks []Mark
		var cores []Core
		for i, p := range odd {
			cores = append(cores, Core{fmt.Sprint("C", i), 1, p})
			marks = append(marks, Mark{fmt.Sprint("C", i), p}, Mark{"", p})
		}
		cores = append(cores, Core{"D", 1, xy(0, 0)})
		marks = append(marks, Mark{"D", odd[0]}, Mark{"C0", xy(400, 0)})
		for _, reach := range []float64{10, inf} {
			got := Match(cores, nil, marks, []Track{{odd, {xy(-50, 8), odd[0], xy(50, 8), odd[2]}}}, reach)
			if math.IsInf(reach, 1) {
				if len(got.Visits) != 1 || len(got.Missed) != 6 || got.Visits[0].Mark != 13 || got.Visits[0].Off != 400 {
					t.Errorf("got %+v", got)
				}
			} else if len(got.Visits) != 0 || len(got.Missed) != 7 || len(got.Strays) != 14 {
				t.Errorf("got %+v", got)
			}
		}
	})
	t.Run("reach that is none", func(t *testing.T) {
		for _, reach := range []float64{nan, -10, 0, -inf} {
			got := Match(three(), nil, []Mark{{"BC0101", xy(0, 1)}, {"", xy(20, 1)}}, []Track{{{xy(39, 0), xy(41, 0)}}}, reach)
			want := Outcome{
				Visits: []Visit{
					{Core: 0, Mark: 0, At: xy(0, 1), Off: 1, By: ByName, Far: true},
					{Core: 2, Mark: -1, At: xy(40, 0), By: ByTrack},
				},
				Missed: []int{1}, Strays: []int{1},
			}
			if !reflect.DeepEqual(got, want) {
				t.Errorf("%g: got %+v, want %+v", reach, got, want)
			}
		}
	})
}
