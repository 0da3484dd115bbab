package main

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

// setting is one choice of a step, a flag of its command and a key of the job
// file alike.
type setting[P any] struct {
	key, kind, help string
	standard        string // that help names
	list            listing
	set             func(p *P, text string) error
}

// listing says what several values of a key are.
type listing int

const (
	single listing = iota // wrong
	commas                // one value with commas, as [0-2in, 2-8in]
	each                  // set one after another, as a flag may be repeated
	places                // as each where the values hold commas, else commas
)

// to makes what sets a field.
func to[P, T any](parse func(string) (T, error), field func(*P) *T) func(*P, string) error {
	return func(p *P, text string) error {
		v, err := parse(text)
		if err == nil {
			*field(p) = v
		}
		return err
	}
}

// settingFlags are the settings of a step as flags.
type settingFlags[P any] struct {
	params P
	given  []string
}

// add adds the flags; params holds what is not said.
func (f *settingFlags[P]) add(c *cobra.Command, settings []setting[P]) {
	for _, s := range settings {
		help := s.help
		if s.standard != "" {
			help += " (default " + s.standard + ")"
		}
		flag := c.Flags().VarPF(&settingValue[P]{f, s}, s.key, "", help)
		if s.kind == "bool" {
			flag.NoOptDefVal = "yes"
		}
	}
}

// settingValue is one setting as a flag.
type settingValue[P any] struct {
	flags *settingFlags[P]
	setting[P]
}

func (v *settingValue[P]) Set(text string) error {
	v.flags.given = append(v.flags.given, v.key)
	return v.set(&v.flags.params, text)
}
func (v *settingValue[P]) String() string { return "" }
func (v *settingValue[P]) Type() string {
	if v.kind == "bool" {
		return "yes|no"
	}
	return v.kind
}

// readSettings reads the settings of a part of a job file into p.
func readSettings[P any](e entry, settings []setting[P], p *P) error {
	for _, s := range settings {
		item, ok := e.of[s.key]
		if !ok || item.kind == isNone {
			continue
		}
		texts, err := e.strs(s.key)
		if err != nil {
			return err
		}
		if item.kind == isList && s.list == single {
			_, err := e.str(s.key)
			return err
		}
		if s.list == commas || s.list == places && !strings.Contains(strings.Join(texts, ""), ",") {
			texts = []string{strings.Join(texts, ",")}
		}
		for _, text := range texts {
			if err := s.set(p, text); err != nil {
				return item.fail("%w", err)
			}
		}
	}
	return nil
}

// keys are the keys of settings.
func keys[P any](settings []setting[P]) []string {
	out := make([]string, len(settings))
	for i, s := range settings {
		out[i] = s.key
	}
	return slices.Clip(out)
}
