package main

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"corewalk/geo"
	"corewalk/sampling"
	"corewalk/sampling/lab"
	"corewalk/sampling/season"
)

// job is a job file, read. A part that the file leaves out is nil.
type job struct {
	farm    string
	units   string
	files   *mapFiles
	plan    *sampling.Params
	again   *againJob
	kit     *kitParameters
	results *resultSource
	surface *surfaceParameters
	zone    *zoneParameters
	rate    *rateParameters
	season  *seasonJob
	out     string

	one    *farmField // that alone is done, of a farm that is run field by field
	noPage bool
}

// seasonJob says what this season is called, and which record has the earlier
// ones that the page compares it with.
type seasonJob struct {
	record string
	season.Season
}

// againJob is a plan that comes back to an earlier one.
type againJob struct {
	againFlags
	choices settingFlags[sampling.Params]
}

// readJob reads a job file. Paths in it are relative to its folder.
func readJob(path string) (*job, error) {
	e, err := readYAML(path)
	if err != nil {
		return nil, err
	}
	return newJob(e, path)
}

// newJob takes a job from what its file says.
func newJob(e entry, path string) (*job, error) {
	j := &job{units: "metric"}
	if err := j.read(e, filepath.Dir(path)); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return j, nil
}

func (j *job) read(e entry, dir string) error {
	if err := e.only("farm", "units", "boundary", "exclude", "management", "problems", "beds", "plan", "kit", "results", "surface", "zone", "rate", "season", "out"); err != nil {
		return err
	}
	var err error
	if j.farm, err = e.str("farm"); err != nil {
		return err
	}
	if err := read(e, "units", &j.units, parseUnits); err != nil {
		return err
	}
	out, err := e.str("out")
	if err != nil {
		return err
	}
	if out == "" {
		out = "out"
	}
	j.out = beside(dir, out)
	if err := j.readFiles(e, dir); err != nil {
		return err
	}
	if err := j.readPlan(e, dir); err != nil {
		return err
	}
	if err := j.readKit(e, dir); err != nil {
		return err
	}
	if err := j.readResults(e, dir); err != nil {
		return err
	}
	if err := j.readSurface(e); err != nil {
		return err
	}
	if err := j.readZone(e, dir); err != nil {
		return err
	}
	if err := j.readRate(e, dir); err != nil {
		return err
	}
	if err := j.readSeason(e, dir); err != nil {
		return err
	}
	planned := j.plan != nil || j.again != nil
	switch {
	case j.season != nil && j.results == nil:
		return e.of["season"].fail("a comparison with earlier seasons needs results")
	case j.kit != nil && !planned:
		return e.of["kit"].fail("needs a plan")
	case j.again != nil && j.files != nil:
		return e.of["plan"].fail("comes back to an earlier plan, which has its fields; leave boundary, exclude, management, problems and beds out")
	case j.again == nil && j.files == nil && (j.results == nil || j.results.points == ""):
		return fmt.Errorf("boundary is missing; name the file with the field boundaries, as in boundary: {file: fields.shp, name: NAME}")
	case !planned && j.results == nil:
		return fmt.Errorf("there is nothing to do; give plan: to place cores, or results: with points to map them")
	case j.results != nil && j.results.file != "" && !planned:
		return e.of["results"].fail("a table of results is joined to a plan; give plan: as it was, or results with points of their own")
	case j.results != nil && j.results.points != "" && planned:
		return e.of["plan"].fail("results with points of their own need no plan; leave one of them out")
	case j.rate != nil && j.rate.By == byZone && (j.zone == nil || len(j.zone.classes) == 0):
		return e.of["rate"].fail("rates by zone need zones; give zone: with classes")
	case j.results == nil && j.surface != nil && !planned:
		return e.of["surface"].fail("surfaces need results")
	}
	return nil
}

