package main

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"github.com/tidwall/rtree"

	"corewalk/geo"
	"corewalk/geo/gpx"
	"corewalk/geo/vector"
	"corewalk/sampling"
	"corewalk/sampling/lab"
)

// farmField is one field of a farm that is run field by field.
type farmField struct {
	place   int // in the farm, from 0
	outline geo.Outline
	folder  string      // below the folder of the fields
	earlier string      // plan that is come back to; "" for none
	inputs  []inputHash // what the files of the map say of it
	rows    []int       // of the lab's file
	marks   []int       // waypoints of the handheld's file
	key     string      // of all that its files hang on
}

// farm is a job with its fields and the rows of its lab's file, read once.
type farm struct {
	job     *job
	pages   bool
	fields  []farmField
	table   *lab.Table
	left    []lab.RowFate // rows that are of no field
	walked  *gpx.Document
	strays  []string    // waypoints that are of no field
	inputs  []inputHash // whole files
	paths   []string    // of all that is read, never to be overwritten
	sum     string      // of the job's parameters and of the files that are read for every field
	notices []string
}

// openFarm reads what a job names. With pages, fields without results get a page,
// too.
func openFarm(path string, pages bool) (*farm, error) {
	e, err := readYAML(path)
	if err != nil {
		return nil, err
	}
	j, err := newJob(e, path)
	if err != nil {
		return nil, err
	}
	switch {
	case j.plan == nil && j.again == nil:
		return nil, fmt.Errorf("%s: plan: is missing; fields are run one by one from their plan on", path)
	case j.again != nil && same(j.again.plan, j.out):
		return nil, fmt.Errorf("%s: plan.again: %s is the folder that is written to, too; choose another for out", path, j.again.plan)
	}
	f := &farm{job: j, pages: pages}
	read := j.resultFiles()
	if j.again != nil {
		if err := f.earlier(j.again.plan); err != nil {
			return nil, err
		}
	} else {
		read = append(j.files.paths(), read...)
		if err := f.mapped(); err != nil {
			return nil, err
		}
	}
	shared := j.sharedFiles()
	f.paths = slices.Concat([]string{path}, read, shared)
	if f.inputs, err = hashInputs(read); err != nil {
		return nil, err
	}
	if f.sum, err = parametersSum(e, shared); err != nil {
		return nil, err
	}
	if err := f.cropsFit(); err != nil {
		return nil, err
	}
	if j.results != nil {
		if f.table, err = j.results.table(j.results.file); err != nil {
			return nil, err
		}
		if j.results.walked != "" {
			if f.walked, err = readHandheld(j.results.walked); err != nil {
				return nil, err
			}
		}
		if err := f.share(); err != nil {
			return nil, err
		}
	}
	for i := range f.fields {
		if err := f.setKey(&f.fields[i]); err != nil {
			return nil, err
		}
	}
	return f, nil
}

// mapped takes the fields from the files of the map.
func (f *farm) mapped() error {
	outlines, notices, err := f.job.files.outlines()
	if err != nil {
		return err
	}
	f.notices = notices
	names := make([]string, len(outlines))
	for i, o := range outlines {
		names[i] = o.Name
	}
	for i, folder := range slugs(names) {
		inputs, err := f.job.files.partOf(outlines[i])
		if err != nil {
			return err
		}
		f.fields = append(f.fields, farmField{place: i, outline: outlines[i], folder: folder, inputs: inputs})
	}
	return nil
}

