package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"
)

// shard is every Of-th field, beginning with the Number-th.
type shard struct {
	Number int `json:"number"` // from 1
	Of     int `json:"of"`
}

// has tells whether the field at a place, from 0, is of the shard.
func (s shard) has(place int) bool { return s.Of == 0 || place%s.Of == s.Number-1 }

func (s shard) whole() bool    { return s.Of == 0 }
func (s shard) String() string { return "" }
func (s *shard) Type() string  { return "NUMBER/OF" }

func (s *shard) Set(text string) error {
	number, of, ok := strings.Cut(text, "/")
	n, err := strconv.Atoi(number)
	m, err2 := strconv.Atoi(of)
	if !ok || err != nil || err2 != nil || n < 1 || n > m || m > maxShards {
		return fmt.Errorf("%q is not a shard; write it as 3/16, for every sixteenth field beginning with the third", text)
	}
	s.Number, s.Of = n, m
	return nil
}

const maxShards = 100_000

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
results of the whole farm. At the end farm.csv and farm.json sum the fields up.

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
			case !(o.prices.Sample >= 0 && o.prices.Hour >= 0):
				return usageError{errors.New("costs are not below zero")}
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
	f, err := openFarm(path)
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
		Left: f.left, Notices: f.notices, Records: records,
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

// keepShard keeps others off a shard's fields: other runs of the shard, of the
// whole farm, and of a farm that was cut up otherwise. Shards of one cut may run
// side by side.
func keepShard(dir string, s shard) (func(), error) {
	if s.whole() {
		letGo, err := keepFolder(dir)
		if err != nil {
			return nil, cannotKeep(dir, err)
		}
		removeLeftovers(filepath.Join(dir, fieldsFolder))
		return letGo, nil
	}
	_, err := os.Stat(dir)
	made := errors.Is(err, os.ErrNotExist)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, cannotWrite(dir, err)
	}
	unlock, err := holdLockFile(s.lock(dir), fmt.Sprintf("shard %d/%d of %s", s.Number, s.Of, dir))
	letGo := func() {
		if unlock != nil {
			unlock()
		}
		if made {
			os.Remove(dir)
		}
	}
	if err == nil {
		err = othersOff(dir, s)
	}
	if err != nil {
		letGo()
		return nil, err
	}
	return letGo, nil
}

// lock is the file of the shard's lock.
func (s shard) lock(dir string) string {
	return filepath.Join(dir, fmt.Sprintf(".corewalk.%d-of-%d.lock", s.Number, s.Of))
}

// othersOff fails when somebody holds a lock of the folder that does not go with
// one's own.
func othersOff(dir string, s shard) error {
	locks, err := filepath.Glob(filepath.Join(globbed(dir), ".corewalk.*-of-*.lock"))
	if err != nil {
		return err
	}
	if !s.whole() {
		locks = slices.DeleteFunc(locks, func(l string) bool { return strings.HasSuffix(l, fmt.Sprintf("-of-%d.lock", s.Of)) })
		locks = append(locks, filepath.Join(dir, folderLock))
	}
	for _, l := range locks {
		if _, err := os.Stat(l); err != nil {
			continue
		}
		unlock, err := holdLockFile(l, dir)
		if err != nil {
			return err
		}
		unlock()
	}
	return nil
}

