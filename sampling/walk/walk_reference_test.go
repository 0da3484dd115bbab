//go:build reference

package walk

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"testing"

	"corewalk/geo/plane"
)

// Ways cross no ground of an obstacle by shapely's word, and are as long as the
// shortest over a graph of vertices that shapely makes.
func TestReferenceWaysAgainstShapely(t *testing.T) {
	type testCase struct {
		Obstacles []plane.Shape `json:"obstacles"`
		Way       plane.Line    `json:"way"`
		clear     bool
	}
	r := random(40)
	var cases []testCase
	var in bytes.Buffer
	for n := range 300 {
		c := testCase{Obstacles: scene(r, 1+r.IntN(6))}
		a, b := xy(1200*r.Float64()-100, 1200*r.Float64()-100), xy(1200*r.Float64()-100, 1200*r.Float64()-100)
		sides := newSecondOpinion(c.Obstacles).sides
		switch s := sides[r.IntN(len(sides))]; n % 4 {
		case 0: // from a vertex
			a = s[0]
		case 1: // from a side
			f := r.Float64()
			a = plane.XY{s[0][0] + f*(s[1][0]-s[0][0]), s[0][1] + f*(s[1][1]-s[0][1])}
		}
		c.Way, c.clear = NewGround(c.Obstacles).Way(a, b)
		cases = append(cases, c)
		if err := json.NewEncoder(&in).Encode(c); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command("/usr/bin/python3", "testdata/ways.py")
	cmd.Stdin, cmd.Stderr = &in, os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	d := json.NewDecoder(bytes.NewReader(out))
	bent, none := 0, 0
	for n, c := range cases {
		var answer struct{ Shortest, Inside float64 }
		if err := d.Decode(&answer); err != nil {
			t.Fatalf("answer %d: %v", n, err)
		}
		if c.clear != (answer.Shortest >= 0) {
			t.Errorf("case %d: way %v clear %v, shapely's shortest %v", n, c.Way, c.clear, answer.Shortest)
			continue
		}
		if !c.clear {
			none++
			continue
		}
		if len(c.Way) > 2 {
			bent++
		}
		if got := length(c.Way); answer.Inside > 0 || math.Abs(got-answer.Shortest) > 1e-5 {
			t.Errorf("case %d: way %v of %v m, %v m inside; shapely's shortest %v m", n, c.Way, got, answer.Inside, answer.Shortest)
		}
	}
	t.Logf("%d ways with bends, %d pairs without a way", bent, none)
	if bent < 50 || none < 20 {
		t.Errorf("only %d ways with bends and %d pairs without a way", bent, none)
	}
}