func (j *job) readSeason(e entry, dir string) error {
	item, ok := e.of["season"]
	if !ok {
		return nil
	}
	if err := item.only("record", "name", "date", "lab"); err != nil {
		return err
	}
	j.season = &seasonJob{}
	for _, x := range []struct {
		key string
		to  *string
	}{{"record", &j.season.record}, {"name", &j.season.Name}, {"date", &j.season.Date}, {"lab", &j.season.Lab}} {
		var err error
		if *x.to, err = item.str(x.key); err != nil {
			return err
		}
	}
	if j.season.record == "" || j.season.Name == "" {
		return item.fail("needs the record and a name, as in season: {record: farm.gpkg, name: 2026 spring, date: 2026-04-17}")
	}
	if err := checkDate(j.season.Date); err != nil {
		return item.fail("%w", err)
	}
	j.season.record = beside(dir, j.season.record)
	return nil
}

func beside(dir, path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(dir, filepath.FromSlash(path))
}

func (j *job) readFiles(e entry, dir string) error {
	_, bounded := e.of["boundary"]
	if _, beds := e.of["beds"]; !bounded && !beds {
		for _, k := range []string{"exclude", "management", "problems"} {
			if item, ok := e.of[k]; ok {
				return item.fail("needs a boundary")
			}
		}
		return nil
	}
	j.files = &mapFiles{}
	var err error
	if item, ok := e.of["boundary"]; ok {
		if j.files.boundary, err = readSource(item, dir); err != nil {
			return err
		}
	}
	if item, ok := e.of["beds"]; ok {
		if j.files.beds, err = readBeds(item, dir); err != nil {
			return err
		}
		if m, both := e.of["management"]; both && m.kind != isNone {
			return m.fail("cannot be taken together with beds, which are management units themselves")
		}
	}
	if item, ok := e.of["exclude"]; ok && item.kind != isNone {
		list := item.list
		if item.kind != isList {
			list = []entry{item}
		}
		for _, x := range list {
			s, err := readSource(x, dir, "setback", "kind", "setbacks")
			if err != nil {
				return err
			}
			j.files.exclude = append(j.files.exclude, s)
		}
	}
	for _, part := range []struct {
		key string
		to  **source
	}{{"management", &j.files.management}, {"problems", &j.files.problems}} {
		item, ok := e.of[part.key]
		if !ok || item.kind == isNone {
			continue
		}
		s, err := readSource(item, dir)
		if err != nil {
			return err
		}
		*part.to = &s
	}
	return nil
}

// readSource reads {file: ..., name: ..., crs: ...} with what more is allowed,
// or a bare file name.
func readSource(e entry, dir string, more ...string) (source, error) {
	if e.kind == isText {
		return source{file: beside(dir, e.text)}, nil
	}
	if err := e.only(append([]string{"file", "name", "crs"}, more...)...); err != nil {
		return source{}, err
	}
	var s source
	var err error
	if s.file, err = e.str("file"); err != nil {
		return s, err
	}
	if s.file == "" {
		return s, e.fail("file is missing")
	}
	s.file = beside(dir, s.file)
	for key, to := range map[string]*string{"name": &s.name, "crs": &s.crs} {
		if *to, err = e.str(key); err != nil {
			return s, err
		}
	}
	if !slices.Contains(more, "setbacks") {
		return s, nil
	}
	if _, ok := e.of["setback"]; ok {
		s.setback = new(float64)
		if err = read(e, "setback", s.setback, geo.ParseLength); err != nil {
			return s, err
		}
	}
	if s.kind, err = e.str("kind"); err != nil {
		return s, err
	}
	item, ok := e.of["setbacks"]
	switch {
	case !ok || item.kind == isNone:
		return s, nil
	case s.kind == "":
		return s, item.fail("needs a kind, the column that tells the kinds apart")
	case item.kind != isMap:
		return s, item.fail("names kinds with their setbacks, as in {waterway: 30m, lane: 5m}")
	}
	s.setbacks = map[string]float64{}
	for kind := range item.of {
		var v float64
		if err := read(item, kind, &v, geo.ParseLength); err != nil {
			return s, err
		}
		s.setbacks[strings.ToLower(strings.Join(strings.Fields(kind), " "))] = v
	}
	return s, nil
}

