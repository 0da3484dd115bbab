package kit

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/vector"
	"corewalk/sampling"
)

// Packet is what a plan file says, made ready for paper.
type Packet struct {
	Hash   string // first 8 hexadecimal digits, upper case, of the SHA-256 of the plan file
	Fields []PacketField
	Stops  []Stop // all cores, as the waypoints have them
}

// PacketField is a field with its units in walking order.
type PacketField struct {
	Field *geo.Field
	Start *geo.XY // the gate; nil where the plan has none
	Units []PacketUnit
}

// PacketUnit is a sampling unit.
type PacketUnit struct {
	Number          int
	Part            string // management unit or problem area in words; empty where there is none
	Short           string // the same in few words, for labels
	Management      string // name of the management unit; empty where there is none
	Problem         bool
	Shape           plane.Shape // in the field's frame
	Cores           []PacketCore
	Samples         []PacketSample
	Notes           []string
	CompareWith     string // id of the sample to compare a problem area with
	manyComposites  bool
	beforeThisInAll int // cores of the field before its first
}

// PacketCore is a core. Its number on paper is its place in the walk of the
// field, from 1.
type PacketCore struct {
	Name   string
	Number int
	At     geo.XY
}

// PacketSample is a bag.
type PacketSample struct {
	ID          string
	Composite   int
	Depth       string
	Cores       int
	First, Last string // waypoints
	From, To    int    // numbers on paper
}

// ReadPacket reads a plan file by its content; path is its name for messages.
// Every unit must be of a field of the file, and all must lie where the field's
// frame reaches.
func ReadPacket(path string, data []byte) (*Packet, error) {
	layer, err := vector.Parse(path, data)
	if err != nil {
		return nil, err
	}
	fields, err := sampling.ReadFields(layer)
	if err != nil {
		return nil, err
	}
	units, err := sampling.ReadUnits(layer)
	if err != nil {
		return nil, err
	}
	starts, err := sampling.ReadStarts(layer)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(data)
	p := &Packet{Hash: strings.ToUpper(hex.EncodeToString(sum[:4])), Stops: PlannedStops(units)}
	place := map[string]int{}
	for i, f := range fields {
		place[f.Name] = i
		x := PacketField{Field: f}
		if at, ok := starts[f.Name]; ok {
			xy, err := f.Frame.XY(at)
			if err != nil {
				return nil, fmt.Errorf("%s: field %s: its start: %w", path, f.Name, err)
			}
			x.Start = &xy
		}
		p.Fields = append(p.Fields, x)
	}
	for from := 0; from < len(units); {
		to := from + 1
		for to < len(units) && units[to].Field == units[from].Field && units[to].Unit == units[from].Unit {
			to++
		}
		i, ok := place[units[from].Field]
		if !ok {
			return nil, fmt.Errorf("%s: sample %s is of a field %q that is not in the file", path, units[from].ID, units[from].Field)
		}
		if err := p.Fields[i].add(units[from:to]); err != nil {
			return nil, fmt.Errorf("%s: sample %s: %w", path, units[from].ID, err)
		}
		from = to
	}
	return p, nil
}

// add takes up the samples of one unit.
func (f *PacketField) add(samples []sampling.PlannedUnit) error {
	frame := f.Field.Frame
	first := samples[0]
	shape, _, err := frame.Shape(first.Shape)
	if err != nil {
		return err
	}
	u := PacketUnit{
		Number: first.Unit, Part: plannedPart(first), Short: shortPart(first), Management: first.Management, Problem: first.Problem != "",
		Shape: shape, Notes: first.Notes, CompareWith: first.CompareWith,
	}
	if n := len(f.Units); n > 0 {
		last := f.Units[n-1]
		u.beforeThisInAll = last.beforeThisInAll + len(last.Cores)
	}
	number := map[string]int{}
	for i, stop := range PlannedStops(samples) {
		at, err := frame.XY(stop.At)
		if err != nil {
			return err
		}
		number[stop.Name] = u.beforeThisInAll + i + 1
		u.Cores = append(u.Cores, PacketCore{stop.Name, number[stop.Name], at})
	}
	for _, s := range samples {
		x := PacketSample{ID: s.ID, Composite: s.Composite, Depth: s.Depth, Cores: len(s.Cores)}
		u.manyComposites = u.manyComposites || s.Composite > 1
		for _, c := range s.Cores {
			n := number[c.Name]
			if x.From == 0 || n < x.From {
				x.First, x.From = c.Name, n
			}
			if n > x.To {
				x.Last, x.To = c.Name, n
			}
		}
		u.Samples = append(u.Samples, x)
	}
	f.Units = append(f.Units, u)
	return nil
}

// shortPart is plannedPart without the words that a person can do without.
func shortPart(u sampling.PlannedUnit) string {
	name := u.Management
	if u.Problem != "" {
		name = "problem " + u.Problem
	}
	if u.ComparisonOf != "" {
		return joined(name, "beside "+u.ComparisonOf)
	}
	return name
}

// Samples returns the number of bags.
func (p *Packet) Samples() (n int) {
	for _, f := range p.Fields {
		n += f.Samples()
	}
	return n
}

// Samples returns the number of bags of a field.
func (f *PacketField) Samples() (n int) {
	for _, u := range f.Units {
		n += len(u.Samples)
	}
	return n
}

// Cores returns the number of cores of a field.
func (f *PacketField) Cores() int {
	if len(f.Units) == 0 {
		return 0
	}
	last := f.Units[len(f.Units)-1]
	return last.beforeThisInAll + len(last.Cores)
}

// Paperwork says how the sheets are made. The zero value of a text leaves a line
// to fill in.
type Paperwork struct {
	Farm   string
	Date   string // of the sampling
	Crop   string // empty: the name of the management unit
	Tests  []string
	US     bool // feet and acres; else metres and hectares
	Paper  Paper
	Labels LabelSheet
	Fonts  *Fonts
}

// crop is that of a unit. The rest of a field that lies in no management unit
// bears the name rest, which is no crop.
func (o *Paperwork) crop(u *PacketUnit) string {
	if o.Crop != "" || strings.HasPrefix(u.Management, "rest") {
		return o.Crop
	}
	return u.Management
}

// CheckFonts notes the characters of names that no font has; see Fonts.Notices.
func (p *Packet) CheckFonts(o Paperwork) {
	o.Fonts.Check(o.Farm, "the farm's name")
	o.Fonts.Check(o.Crop, "the crop")
	o.Fonts.Check(strings.Join(o.Tests, " "), "the tests")
	for _, f := range p.Fields {
		what := "field " + f.Field.Name
		o.Fonts.Check(f.Field.Name, what)
		for _, e := range f.Field.Exclusions {
			o.Fonts.Check(e.Name, "an exclusion of "+what)
		}
		for _, u := range f.Units {
			o.Fonts.Check(u.Part, fmt.Sprintf("unit %d of %s", u.Number, what))
			for _, s := range u.Samples {
				o.Fonts.Check(s.ID, "a sample of "+what)
			}
		}
	}
}

// said are the notes of a unit for paper.
func (u *PacketUnit) said() string {
	notes := slices.Clone(u.Notes)
	if u.CompareWith != "" {
		notes = append([]string{"compare with " + u.CompareWith}, notes...)
	}
	return strings.Join(notes, "; ")
}
