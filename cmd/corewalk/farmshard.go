package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
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
