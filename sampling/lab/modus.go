package lab

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// maxModusText bounds what is kept of one element's text.
const maxModusText = 1 << 20

// The columns of a Modus table before those of the values.
const (
	modusID = iota
	modusDepth
	modusNumber
	modusContainer
	modusReport
	modusFixed
)

// modusReader gathers the results of a Modus 1 file. Elements are known by their
// local names without regard to case, since name spaces and prefixes vary.
type modusReader struct {
	scan  *xmlScanner
	lim   limits
	p     *pivot
	path  []string // local names in lower case, from the root
	text  strings.Builder
	leaf  bool // nothing but text since the last start tag
	group int

	refs    map[string]depthRef // of the samples of this kind in this event
	ref     depthRef
	refID   string
	waiting []waitingDepth
	sample  modusSample
	depth   modusDepthOf
	result  modusResult

	events      int
	calculated  map[int]int // values by column that the lab says it calculated
	unknown     []string    // codes
	odd         []string    // statements on single results
	otherPlaces int         // geometries that are no point
	strangers   []string    // kinds of samples other than of soil
	strange     map[string]int
	ids         [4]int // samples by where the id came from; the last have none
	merged      bool   // the code that stands for two ways was met
}

type depthRef struct{ name, top, bottom, column, unit string }

// waitingDepth is a row whose depth is known once the references are read.
type waitingDepth struct {
	row int
	id  string
	own depthRef
}

type modusSample struct {
	number, fmis, container, report, geometry string
	depths                                    []modusDepthOf
}

type modusDepthOf struct {
	id      string
	own     depthRef
	results []modusResult
}

type modusResult struct{ element, value, unit, code, kind, qualifier string }

// readModus reads the soil results of a Modus 1 file: a row for each sample and
// depth, numbered as they come, a column for each element, unit and method.
func readModus(text, encoding, name string, o Options, lim limits) (*Table, error) {
	if o.Sheet != "" {
		return nil, fmt.Errorf("is a Modus file and has no sheets: there is no sheet %s", show(o.Sheet))
	}
	m := &modusReader{
		scan: newXMLScanner(strings.NewReader(strings.TrimLeft(text, " \t\r\n\ufeff")), int64(len(text))),
		lim:  lim, p: newPivot(lim), refs: map[string]depthRef{}, calculated: map[int]int{}, strange: map[string]int{},
	}
	m.p.fixed = Columns{
		{Header: "Sample ID", Role: RoleID}, {Header: "Depth", Role: RoleDepth}, {Header: "SampleNumber", Role: RoleText},
		{Header: "SampleContainerID", Role: RoleText}, {Header: "ReportID", Role: RoleText},
	}
	if err := m.read(); err != nil {
		return nil, err
	}
	if len(m.p.rows) == 0 {
		if len(m.strangers) > 0 {
			return nil, fmt.Errorf("has no soil samples, only %s", m.others())
		}
		return nil, errors.New("has no soil samples: there is no SoilSample in it")
	}
	t := &Table{Name: name, Format: FormatModus, Encoding: encoding, Columns: m.p.columns(), Rows: m.p.rows}
	for col, n := range m.calculated {
		t.Columns[modusFixed+col].Note = fmt.Sprintf("%d of the values were calculated by the lab from others, not measured", n)
	}
	t.Notes = m.notes()
	if err := t.Columns.apply(o.Map); err != nil {
		return nil, err
	}
	for i := range t.Columns {
		t.Columns[i].dropLong()
	}
	t.settle(true)
	return t, nil
}

