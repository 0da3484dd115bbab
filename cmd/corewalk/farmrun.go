package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
)

// fieldsFolder holds a folder for each field of a farm.
const fieldsFolder = "fields"

// farmOptions are how a farm is run.
type farmOptions struct {
	workers int
	resume  bool
	force   bool
	pages   bool // for fields without results, too
	shard   shard
	prices  farmPrices
}

// runFields does the fields of a shard, several at a time, and returns what came
// of each, by its place. An error is of what stops all of them: an interrupt, a
// full disk.
func (f *farm) runFields(ctx context.Context, o farmOptions, p *progress) ([]farmRecord, error) {
	inputs := make([]os.FileInfo, 0, len(f.paths))
	for _, path := range f.paths {
		for _, part := range partsOf(path) {
			if info, err := os.Stat(part); err == nil {
				inputs = append(inputs, info)
			}
		}
	}
	var mine []*farmField
	for i := range f.fields {
		if o.shard.has(i) {
			mine = append(mine, &f.fields[i])
		}
	}
	records := make([]farmRecord, len(mine))
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	came := func(i int, r farmRecord, err error) {
		switch {
		case err != nil && hopeless(err):
			stop(err)
			return
		case err != nil:
			r = f.failed(mine[i], err)
		}
		records[i] = r
		p.did(r.Status != fieldDone)
	}
	next, ready := make(chan int), make(chan readyField, mostUnsynced)
	var makers, settler sync.WaitGroup
	for range min(o.workers, len(mine)) {
		makers.Go(func() {
			for i := range next {
				m, r, err := f.makeField(mine[i], o)
				if m == nil || err != nil {
					came(i, r, err)
					continue
				}
				ready <- readyField{i, m}
			}
		})
	}
	settler.Go(func() {
		all := filepath.Join(f.job.out, fieldsFolder)
		for batch := range batches(ready, mostUnsynced) {
			err := syncAll(all, batch)
			for _, x := range batch {
				settled := err
				if settled == nil {
					settled = x.settle(o.force, inputs)
				}
				os.RemoveAll(x.from)
				came(x.i, x.Record, settled)
			}
		}
	})
	p.begin(len(mine))
	for i := range mine {
		select {
		case next <- i:
			continue
		case <-ctx.Done():
		}
		break
	}
	close(next)
	makers.Wait()
	close(ready)
	settler.Wait()
	p.end()
	if err := context.Cause(ctx); err != nil {
		return nil, fmt.Errorf("%w; %d of %d fields are done; go on with --resume", err, p.done-p.failed, len(mine))
	}
	return records, nil
}

// mostUnsynced is how many fields may wait to be synced and put in their place.
// Syncing takes a disk about as long for many files as for one.
const mostUnsynced = 64

// readyField is a field that is made and not yet in its place.
type readyField struct {
	i int
	*made
}

// batches yields what is ready, as much at a time as there is up to most.
func batches[T any](ready <-chan T, most int) iter.Seq[[]T] {
	return func(yield func([]T) bool) {
		for x := range ready {
			batch := []T{x}
			for more := true; more && len(batch) < most; {
				select {
				case x, ok := <-ready:
					if more = ok; ok {
						batch = append(batch, x)
					}
				default:
					more = false
				}
			}
			if !yield(batch) {
				return
			}
		}
	}
}

// syncAll makes sure that the files of some fields, below one folder, are on disk.
func syncAll(all string, batch []readyField) error {
	done, err := syncDisk(all)
	if err != nil {
		return cannotWrite(all, err)
	}
	if done {
		return nil
	}
	for _, x := range batch {
		if err := syncBelow(x.from); err != nil {
			return cannotWrite(x.from, err)
		}
	}
	return nil
}

// syncBelow syncs a folder and all that is in it, one by one.
func syncBelow(dir string) error {
	return filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case e.IsDir():
			return syncFolder(path)
		}
		file, err := os.OpenFile(path, os.O_RDWR, 0)
		if err != nil {
			return err
		}
		return errors.Join(file.Sync(), file.Close())
	})
}

// usualWorkers keeps the processors busy while files are being synced.
func usualWorkers() int { return 2 * runtime.GOMAXPROCS(0) }

// hopeless tells that the next field would not fare better.
func hopeless(err error) bool {
	for _, e := range []error{syscall.ENOSPC, syscall.EDQUOT, syscall.EROFS, syscall.EMFILE, syscall.ENFILE} {
		if errors.Is(err, e) {
			return true
		}
	}
	return false
}

// makeField makes the files of one field in a folder beside its own. It returns nil
// for a field that is done already.
func (f *farm) makeField(x *farmField, o farmOptions) (*made, farmRecord, error) {
	all := filepath.Join(f.job.out, fieldsFolder)
	m := &made{field: x, from: filepath.Join(all, leftover+x.folder), dir: filepath.Join(all, x.folder)}
	if r, finished, err := f.finished(x, m.dir, o); finished || err != nil {
		return nil, r, err
	}
	err := os.RemoveAll(m.from)
	if err == nil {
		err = f.fill(m)
	}
	if err != nil {
		os.RemoveAll(m.from)
		return nil, farmRecord{}, placedError{err, m.from, m.dir}
	}
	return m, farmRecord{}, nil
}

func (f *farm) fill(m *made) error {
	j, err := f.jobOf(m.field, m.from)
	if err != nil {
		return err
	}
	j.noPage = j.results == nil && !f.pages
	s, failure := runJob(j, false)
	if failure != nil {
		// Without rates there still is all that comes before them.
		if s.Join == nil || hopeless(failure) || s.Rate != nil || s.Report == "" {
			return failure
		}
		failure = placedError{failure, m.from, m.dir}
	}
	m.done = done{Format: 1, Program: "corewalk " + version, Key: m.field.key, Record: f.recordOf(m.field, j, &s, failure)}
	return m.seal()
}

// finished finds out whether an earlier run did the field.
func (f *farm) finished(x *farmField, dir string, o farmOptions) (farmRecord, bool, error) {
	if !o.resume {
		return farmRecord{}, false, nil
	}
	d, err := readDone(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return farmRecord{}, false, nil
	case err != nil:
		return farmRecord{}, false, err
	case d.Key != x.key:
		return farmRecord{}, false, nil
	}
	whole, err := d.whole(dir)
	if changed := (errChanged{}); errors.As(err, &changed) && o.force {
		return farmRecord{}, false, nil
	}
	return d.Record, whole, err
}

// placedError says an error with the field's folder for the one that its files
// were made in.
type placedError struct {
	error
	work, dir string
}

func (e placedError) Error() string { return strings.ReplaceAll(e.error.Error(), e.work, e.dir) }
func (e placedError) Unwrap() error { return e.error }
