//go:build reference

package zone

import (
	"bytes"
	"encoding/json"
	"os/exec"
	"testing"

	"github.com/paulmach/orb"
)

// zonesScript reads cases (ground and zones of each division, the least width,
// and how many zones have no room for it) and writes a line for each fault that
// GEOS finds.
const zonesScript = `
import json, sys
from shapely.geometry import Polygon
from shapely.ops import unary_union
from shapely.strtree import STRtree
def polygons(m): return [Polygon(p[0], p[1:]) for p in m]
checked, wide, worst = 0, 0, 0
for case in json.load(sys.stdin):
    narrow = 0
    for d in case["divisions"]:
        ground = unary_union(polygons(d["ground"] or []))
        zones = polygons(d["zones"] or [])
        # Places far from the origin are rounded to a nanometre.
        size = max(ground.area, ground.length, 1e-9)
        dust = 1e-9 * size
        for z in zones:
            checked += 1
            if not z.is_valid or z.area <= 0: print("seed", case["seed"], "invalid", z.wkt[:200])
        tree = STRtree(zones)
        for z in zones:
            for o in tree.query(z):
                if o is not z:
                    a = z.intersection(o).area
                    if a > dust: print("seed", case["seed"], "overlap", a)
        apart = unary_union(zones).symmetric_difference(ground).area
        worst = max(worst, apart / size)
        if apart > dust: print("seed", case["seed"], "apart", apart, "of", ground.area)
        if case["width"] > 0:
            for z in zones:
                if z.buffer(-0.499 * case["width"]).is_empty: narrow += 1
                else: wide += 1
    if narrow > case["narrow"]: print("seed", case["seed"], narrow, "without room for", case["width"], "said to be", case["narrow"])
print("checked", checked > 20000, wide > 500, worst < 1e-9)
`

func TestReferenceZones(t *testing.T) {
	type division struct {
		Ground orb.MultiPolygon `json:"ground"`
		Zones  orb.MultiPolygon `json:"zones"`
	}
	type testCase struct {
		Seed      uint64     `json:"seed"`
		Width     float64    `json:"width"`
		Narrow    int        `json:"narrow"`
		Divisions []division `json:"divisions"`
	}
	var cases []testCase
	for seed := range uint64(500) {
		g, class, ground, div, opt := zoneCase(t, seed)
		r, err := Partition(g, class, ground, div, opt)
		if err != nil {
			t.Fatal(err)
		}
		c := testCase{Seed: seed, Width: opt.LeastWidth, Narrow: r.Narrow, Divisions: make([]division, len(ground))}
		for i, gr := range ground {
			c.Divisions[i].Ground = orb.MultiPolygon(gr.Shape)
		}
		for _, z := range r.Zones {
			d := &c.Divisions[z.Division]
			d.Zones = append(d.Zones, z.Shape...)
		}
		cases = append(cases, c)
	}
	in, err := json.Marshal(cases)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("/usr/bin/python3", "-W", "ignore", "-c", zonesScript)
	cmd.Stdin = bytes.NewReader(in)
	out, err := cmd.CombinedOutput()
	if err != nil || string(out) != "checked True True True\n" {
		t.Errorf("GEOS (%v):\n%s", err, out)
	}
}
