package main

import (
	"path/filepath"

	"github.com/spf13/cobra"
)

// runSummary is what --json prints for a run.
type runSummary struct {
	Plan    *planSummary    `json:"plan,omitempty"`
	Kit     *kitSummary     `json:"kit,omitempty"`
	Join    *joinSummary    `json:"join,omitempty"`
	Surface *surfaceSummary `json:"surface,omitempty"`
	Zone    *zoneSummary    `json:"zone,omitempty"`
	Rate    *rateSummary    `json:"rate,omitempty"`
	Report  string          `json:"report"`
	Files   []string        `json:"files"`

	lines, notices []string
}

// runJob does every step that the job has inputs for. Each step reads the files
// of the one before, as the commands do, and puts its own down before the next
// one begins.
func runJob(j *job, force bool) (runSummary, error) {
	var s runSummary
	var noRates error
	m := measure{j.units == "us"}
	letGo := func() {}
	if j.one == nil {
		var err error
		if letGo, err = keepFolder(j.out); err != nil {
			return s, cannotKeep(j.out, err)
		}
		defer letGo()
	}
	next := func() *outputs { return &outputs{dir: j.out, force: force, keeper: letGo, private: j.one != nil} }
	at := func(name string) string { return filepath.Join(j.out, name) }
	took := func(lines, notices, files []string) {
		s.lines = append(s.lines, lines...)
		s.notices = append(s.notices, notices...)
		s.Files = append(s.Files, files...)
	}
	if j.plan != nil {
		var p planSummary
		var err error
		if j.one != nil {
			p, err = j.one.planStep(*j.plan, next())
		} else {
			p, err = planStep(*j.files, *j.plan, next())
		}
		if err != nil {
			return s, err
		}
		s.Plan = &p
		took(p.lines(m), p.Notices, p.Files)
	}
	if j.again != nil {
		p, params, err := againStep(j.again.againFlags, j.again.choices, next())
		if err != nil {
			return s, err
		}
		s.Plan, j.plan = &p, &params
		took(p.lines(m), p.Notices, p.Files)
	}
	if j.kit != nil {
		k, err := kitStep(at(planFile), *j.kit, &outputs{dir: at(kitFolder), force: force, keeper: letGo, private: j.one != nil})
		if err != nil {
			return s, err
		}
		s.Kit = &k
		took(k.lines(), k.Notices, k.Files)
	}
	if j.results != nil {
		var r joinSummary
		var err error
		if j.results.points != "" {
			r, err = pointsStep(j.files, j.farm, *j.results, next())
		} else {
			r, err = joinStep(at(planFile), *j.results, next())
		}
		if err != nil {
			return s, err
		}
		s.Join = &r
		took(r.lines, r.Notices, r.Files)

		if j.surface == nil && (j.zone != nil || j.rate != nil && (j.rate.By == bySurface || j.results.points != "")) {
			j.surface = defaultSurface()
		}
		if j.surface != nil {
			j.surface.US = m.us
			f, err := surfaceStep(at(resultsFile), *j.surface, next())
			if err != nil {
				return s, err
			}
			s.Surface = &f
			took(f.lines(), f.Notices, f.Files)
		}
		if j.zone != nil {
			j.zone.keep, j.zone.us = true, m.us
			z, err := zoneStep(at(resultsFile), at(surfacesFile), *j.zone, next())
			if err != nil {
				return s, err
			}
			s.Zone = &z
			took(z.text(m), z.Notices, z.Files)
		}
		if j.rate != nil {
			j.rate.keep = true
			surfaces, zones := "", ""
			if j.surface != nil {
				surfaces = at(surfacesFile)
			}
			if j.zone != nil && len(j.zone.classes) > 0 {
				zones = at(zonesFile)
			}
			r, err := rateStep(at(resultsFile), surfaces, zones, *j.rate, next())
			if err != nil {
				// The page of what is known is written all the same.
				noRates = err
				took(nil, []string{"there are no rates: " + oneLine(err)}, nil)
			} else {
				s.Rate = &r
				took(r.lines(m), r.Notices, r.Files)
			}
		}
	}
	if j.noPage {
		return s, noRates
	}
	out := next()
	if err := reportStep(j, &s, out); err != nil {
		return s, err
	}
	s.Report = at(reportFile)
	s.Files = append(s.Files, out.names()...)
	return s, noRates
}

func (a *app) runCommand() *cobra.Command {
	var force bool
	c := &cobra.Command{
		Use:   "run JOB.yaml",
		Short: "Do every step that a job file has inputs for",
		Long: `Does every step that the job file has inputs for: planning only when there are
no results yet, everything when there are. Paths in the job are relative to it.

  farm: Hill Farm
  units: us                      # or metric
  boundary:   {file: fields.shp, name: NAME}
  exclude:    [{file: wet.geojson, setback: 15m}]
  management: {file: crops.geojson, name: crop}
  problems:   {file: sick.geojson, name: id}
  plan:    {design: grid, cell: 2.5ac, cores: 12, spacing: 5m, setback: 10m, depth: 0-8in, seed: 7}
  kit:     {limit: 500, labels: 3x10}    # for the handheld and on paper, in the folder kit
  results: {file: lab.csv}
  surface: {analytes: [pH, P, K], pixel: 5m, power: 2, near: 12}
  zone:    {patch: ["pH < 6.0", "P < 15"], smallest: 0.25ac}
  rate:
    use: [iowa-2002-lime, tri-state-2020-p]
    crop: ["corn, 180 bu/ac, pH 6.5", "terrace: alfalfa, 6 ton/ac, pH 6.9"]
    product: ["quarry lime: CCE 92, mesh 4/8/60 100/90/55, moisture 2, rule iowa, 24 USD/ton", "TSP: 0-46-0, 620 USD/ton"]
  season: {record: farm.gpkg, name: 2026 spring, date: 2026-04-17}   # compared with the seasons of a record
  out: season

Everything that 'corewalk plan' has a flag for is a key of plan. To come back to
an earlier plan, with the same spots or fresh ones in its units:

  plan: {again: season2026/plan.geojson, spots: fresh, seed: 8}

Results that bring their own coordinates need no plan:

  results: {points: soil.csv, x: EAST, y: NORTH, crs: "EPSG:32630"}`,
		Example: "  corewalk run job.yaml",
		Args:    exactly(1, "one job file"),
		RunE: func(_ *cobra.Command, args []string) error {
			j, err := readJob(args[0])
			if err != nil {
				return err
			}
			s, err := runJob(j, force)
			if err != nil {
				return err
			}
			return a.report(s, s.lines, s.notices, s.Files)
		},
	}
	c.Flags().BoolVar(&force, "force", false, "overwrite files that are there already (never an input)")
	return c
}
