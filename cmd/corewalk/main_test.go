package main

import (
	"os"
	"os/exec"
	"testing"
)

// asProgram makes the test binary the program itself.
const asProgram = "COREWALK_TEST_AS_PROGRAM"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}

// program is a command that runs the program in a process of its own.
func program(args ...string) *exec.Cmd {
	c := exec.Command(os.Args[0], args...)
	c.Env = append(os.Environ(), asProgram+"=yes")
	return c
}
