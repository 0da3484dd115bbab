//go:build reference

package zone

import (
	"bytes"
	"encoding/json"
	"os/exec"
	"testing"

	"github.com/paulmach/orb"
)

// geosScript reads cases (ground and patches of each division as coordinates,
// and the rest's area) and writes a line for each fault that GEOS finds.
const geosScript = `
import json, sys
from shapely.geometry import Polygon
from shapely.ops import unary_union
def polygons(m): return [Polygon(p[0], p[1:]) for p in m]
checked = 0
for case in json.load(sys.stdin):
    whole, left = 0, 0
    for d in case["divisions"]:
        ground = unary_union(polygons(d["ground"] or []))
        patches = polygons(d["patches"] or [])
        dust = 1e-9 * ground.area + 1e-9
        for p in patches:
            checked += 1
            if not p.is_valid or p.area <= 0: print("seed", case["seed"], "invalid", p.wkt[:200])
            if not p.exterior.is_ccw or any(h.is_ccw for h in p.interiors): print("seed", case["seed"], "winding")
            if p.difference(ground).area > dust: print("seed", case["seed"], "outside", p.difference(ground).area)
        for i, p in enumerate(patches):
            for q in patches[:i]:
                if p.intersects(q) and p.intersection(q).area > dust: print("seed", case["seed"], "overlap", p.intersection(q).area)
        union = unary_union(patches)
        if abs(union.area - sum(p.area for p in patches)) > dust: print("seed", case["seed"], "union", union.area)
        whole += ground.area
        left += ground.difference(union).area
    if abs(left - case["rest"]) > 1e-9 * whole + 1e-9: print("seed", case["seed"], "rest", left, case["rest"])
print("checked", checked > 1000)
`

func TestReferenceGEOS(t *testing.T) {
	type division struct {
		Ground  orb.MultiPolygon `json:"ground"`
		Patches orb.MultiPolygon `json:"patches"`
	}
	type testCase struct {
		Seed      uint64     `json:"seed"`
		Rest      float64    `json:"rest"`
		Divisions []division `json:"divisions"`
	}
	var cases []testCase
	for seed := range uint64(rounds) {
		g, ground, divided := randomCase(t, seed)
		r, err := Patches(g, ground, divided, Limit{"pH", "<", 6}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		c := testCase{Seed: seed, Rest: r.Rest.Area, Divisions: make([]division, len(ground))}
		for i, gr := range ground {
			c.Divisions[i].Ground = orb.MultiPolygon(gr.Shape)
		}
		for _, p := range r.Patches {
			d := &c.Divisions[p.Division]
			d.Patches = append(d.Patches, p.Shape...)
		}
		cases = append(cases, c)
	}
	in, err := json.Marshal(cases)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-c", geosScript)
	cmd.Stdin = bytes.NewReader(in)
	out, err := cmd.CombinedOutput()
	if err != nil || string(out) != "checked True\n" {
		t.Errorf("GEOS (%v):\n%s", err, out)
	}
}
