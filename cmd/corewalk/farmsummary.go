package main

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/sampling/lab"
)

// What came of a field.
const (
	fieldDone   = "done"
	fieldFailed = "failed"
)

// farmRecord is what a farm run says of one field.
type farmRecord struct {
	Place  int    `json:"place"` // in the boundary file, from 1
	Field  string `json:"field"`
	Folder string `json:"folder"`
	Status string `json:"status"`
	Reason string `json:"reason,omitempty"` // why it failed
	CRS    string `json:"crs,omitempty"`
	farmFigures
	Rows      int           `json:"rows"`      // of the lab's file
	Unmatched int           `json:"unmatched"` // of those that fit no sample of the field
	Products  []farmProduct `json:"products,omitempty"`
	Notices   []string      `json:"notices,omitempty"`
}

// farmFigures are those of a field, or of all.
type farmFigures struct {
	AreaHa       float64 `json:"area_ha"`
	SampleableHa float64 `json:"sampleable_ha"`
	Units        int     `json:"units"`
	Samples      int     `json:"samples"`
	Cores        int     `json:"cores"`
	WalkM        float64 `json:"walk_m"`
	Seconds      float64 `json:"walk_and_core_s"`
	Answered     int     `json:"answered"` // samples that have results
	Patches      int     `json:"patches"`
	PatchHa      float64 `json:"patch_ha"`
}

func (f *farmFigures) add(more farmFigures) {
	f.AreaHa += more.AreaHa
	f.SampleableHa += more.SampleableHa
	f.Units += more.Units
	f.Samples += more.Samples
	f.Cores += more.Cores
	f.WalkM += more.WalkM
	f.Seconds += more.Seconds
	f.Answered += more.Answered
	f.Patches += more.Patches
	f.PatchHa += more.PatchHa
}

// rounded keeps the decimals that are written.
func (f farmFigures) rounded() farmFigures {
	f.AreaHa, f.SampleableHa, f.PatchHa = decimals(f.AreaHa, 4), decimals(f.SampleableHa, 4), decimals(f.PatchHa, 4)
	f.WalkM, f.Seconds = decimals(f.WalkM, 1), decimals(f.Seconds, 1)
	return f
}

// farmProduct is what a field, or the farm, gets of one product.
type farmProduct struct {
	Product   string   `json:"product"`
	Kilograms float64  `json:"kg"`
	Cost      *float64 `json:"cost,omitempty"`
	Currency  string   `json:"currency,omitempty"`
}

// farmPrices are what a sample costs at the laboratory and an hour outside.
type farmPrices struct {
	Sample float64 `json:"sample"`
	Hour   float64 `json:"hour"`
}

func (p farmPrices) of(samples int, seconds float64) float64 {
	return float64(samples)*p.Sample + seconds/3600*p.Hour
}

// farmTotals are the sums over the fields.
type farmTotals struct {
	Done   int `json:"done"`
	Failed int `json:"failed"`
	farmFigures
	Cost     *float64      `json:"cost,omitempty"`
	Products []farmProduct `json:"products,omitempty"`
}

// farmSummary is what farm.json holds: of a whole farm, or of one shard.
type farmSummary struct {
	Format  int           `json:"format"`
	Program string        `json:"program"`
	Farm    string        `json:"farm,omitempty"`
	Units   string        `json:"units"`
	Job     string        `json:"job_sha256"` // of the job's parameters
	Inputs  []inputHash   `json:"inputs"`
	Of      int           `json:"fields_of_farm"`
	Shard   *shard        `json:"shard,omitempty"`
	Prices  *farmPrices   `json:"prices,omitempty"`
	Totals  farmTotals    `json:"totals"`
	Left    []lab.RowFate `json:"rows_of_no_field,omitempty"`
	Strays  []string      `json:"waypoints_of_no_field,omitempty"`
	Notices []string      `json:"notices,omitempty"`
	Records []farmRecord  `json:"fields"`
}

