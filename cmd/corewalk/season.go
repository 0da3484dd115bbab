package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"corewalk/sampling/season"
)

// seasonRecord is a season as --json shows it.
type seasonRecord struct {
	Name       string   `json:"name"`
	Date       string   `json:"date,omitempty"`
	Lab        string   `json:"lab,omitempty"`
	Program    string   `json:"program,omitempty"`
	Hash       string   `json:"hash"`
	Fields     []string `json:"fields"`
	Units      int      `json:"units"`
	Cores      int      `json:"cores"`
	Composites int      `json:"composites"`
	Results    int      `json:"results"`
	Rates      int      `json:"rates"`
	Analytes   []string `json:"analytes"`
}

func recordOf(x season.Summary) seasonRecord {
	s := x.Season
	return seasonRecord{s.Name, s.Date, s.Lab, s.Program, s.Hash, slices.Concat([]string{}, x.Fields), x.Units, x.Cores, x.Composites, x.Results, x.Rates, slices.Concat([]string{}, x.Analytes)}
}

func (r seasonRecord) line() string {
	out := r.Name
	if r.Date != "" {
		out += ", " + r.Date
	}
	if r.Lab != "" {
		out += ", lab " + r.Lab
	}
	return out + fmt.Sprintf(": %s, %s, %d results", counted(len(r.Fields), "field"), counted(r.Composites, "composite"), r.Results)
}

// openRecord opens a record to read it.
func openRecord(path string) (*season.Record, error) {
	r, err := season.Open(context.Background(), path)
	return r, readError(err)
}

// lockedRecord opens or makes a record that nobody else writes meanwhile.
func lockedRecord(path string) (r *season.Record, release func(), err error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return nil, nil, cannotWrite(path, err)
	}
	letGo, err := holdLock(path)
	if err != nil {
		return nil, nil, err
	}
	r, err = season.Open(context.Background(), path)
	if errors.Is(err, fs.ErrNotExist) {
		r, err = season.Create(context.Background(), path)
	}
	if err != nil {
		letGo()
		return nil, nil, readError(err)
	}
	return r, func() { r.Close(); letGo() }, nil
}

func (a *app) seasonCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "season",
		Short: "Keep seasons in one record, and compare them",
		Long: `A record is one GeoPackage file, which any GIS opens: of every season the fields,
units, cores as walked, composites, results with method and unit, and the rates that
were advised.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return usageError{errors.New("season needs to be told what to do: add, list, show, trend, export or import")}
		},
	}
	c.AddCommand(a.seasonAdd(), a.seasonList(), a.seasonShow(), a.trendCommand(loadSeasons), a.seasonExport(), a.seasonImport())
	return c
}

func loadSeasons(path string) ([]season.Season, []season.Observation, error) {
	r, err := openRecord(path)
	if err != nil {
		return nil, nil, err
	}
	defer r.Close()
	return r.Observations(context.Background())
}

var dateText = regexp.MustCompile(`^\d{4}-\d{2}-\d{2}$`)

func checkDate(s string) error {
	if s == "" {
		return nil
	}
	if _, err := time.Parse("2006-01-02", s); err != nil || !dateText.MatchString(s) {
		return fmt.Errorf("date %q is none; write it as 2026-04-17", s)
	}
	return nil
}

// addSummary is what --json prints for season add.
type addSummary struct {
	Record string       `json:"record"`
	Added  bool         `json:"added"`
	Season seasonRecord `json:"season"`
}

func addSeason(path, folder string, s season.Season, replace bool) (addSummary, error) {
	b, program, err := season.ReadFolder(folder)
	if err != nil {
		return addSummary{}, readError(err)
	}
	s.Program = program
	r, release, err := lockedRecord(path)
	if err != nil {
		return addSummary{}, err
	}
	defer release()
	added, err := r.Add(context.Background(), s, b, replace)
	if err != nil {
		return addSummary{}, err
	}
	return addSummary{path, added, recordOf(b.Summary(s))}, nil
}

func (a *app) seasonAdd() *cobra.Command {
	var s season.Season
	var replace bool
	c := &cobra.Command{
		Use:   "add RECORD.gpkg FOLDER --season NAME",
		Short: "Add the files of a run to a record, which is made if it is not there",
		Long: `Adds what lies in the folder of a run: plan.geojson, walked.geojson, results.geojson,
