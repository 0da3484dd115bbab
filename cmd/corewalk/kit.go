package main

import (
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"corewalk/geo/gpx"
	"corewalk/geo/vector"
	"corewalk/sampling"
	"corewalk/sampling/kit"
)

// kitParameters say what the handheld takes.
type kitParameters struct {
	kit.Handheld
}

// kitSettings lists the choices of the field kit in the order of the help.
func kitSettings() []setting[kitParameters] {
	type P = kitParameters
	return []setting[P]{
		{"names", "names", "names of waypoints: short (those of the plan) or long (sample id and core)", "short", single, to(parseWaypointNames, func(p *P) *bool { return &p.Long })},
		{"name-limit", "number", "most characters of a name", "10", single, to(parseCount, func(p *P) *int { return &p.NameLimit })},
		{"limit", "number", "most waypoints of a file; more go into waypoints-2.gpx and so on", "any", single, to(parseCount, func(p *P) *int { return &p.Limit })},
	}
}

func parseWaypointNames(s string) (long bool, err error) {
	switch s {
	case "short", "long":
		return s == "long", nil
	}
	return false, fmt.Errorf("names as %q are not known; take short or long", s)
}

func defaultKit() kitParameters { return kitParameters{kit.Handheld{NameLimit: 10}} }

// kitFolder is where a job's kit is put.
const kitFolder = "kit"

// kitSummary is what --json prints.
type kitSummary struct {
	Waypoints int      `json:"waypoints"`
	Files     []string `json:"files"`
}

func (s kitSummary) lines() []string {
	files := fmt.Sprintf("%d files", len(s.Files))
	if len(s.Files) == 1 {
		files = "one file"
	}
	return []string{fmt.Sprintf("%d waypoints in %s for the handheld", s.Waypoints, files)}
}

// addWaypoints adds the files for the handheld.
func addWaypoints(out *outputs, stops []kit.Stop, h kit.Handheld) error {
	documents, err := kit.Waypoints(stops, h, "corewalk "+version)
	if err != nil {
		return err
	}
	for i, d := range documents {
		name := "waypoints.gpx"
		if len(documents) > 1 {
			name = fmt.Sprintf("waypoints-%d.gpx", i+1)
		}
		if err := out.add(name, func(w io.Writer) error { return gpx.Write(w, d) }); err != nil {
			return err
		}
	}
	return nil
}

// kitStep writes the field kit of a plan.
func kitStep(planPath string, p kitParameters, out *outputs) (kitSummary, error) {
	layer, err := vector.Read(planPath, vector.Options{})
	if err != nil {
		return kitSummary{}, readError(err)
	}
	units, err := sampling.ReadUnits(layer)
	if err != nil {
		return kitSummary{}, err
	}
	stops := kit.PlannedStops(units)
	out.inputs = append(out.inputs, planPath)
	if err := addWaypoints(out, stops, p.Handheld); err != nil {
		return kitSummary{}, err
	}
	return kitSummary{Waypoints: len(stops), Files: out.names()}, out.commit()
}

func (a *app) kitCommand() *cobra.Command {
	var plan string
	choices := settingFlags[kitParameters]{params: defaultKit()}
	var out outFlags
	c := &cobra.Command{
		Use:   "kit --plan plan.geojson [flags]",
		Short: "Write the waypoints of a plan as a handheld takes them",
		Long: `Writes the cores of a plan as GPX waypoints, with the sample ids, the core's number
and the depth in the comment, and one route to each field in walking order. Where
names of the plan are too long for the handheld, waypoints are numbered in walking
order and the plan's name stands in the comment. Files part between sampling units.`,
		Example: "  corewalk kit --plan out/plan.geojson --names short --limit 500 --out handheld",
		Args:    exactly(0, ""),
		RunE: func(*cobra.Command, []string) error {
			if plan == "" {
				return usageError{errors.New("--plan is needed")}
			}
			s, err := kitStep(plan, choices.params, out.outputs())
			if err != nil {
				return err
			}
			return a.report(s, s.lines(), nil, s.Files)
		},
	}
	c.Flags().StringVar(&plan, "plan", "", "`FILE` plan.geojson")
	choices.add(c, kitSettings())
	out.add(c)
	return c
}
