package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
)

// Version of the program, written into every file that it makes.
const version = "0.1.0"

// Exit statuses.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
)

// usageError is a mistake in how the command was called.
type usageError struct{ error }

func (u usageError) Unwrap() error { return u.error }

// app is what the commands share.
type app struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	json           bool
}

// run is the whole program: it reads args and files, writes to stdout, stderr
// and files, and returns the exit status.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	a := &app{stdin: stdin, stdout: stdout, stderr: stderr}
	root := a.root()
	root.SetArgs(args)
	root.SetIn(stdin)
	root.SetOut(stdout)
	root.SetErr(stderr)
	err := root.Execute()
	if err == nil {
		return exitDone
	}
	fmt.Fprintf(stderr, "corewalk: %s\n", oneLine(err))
	var usage usageError
	if errors.As(err, &usage) {
		fmt.Fprintln(stderr, "Run 'corewalk help' for how it is called.")
		return exitUsage
	}
	return exitFailed
}

func oneLine(err error) string { return strings.Join(strings.Fields(err.Error()), " ") }

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "corewalk",
		Short: "Soil sampling on mapped fields, from boundary to problem patches",
		Long: `corewalk plans where soil cores are taken in mapped fields, writes the
waypoints, joins the lab's results back to the ground, interpolates surfaces and
draws the patches that stand out.

Try it on an invented farm:   corewalk demo out
Then on your own fields:      corewalk run job.yaml

Rates, limits and setbacks are advice: local recommendations, the rules of the
place and a certified adviser come first. Have buried lines marked before
coring deep.`,
		Version:       version,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usageError{fmt.Errorf("there is no command %q", args[0])}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, _ []string) error { return cmd.Help() },
	}
	root.CompletionOptions.DisableDefaultCmd = true
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usageError{err} })
	root.PersistentFlags().BoolVar(&a.json, "json", false, "print a machine-readable summary on stdout")
	root.AddCommand(a.checkCommand(), a.planCommand(), a.kitCommand(), a.joinCommand(), a.surfaceCommand(), a.zoneCommand(), a.rateCommand(), a.reportCommand(), a.seasonCommand(), a.runCommand(), a.farmCommand(), a.demoCommand())
	return root
}

// exactly is cobra.ExactArgs as a usage error that names what is wanted.
func exactly(n int, what string) cobra.PositionalArgs {
	return func(_ *cobra.Command, args []string) error {
		if len(args) != n {
			if n == 0 {
				return usageError{fmt.Errorf("%q is not understood; this command takes flags only", args[0])}
			}
			return usageError{fmt.Errorf("this command takes %s", what)}
		}
		return nil
	}
}