func (f *farm) record(x *farmField) farmRecord {
	return farmRecord{Place: x.place + 1, Field: x.outline.Name, Folder: fieldsFolder + "/" + x.folder, Status: fieldDone, Rows: len(x.rows)}
}

func (f *farm) failed(x *farmField, err error) farmRecord {
	r := f.record(x)
	r.Status, r.Reason = fieldFailed, oneLine(err)
	return r
}

// recordOf sums up what a field's steps said.
func (f *farm) recordOf(x *farmField, j *job, s *runSummary, failure error) farmRecord {
	r := f.record(x)
	if failure != nil {
		r = f.failed(x, failure)
	}
	p := s.Plan.Fields[0]
	r.CRS, r.AreaHa, r.SampleableHa = p.CRS, p.AreaHa, p.SampleableHa
	r.Units, r.Samples, r.Cores, r.WalkM, r.Seconds = p.Units, p.Samples, p.Cores, p.WalkM, p.seconds
	r.Notices = s.notices
	if s.Join != nil {
		r.Answered, r.Unmatched = s.Join.Counts.Answered, s.Join.Counts.Unmatched
	} else if f.table != nil {
		r.Notices = append(r.Notices, "the lab's file has no row of this field")
	}
	if s.Zone != nil {
		for _, x := range s.Zone.Patches {
			r.Patches++
			r.PatchHa += x.AreaHa
		}
	}
	r.farmFigures = r.rounded()
	if s.Rate != nil {
		for _, x := range s.Rate.Rates {
			r.Products = addProduct(r.Products, farmProduct{cmp.Or(x.Product, x.Of), x.Kilograms, x.Cost, x.Currency})
		}
	}
	return r
}

// addProduct adds to what there is of the same product.
func addProduct(all []farmProduct, p farmProduct) []farmProduct {
	for i := range all {
		x := &all[i]
		if x.Product != p.Product || x.Currency != p.Currency {
			continue
		}
		x.Kilograms += p.Kilograms
		if p.Cost != nil {
			sum := *p.Cost
			if x.Cost != nil {
				sum += *x.Cost
			}
			x.Cost = &sum
		}
		return all
	}
	return append(all, p)
}

// total sums up the records.
func (s *farmSummary) total() {
	t := farmTotals{}
	for _, r := range s.Records {
		if r.Status == fieldDone {
			t.Done++
		} else {
			t.Failed++
		}
		t.add(r.farmFigures)
		for _, p := range r.Products {
			t.Products = addProduct(t.Products, p)
		}
	}
	t.farmFigures = t.rounded()
	if s.Prices != nil {
		cost := decimals(s.Prices.of(t.Samples, t.Seconds), 2)
		t.Cost = &cost
	}
	slices.SortFunc(t.Products, func(a, b farmProduct) int { return cmp.Compare(a.Product, b.Product) })
	s.Totals = t
}

// lines says the totals for a person.
func (s *farmSummary) lines(m measure) []string {
	t := s.Totals
	out := []string{
		fmt.Sprintf("%d of %d fields done: %s, %s of it sampleable", t.Done, len(s.Records), m.area(t.AreaHa*geo.Hectare), m.area(t.SampleableHa*geo.Hectare)),
		fmt.Sprintf("  %d units, %d samples, %d cores; walks of %s, %s with the cores", t.Units, t.Samples, t.Cores, m.distance(t.WalkM), hours(t.Seconds)),
	}
	if t.Cost != nil {
		out = append(out, fmt.Sprintf("  cost of the samples and the work: %.2f", *t.Cost))
	}
	if t.Answered > 0 {
		out = append(out, fmt.Sprintf("  %d samples have results; %d patches, %s", t.Answered, t.Patches, m.area(t.PatchHa*geo.Hectare)))
	}
	for _, p := range t.Products {
		out = append(out, "  "+p.line(m))
	}
	if len(s.Records) > mostLines {
		return out
	}
	for _, r := range s.Records {
		if r.Status != fieldDone {
			continue
		}
		line := fmt.Sprintf("  %s: %s, %d samples, %d cores, walk of %s", r.Field, m.area(r.AreaHa*geo.Hectare), r.Samples, r.Cores, m.distance(r.WalkM))
		if s.Prices != nil {
			line += fmt.Sprintf(", cost %.2f", s.Prices.of(r.Samples, r.Seconds))
		}
		if r.Answered > 0 {
			line += fmt.Sprintf(", %d with results, patches: %d", r.Answered, r.Patches)
		}
		for _, p := range r.Products {
			if p.Kilograms > 0 {
				line += ", " + p.line(m)
			}
		}
		out = append(out, line)
	}
	return out
}