// read goes through the file.
func (m *modusReader) read() error {
	for {
		token, err := m.scan.next()
		if err == io.EOF {
			m.settleDepths()
			return nil
		}
		if err != nil {
			return err
		}
		switch e := token.(type) {
		case xml.StartElement:
			m.path = append(m.path, strings.ToLower(e.Name.Local))
			m.text.Reset()
			m.leaf = true
			m.start(e)
		case xml.CharData:
			if m.leaf {
				if m.text.Len()+len(e) > maxModusText {
					return fmt.Errorf("element %s holds more than %d bytes", show(m.top()), maxModusText)
				}
				m.text.Write(e)
			}
		case xml.EndElement:
			if m.leaf {
				m.take(squeeze(tidy(m.text.String())))
			}
			m.leaf = false
			if err := m.end(); err != nil {
				return err
			}
			m.path = m.path[:len(m.path)-1]
		}
	}
}

func (m *modusReader) top() string { return m.path[len(m.path)-1] }

func (m *modusReader) within(name string) bool { return slices.Contains(m.path, name) }

func (m *modusReader) start(e xml.StartElement) {
	switch m.top() {
	case "event":
		m.events++
	case "soil":
		clear(m.refs)
	case "depthref":
		m.ref, m.refID = depthRef{}, attr(e, "DepthID")
	case "soilsample":
		m.sample, m.depth = modusSample{}, modusDepthOf{}
	case "depth":
		if m.within("soilsample") {
			m.depth = modusDepthOf{id: attr(e, "DepthID")}
		}
	case "nutrientresult":
		m.result = modusResult{}
	default:
		if kind := m.top(); strings.HasSuffix(kind, "sample") && m.within("eventsamples") && !m.within("soilsample") {
			if m.strange[kind] == 0 && len(m.strangers) < 20 {
				m.strangers = append(m.strangers, kind)
			}
			m.strange[kind]++
		}
	}
}

// take takes the text of an element that has no other in it.
func (m *modusReader) take(text string) {
	top := m.top()
	switch {
	case m.within("depthref"):
		if !m.ref.take(top, text) && top == "depthid" {
			m.refID = text
		}
	case !m.within("soilsample"):
	case m.within("nutrientresult"):
		r := &m.result
		switch {
		case top == "element":
			r.element = text
		case top == "value":
			r.value = text
		case top == "valueunit":
			r.unit = text
		case top == "modustestid":
			r.code = text
		case top == "valuetype":
			r.kind = text
		case strings.HasPrefix(top, "qualifier") && text != "":
			r.qualifier = text
		}
	case m.within("textureresult"):
		if share, ok := map[string]string{"percentsand": "sand", "percentsilt": "silt", "percentclay": "clay"}[top]; ok {
			m.depth.results = append(m.depth.results, modusResult{element: share, value: text, unit: "%"})
		}
	case m.within("samplemetadata"):
		s := &m.sample
		switch {
		case m.within("geometry"):
			if text != "" {
				s.geometry = text
			}
		case top == "samplenumber":
			s.number = text
		case top == "fmissampleid":
			s.fmis = text
		case top == "samplecontainerid":
			s.container = text
		case top == "reportid":
			s.report = text
		}
	case m.within("depth"):
		if !m.depth.own.take(top, text) && top == "depthid" {
			m.depth.id = text
		}
	}
}

// take takes a part of a depth's description.
func (d *depthRef) take(name, text string) bool {
	switch name {
	case "name":
		d.name = text
	case "startingdepth":
		d.top = text
	case "endingdepth":
		d.bottom = text
	case "columndepth":
		d.column = text
	case "depthunit":
		d.unit = text
	default:
		return false
	}
	return true
}

func (m *modusReader) end() error {
	switch m.top() {
	case "depthref":
		if len(m.refs) < 10_000 {
			m.refs[m.refID] = m.ref
		}
	case "nutrientresult":
		if m.within("soilsample") {
			if len(m.depth.results) == m.lim.columns {
				return fmt.Errorf("a sample has more than %d results", m.lim.columns)
			}
			m.depth.results = append(m.depth.results, m.result)
		}
	case "depth":
		if m.within("soilsample") {
			m.sample.depths = append(m.sample.depths, m.depth)
			m.depth = modusDepthOf{}
		}
	case "soilsample":
		if len(m.depth.results) > 0 || len(m.sample.depths) == 0 { // results under no depth
			m.sample.depths = append(m.sample.depths, m.depth)
		}
		return m.keep()
	case "soil", "event":
		m.settleDepths()
	}
	return nil
}

