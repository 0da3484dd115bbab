package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"
)

func (a *app) farmCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "farm",
		Short: "Do a job for thousands of fields, one by one",
		Long: `Does a job for every field of the boundary file by itself: on all processors, to go
on with after an interrupt, and spread over machines.`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			return usageError{errors.New("farm needs to be told what to do: run or merge")}
		},
	}
	c.AddCommand(a.farmRun(), a.farmMerge())
	return c
}

func (a *app) farmRun() *cobra.Command {
	var o farmOptions
	var told string
	c := &cobra.Command{
		Use:   "run JOB.yaml",
		Short: "Do a job field by field, each in a folder of its own",
		Long: `Does what 'corewalk run' does, field by field. Every field has a folder below
fields in the job's output folder, with the same files as a farm of that one field:
plan, waypoints and manifest, the kit, results, surfaces, zones, rates and the page as
far as the job asks for them. Sample ids begin with letters that hang on the field's
place in the boundary file and are different for all fields, so one lab file has the
results of the whole farm, and one handheld's file the cores as walked. At the end
farm.csv and farm.json sum the fields up. 'again' of the job's plan names the output
folder of an earlier farm run.

A field that fails does not stop the others; it is listed, and the exit status is 1.

With --resume, fields that are done are left as they are. A field is done when its
files are whole and the hash of all that they hang on is the same: what the files of
the map say of it, the lab's rows of it, the job's parameters, the program's version.

With --shard 3/16 only every sixteenth field is done, beginning with the third. Shards
may run at the same time, on machines that share the output folder or each with its
own; 'corewalk farm merge' then joins their summaries.`,
		Example: `  corewalk farm run job.yaml
  corewalk farm run job.yaml --resume --lab-cost 12 --hour-cost 45
  corewalk farm run job.yaml --shard 3/16`,
		Args: exactly(1, "one job file"),
		RunE: func(_ *cobra.Command, args []string) error {
			switch {
			case o.workers < 1 || o.workers > 1024:
				return usageError{fmt.Errorf("%d workers are out of range; take 1 to 1024", o.workers)}
			case !(o.prices.Sample >= 0 && o.prices.Sample < 1e9 && o.prices.Hour >= 0 && o.prices.Hour < 1e9):
				return usageError{errors.New("costs are not below zero, nor beyond all measure")}
			}
			p, err := a.progressTo(told)
			if err != nil {
				return err
			}
			s, out, err := farmStep(args[0], o, p)
			if err != nil {
				return err
			}
			return a.reportFarm(s, out, measure{s.Units == "us"})
		},
	}
	c.Flags().BoolVar(&o.resume, "resume", false, "go on: leave the fields that are done")
	c.Flags().BoolVar(&o.force, "force", false, "overwrite files that are there already (never an input); nothing that a run did not write is deleted")
	c.Flags().Var(&o.shard, "shard", "do only every OF-th field, beginning with the NUMBER-th, as 3/16")
	c.Flags().BoolVar(&o.pages, "pages", false, "write report.html for fields without results, too")
	c.Flags().IntVar(&o.workers, "workers", usualWorkers(), "`NUMBER` of fields done at the same time")
	c.Flags().Float64Var(&o.prices.Sample, "lab-cost", 0, "`PRICE` of one sample at the laboratory, for the summary")
	c.Flags().Float64Var(&o.prices.Hour, "hour-cost", 0, "`PRICE` of an hour of walking and coring, for the summary")
	c.Flags().StringVar(&told, "progress", "auto", "say how far it is on stderr: auto (on a terminal), yes, no")
	return c
}

// progressTo is where progress is told.
func (a *app) progressTo(told string) (*progress, error) {
	terminal := false
	if f, ok := a.stderr.(*os.File); ok {
		info, err := f.Stat()
		terminal = err == nil && info.Mode()&os.ModeCharDevice != 0
	}
	switch {
	case told != "auto" && told != "yes" && told != "no":
		return nil, usageError{fmt.Errorf("progress %q is not known; take auto, yes or no", told)}
	case terminal && told != "no":
		return &progress{to: a.stderr, every: time.Second / 5, sameLine: true}, nil
	case told == "yes":
		return &progress{to: a.stderr, every: 10 * time.Second}, nil
	}
	return &progress{}, nil
}