join.json and rates.geojson. It is one transaction: the record has the whole season
or nothing of it, whatever happens. A season that is there already stays as it is; one
of the same name with other content is refused, or replaced with --replace.`,
		Example: "  corewalk season add farm.gpkg season --season \"2026 spring\" --date 2026-04-17 --lab \"Brook Lab\"",
		Args:    exactly(2, "a record and the folder of a run"),
		RunE: func(_ *cobra.Command, args []string) error {
			s.Name = strings.Join(strings.Fields(s.Name), " ")
			if s.Name == "" {
				return usageError{errors.New("--season is needed")}
			}
			if err := checkDate(s.Date); err != nil {
				return usageError{err}
			}
			x, err := addSeason(args[0], args[1], s, replace)
			if err != nil {
				return err
			}
			said := "added " + x.Season.line()
			if !x.Added {
				said = "it is there already: " + x.Season.line()
			}
			return a.report(x, []string{said}, nil, nil)
		},
	}
	c.Flags().StringVar(&s.Name, "season", "", "`NAME` of the season, as \"2026 spring\"")
	c.Flags().StringVar(&s.Date, "date", "", "`DATE` of the sampling, as 2026-04-17; changes by the year need it")
	c.Flags().StringVar(&s.Lab, "lab", "", "`NAME` of the lab")
	c.Flags().BoolVar(&replace, "replace", false, "put it in the place of the season of that name")
	return c
}

// seasonsOf lists what a record holds.
func seasonsOf(path string) ([]seasonRecord, error) {
	r, err := openRecord(path)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	seasons, err := r.Seasons(context.Background())
	if err != nil {
		return nil, err
	}
	out := []seasonRecord{}
	for _, s := range seasons {
		b, err := r.Bundle(context.Background(), s.Name)
		if err != nil {
			return nil, err
		}
		out = append(out, recordOf(b.Summary(s)))
	}
	return out, nil
}

func (a *app) seasonList() *cobra.Command {
	return &cobra.Command{
		Use:     "list RECORD.gpkg",
		Short:   "List the seasons of a record",
		Example: "  corewalk season list farm.gpkg",
		Args:    exactly(1, "one record"),
		RunE: func(_ *cobra.Command, args []string) error {
			all, err := seasonsOf(args[0])
			if err != nil {
				return err
			}
			var lines []string
			for _, s := range all {
				lines = append(lines, s.line())
			}
			if len(all) == 0 {
				lines = []string{"no season yet"}
			}
			return a.report(all, lines, nil, nil)
		},
	}
}

func (a *app) seasonShow() *cobra.Command {
	return &cobra.Command{
		Use:     "show RECORD.gpkg SEASON",
		Short:   "Say what a season holds",
		Example: "  corewalk season show farm.gpkg \"2026 spring\"",
		Args:    exactly(2, "a record and the name of a season"),
		RunE: func(_ *cobra.Command, args []string) error {
			all, err := seasonsOf(args[0])
			if err != nil {
				return err
			}
			var names []string
			for _, s := range all {
				if s.Name == args[1] {
					lines := []string{s.line(), "  fields: " + strings.Join(s.Fields, ", "),
						fmt.Sprintf("  %s, %s, %s", counted(s.Units, "sample"), counted(s.Cores, "core"), counted(s.Rates, "rate"))}
					for _, x := range s.Analytes {
						lines = append(lines, "  "+x)
					}
					return a.report(s, lines, nil, nil)
				}
				names = append(names, s.Name)
			}
			return fmt.Errorf("%s has no season %q; it has: %s", args[0], args[1], strings.Join(names, ", "))
		},
	}
}

// filesSummary is what --json prints of files.
type filesSummary struct {
	Files []string `json:"files"`
}

func (a *app) seasonExport() *cobra.Command {
	var out outFlags
	c := &cobra.Command{
		Use:   "export RECORD.gpkg --out FOLDER",
		Short: "Write all of a record as plain CSV and GeoJSON",
		Long: `Writes all of a record as tables (CSV) and layers (GeoJSON), every number to its
last digit, so that nobody is locked in. season import makes the same record of them.`,
		Example: "  corewalk season export farm.gpkg --out farm-record",
		Args:    exactly(1, "one record"),
		RunE: func(_ *cobra.Command, args []string) error {
			r, err := openRecord(args[0])
			if err != nil {
				return err
			}
			defer r.Close()
			files, err := r.Export(context.Background())
			if err != nil {
				return err
			}
			o := out.outputs(args[0])
			defer o.discard()
			for _, f := range files {
				staged, err := o.stage(f.Name, f.Write)
				if err != nil {
					return err
				}
				o.take(staged)
			}
			s := filesSummary{o.names()}
			if err := o.commit(); err != nil {
				return err
			}
			return a.report(s, nil, nil, s.Files)
		},
	}
	out.add(c)
	return c
}

func (a *app) seasonImport() *cobra.Command {
	return &cobra.Command{
		Use:     "import FOLDER RECORD.gpkg",
		Short:   "Make a record of what season export has written",
		Example: "  corewalk season import farm-record farm.gpkg",
		Args:    exactly(2, "a folder and the record to be made"),
		RunE: func(_ *cobra.Command, args []string) error {
			release, err := holdLock(args[1])
			if err != nil {
				return err
			}
			defer release()
			if err := season.Import(context.Background(), args[0], args[1]); err != nil {
				return readError(err)
			}
			return a.report(filesSummary{[]string{args[1]}}, nil, nil, []string{args[1]})
		},
	}
}