// settleDepths gives the rows the depths that they refer to.
func (m *modusReader) settleDepths() {
	for _, w := range m.waiting {
		d, ok := m.refs[w.id]
		if !ok {
			d = w.own
		}
		m.p.rows[w.row].Cells[modusDepth] = d.String()
	}
	m.waiting = m.waiting[:0]
}

// keep makes rows of the sample that has ended.
func (m *modusReader) keep() error {
	s := m.sample
	id := s.fmis
	switch {
	case id != "":
		m.ids[0]++
	case s.container != "":
		id = s.container
		m.ids[1]++
	case s.number != "":
		id = s.number
		m.ids[2]++
	default:
		m.ids[3]++
	}
	place, ok := wktPoint(s.geometry)
	if !ok && s.geometry != "" {
		m.otherPlaces++
	}
	first := len(m.p.rows)
	for _, d := range s.depths {
		fixed := make([]string, modusFixed)
		fixed[modusID], fixed[modusNumber], fixed[modusContainer], fixed[modusReport] = id, s.number, s.container, s.report
		m.group++
		line := pivotLine{group: m.group, cells: fixed}
		from := len(m.p.rows)
		for _, r := range d.results {
			line.cells = slices.Clone(fixed) // a second value of one element makes a second row
			if err := m.keepResult(line, r); err != nil {
				return fmt.Errorf("sample %d: %w", first+1, err)
			}
		}
		if len(d.results) == 0 {
			if err := m.p.put(line, -1, "", kindText); err != nil {
				return err
			}
		}
		for row := from; row < len(m.p.rows); row++ {
			m.waiting = append(m.waiting, waitingDepth{row: row, id: d.id, own: d.own})
			if ok {
				m.p.rows[row].Place = &place
			}
		}
	}
	return nil
}

func (m *modusReader) keepResult(line pivotLine, r modusResult) error {
	name := r.element
	if cation, ok := cutFold(name, "BS-"); ok { // the format's name of a share of the exchange capacity
		name = cation + " base saturation"
	}
	if name == "" {
		name = "unnamed"
	}
	col, err := m.p.column(part{name: name, unit: r.unit, method: r.code})
	if err != nil {
		return err
	}
	if _, ok := modusMethod(r.code); !ok && r.code != "" && !slices.Contains(m.unknown, r.code) && len(m.unknown) < 100 {
		m.unknown = append(m.unknown, r.code)
	}
	m.merged = m.merged || strings.EqualFold(r.code, modus2+modusOlsen)
	if strings.EqualFold(r.kind, "calculated") && !strings.HasSuffix(r.code, ".19") {
		m.calculated[col]++
	}
	value := r.value
	if q := r.qualifier; q != "" {
		_, isMissing := missingText(q)
		switch {
		case slices.Contains([]string{"<", ">", "<=", ">=", "≤", "≥"}, q) && value != "" && !strings.ContainsAny(value, "<>≤≥"):
			value = q + value
		case isMissing && (value == "" || value == "0"): // no zero was measured
			value = q
		case len(m.odd) < maxLines:
			m.odd = append(m.odd, fmt.Sprintf("sample %s, %s: the value %s has the qualifier %s, which is not read", show(line.cells[modusID]), show(r.element), show(r.value), show(q)))
		}
	}
	return m.p.put(line, col, value, kindText)
}

