package main

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo/vector"
)

const (
	ratesFile      = "rates.geojson"
	rateTotalsFile = "rates.json"
	rateTableFile  = "rates.csv"
	taskFile       = "taskdata.zip"

	prescriptionFolder = "prescriptions"
)

// rateDecimals are those of degrees in all files with rates: a task file can hold
// no more, and all of them are to have the same ground.
const rateDecimals = 9

// rateStep works out the rates of every field. surfacesPath and zonesPath may be
// empty where they are not needed.
func rateStep(resultsPath, surfacesPath, zonesPath string, p rateParameters, out *outputs) (rateSummary, error) {
	s := rateSummary{
		Format: 1, Program: "corewalk " + version, Products: slices.Clip(p.Products), Rates: []rateRecord{}, Cautions: []string{}, Notices: []string{},
		Params: p,
	}
	w, err := openRates(resultsPath, surfacesPath, zonesPath, p)
	if err != nil {
		return s, err
	}
	defer w.Close()
	for _, scheme := range w.schemes {
		for _, t := range scheme.Tables {
			s.Tables = append(s.Tables, tableRecord{t.Name, t.Out.Of, t.Region, t.Source.String(), t.Verified, t.Note})
		}
	}
	head, err := newHeader(p, w.inputs)
	if err != nil {
		return s, err
	}
	s.Inputs = head.Inputs
	out.inputs = append(out.inputs, w.inputs...)
	defer out.discard()
	w.out = out
	w.cautions = cautionsOf(w.schemes)
	s.Cautions = w.cautions
	rows := [][]string{rateColumns}
	used := make([]bool, len(p.crops))
	tasks := newTaskFile(p, s)
	refused := ""
	answered := false
	file, err := out.stage(ratesFile, func(to io.Writer) error {
		stream, err := vector.NewStream(to, []vector.Member{{Name: "corewalk", Value: head}, {Name: "tables", Value: s.Tables}, {Name: "cautions", Value: s.Cautions}})
		if err != nil {
			return err
		}
		err = inOrder(len(w.results.fields), w.field, func(_ int, f fieldRates) error {
			stream.Write(f.lines)
			rows = append(rows, f.rows...)
			s.Rates = append(s.Rates, f.records...)
			s.Notices = append(s.Notices, f.notices...)
			for i, u := range f.crops {
				used[i] = used[i] || u
			}
			for _, x := range f.rated {
				for _, g := range x.grounds {
					for _, a := range g.advice.Answers {
						if a.Refused == nil {
							answered = true
						} else if refused == "" {
							refused = fmt.Sprintf("field %s, %s: %s", x.field.Name, g.id, a.Refused.Error())
						}
					}
				}
			}
			out.take(f.files...)
			tasks.add(f.tasks)
			if p.keep {
				s.rated = append(s.rated, f.rated...)
			}
			return nil
		})
		return errors.Join(err, stream.Close())
	})
	if err != nil {
		return s, trimPrefix(err, ratesFile)
	}
	for i, u := range used {
		if !u && !p.elsewhere {
			return s, fmt.Errorf("crop %q: there is no field or management unit of that name", p.Crops[i])
		}
	}
	if !answered {
		if refused == "" {
			return s, fmt.Errorf("%s has no ground to rate", resultsPath)
		}
		return s, fmt.Errorf("there is no rate anywhere; %s", refused)
	}
	out.take(file)
	if err := out.add(rateTableFile, func(to io.Writer) error { return csv.NewWriter(to).WriteAll(rows) }); err != nil {
		return s, err
	}
	if p.Task != "no" && len(tasks.file.Tasks) > 0 {
		notices, err := tasks.write(out)
		if err != nil {
			return s, err
		}
		s.Notices = append(s.Notices, notices...)
	}
	s.Notices = append(s.Notices, leftovers(out)...)
	if err := out.add(rateTotalsFile, func(to io.Writer) error {
		e := json.NewEncoder(to)
		e.SetIndent("", " ")
		return e.Encode(s)
	}); err != nil {
		return s, err
	}
	s.Files = out.names()
	return s, out.commit()
}

// leftovers names prescriptions of an earlier run that this one does not write
// over: a dressing too many is spread by such.
func leftovers(out *outputs) []string {
	written := map[string]bool{}
	for _, f := range out.files {
		written[filepath.Clean(f.name)] = true
	}
	var old []string
	entries, _ := os.ReadDir(filepath.Join(out.dir, prescriptionFolder)) // none where it is not there
	for _, e := range entries {
		if name := filepath.Join(prescriptionFolder, e.Name()); filepath.Ext(name) == ".shp" && !written[name] {
			old = append(old, name)
		}
	}
	if _, err := os.Stat(filepath.Join(out.dir, taskFile)); err == nil && !written[taskFile] {
		old = append(old, taskFile)
	}
	if len(old) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s in %s are of an earlier run and NOT of these rates: take them away before somebody spreads by them", strings.Join(old, ", "), out.dir)}
}

