package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
)

// pageSummary is what --json prints.
type pageSummary struct {
	Report string   `json:"report"`
	PDF    string   `json:"pdf,omitempty"`
	Files  []string `json:"files"`
}

// findPage returns the page that a folder, or a path to a page, means.
func findPage(path string) (page string, data []byte, err error) {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		path = filepath.Join(path, reportFile)
	}
	if data, err = os.ReadFile(path); err != nil {
		return "", nil, readError(err)
	}
	if !bytes.Contains(data[:min(len(data), 1000)], []byte("<html")) {
		return "", nil, fmt.Errorf("%s is not a page; give a job file, the folder of a run or its %s", path, reportFile)
	}
	return path, data, nil
}

// makePage does the steps of a job aside, and returns its page, which holds what
// they have to say.
func makePage(jobPath string) (page string, data []byte, err error) {
	j, err := readJob(jobPath)
	if err != nil {
		return "", nil, err
	}
	page = filepath.Join(j.out, reportFile)
	dir, err := os.MkdirTemp("", "corewalk-")
	if err != nil {
		return "", nil, cannotWrite(os.TempDir(), err)
	}
	defer os.RemoveAll(dir)
	j.out, j.kit = filepath.Join(dir, "out"), nil
	s, err := runJob(j, false)
	if s.Report == "" {
		return "", nil, err
	}
	data, err = os.ReadFile(s.Report)
	return page, data, err
}

// pageStep makes or finds a page, and prints and opens it as asked for.
func pageStep(from, paper string, pdf, force bool) (pageSummary, error) {
	var s pageSummary
	var data []byte
	var err error
	made := false
	switch strings.ToLower(filepath.Ext(from)) {
	case ".yaml", ".yml":
		made = true
		s.Report, data, err = makePage(from)
	default:
		s.Report, data, err = findPage(from)
	}
	if err != nil {
		return s, err
	}
	out := &outputs{dir: filepath.Dir(s.Report), force: force}
	if made {
		if err := out.add(reportFile, func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
			return s, err
		}
	}
	if pdf {
		if paper == "" {
			paper = "a4"
			if bytes.Contains(data, []byte(`data-units="us"`)) {
				paper = "letter"
			}
		}
		printed, err := printPage(data, paper)
		if err != nil {
			return s, err
		}
		name := strings.TrimSuffix(filepath.Base(s.Report), filepath.Ext(s.Report)) + ".pdf"
		s.PDF = filepath.Join(out.dir, name)
		if err := out.add(name, func(w io.Writer) error { _, err := w.Write(printed); return err }); err != nil {
			return s, err
		}
	}
	s.Files = out.names()
	return s, out.commit()
}

func (a *app) reportCommand() *cobra.Command {
	var open, pdf, force bool
	var paper string
	c := &cobra.Command{
		Use:   "report JOB.yaml | FOLDER | report.html",
		Short: "Write the page of a job, open it, print it",
		Long: `With a job file: does its steps aside and writes their page into the job's
folder, and nothing else. With the folder of a run, or a page: takes the page that
is there. The page is one file that asks for nothing; any browser shows it.

--open shows it in the browser of this machine. --pdf prints it through Chromium
or Chrome, if one is installed, beside the page.`,
		Example: "  corewalk report job.yaml --open\n  corewalk report season --pdf --paper a4",
		Args:    exactly(1, "one job file, folder or page"),
		RunE: func(_ *cobra.Command, args []string) error {
			switch paper {
			case "", "letter", "a4":
			default:
				return usageError{fmt.Errorf("--paper %q is not known; take letter or a4", paper)}
			}
			if paper != "" && !pdf {
				return usageError{errors.New("--paper is for --pdf")}
			}
			s, err := pageStep(args[0], paper, pdf, force)
			if err != nil {
				return err
			}
			var lines []string
			if len(s.Files) == 0 {
				lines = []string{"the page is " + s.Report}
			}
			if err := a.report(s, lines, nil, s.Files); err != nil || !open {
				return err
			}
			return openPage(s.Report)
		},
	}
	c.Flags().BoolVar(&open, "open", false, "open the page")
	c.Flags().BoolVar(&pdf, "pdf", false, "print the page as PDF through an installed Chromium or Chrome")
	c.Flags().StringVar(&paper, "paper", "", "`SIZE` of the paper, letter or a4 (default: letter for a page in US units, else a4)")
	c.Flags().BoolVar(&force, "force", false, "overwrite files that are there already (never an input)")
	return c
}
