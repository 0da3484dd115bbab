package main

import (
	"context"
	"errors"
	"fmt"
	"io"
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
	Plans      int      `json:"plans"`
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
	return seasonRecord{s.Name, s.Date, s.Lab, s.Program, s.Hash, x.Plans, slices.Concat([]string{}, x.Fields), x.Units, x.Cores, x.Composites, x.Results, x.Rates, slices.Concat([]string{}, x.Analytes)}
}

func (r seasonRecord) line() string {
	out := r.Name
	if r.Date != "" {
		out += ", " + r.Date
	}
	if r.Lab != "" {
		out += ", lab " + r.Lab
	}
	if r.Plans > 1 {
		out += ", " + counted(r.Plans, "plan")
	}
	return out + fmt.Sprintf(": %s, %s, %s", counted(len(r.Fields), "field"), counted(r.Composites, "composite"), counted(r.Results, "result"))
}

// openRecord opens a record to read it.
func openRecord(path string) (*season.Record, error) {
	r, err := season.Open(context.Background(), path)
	return r, readError(err)
}

// changeRecord changes a record that nobody else writes meanwhile. Where there is
// none it is made, if it may be.
func changeRecord(path string, create bool, change func(*season.Record) error) error {
	if _, err := os.Stat(path); err != nil && !create {
		return readError(err)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return cannotWrite(path, err)
	}
	release, err := holdLock(path)
	if err != nil {
		return err
	}
	defer release()
	r, err := season.Open(context.Background(), path)
	if create && errors.Is(err, fs.ErrNotExist) {
		return readError(season.Create(context.Background(), path, change))
	}
	if err != nil {
		return readError(err)
	}
	return readError(errors.Join(change(r), r.Close()))
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
			return usageError{errors.New("season needs to be told what to do: add, list, show, trend, remove, export or import")}
		},
	}
	c.AddCommand(a.seasonAdd(), a.seasonList(), a.seasonShow(), a.trendCommand(loadSeasons), a.seasonRemove(), a.seasonExport(), a.seasonImport())
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

func addSeason(path string, folders []string, s season.Season, replace bool) (addSummary, error) {
	out := addSummary{Record: path}
	err := changeRecord(path, true, func(r *season.Record) error {
		var err error
		if out.Added, err = r.Add(context.Background(), s, season.Folders(folders...), replace); err != nil {
			return err
		}
		x, err := r.Summary(context.Background(), s.Name)
		out.Season = recordOf(x)
		return err
	})
	return out, err
}

func (a *app) seasonAdd() *cobra.Command {
	var s season.Season
	var replace bool
	c := &cobra.Command{
		Use:   "add RECORD.gpkg FOLDER... --season NAME",
		Short: "Add the files of a run to a record, which is made if it is not there",
		Long: `Adds what lies in the folder of a run: plan.geojson, walked.geojson, results.geojson,
join.json and rates.geojson. Several folders, as of the fields of a farm, make one
season together. Results must be of the plan that lies beside them, and rates of those
results.

It is one transaction: the record has the whole season or nothing of it, whatever
happens. Folders that are in the season already stay as they are; another season of
the same name is refused, or replaced with --replace.`,
		Example: "  corewalk season add farm.gpkg season --season \"2026 spring\" --date 2026-04-17 --lab \"Brook Lab\"\n  corewalk season add farm.gpkg home slip bottom --season \"2026 spring\"",
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) < 2 {
				return usageError{errors.New("this command takes a record and one folder of a run or more")}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			s.Name = strings.Join(strings.Fields(s.Name), " ")
			if s.Name == "" {
				return usageError{errors.New("--season is needed")}
			}
			if err := checkDate(s.Date); err != nil {
				return usageError{err}
			}
			x, err := addSeason(args[0], args[1:], s, replace)
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
		x, err := r.Summary(context.Background(), s.Name)
		if err != nil {
			return nil, err
		}
		out = append(out, recordOf(x))
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
			r, err := openRecord(args[0])
			if err != nil {
				return err
			}
			defer r.Close()
			x, err := r.Summary(context.Background(), args[1])
			if err != nil {
				return err
			}
			s := recordOf(x)
			lines := []string{s.line(), "  fields: " + shortList(s.Fields),
				fmt.Sprintf("  %s, %s, %s", counted(s.Units, "sample"), counted(s.Cores, "core"), counted(s.Rates, "rate"))}
			for _, x := range s.Analytes {
				lines = append(lines, "  "+x)
			}
			return a.report(s, lines, nil, nil)
		},
	}
}

// removeSummary is what --json prints for season remove.
type removeSummary struct {
	Record  string       `json:"record"`
	Removed seasonRecord `json:"removed"`
	Left    []string     `json:"left"`
}

func (a *app) seasonRemove() *cobra.Command {
	return &cobra.Command{
		Use:   "remove RECORD.gpkg SEASON",
		Short: "Take a season out of a record",
		Long: `Takes the season of exactly that name out, in one transaction, and says what went.
Added again from the same folders, it is what it was.`,
		Example: "  corewalk season remove farm.gpkg \"2026 spring\"",
		Args:    exactly(2, "a record and the name of a season"),
		RunE: func(_ *cobra.Command, args []string) error {
			out := removeSummary{Record: args[0], Left: []string{}}
			if err := changeRecord(args[0], false, func(r *season.Record) error {
				x, err := r.Summary(context.Background(), args[1])
				if err != nil {
					return err
				}
				out.Removed = recordOf(x)
				if err := r.Remove(context.Background(), args[1]); err != nil {
					return err
				}
				left, err := r.Seasons(context.Background())
				for _, s := range left {
					out.Left = append(out.Left, s.Name)
				}
				return err
			}); err != nil {
				return err
			}
			left := "no season is left"
			if len(out.Left) > 0 {
				left = "left: " + strings.Join(out.Left, ", ")
			}
			return a.report(out, []string{"removed " + out.Removed.line(), left}, nil, nil)
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
			o := out.outputs(args[0])
			defer o.discard()
			if err := r.Export(context.Background(), func(name string, write func(io.Writer) error) error {
				staged, err := o.stage(name, write)
				if err == nil {
					o.take(staged)
				}
				return err
			}); err != nil {
				return err
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
			if err := os.MkdirAll(filepath.Dir(args[1]), 0o777); err != nil {
				return cannotWrite(args[1], err)
			}
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