// globbed quotes a folder's name for a pattern.
func globbed(dir string) string {
	return strings.NewReplacer(`[`, `\[`, `*`, `\*`, `?`, `\?`).Replace(dir)
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
	if left > 0 {
		notices = append(notices, fmt.Sprintf("%s of the lab's file are of no field; %s lists them (rows_of_no_field)", counted(left, "row"), s.stem()+".json"))
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

func (a *app) farmMerge() *cobra.Command {
	var to outFlags
	c := &cobra.Command{
		Use:   "merge FOLDER...",
		Short: "Join the summaries of the shards of a farm",
		Long: `Joins farm-1-of-16.json, farm-2-of-16.json and so on, from one folder or several, to
the farm.csv and farm.json that one run of the whole farm writes. It fails when a shard
is missing, is there twice, or comes from another job or other inputs.`,
		Example: "  corewalk farm merge out",
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usageError{errors.New("this command takes the folders of the shards")}
			}
			return nil
		},
		RunE: func(c *cobra.Command, args []string) error {
			if !c.Flags().Changed("out") {
				to.dir = args[0]
			}
			s, inputs, err := mergeShards(args)
			if err != nil {
				return err
			}
			out := to.outputs(inputs...)
			if err := s.write(out); err != nil {
				return err
			}
			return a.reportFarm(s, out, measure{s.Units == "us"})
		},
	}
	to.add(c)
	c.Flags().Lookup("out").Usage = "`FOLDER` for farm.csv and farm.json (default the first of the shards)"
	c.Flags().Lookup("out").DefValue = ""
	return c
}

// mergeShards joins the summaries that lie in some folders.
func mergeShards(folders []string) (*farmSummary, []string, error) {
	var parts []*farmSummary
	var paths []string
	for _, dir := range folders {
		if _, err := os.Stat(dir); err != nil {
			return nil, nil, readError(err)
		}
		found, err := filepath.Glob(filepath.Join(globbed(dir), "farm-*-of-*.json"))
		if err != nil {
			return nil, nil, err
		}
		if len(found) == 0 {
			return nil, nil, fmt.Errorf("%s holds no summary of a shard, such as farm-1-of-16.json; run its shards first", dir)
		}
		for _, path := range found {
			if slices.Contains(paths, path) {
				continue
			}
			s, err := readSummary(path)
			if err != nil {
				return nil, nil, err
			}
			if s.Shard == nil || filepath.Base(path) != s.stem()+".json" {
				return nil, nil, fmt.Errorf("%s is not the summary of the shard that it is named for; run that shard again", path)
			}
			parts, paths = append(parts, s), append(paths, path)
		}
	}
	first := parts[0]
	seen := map[int]string{}
	for i, s := range parts {
		switch {
		case s.Shard.Of != first.Shard.Of:
			return nil, nil, fmt.Errorf("%s is one of %d shards and %s one of %d; merge those of one run", paths[0], first.Shard.Of, paths[i], s.Shard.Of)
		case s.Job != first.Job || !slices.Equal(s.Inputs, first.Inputs) || s.Of != first.Of || s.Program != first.Program || !samePrices(s.Prices, first.Prices):
			return nil, nil, fmt.Errorf("%s and %s come from different jobs, inputs, prices or programs; run the older one again", paths[0], paths[i])
		case seen[s.Shard.Number] != "":
			return nil, nil, fmt.Errorf("%s and %s are the same shard; leave one of them out", seen[s.Shard.Number], paths[i])
		}
		seen[s.Shard.Number] = paths[i]
	}
	var missing []string
	for n := 1; n <= first.Shard.Of; n++ {
		if seen[n] == "" {
			missing = append(missing, strconv.Itoa(n))
		}
	}
	if len(missing) > 0 {
		text := strings.Join(missing[:min(len(missing), mostLines)], ", ")
		if len(missing) > mostLines {
			text += " ..."
		}
		return nil, nil, fmt.Errorf("of %d shards %d are missing: %s; run them, then merge", first.Shard.Of, len(missing), text)
	}
	whole := *first
	whole.Shard, whole.Records = nil, nil
	for _, s := range parts {
		whole.Records = append(whole.Records, s.Records...)
	}
	slices.SortFunc(whole.Records, func(a, b farmRecord) int { return cmp.Compare(a.Place, b.Place) })
	for i := range whole.Records[:max(0, len(whole.Records)-1)] {
		if r := whole.Records[i]; r.Place == whole.Records[i+1].Place {
			return nil, nil, fmt.Errorf("field %s is in two shards; run them again", r.Field)
		}
	}
	if len(whole.Records) != whole.Of {
		return nil, nil, fmt.Errorf("the shards have %d fields of %d; run them again", len(whole.Records), whole.Of)
	}
	whole.total()
	return &whole, paths, nil
}

func samePrices(a, b *farmPrices) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}
