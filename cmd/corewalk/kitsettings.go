package main

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"

	"corewalk/geo"
	"corewalk/sampling/kit"
)

// kitParameters say what the handheld takes and what stands on the sheets.
type kitParameters struct {
	kit.Handheld
	us                bool
	farm, date, crop  string
	tests             []string
	paper             string // empty: by the units
	columns, rows     int
	margins           [4]float64 // of the label sheet: top, right, bottom, left; metres
	across, down      float64    // between labels, metres
	startAt           int
	outlines          bool
	font              string // file
	systemFontFolders []string
}

// Labels on plain paper: ten to a sheet, a margin that every printer keeps.
func defaultKit() kitParameters {
	const margin = 0.01
	return kitParameters{
		Handheld: kit.Handheld{NameLimit: 10}, columns: 2, rows: 5, margins: [4]float64{margin, margin, margin, margin}, startAt: 1,
		systemFontFolders: systemFontFolders(),
	}
}

// kitSettings lists the choices of the field kit in the order of the help.
func kitSettings() []setting[kitParameters] {
	type P = kitParameters
	return []setting[P]{
		{"names", "names", "names of waypoints: short (those of the plan) or long (sample id and core)", "short", single, to(parseWaypointNames, func(p *P) *bool { return &p.Long })},
		{"name-limit", "number", "most characters of a name", "10", single, to(parseCount, func(p *P) *int { return &p.NameLimit })},
		{"limit", "number", "most waypoints of a file; more go into waypoints-2.gpx and so on", "any", single, to(parseCount, func(p *P) *int { return &p.Limit })},
		{"farm", "text", "name of the farm on sheets and labels", "", single, to(parseText, func(p *P) *string { return &p.farm })},
		{"date", "date", "day of the sampling, as 2026-11-25", "a line to fill in", single, to(parseDate, func(p *P) *string { return &p.date })},
		{"crop", "text", "crop on labels and the lab's list", "the management unit, or a line to fill in", single, to(parseText, func(p *P) *string { return &p.crop })},
		{"tests", "names", "tests that the lab is asked for, with commas between", "", commas, to(parseNames, func(p *P) *[]string { return &p.tests })},
		{"paper", "letter|a4", "paper of all sheets", "letter in US units, else a4", single, to(parsePaper, func(p *P) *string { return &p.paper })},
		{"labels", "columns", "labels on a sheet, columns x rows, from 1x1 to 4x15; none under 40 x 20 mm", "2x5", single, setLabels},
		{"label-margins", "lengths", "margins of a sheet of labels: top,right,bottom,left, or one for all", "10mm", commas, to(parseMargins, func(p *P) *[4]float64 { return &p.margins })},
		{"label-gap", "lengths", "between labels: across,down, or one for both", "0", commas, setLabelGap},
		{"start-at", "number", "first free label of a sheet that was used before", "1", single, to(strconv.Atoi, func(p *P) *int { return &p.startAt })},
		{"outlines", "bool", "lines round the labels, to cut plain paper along", "no", single, to(parseYes, func(p *P) *bool { return &p.outlines })},
		{"font", "FILE", "TrueType font for characters that the program's own fonts lack", "", single, to(parseText, func(p *P) *string { return &p.font })},
	}
}

func parseWaypointNames(s string) (long bool, err error) {
	switch s {
	case "short", "long":
		return s == "long", nil
	}
	return false, fmt.Errorf("names as %q are not known; take short or long", s)
}

func parseText(s string) (string, error) { return strings.TrimSpace(s), nil }

func parseDate(s string) (string, error) {
	if _, err := time.Parse(time.DateOnly, s); s != "" && err != nil {
		return "", fmt.Errorf("%q is not a date; write year-month-day, as in 2026-11-25", s)
	}
	return s, nil
}

func parsePaper(s string) (string, error) {
	p, err := kit.ParsePaper(strings.ToLower(s))
	return p.Name, err
}

