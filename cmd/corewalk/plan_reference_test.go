//go:build reference

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

// python is Debian's, which has shapely and pyproj.
const python = "/usr/bin/python3"

// roughRing is a star-shaped ring of n corners, r metres wide at most, about a
// place x, y metres east and north of the test's corner.
func roughRing(r *rand.Rand, x, y, radius float64, n int) orb.Ring {
	const lon, lat = 7.6, 51.9
	var out orb.Ring
	turn := r.Float64()
	for i := range n {
		a := 2 * math.Pi * (float64(i) + turn) / float64(n)
		q := radius * (0.55 + 0.45*r.Float64())
		out = append(out, orb.Point{
			lon + (x+q*math.Cos(a))/(111320*math.Cos(lat*math.Pi/180)),
			lat + (y+q*math.Sin(a))/111250,
		})
	}
	return append(out, out[0])
}

// roughFarm writes a field with a hole and two parts, one of a single part, and
// exclusions of every kind.
func roughFarm(t *testing.T, dir string, seed uint64) (boundary, exclude string) {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 77))
	named := func(name string, s crs.LonLatShape) vector.OutFeature {
		return vector.OutFeature{Shape: s, Properties: []vector.Property{{Name: "name", Value: name}}}
	}
	hole := roughRing(r, 20, -30, 45, 5+r.IntN(6))
	hole2 := roughRing(r, -120, 60, 25, 6)
	fields := []vector.OutFeature{
		named("Two parts", crs.LonLatShape{
			{roughRing(r, 0, 0, 420, 7+r.IntN(30)), hole, hole2},
			{roughRing(r, 700, 100, 180, 5+r.IntN(12))},
		}),
		named("Single", crs.LonLatShape{{roughRing(r, 300, 900, 330, 4+r.IntN(20))}}),
	}
	ditch := roughRing(r, 100, 200, 260, 6)
	well := crs.LonLat(roughRing(r, 0, 0, 150, 3)[0])
	exclusions := []vector.OutFeature{
		named("pond", crs.LonLatShape{{roughRing(r, -60, -120, 70, 9)}}),
		named("edge", crs.LonLatShape{{roughRing(r, 330, 850, 120, 8)}}),
		named("inside out", crs.LonLatShape{{roughRing(r, 150, 60, 60, 12), roughRing(r, 150, 60, 20, 5)}}),
		{Line: crs.LonLatLine(ditch[:5]), Properties: []vector.Property{{Name: "name", Value: "ditch"}}},
		{Point: &well, Properties: []vector.Property{{Name: "name", Value: "well"}}},
	}
	boundary = filepath.Join(dir, fmt.Sprintf("fields%d.geojson", seed))
	exclude = filepath.Join(dir, fmt.Sprintf("exclude%d.geojson", seed))
	for path, list := range map[string][]vector.OutFeature{boundary: fields, exclude: exclusions} {
		var b bytes.Buffer
		if err := vector.WriteGeoJSON(&b, vector.Collection{Features: list}); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return boundary, exclude
}

// TestReferenceCoresByGEOS plans 200 rough farms with the designs in turn and has
// every core judged by GEOS.
func TestReferenceCoresByGEOS(t *testing.T) {
	dir := t.TempDir()
	var cases bytes.Buffer
	for seed := range uint64(200) {
		boundary, exclude := roughFarm(t, dir, seed)
		// Both designs for one farm in five.
		for i, design := range []string{"grid", "strata"} {
			if seed%5 > 0 && int(seed/5)%2 != i {
				continue
			}
			out := filepath.Join(dir, fmt.Sprintf("%s%d", design, seed))
			setback, spacing := 4+float64(seed%5)*2, 3+float64(seed%4)*3
			var stderr bytes.Buffer
			// Every way to lay cells and cores has its turn.
			ways := [][]string{{}, {"--even"}, {"--at", "strata"}, {"--bearing", fmt.Sprint(seed)}, {"--origin", "random", "--merge", "40%"}}
			if design == "grid" {
				ways = append(ways, []string{"--at", "point", "--radius", "20m"}, []string{"--unaligned", "--radius", "25m", "--even"})
			}
			status := run(append([]string{
				"plan", "--boundary", boundary, "--exclude", exclude + "@7.5m", "--design", design, "--cell", "1.5ha", "--samples", "14",
				"--cores", "10", "--setback", fmt.Sprintf("%gm", setback), "--spacing", fmt.Sprintf("%gm", spacing),
				"--depth", "0-20cm", "--seed", fmt.Sprint(seed), "--out", out,
			}, ways[seed%uint64(len(ways))]...), strings.NewReader(""), io.Discard, &stderr)
			if status != 0 {
				t.Fatalf("%s, seed %d: %s", design, seed, stderr.String())
			}
			line, err := json.Marshal(map[string]any{
				"plan": filepath.Join(out, planFile), "boundary": boundary, "exclude": exclude, "setback": setback,
				"exclude_setback": 7.5, "spacing": spacing, "cores": 10,
			})
			if err != nil {
				t.Fatal(err)
			}
			cases.Write(append(line, '\n'))
		}
	}
	judge := exec.Command(python, "testdata/judge_cores.py")
	judge.Stdin = &cases
	verdict, err := judge.CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, verdict)
	}
	if strings.Contains(string(verdict), "FAULT") || !strings.Contains(string(verdict), "judged 240 plans") {
		if len(verdict) > 3000 {
			verdict = append(verdict[:3000], "..."...)
		}
		t.Errorf("%s", verdict)
	}
	t.Logf("%s", bytes.TrimSpace(verdict[max(0, len(verdict)-60):]))
}