// farmStep runs a farm, or one shard of it.
func farmStep(path string, o farmOptions, p *progress) (*farmSummary, *outputs, error) {
	f, err := openFarm(path, o.pages)
	if err != nil {
		return nil, nil, err
	}
	dir := f.job.out
	letGo, err := keepShard(dir, o.shard)
	if err != nil {
		return nil, nil, err
	}
	defer letGo()
	ctx, stop := interruptible()
	defer stop()
	if err := os.MkdirAll(filepath.Join(dir, fieldsFolder), 0o777); err != nil {
		return nil, nil, cannotWrite(filepath.Join(dir, fieldsFolder), err)
	}
	if os.Getenv("GOGC") == "" {
		// A field takes little memory, and leaves it all behind: collecting it less
		// often saves a tenth of the time.
		defer debug.SetGCPercent(debug.SetGCPercent(300))
	}
	records, err := f.runFields(ctx, o, p)
	if syncErr := syncFolder(filepath.Join(dir, fieldsFolder)); err == nil && syncErr != nil {
		err = cannotWrite(filepath.Join(dir, fieldsFolder), syncErr)
	}
	if err != nil {
		return nil, nil, err
	}
	s := &farmSummary{
		Format: 1, Program: "corewalk " + version, Farm: f.job.farm, Units: f.job.units, Job: f.sum, Inputs: f.inputs, Of: len(f.fields),
		Left: f.left, Strays: f.strays, Notices: f.notices, Records: records,
	}
	if !o.shard.whole() {
		s.Shard = &o.shard
	}
	if o.prices != (farmPrices{}) {
		s.Prices = &o.prices
	}
	s.total()
	out := &outputs{dir: dir, force: o.force, inputs: f.paths, keeper: letGo}
	return s, out, s.write(out)
}

// interruptible is a context that ends when the program is told to stop. The
// fields at work are then finished first; who cannot wait says it again.
func interruptible() (context.Context, func()) {
	ctx, cancel := context.WithCancelCause(context.Background())
	told := make(chan os.Signal, 2)
	signal.Notify(told, os.Interrupt, syscall.SIGTERM)
	go func() {
		if _, ok := <-told; !ok {
			return
		}
		cancel(errors.New("interrupted"))
		fmt.Fprintln(os.Stderr, "corewalk: interrupted; the fields at work are finished first, once more stops at once")
		if _, ok := <-told; ok {
			os.Exit(exitFailed)
		}
	}()
	return ctx, func() {
		signal.Stop(told)
		close(told)
	}
}

// reportFarm prints what came of a farm, and fails if a field did.
func (a *app) reportFarm(s *farmSummary, out *outputs, m measure) error {
	notices := slices.Clone(s.Notices)
	var bad []farmRecord
	noted := 0
	for _, r := range s.Records {
		if r.Status == fieldFailed {
			bad = append(bad, r)
		}
		if len(r.Notices) > 0 {
			noted++
		}
	}
	for i, r := range bad {
		if i == mostLines {
			notices = append(notices, fmt.Sprintf("%d more fields failed; %s lists them", len(bad)-i, s.stem()+".csv"))
			break
		}
		notices = append(notices, fmt.Sprintf("field %s failed: %s", r.Field, r.Reason))
	}
	if noted > 0 {
		notices = append(notices, fmt.Sprintf("%s has more to say of %s (notices)", s.stem()+".json", counted(noted, "field")))
	}
	left := 0
	for _, r := range s.Left {
		if !r.NoSample {
			left++
		}
	}
	asked := 0
	for _, r := range s.Left {
		if len(r.Nearest) > 0 && asked < mostLines {
			asked++
			notices = append(notices, fmt.Sprintf("row %d of the lab's file: %s is of no field; is it %s?", r.Row, r.ID, strings.Join(r.Nearest, " or ")))
		}
	}
	if left > 0 {
		notices = append(notices, fmt.Sprintf("of no field: %s of the lab's file; see rows_of_no_field in %s", counted(left, "row"), s.stem()+".json"))
	}
	if len(s.Strays) > 0 {
		notices = append(notices, fmt.Sprintf("of no field: %s of the handheld's file; see waypoints_of_no_field in %s", counted(len(s.Strays), "waypoint"), s.stem()+".json"))
	}
	if err := a.report(farmPrinted{s, out.names()}, s.lines(m), notices, out.names()); err != nil {
		return err
	}
	if len(bad) > 0 {
		return fmt.Errorf("%d of %d fields failed; mend what %s says of them and go on with --resume", len(bad), len(s.Records), filepath.Join(out.dir, s.stem()+".csv"))
	}
	return nil
}

// farmPrinted is what --json prints.
type farmPrinted struct {
	*farmSummary
	Files []string `json:"files"`
}