// readBeds reads {file: ..., name: ..., size: 4ftx8ft, bearing: 30}.
func readBeds(e entry, dir string) (*bedSource, error) {
	s, err := readSource(e, dir, "size", "bearing")
	if err != nil || e.kind == isText {
		return &bedSource{source: s}, err
	}
	b := &bedSource{source: s}
	var size sizeValue
	if err := read(e, "size", &size, parseSize); err != nil {
		return nil, err
	}
	b.width, b.length = size.width, size.length
	return b, read(e, "bearing", &b.bearing, geo.ParseBearing)
}

func (j *job) readPlan(e entry, dir string) error {
	item, ok := e.of["plan"]
	if !ok || item.kind == isNone {
		return nil
	}
	if _, ok := item.of["again"]; ok {
		f, choices, err := readAgain(item, dir)
		j.again = &againJob{f, choices}
		return err
	}
	if err := item.only(append([]string{"again"}, planKeys()...)...); err != nil {
		return err
	}
	p := defaultParams()
	if err := readSettings(item, planSettings(), &p); err != nil {
		return err
	}
	if err := read(item, "setback", &p.Setback, geo.ParseLength); err != nil {
		return err
	}
	p = completed(p, j.units)
	if err := p.Validate(); err != nil {
		return item.fail("%w", err)
	}
	j.plan = &p
	if j.files != nil {
		j.files.setback = p.Setback
	}
	return nil
}

func parseCount(s string) (int, error) {
	n, err := strconv.Atoi(s)
	if err != nil || n < 1 {
		return 0, fmt.Errorf("%q is not a whole number from 1 up", s)
	}
	return n, nil
}

func parseSeed(s string) (uint64, error) {
	n, err := strconv.ParseUint(s, 10, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is not a whole number from 0 up", s)
	}
	return n, nil
}

func parseNumber(s string) (float64, error) {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is not a number", s)
	}
	return v, nil
}

func (j *job) readResults(e entry, dir string) error {
	item, ok := e.of["results"]
	if !ok || item.kind == isNone {
		return nil
	}
	r := &resultSource{reach: defaultReach}
	j.results = r
	if item.kind == isText {
		r.file = beside(dir, item.text)
		return nil
	}
	if err := item.only("file", "points", "x", "y", "crs", "id", "walked", "reach", "relation", "sheet", "columns", "check", "average-conflicts", "strict"); err != nil {
		return err
	}
	for key, to := range map[string]*string{"file": &r.file, "points": &r.points, "x": &r.x, "y": &r.y, "crs": &r.crs, "id": &r.id, "walked": &r.walked, "sheet": &r.sheet} {
		s, err := item.str(key)
		if err != nil {
			return err
		}
		*to = s
	}
	if err := read(item, "reach", &r.reach, geo.ParseLength); err != nil {
		return err
	}
	if err := read(item, "average-conflicts", &r.average, parseYes); err != nil {
		return err
	}
	if err := read(item, "strict", &r.strict, parseYes); err != nil {
		return err
	}
	var err error
	if r.checks, err = item.strs("check"); err != nil {
		return err
	}
	if r.columns, err = readColumns(item); err != nil {
		return err
	}
	relations, err := item.strs("relation")
	if err != nil {
		return err
	}
	for _, text := range relations {
		x, err := parseRelation(text)
		if err != nil {
			return item.of["relation"].fail("%w", err)
		}
		r.relations = append(r.relations, x)
	}
	if r.walked != "" {
		r.walked = beside(dir, r.walked)
	}
	switch {
	case r.points != "" && (len(r.checks) > 0 || r.average):
		return item.fail("has points with check or average-conflicts; those go with a plan")
	case r.walked != "" && r.points != "":
		return item.fail("has walked cores and points; walked cores go with a plan")
	case r.file == "" && r.points == "":
		return item.fail("file is missing (or points, for results with coordinates of their own)")
	case r.file != "" && r.points != "":
		return item.fail("has a file and points; take one of them")
	case r.file != "":
		r.file = beside(dir, r.file)
	default:
		r.points = beside(dir, r.points)
	}
	return nil
}

