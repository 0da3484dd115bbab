package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"corewalk/geo/gpx"
	"corewalk/sampling/kit"
)

// kitFolder is where a job's kit is put.
const kitFolder = "kit"

// kitSummary is what --json prints.
type kitSummary struct {
	Waypoints   int      `json:"waypoints"`
	Samples     int      `json:"samples"`
	Fields      int      `json:"fields"`
	LabelSheets int      `json:"label_sheets"`
	Plan        string   `json:"plan"` // first digits of the SHA-256 of its file
	Notices     []string `json:"notices"`
	Files       []string `json:"files"`

	gpxFiles int
}

func (s kitSummary) lines() []string {
	return []string{
		fmt.Sprintf("%d waypoints in %s for the handheld", s.Waypoints, counted(s.gpxFiles, "file")),
		fmt.Sprintf("%s on %s, %s, and the lab's list", counted(s.Samples, "label"), counted(s.LabelSheets, "page"), counted(s.Fields, "field sheet")),
	}
}

// counted writes a number with what is counted.
func counted(n int, what string) string {
	if n == 1 {
		return "one " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
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
	if err := p.check(); err != nil {
		return kitSummary{}, err
	}
	data, err := os.ReadFile(planPath)
	if err != nil {
		return kitSummary{}, readError(err)
	}
	packet, err := kit.ReadPacket(planPath, data)
	if err != nil {
		return kitSummary{}, err
	}
	work, err := p.paperwork()
	if err != nil {
		return kitSummary{}, err
	}
	out.inputs = append(out.inputs, planPath)
	if p.font != "" {
		out.inputs = append(out.inputs, p.font)
	}
	if err := addWaypoints(out, packet.Stops, p.Handheld); err != nil {
		return kitSummary{}, err
	}
	s := kitSummary{
		Waypoints: len(packet.Stops), gpxFiles: len(out.files), Samples: packet.Samples(), Fields: len(packet.Fields),
		LabelSheets: work.Labels.Pages(packet.Samples()), Plan: packet.Hash,
	}
	packet.CheckFonts(work)
	for _, f := range []struct {
		name  string
		write func(io.Writer, kit.Paperwork) error
	}{
		{"fieldsheet.pdf", packet.FieldSheet}, {"labels.pdf", packet.Labels}, {"labsheet.pdf", packet.LabSheet},
		{"labsheet.csv", packet.LabCSV}, {"labsheet.xlsx", packet.LabXLSX},
	} {
		if err := out.add(f.name, func(w io.Writer) error { return f.write(w, work) }); err != nil {
			return kitSummary{}, err
		}
	}
	s.Notices, s.Files = work.Fonts.Notices(), out.names()
	return s, out.commit()
}

func (a *app) kitCommand() *cobra.Command {
	var plan string
	units := unitsValue("metric")
	choices := settingFlags[kitParameters]{params: defaultKit()}
	var out outFlags
	c := &cobra.Command{
		Use:   "kit --plan plan.geojson [flags]",
		Short: "Write what a plan needs in the field: waypoints, field sheets, labels, the lab's list",
		Long: `Writes what goes into the field and to the lab, from the plan alone:

  waypoints.gpx             the cores for a handheld
  fieldsheet.pdf            a page to each field: map, table of units, checklist
  labels.pdf                a label to each bag, with a QR code of sample id and plan
  labsheet.pdf, .csv, .xlsx the list of samples that goes with the parcel

Waypoints have the sample ids, the core's number and the depth in the comment, and
there is one route to each field in walking order. Where names of the plan are too
long for the handheld, waypoints are numbered in walking order and the plan's name
stands in the comment. Files part between sampling units.

Print labels and sheets in their own size (scale 100 %). Characters that no font at
hand has come out as hollow boxes, and that is said; scripts that are written from
right to left or need their letters joined are not set as they should be.`,
		Example: `  corewalk kit --plan out/plan.geojson --names short --limit 500 --out kit
  corewalk kit --plan out/plan.geojson --units us --farm "Hill Farm" --labels 3x10 --label-margins 0.5in,0.2in,0.5in,0.2in --label-gap 0.12in,0in --start-at 7 --tests "pH, buffer pH, P, K" --out kit`,
		Args: exactly(0, ""),
		RunE: func(*cobra.Command, []string) error {
			if plan == "" {
				return usageError{errors.New("--plan is needed")}
			}
			choices.params.us = units == "us"
			if err := choices.params.check(); err != nil {
				return usageError{err}
			}
			s, err := kitStep(plan, choices.params, out.outputs())
			if err != nil {
				return err
			}
			return a.report(s, s.lines(), s.Notices, s.Files)
		},
	}
	c.Flags().StringVar(&plan, "plan", "", "`FILE` plan.geojson")
	choices.add(c, kitSettings())
	c.Flags().Var(&units, "units", "units on the sheets")
	out.add(c)
	return c
}
