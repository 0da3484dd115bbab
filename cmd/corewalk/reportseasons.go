package main

import (
	"fmt"
	"slices"
	"strings"

	"corewalk/cmd/corewalk/report"
	"corewalk/sampling/season"
)

// pageSeasons compares the run whose files lie in dir with the seasons of a record.
// One of the record that this run is itself, by name, gives way to it.
func pageSeasons(p *seasonJob, dir string) (*report.Seasons, error) {
	seasons, observations, err := loadSeasons(p.record)
	if err != nil {
		return nil, err
	}
	bundle, err := season.ReadFigures(dir)
	if err != nil {
		return nil, readError(err)
	}
	own, err := bundle.Observations(p.Season)
	if err != nil {
		return nil, err
	}
	seasons = slices.DeleteFunc(seasons, func(s season.Season) bool { return s.Name == p.Name })
	observations = slices.DeleteFunc(observations, func(o season.Observation) bool { return o.Season == p.Name })
	if n := len(seasons); n > 0 && p.Date != "" && seasons[n-1].Date > p.Date {
		return nil, fmt.Errorf("%s has the season %s of %s, which is later than %s of this one", p.record, seasons[n-1].Name, seasons[n-1].Date, p.Date)
	}
	if len(seasons) == 0 {
		return nil, nil
	}
	s, err := trendOf(append(seasons, p.Season), append(observations, own...), trendParameters{})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", p.record, err)
	}
	out := &report.Seasons{Names: s.Seasons, Apart: s.Apart, Notes: s.Notes}
	for _, list := range [][]trendSeries{s.Fields, s.Units} {
		for i := range list {
			out.Changes = append(out.Changes, list[i].page(s.Seasons))
		}
	}
	return out, nil
}

// page is a series as the page shows it.
func (x *trendSeries) page(seasons []string) report.Change {
	out := report.Change{Field: x.Field, Sample: x.Sample, Part: x.Part, Analyte: x.label, Unit: x.Measure, Values: make([]string, len(seasons)), Notes: x.Notes}
	for _, p := range x.Points {
		out.Values[slices.Index(seasons, p.Season)] = significantFigure(p.Value)
	}
	out.Since = "nothing to compare with"
	if c := x.Since; c != nil {
		out.Since, out.Told = minus(c.Words), c.Told
		if c.From != seasons[len(seasons)-2] {
			out.Since = "since " + c.From + ": " + out.Since
		}
		if c.Expected != nil {
			out.Expected = minus(significantText(*c.Expected))
		}
	}
	if x.Slope != nil {
		out.Yearly = minus(x.Slope.Words)
	}
	return out
}

// minus puts the sign for less in the place of hyphens before figures.
func minus(s string) string {
	for _, before := range []string{"(", " to ", " "} {
		s = strings.ReplaceAll(s, before+"-", before+"−")
	}
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		return "−" + rest
	}
	return s
}
