//go:build reference

package main

import (
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestReferenceZonesPartition has GEOS judge zones of whole farms: valid, without
// overlap or gap, with the area of the ground, in GeoJSON and in shapefiles.
func TestReferenceZonesPartition(t *testing.T) {
	dir := t.TempDir()
	mustCall(t, "demo", filepath.Join(dir, "demo"))
	if out, err := exec.Command("go", "run", "../../testdata/speed/farm", "12", filepath.Join(dir, "farm")).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	farm := filepath.Join(dir, "farm")
	mustCall(t, "join", "--points", filepath.Join(farm, "soil.csv"), "--x", "EAST", "--y", "NORTH", "--points-crs", "EPSG:32615", "--id", "ID",
		"--boundary", filepath.Join(farm, "fields.geojson"), "--name", "name", "--exclude", filepath.Join(farm, "wet.geojson")+"@20m",
		"--management", filepath.Join(farm, "crops.geojson"), "--management-name", "name", "--setback", "12m", "--out", filepath.Join(farm, "season"))
	for _, c := range []struct {
		folder   string
		surfaces []string
		zones    []string
		within   string
	}{
		{filepath.Join(dir, "demo", "season"), nil, nil, "ground"},
		{filepath.Join(farm, "season"), nil, []string{"--insist"}, "ground"},
		{filepath.Join(farm, "season"), []string{"--extrapolate", "--pixel", "9m"}, []string{"--insist", "--smooth", "--smallest", "0.5ac", "--least-width", "25m"}, "ground"},
		{filepath.Join(farm, "season"), []string{"--method", "auto", "--split-by-exclusions"}, []string{"--smooth", "--smallest", "1ac"}, "ground"},
		{filepath.Join(farm, "season"), []string{"--pixel", "20m"}, []string{"--within", "sampleable", "--smallest", "0.2ha"}, "sampleable"},
	} {
		in := func(name string) string { return filepath.Join(c.folder, name) }
		if c.zones != nil {
			mustCall(t, append([]string{"surface", "--results", in("results.geojson"), "--out", c.folder, "--force"}, c.surfaces...)...)
			mustCall(t, append([]string{"zone", "--results", in("results.geojson"), "--surfaces", in("surfaces.json"), "--out", c.folder, "--force", "--shapefiles",
				"--classes", "pH: 5.75, 6, 6.25, 6.5", "--classes", "P: quantiles 4", "--classes", "K: 150", "--patch", "Mg > 150"}, c.zones...)...)
		}
		out := tool(t, python, "testdata/judge_zones.py", c.folder, c.within)
		if strings.Contains(out, "FAULT") || !strings.Contains(out, "judged ") || strings.Contains(out, "judged 0 ") {
			t.Errorf("%s %v %v: %s", c.folder, c.surfaces, c.zones, out)
		}
		t.Log(fmt.Sprint(c.zones), strings.TrimSpace(out))
	}
}