// earlier takes the fields from an earlier run of the farm, in their places.
func (f *farm) earlier(dir string) error {
	all := filepath.Join(dir, fieldsFolder)
	entries, err := os.ReadDir(all)
	if err != nil {
		return fmt.Errorf("plan.again: %s is not the output folder of an earlier farm run, with a folder %s in it: %w", dir, fieldsFolder, readError(err))
	}
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), leftover) {
			continue
		}
		d, err := readDone(filepath.Join(all, e.Name()))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err == nil && d.Key == "" {
			err = fmt.Errorf("%s is half replaced; go on with that run first (--resume)", filepath.Join(all, e.Name()))
		}
		if err != nil {
			return err
		}
		path := filepath.Join(all, e.Name(), planFile)
		layer, err := vector.Read(path, vector.Options{})
		if err != nil {
			return readError(err)
		}
		// The outline is that of before, for what is looked up by place or name.
		o, err := sampling.ReadOutlines(layer)
		if err != nil {
			return err
		}
		if len(o) != 1 {
			return fmt.Errorf("%s has %d fields; a field of a farm run has one", path, len(o))
		}
		hashes, err := hashInputs([]string{path})
		if err != nil {
			return err
		}
		f.fields = append(f.fields, farmField{place: d.Record.Place - 1, outline: o[0], folder: e.Name(), earlier: path, inputs: hashes})
	}
	if len(f.fields) == 0 {
		return fmt.Errorf("plan.again: %s has no finished field to come back to", all)
	}
	slices.SortFunc(f.fields, func(a, b farmField) int { return cmp.Compare(a.place, b.place) })
	for i := range f.fields[1:] {
		if a, b := f.fields[i], f.fields[i+1]; a.place == b.place {
			return fmt.Errorf("%s: the folders %s and %s are both of place %d in the farm; take one of them away", all, a.folder, b.folder, a.place+1)
		}
	}
	return nil
}

// cropsFit fails on a crop of ground that the farm has not.
func (f *farm) cropsFit() error {
	j := f.job
	if j.rate == nil {
		return nil
	}
	j.rate.elsewhere = true
	for i, c := range j.rate.crops {
		if !slices.ContainsFunc(f.fields, func(x farmField) bool {
			o := x.outline
			return c.fits(o.Name, geo.Division{}) > 0 || slices.ContainsFunc(slices.Concat(o.Management, o.Problems), func(p geo.Part) bool {
				return c.fits(o.Name, geo.Division{Name: p.Name}) > 0
			})
		}) {
			return fmt.Errorf("crop %q: there is no field or management unit of that name", j.rate.Crops[i])
		}
	}
	return nil
}

// resultFiles are those whose parts go to the fields.
func (j *job) resultFiles() []string {
	switch {
	case j.results == nil:
		return nil
	case j.results.walked == "":
		return []string{j.results.file}
	}
	return []string{j.results.file, j.results.walked}
}

// sharedFiles are those, beside the map and the lab's file, that are read for
// every field.
func (j *job) sharedFiles() []string {
	var out []string
	if j.kit != nil && j.kit.font != "" {
		out = append(out, j.kit.font)
	}
	if j.zone != nil {
		out = append(out, j.zone.Tables...)
	}
	if j.rate != nil {
		out = append(out, j.rate.own...)
	}
	if j.season != nil {
		out = append(out, j.season.record)
	}
	return out
}

// parametersSum is the hash of a job's keys, but for where it writes, and of the
// files that every field reads. The program is part of it: another version may
// write other files.
func parametersSum(e entry, shared []string) (string, error) {
	hashes, err := hashInputs(shared)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	fmt.Fprintln(&b, "corewalk", version, hashes)
	for _, k := range slices.Sorted(maps.Keys(e.of)) {
		if k != "out" {
			fmt.Fprintf(&b, "%q: ", k)
			e.of[k].spell(&b)
		}
	}
	return sumOf([]byte(b.String())), nil
}

// spell writes an entry so that two are written alike only if they say the same.
func (e entry) spell(b *strings.Builder) {
	fmt.Fprintf(b, "%d %q [", e.kind, e.text)
	for _, x := range e.list {
		x.spell(b)
	}
	b.WriteString("] {")
	for _, k := range slices.Sorted(maps.Keys(e.of)) {
		fmt.Fprintf(b, "%q: ", k)
		e.of[k].spell(b)
	}
	b.WriteString("}\n")
}

func sumOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// partOf hashes what each file of the map says of a field.
func (m mapFiles) partOf(o geo.Outline) ([]inputHash, error) {
	var out []inputHash
	add := func(path string, said any) error {
		data, err := json.Marshal(said)
		if err != nil {
			return fmt.Errorf("%s: field %s: %w", path, o.Name, err)
		}
		out = append(out, inputHash{File: filepath.Base(path), Of: o.Name, SHA256: sumOf(data)})
		return nil
	}
	if m.boundary.file != "" {
		if err := add(m.boundary.file, []any{o.Name, o.Boundary, o.Setback}); err != nil {
			return nil, err
		}
	}
	from := func(path string, parts ...[]geo.Part) error {
		prefix := filepath.Base(path) + ": "
		said := []geo.Part{}
		for _, p := range slices.Concat(parts...) {
			if strings.HasPrefix(p.Where, prefix) {
				said = append(said, p)
			}
		}
		return add(path, said)
	}
	for _, path := range m.paths() {
		if path == m.boundary.file {
			continue
		}
		if err := from(path, o.Exclusions, o.Management, o.Problems); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// setKey hashes all that the files of a field hang on.
func (f *farm) setKey(x *farmField) error {
	said, err := json.Marshal([]any{f.sum, f.pages, x.place, x.outline, x.inputs})
	if err != nil {
		return fmt.Errorf("field %s: %w", x.outline.Name, err)
	}
	if f.table != nil {
		rows, err := f.rowsOf(x)
		if err != nil {
			return err
		}
		said = append(said, rows.hash.SHA256...)
	}
	if f.walked != nil {
		walk, err := f.walkOf(x)
		if err != nil {
			return err
		}
		said = append(said, walk.hash.SHA256...)
	}
	x.key = sumOf(said)
	return nil
}

// rowsOf takes the rows of a field out of the lab's file.
func (f *farm) rowsOf(x *farmField) (*labRows, error) {
	part := f.table.Part(x.rows)
	sum, err := part.Sum()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.table.Name, err)
	}
	return &labRows{part, inputHash{File: filepath.Base(f.table.Name), Of: x.outline.Name, SHA256: hex.EncodeToString(sum[:])}}, nil
}

// walkOf takes what comes near a field out of the handheld's file.
func (f *farm) walkOf(x *farmField) (*fieldWalk, error) {
	d := &gpx.Document{}
	for _, k := range x.marks {
		d.Waypoints = append(d.Waypoints, f.walked.Waypoints[k])
	}
	ground := orb.MultiPolygon(x.outline.Boundary).Bound()
	// Somewhat more than what can be of any core; a degree of latitude is 111 km.
	pad := (2*f.job.results.reach + 200) / 111e3
	wide := pad / max(0.1, math.Cos(ground.Center().Lat()*math.Pi/180))
	ground = orb.Bound{Min: orb.Point{ground.Min[0] - wide, ground.Min[1] - pad}, Max: orb.Point{ground.Max[0] + wide, ground.Max[1] + pad}}
	for _, t := range f.walked.Tracks {
		near := gpx.Track{Name: t.Name}
		for _, s := range t.Segments {
			if slices.ContainsFunc(s, func(p gpx.TrackPoint) bool { return ground.Contains(orb.Point(p.At)) }) {
				near.Segments = append(near.Segments, s)
			}
		}
		if len(near.Segments) > 0 {
			d.Tracks = append(d.Tracks, near)
		}
	}
	data, err := json.Marshal(d)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", f.job.results.walked, err)
	}
	return &fieldWalk{d, inputHash{File: filepath.Base(f.job.results.walked), Of: x.outline.Name, SHA256: sumOf(data)}}, nil
}

