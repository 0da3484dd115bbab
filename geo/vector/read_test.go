package vector

import (
	"math"
	"path/filepath"
	"testing"

	"github.com/paulmach/orb"
)

const folder = "../../testdata/vector"

func mustRead(t *testing.T, name string) *Layer {
	t.Helper()
	l, err := Read(filepath.Join(folder, name), Options{})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// sameShapes compares as sets of rings: formats turn and start rings as they
// like.
func sameShapes(a, b orb.MultiPolygon, tolerance float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if len(a[i]) != len(b[i]) {
			return false
		}
		for k := range a[i] {
			if !sameRing(a[i][k], b[i][k], tolerance) {
				return false
			}
		}
	}
	return true
}

func sameRing(a, b orb.Ring, tolerance float64) bool {
	n := len(a) - 1
	if len(a) != len(b) || n < 1 {
		return false
	}
	for _, step := range []int{1, n - 1} {
		for start := range n {
			worst := 0.0
			for i := range n {
				p, q := a[i], b[(start+i*step)%n]
				worst = max(worst, math.Abs(p[0]-q[0]), math.Abs(p[1]-q[1]))
			}
			if worst <= tolerance {
				return true
			}
		}
	}
	return false
}

func TestReadSameFarm(t *testing.T) {
	want := mustRead(t, "fields.geojson")
	for _, name := range []string{"utm.shp", "stateplane.shp", "mercator.shp", "z25d.shp", "latin1.shp",
		"UPPER.SHP", "zipped.zip", "crs84.geojson", "epsg26915.geojson"} {
		t.Run(name, func(t *testing.T) {
			got := mustRead(t, name)
			if len(got.Features) != len(want.Features) {
				t.Fatalf("%d features, want %d", len(got.Features), len(want.Features))
			}
			for i := range want.Features {
				w, g := &want.Features[i], &got.Features[i]
				if !sameShapes(orb.MultiPolygon(w.Shape), orb.MultiPolygon(g.Shape), 1e-9) {
					t.Errorf("feature %d:\n got %v\nwant %v", i+1, g.Shape, w.Shape)
				}
				for _, c := range want.Columns {
					ws, wok := want.Text(w, c.Name)
					gs, gok := got.Text(g, c.Name)
					if ws != gs || wok != gok {
						t.Errorf("feature %d, %s: %q %v, want %q %v", i+1, c.Name, gs, gok, ws, wok)
					}
				}
			}
			if len(got.Notices) != 0 {
				t.Error(got.Notices)
			}
		})
	}
}
