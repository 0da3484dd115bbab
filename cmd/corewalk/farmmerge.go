package main

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
)

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