// share gives the rows of the lab's file to the fields, by the letters that a
// sample id begins with or by the place that the file gives, and the waypoints of
// the handheld's file likewise. What is of no field is accounted for here.
func (f *farm) share() error {
	var places rtree.RTreeG[int]
	for i, x := range f.fields {
		b := orb.MultiPolygon(x.outline.Boundary).Bound()
		places.Insert(b.Min, b.Max, i)
	}
	// home is the field that an id is of or, else, a place lies in or within so many
	// degrees of; -1 for none.
	home := func(id string, at *[2]float64, reach float64) int {
		if n, ok := sampling.PlaceOf(id); ok {
			if k, ok := slices.BinarySearchFunc(f.fields, n, func(x farmField, n int) int { return cmp.Compare(x.place, n) }); ok {
				return k
			}
		}
		found, least := -1, math.Inf(1)
		if at != nil {
			low, high := [2]float64{at[0] - reach, at[1] - reach}, [2]float64{at[0] + reach, at[1] + reach}
			places.Search(low, high, func(_, _ [2]float64, k int) bool {
				ground, off := orb.MultiPolygon(f.fields[k].outline.Boundary), 0.0
				if !planar.MultiPolygonContains(ground, orb.Point(*at)) {
					if off = planar.DistanceFrom(ground, orb.Point(*at)); off > reach || reach == 0 {
						return true
					}
				}
				if off < least || off == least && k < found {
					found, least = k, off
				}
				return true
			})
		}
		return found
	}
	var left []int
	for i, row := range f.table.Rows {
		if k := home(f.table.Key(i), row.Place, 0); k >= 0 {
			f.fields[k].rows = append(f.fields[k].rows, i)
		} else {
			left = append(left, i)
		}
	}
	if f.walked != nil {
		for i, p := range f.walked.Waypoints {
			if k := home(strings.ToUpper(strings.TrimSpace(p.Name)), (*[2]float64)(&p.At), f.job.results.reach/111e3); k >= 0 {
				f.fields[k].marks = append(f.fields[k].marks, i)
			} else {
				f.strays = append(f.strays, p.Name)
			}
		}
	}
	r := f.job.results
	reckoning := lab.JoinWith(nil, f.table.Part(left), lab.JoinOptions{Valid: sampling.ValidID, Checks: r.checks, AverageConflicts: r.average})
	f.left = reckoning.Rows
	for i := range f.left {
		if f.left[i].Fate != lab.Unmatched {
			continue
		}
		for _, id := range sampling.Slips(f.table.Key(left[i])) {
			if home(id, nil, 0) >= 0 {
				f.left[i].Nearest = append(f.left[i].Nearest, id)
			}
		}
	}
	if r.strict {
		return strictly(reckoning, r.file)
	}
	return nil
}

// jobOf is the job of one field, whose files go to a folder of their own.
func (f *farm) jobOf(x *farmField, dir string) (*job, error) {
	j := *f.job
	j.out, j.one = dir, x
	copied(&j.plan)
	copied(&j.again)
	if j.again != nil {
		j.again.plan = x.earlier
	}
	copied(&j.kit)
	copied(&j.results)
	copied(&j.surface)
	copied(&j.zone)
	copied(&j.rate)
	if j.results != nil && len(x.rows) == 0 {
		j.results, j.surface, j.zone, j.rate, j.season = nil, nil, nil, nil, nil
	}
	if j.results != nil {
		var err error
		if j.results.rows, err = f.rowsOf(x); err != nil {
			return nil, err
		}
		if f.walked != nil {
			if j.results.walk, err = f.walkOf(x); err != nil {
				return nil, err
			}
		}
	}
	return &j, nil
}

// planStep plans the field as one of its farm and writes the plan.
func (x *farmField) planStep(p sampling.Params, out *outputs) (planSummary, error) {
	f, err := geo.Map(x.outline)
	if err != nil {
		return planSummary{}, err
	}
	plan, err := sampling.MakeOne(f, x.place, p)
	if err != nil {
		return planSummary{}, err
	}
	head, err := newHeader(parametersOf(p), nil)
	if err != nil {
		return planSummary{}, err
	}
	head.Inputs = x.inputs
	return writePlan(plan, head, f.Notices, nil, out)
}

// copied makes a pointer point to a copy of its own.
func copied[T any](p **T) {
	if *p != nil {
		own := **p
		*p = &own
	}
}