// readColumns reads what a person says of the columns of a lab's file:
// {P1: {analyte: P, unit: ppm, method: Bray-1}, Notes: {ignore: yes}}.
func readColumns(e entry) (map[string]lab.Mapping, error) {
	item, ok := e.of["columns"]
	if !ok || item.kind == isNone {
		return nil, nil
	}
	if item.kind != isMap {
		return nil, item.fail("names columns with what they are, as in {P1: {analyte: P, unit: ppm, method: Bray-1}}")
	}
	out := map[string]lab.Mapping{}
	for _, name := range slices.Sorted(maps.Keys(item.of)) {
		c := item.of[name]
		if err := c.only("analyte", "unit", "method", "role", "ignore"); err != nil {
			return nil, err
		}
		var m lab.Mapping
		var role string
		for key, to := range map[string]*string{"analyte": &m.Analyte, "unit": &m.Unit, "method": &m.Method, "role": &role} {
			var err error
			if *to, err = c.str(key); err != nil {
				return nil, err
			}
		}
		m.Role = lab.Role(role)
		if err := read(c, "ignore", &m.Ignore, parseYes); err != nil {
			return nil, err
		}
		out[name] = m
	}
	return out, nil
}

func (j *job) readSurface(e entry) error {
	item, ok := e.of["surface"]
	if !ok {
		return nil
	}
	j.surface = defaultSurface()
	if item.kind == isNone {
		return nil
	}
	if err := item.only(keys(surfaceSettings())...); err != nil {
		return err
	}
	return readSettings(item, surfaceSettings(), j.surface)
}

func (j *job) readZone(e entry, dir string) error {
	item, ok := e.of["zone"]
	if !ok || item.kind == isNone {
		return nil
	}
	if err := item.only(keys(zoneSettings())...); err != nil {
		return err
	}
	j.zone = defaultZone()
	if err := readSettings(item, zoneSettings(), j.zone); err != nil {
		return err
	}
	for i, path := range j.zone.Tables {
		j.zone.Tables[i] = beside(dir, path)
	}
	if err := j.zone.check(); err != nil {
		return item.fail("%w", err)
	}
	return nil
}

func (j *job) readRate(e entry, dir string) error {
	item, ok := e.of["rate"]
	if !ok || item.kind == isNone {
		return nil
	}
	if err := item.only(keys(rateSettings())...); err != nil {
		return err
	}
	j.rate = defaultRate()
	if err := readSettings(item, rateSettings(), j.rate); err != nil {
		return err
	}
	for i, path := range j.rate.own {
		j.rate.own[i] = beside(dir, path)
	}
	j.rate.Farm, j.rate.us = j.farm, j.units == "us"
	if err := j.rate.check(); err != nil {
		return item.fail("%w", err)
	}
	return nil
}

func (j *job) readKit(e entry, dir string) error {
	item, ok := e.of["kit"]
	if !ok {
		return nil
	}
	p := defaultKit()
	p.us = j.units == "us"
	j.kit = &p
	if item.kind != isNone {
		if err := item.only(keys(kitSettings())...); err != nil {
			return err
		}
		if err := readSettings(item, kitSettings(), j.kit); err != nil {
			return err
		}
	}
	if p.font != "" {
		p.font = beside(dir, p.font)
	}
	p.farm = cmp.Or(p.farm, j.farm)
	if err := p.check(); err != nil {
		return item.fail("%w", err)
	}
	return nil
}