func (a *app) rateCommand() *cobra.Command {
	var results, surfaces, zones, explain string
	choices := settingFlags[rateParameters]{params: *defaultRate()}
	var list bool
	units := unitsValue("metric")
	var to outFlags
	c := &cobra.Command{
		Use:   "rate --results results.geojson --use TABLE --product PRODUCT [flags]",
		Short: "Work out lime and nutrient rates, by zone, for the spreader",
		Long: `Works out rates of lime and nutrients by published recommendation tables, turns
them into products, and compares them with one rate from the mean of each field.
--tables lists the tables: what each is for, the method and depth that it belongs
to, where it comes from, and whether its figures were seen in print. A table
refuses results by another method, outside of its range, or from another depth
without a rule for it. --explain prints one calculation, to be followed with a
pocket calculator.

Rates are for zones (--zones, from the means of the surfaces in them), for
surfaces (pixel by pixel, then put into classes) or for sampling units. Where a
surface is not supported by its cross-validation, the figures of the sampling
units are taken.

Writes rates.geojson, rates.csv (for a hand spreader, its settings left blank) and
rates.json (totals); and for products, by field, product and dressing, a shapefile
in prescriptions/, and all of them in taskdata.zip, an ISO 11783-10 task file.
Without a product, rates are of pure calcium carbonate, P2O5 or K2O.

Rates are advice: check them with your local recommendations and a certified
adviser; nutrient rules and setbacks of the place come first.`,
		Example: `  corewalk rate --tables
  corewalk rate --results out/results.geojson --use iowa-2002-lime --target-ph 6.5 --explain BB03N
  corewalk rate --results out/results.geojson --surfaces out/surfaces.json --zones out/zones.geojson \
    --use iowa-2002-lime --target-ph 6.5 --units us --out out \
    --product "quarry lime: CCE 92, mesh 4/8/60 100/90/55, moisture 2, rule iowa, 24 USD/ton, step 100 lb/ac"
  corewalk rate --results out/results.geojson --use tri-state-2020-p --crop "corn, 180 bu/ac" --product "TSP: 0-46-0, 620 USD/ton"`,
		Args: exactly(0, ""),
		RunE: func(*cobra.Command, []string) error {
			p := choices.params
			if list {
				tables, err := readTables(p.own)
				if err != nil {
					return err
				}
				if a.json {
					return a.report(tableListing(tables), nil, nil, nil)
				}
				return a.report(nil, listTables(tables), nil, nil)
			}
			switch {
			case results == "" || len(p.Use) == 0:
				return usageError{errors.New("--results and --use are needed; --tables lists what can be used")}
			case p.By == byZone && (zones == "" || surfaces == ""):
				return usageError{errors.New("rates by zone need --zones and --surfaces")}
			case p.By == bySurface && surfaces == "":
				return usageError{errors.New("rates by surface need --surfaces")}
			case zones != "" && surfaces == "":
				return usageError{errors.New("--zones needs --surfaces, whose means they take")}
			}
			p.us = units == "us"
			if explain != "" {
				lines, err := explainRate(results, surfaces, zones, p, explain)
				if err != nil {
					return err
				}
				return a.report(map[string]any{"explanation": lines}, lines, nil, nil)
			}
			s, err := rateStep(results, surfaces, zones, p, to.outputs())
			if err != nil {
				return err
			}
			return a.report(s, s.lines(measure{p.us}), s.Notices, s.Files)
		},
	}
	c.Flags().StringVar(&results, "results", "", "`FILE` results.geojson")
	c.Flags().StringVar(&surfaces, "surfaces", "", "`FILE` surfaces.json, with the files that it names beside it")
	c.Flags().StringVar(&zones, "zones", "", "`FILE` zones.geojson")
	c.Flags().BoolVar(&list, "tables", false, "list the tables")
	c.Flags().StringVar(&explain, "explain", "", "print the calculation for one sample or zone, by its `ID` (or FIELD/ID)")
	choices.add(c, rateSettings())
	c.Flags().StringVar(&choices.params.Farm, "farm", "", "`NAME` of the farm, in the task file")
	c.Flags().Var(&units, "units", "units of the summary, and of rates in files")
	to.add(c)
	return c
}