func (p farmProduct) line(m measure) string {
	line := p.Product + ": " + m.mass(p.Kilograms)
	if p.Cost != nil {
		line += ", " + money(*p.Cost, p.Currency)
	}
	return line
}

// table is farm.csv.
func (s *farmSummary) table() ([]byte, error) {
	var products []string
	for _, p := range s.Totals.Products {
		products = append(products, p.Product)
	}
	products = slices.Compact(products)
	head := []string{"place", "field", "folder", "status", "crs", "area_ha", "area_ac", "sampleable_ha", "units", "samples", "cores", "walk_m", "walk_and_core_min", "cost", "lab_rows", "answered", "unmatched", "patches", "patch_ha"}
	for _, p := range products {
		head = append(head, p+" kg")
	}
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.Write(append(head, "reason")); err != nil {
		return nil, err
	}
	for _, r := range s.Records {
		row := []string{strconv.Itoa(r.Place), r.Field, r.Folder, r.Status, r.CRS, plain(r.AreaHa), plain(decimals(r.AreaHa*geo.Hectare/geo.Acre, 3)), plain(r.SampleableHa),
			strconv.Itoa(r.Units), strconv.Itoa(r.Samples), strconv.Itoa(r.Cores), plain(r.WalkM), plain(decimals(r.Seconds/60, 1)), "", strconv.Itoa(r.Rows), strconv.Itoa(r.Answered), strconv.Itoa(r.Unmatched), strconv.Itoa(r.Patches), plain(r.PatchHa)}
		if s.Prices != nil {
			row[13] = plain(decimals(s.Prices.of(r.Samples, r.Seconds), 2))
		}
		for _, name := range products {
			text := ""
			for _, p := range r.Products {
				if p.Product == name {
					text = plain(decimals(p.Kilograms, 3))
				}
			}
			row = append(row, text)
		}
		if err := w.Write(append(row, r.Reason)); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// stem is the name of the summary's files without their ending.
func (s *farmSummary) stem() string {
	if s.Shard == nil {
		return "farm"
	}
	return fmt.Sprintf("farm-%d-of-%d", s.Shard.Number, s.Shard.Of)
}

// files are farm.json and farm.csv.
func (s *farmSummary) files() ([]outFile, error) {
	data, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return nil, err
	}
	table, err := s.table()
	return []outFile{{name: s.stem() + ".json", data: append(data, '\n')}, {name: s.stem() + ".csv", data: table}}, err
}

// write puts the summary down. One of an earlier run makes place for it.
func (s *farmSummary) write(out *outputs) error {
	files, err := s.files()
	if err != nil {
		return err
	}
	if old, err := readSummary(filepath.Join(out.dir, files[0].name)); err == nil && !out.force {
		// Only if both are still as they were written.
		was, err := old.files()
		out.force = err == nil
		for _, f := range was {
			same, err := f.is(filepath.Join(out.dir, f.name))
			out.force = out.force && (same || errors.Is(err, fs.ErrNotExist))
		}
	}
	out.take(files...)
	return out.commit()
}

func readSummary(path string) (*farmSummary, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, readError(err)
	}
	var s farmSummary
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&s); err != nil || s.Format != 1 || !strings.HasPrefix(s.Program, "corewalk ") {
		return nil, fmt.Errorf("%s is not the summary of a farm run", path)
	}
	return &s, nil
}
