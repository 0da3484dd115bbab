//go:build windows

package main

import (
	"os"
	"syscall"
	"unsafe"
)

// grab locks a file for this program, or says errHeld.
func grab(f *os.File) error {
	const exclusive, atOnce = 2, 1
	const lockViolation = syscall.Errno(33)
	var where syscall.Overlapped
	// The lock lies far behind the text, so that others can read it.
	where.OffsetHigh = 1
	ok, _, err := syscall.NewLazyDLL("kernel32.dll").NewProc("LockFileEx").Call(f.Fd(), exclusive|atOnce, 0, 1, 0, uintptr(unsafe.Pointer(&where)))
	switch {
	case ok != 0:
		return nil
	case err == lockViolation:
		return errHeld
	}
	return err
}
