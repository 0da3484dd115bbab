package main

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo/vector"
	"corewalk/sampling"
)

// againFlags are those of a plan that comes back to an earlier one.
type againFlags struct {
	plan  string
	spots spotsValue
}

type spotsValue string

func (v *spotsValue) String() string { return string(*v) }
func (v *spotsValue) Type() string   { return "same|fresh" }
func (v *spotsValue) Set(s string) error {
	if s != "same" && s != "fresh" {
		return fmt.Errorf("spots %q are not known; take same or fresh", s)
	}
	*v = spotsValue(s)
	return nil
}

func (f *againFlags) add(c *cobra.Command) {
	f.spots = "same"
	c.Flags().StringVar(&f.plan, "again", "", "plan.geojson of an earlier `PLAN`, whose units and sample ids are kept")
	c.Flags().Var(&f.spots, "spots", "with --again: the same spots, or fresh ones at random in the same units")
}

// settled refuses choices that an earlier plan has made.
func (f *againFlags) settled(given []string) error {
	free := []string{"seed", "start", "pace", "core-time"}
	if f.spots == "fresh" {
		free = append(free, "cores", "spacing")
	}
	for _, key := range given {
		if !slices.Contains(free, key) {
			return fmt.Errorf("%s is settled by the earlier plan; with again and %s spots there are only %s", key, f.spots, strings.Join(free, ", "))
		}
	}
	return nil
}

// only refuses flags that do not go with an earlier plan.
func (f *againFlags) only(c *cobra.Command, given []string) error {
	if err := f.settled(given); err != nil {
		return usageError{err}
	}
	for _, key := range []string{"boundary", "exclude", "management", "problems", "beds", "setback", "advise", "budget"} {
		if c.Flags().Changed(key) {
			return usageError{fmt.Errorf("--%s goes with a new plan; --again keeps the fields and units of the earlier one", key)}
		}
	}
	return nil
}

// parent tells which plan another one came from.
type parent struct {
	File   string  `json:"file"`
	SHA256 string  `json:"sha256"`
	Seed   *uint64 `json:"seed,omitempty"`
	Spots  string  `json:"spots"`
}

// againStep plans the units of an earlier plan anew. It also returns the
// parameters that this was done by.
func againStep(f againFlags, choices settingFlags[sampling.Params], out *outputs) (planSummary, sampling.Params, error) {
	layer, err := vector.Read(f.plan, vector.Options{})
	if err != nil {
		return planSummary{}, sampling.Params{}, readError(err)
	}
	var old struct {
		Seed       *uint64        `json:"seed"`
		Parameters planParameters `json:"parameters"`
	}
	raw, ok := layer.Foreign["corewalk"]
	if !ok {
		return planSummary{}, sampling.Params{}, fmt.Errorf("%s has no member corewalk with its parameters; is it a plan of corewalk?", f.plan)
	}
	if err := json.Unmarshal(raw, &old); err != nil {
		return planSummary{}, sampling.Params{}, fmt.Errorf("%s: its member corewalk cannot be read: %w", f.plan, err)
	}
	p, err := old.Parameters.params()
	if err != nil {
		return planSummary{}, sampling.Params{}, fmt.Errorf("%s: its parameters: %w", f.plan, err)
	}
	if old.Seed != nil {
		p.Seed = *old.Seed
	}
	set := choices.params
	for key, take := range map[string]func(){
		"seed": func() { p.Seed = set.Seed }, "start": func() { p.Starts = set.Starts },
		"pace": func() { p.Pace.Walk = set.Pace.Walk }, "core-time": func() { p.Pace.Core = set.Pace.Core },
		"cores": func() { p.Cores = set.Cores }, "spacing": func() { p.Spacing = set.Spacing },
	} {
		if slices.Contains(choices.given, key) {
			take()
		}
	}
	head, err := newHeader(nil, []string{f.plan})
	if err != nil {
		return planSummary{}, sampling.Params{}, err
	}
	plan, err := sampling.Again(layer, p, f.spots == "fresh", head.Inputs[0].SHA256)
	if err != nil {
		return planSummary{}, sampling.Params{}, err
	}
	if !out.private {
		if err := plan.StartsServe(); err != nil {
			return planSummary{}, sampling.Params{}, err
		}
	}
	parameters := parametersOf(p)
	parameters.Placement = old.Parameters.Placement
	if f.spots == "fresh" {
		parameters.Placement = placement(p)
	}
	head.Parameters = parameters
	head.Parent = &parent{File: filepath.Base(f.plan), SHA256: head.Inputs[0].SHA256, Seed: old.Seed, Spots: string(f.spots)}
	s, err := writePlan(plan, head, nil, []string{f.plan}, out)
	return s, p, err
}

// params are the parameters of a plan as far as one that comes back to it needs
// them.
func (q planParameters) params() (sampling.Params, error) {
	p := sampling.Params{
		Design: q.Design, Cell: q.CellM2, Samples: q.Samples, At: q.At, Radius: q.RadiusM, Unaligned: q.Unaligned,
		Cores: q.Cores, Composites: q.Composites, Spacing: q.SpacingM, Setback: q.SetbackM, Even: q.Even, Merge: q.Merge,
		ProblemBuffer: q.ProblemBufferM, Comparison: q.Comparison,
		Pace: sampling.Pace{Walk: q.WalkMS, Core: q.CoreS}, Starts: q.Start,
	}
	var err error
	for _, s := range []struct {
		text string
		set  func(*sampling.Params, string) error
	}{
		{q.Bearing, setBearing},
		{q.Origin, to(parseOrigin, func(p *sampling.Params) *sampling.Origin { return &p.Origin })},
		{q.Depth, to(sampling.ParseDepths, func(p *sampling.Params) *[]sampling.Depth { return &p.Depths })},
	} {
		if s.text == "" {
			continue
		}
		if err = s.set(&p, s.text); err != nil {
			return p, err
		}
	}
	return p, p.Validate()
}

// readAgain reads {again: plan.geojson, spots: fresh, seed: 8} of a job's plan.
func readAgain(e entry, dir string) (againFlags, settingFlags[sampling.Params], error) {
	f := againFlags{spots: "same"}
	var choices settingFlags[sampling.Params]
	if err := e.only(append([]string{"again", "spots"}, planKeys()...)...); err != nil {
		return f, choices, err
	}
	path, err := e.str("again")
	if err != nil {
		return f, choices, err
	}
	f.plan = beside(dir, path)
	if text, err := e.str("spots"); err != nil {
		return f, choices, err
	} else if text != "" {
		if err := f.spots.Set(text); err != nil {
			return f, choices, e.of["spots"].fail("%w", err)
		}
	}
	for _, key := range planKeys() {
		if item, ok := e.of[key]; ok && item.kind != isNone {
			choices.given = append(choices.given, key)
		}
	}
	if err := f.settled(choices.given); err != nil {
		return f, choices, e.fail("%w", err)
	}
	choices.params = defaultParams()
	return f, choices, readSettings(e, planSettings(), &choices.params)
}
