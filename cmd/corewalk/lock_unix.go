//go:build unix && !solaris && !aix

package main

import (
	"errors"
	"os"
	"syscall"
)

// grab locks a file for this program, or says errHeld.
func grab(f *os.File) error {
	err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return errHeld
	}
	return err
}