// String writes a depth as it is written elsewhere, in inches or centimetres.
func (d depthRef) String() string {
	top, bottom, unit := d.top, d.bottom, strings.ToLower(d.unit)
	if bottom == "" && (top == "" || top == "0") {
		bottom = d.column
	}
	if bottom == "" {
		return d.name
	}
	if top == "" {
		top = "0"
	}
	factor := 1.0
	switch strings.TrimSuffix(unit, ".") {
	case "inch", "inches", `"`, "in":
		unit = "in"
	case "ft", "foot", "feet":
		unit, factor = "in", 12
	case "centimeter", "centimeters", "centimetre", "centimetres":
		unit = "cm"
	case "mm", "millimeter", "millimeters", "millimetre", "millimetres":
		unit, factor = "cm", 0.1
	case "m", "meter", "meters", "metre", "metres":
		unit, factor = "cm", 100
	}
	if factor != 1 {
		a, err1 := parseNumber(top, decimals{})
		b, err2 := parseNumber(bottom, decimals{})
		if err1 != nil || err2 != nil {
			return squeeze(top + "-" + bottom + " " + d.unit)
		}
		top, bottom = numberText(a*factor), numberText(b*factor)
	}
	return squeeze(top + "-" + bottom + " " + unit)
}

// wktPoint reads a point in well-known text as longitude and latitude.
func wktPoint(text string) (place [2]float64, ok bool) {
	s := strings.ToUpper(squeeze(text))
	if i := strings.IndexByte(s, ';'); i >= 0 && strings.HasPrefix(s, "SRID=4326") {
		s = s[i+1:]
	}
	s, ok = strings.CutPrefix(s, "POINT")
	open, end := strings.IndexByte(s, '('), strings.IndexByte(s, ')')
	if !ok || open < 0 || end != len(s)-1 || strings.Trim(s[:open], " ZM") != "" {
		return place, false
	}
	figures := strings.Fields(s[open+1 : end])
	if len(figures) < 2 || len(figures) > 4 {
		return place, false
	}
	for i := range place {
		var err error
		if place[i], err = parseNumber(figures[i], decimals{}); err != nil {
			return place, false
		}
	}
	return place, place[0] >= -180 && place[0] <= 180 && place[1] >= -90 && place[1] <= 90
}

// cutFold cuts a prefix without regard to case.
func cutFold(s, prefix string) (string, bool) {
	if len(s) > len(prefix) && strings.EqualFold(s[:len(prefix)], prefix) {
		return s[len(prefix):], true
	}
	return s, false
}

// notes says what a person should know of how the file was read.
func (m *modusReader) notes() []string {
	notes := []string{"rows are numbered by sample and depth, in the order of the file"}
	var from []string
	for i, name := range []string{"FMISSampleID", "SampleContainerID", "SampleNumber", "no element"} {
		if m.ids[i] > 0 {
			from = append(from, fmt.Sprintf("%s (of %d samples)", name, m.ids[i]))
		}
	}
	notes = append(notes, "the sample ids come from "+strings.Join(from, ", "))
	if m.events > 1 {
		notes = append(notes, fmt.Sprintf("the file has %d events, read one after the other", m.events))
	}
	if len(m.strangers) > 0 {
		notes = append(notes, "not of soil and not read: "+m.others())
	}
	if m.otherPlaces > 0 {
		notes = append(notes, fmt.Sprintf("the geometry of %d samples is no point in longitude and latitude and is not read", m.otherPlaces))
	}
	if len(m.unknown) > 0 {
		list := make([]string, len(m.unknown))
		for i, code := range m.unknown {
			list[i] = show(code)
		}
		notes = append(notes, "method codes not known here, taken as they stand: "+strings.Join(list, ", "))
	}
	if m.merged {
		notes = append(notes, modus2+modusOlsen+" stands for Olsen P read by colour and by ICP alike; the file doesn't say which")
	}
	return append(notes, m.odd...)
}

func (m *modusReader) others() string {
	var list []string
	for _, kind := range m.strangers {
		list = append(list, fmt.Sprintf("%d %s", m.strange[kind], kind))
	}
	return strings.Join(list, ", ")
}
