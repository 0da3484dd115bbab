package main

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"os/user"
	"path/filepath"
	"strings"
	"time"
)

// errHeld tells that another one holds a lock.
var errHeld = errors.New("held")

// heldError says who holds a lock.
type heldError struct{ path, holder string }

func (e heldError) Error() string {
	return fmt.Sprintf("%s is being written by %s; wait until it is done", e.path, cmp.Or(e.holder, "somebody else"))
}

// holdLock keeps other writers off: of a folder, or of the file at path. The
// lock is a file beside it that names its holder. The system lets go of it when
// the program ends, however it ends; a file that was left behind holds nobody up.
func holdLock(path string) (release func(), err error) {
	name := path + ".lock"
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		name = filepath.Join(path, folderLock)
	}
	return holdLockFile(name, path)
}

// folderLock is the name of the lock of a folder.
const folderLock = ".corewalk.lock"

// holdLockFile takes the lock with the given name; path is what it is of.
func holdLockFile(name, path string) (release func(), err error) {
	for range 100 {
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o666)
		if err != nil {
			return nil, cannotWrite(name, err)
		}
		if err := grab(f); err != nil {
			f.Close()
			if !errors.Is(err, errHeld) {
				return nil, fmt.Errorf("%s cannot be locked: %w", name, err)
			}
			holder, _ := os.ReadFile(name)
			return nil, heldError{path, strings.TrimSpace(string(holder))}
		}
		// Whoever held it before may have taken the file away in between.
		ours, err := f.Stat()
		if err != nil {
			f.Close()
			return nil, cannotWrite(name, err)
		}
		there, err := os.Stat(name)
		if err != nil || !os.SameFile(ours, there) {
			f.Close()
			continue
		}
		if err := f.Truncate(0); err == nil {
			_, err = f.WriteString(holder())
			if err != nil {
				os.Remove(name)
				f.Close()
				return nil, cannotWrite(name, err)
			}
		}
		return func() {
			os.Remove(name)
			f.Close()
		}, nil
	}
	return nil, fmt.Errorf("%s cannot be locked: others keep taking it", name)
}

// holder is how this program is called to others.
func holder() string {
	who := "somebody"
	if u, err := user.Current(); err == nil {
		who = u.Username
	}
	host, err := os.Hostname()
	if err != nil {
		host = "this machine"
	}
	return fmt.Sprintf("%s on %s (process %d, since %s)\n", who, host, os.Getpid(), time.Now().Format("2006-01-02 15:04:05"))
}