// setLabels reads columns x rows: 2x5.
func setLabels(p *kitParameters, text string) error {
	c, r, ok := strings.Cut(strings.ToLower(text), "x")
	columns, errColumns := strconv.Atoi(strings.TrimSpace(c))
	rows, errRows := strconv.Atoi(strings.TrimSpace(r))
	if !ok || errColumns != nil || errRows != nil {
		return fmt.Errorf("labels %q are not understood; write columns x rows, as in 2x5", text)
	}
	p.columns, p.rows = columns, rows
	return nil
}

func parseMargins(s string) ([4]float64, error) {
	var out [4]float64
	texts := strings.Split(s, ",")
	if len(texts) != 1 && len(texts) != 4 {
		return out, fmt.Errorf("%q are %d margins; give one for all sides, or four: top,right,bottom,left", s, len(texts))
	}
	for i := range out {
		v, err := geo.ParseLength(texts[i%len(texts)])
		if err != nil {
			return out, err
		}
		out[i] = v
	}
	return out, nil
}

func setLabelGap(p *kitParameters, s string) error {
	texts := strings.Split(s, ",")
	if len(texts) > 2 {
		return fmt.Errorf("%q are %d gaps; give one, or two: across,down", s, len(texts))
	}
	across, err := geo.ParseLength(texts[0])
	if err != nil {
		return err
	}
	down, err := geo.ParseLength(texts[len(texts)-1])
	if err != nil {
		return err
	}
	p.across, p.down = across, down
	return nil
}

// onPaper is the paper that was asked for, or that of the units.
func (p *kitParameters) onPaper() kit.Paper {
	if paper, err := kit.ParsePaper(p.paper); err == nil {
		return paper
	}
	if p.us {
		return kit.Letter()
	}
	return kit.A4()
}

func (p *kitParameters) labelSheet() kit.LabelSheet {
	const mm = 1000
	return kit.LabelSheet{
		Paper: p.onPaper(), Columns: p.columns, Rows: p.rows, Start: p.startAt, Outlines: p.outlines,
		Top: mm * p.margins[0], Right: mm * p.margins[1], Bottom: mm * p.margins[2], Left: mm * p.margins[3], Across: mm * p.across, Down: mm * p.down,
	}
}

// check looks at choices that hang together.
func (p *kitParameters) check() error { return p.labelSheet().Validate() }

// paperwork reads the font and puts together what the sheets are made by.
func (p *kitParameters) paperwork() (kit.Paperwork, error) {
	options := kit.FontOptions{Name: p.font, Folders: p.systemFontFolders}
	if p.font != "" {
		var err error
		if options.Data, err = os.ReadFile(p.font); err != nil {
			return kit.Paperwork{}, readError(err)
		}
	}
	fonts, err := kit.NewFonts(options)
	if err != nil {
		return kit.Paperwork{}, err
	}
	return kit.Paperwork{
		Farm: p.farm, Date: p.date, Crop: p.crop, Tests: p.tests, US: p.us, Paper: p.onPaper(), Labels: p.labelSheet(), Fonts: fonts,
	}, nil
}

// systemFontFolders are where the system keeps fonts.
func systemFontFolders() []string {
	home, err := os.UserHomeDir()
	own := func(parts ...string) []string {
		if err != nil {
			return nil
		}
		return []string{filepath.Join(append([]string{home}, parts...)...)}
	}
	switch runtime.GOOS {
	case "windows":
		if dir := os.Getenv("WINDIR"); dir != "" {
			return []string{filepath.Join(dir, "Fonts")}
		}
		return nil
	case "darwin":
		return append([]string{"/Library/Fonts", "/System/Library/Fonts"}, own("Library", "Fonts")...)
	}
	return append([]string{"/usr/share/fonts", "/usr/local/share/fonts"}, own(".local", "share", "fonts")...)
}
