//go:build reference

package main

import (
	"bytes"
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestReferenceWalkByVisibilityGraph plans rough farms with ponds and holds the
// length of each walk against a visibility graph made with GEOS.
func TestReferenceWalkByVisibilityGraph(t *testing.T) {
	dir := t.TempDir()
	var plans bytes.Buffer
	for seed := range uint64(12) {
		boundary, exclude := roughFarm(t, dir, seed)
		out := filepath.Join(dir, fmt.Sprint("walk", seed))
		mustCall(t, "plan", "--boundary", boundary, "--exclude", exclude+"@3m", "--design", []string{"grid", "strata", "units"}[seed%3], "--cell", "3ha",
			"--cores", "9", "--start", "7.601,51.902", "--seed", fmt.Sprint(seed), "--out", out)
		fmt.Fprintln(&plans, filepath.Join(out, planFile))
	}
	judge := exec.Command(python, "testdata/judge_walk.py")
	judge.Stdin = &plans
	verdict, err := judge.CombinedOutput()
	if err != nil {
		t.Fatalf("%v: %s", err, verdict)
	}
	fields, round := 0, 0
	worst := 0.0
	for line := range strings.Lines(string(verdict)) {
		cells := strings.Split(strings.TrimSpace(line), "\t")
		if len(cells) != 4 {
			t.Fatalf("judge says %q", line)
		}
		var want, got float64
		var ways int
		if _, err := fmt.Sscan(strings.Join(cells[1:], " "), &want, &got, &ways); err != nil {
			t.Fatal(err)
		}
		fields, round = fields+1, round+ways
		// The plan rounds to 0.1 m.
		off := math.Max(0, math.Abs(got-want)-0.05) / want
		worst = math.Max(worst, off)
		if off > 1e-5 {
			t.Errorf("%s: a walk of %.2f m, %.2f m by the graph", cells[0], got, want)
		}
	}
	if fields != 24 || round < 10 {
		t.Errorf("%d fields, %d legs round something", fields, round)
	}
	t.Logf("%d walks with %d legs round something, worst relative difference %.1e", fields, round, worst)
}
