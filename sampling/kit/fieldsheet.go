package kit

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"

	"corewalk/geo"
)

// sortBy sorts by a key, keeping the order of equals.
func sortBy[T any, K cmp.Ordered](list []T, key func(T) K) {
	slices.SortStableFunc(list, func(a, b T) int { return cmp.Compare(key(a), key(b)) })
}

// What stands on every field sheet. Common practice, no source; that in the
// United States 811 is called some days before digging is public knowledge.
func checklist() []string {
	return []string{
		"Bags are labelled before they are filled; the label's id is that of the unit",
		"Probe of stainless steel, bucket of plastic, both clean: zinc coats, brass and rust spoil the figures of trace elements",
		"Litter and stubble scraped aside, the soil left",
		"Every core to the full depth of its bag, none short",
		"Left out: old fence lines, manure and lime heaps, dead furrows, wet holes, tracks, turning strips",
		"All cores of a bag crumbled and mixed well, then the bag filled to its line",
		"Bags kept cool and shaded; dried in the air or sent the same day, never on heat",
		"Probe wiped and bucket emptied between units",
	}
}

const caution = "Before you dig: have buried lines marked. In the United States call 811 some days ahead, elsewhere the service of the place. Local recommendations come before anything on this sheet."

// Sizes on field sheets, in millimetres.
const (
	fieldMargin = 12.0
	headHeight  = 24.0
	stripHeight = 8.5
	tableHead   = 6.0
	footHeight  = 5.0
	lineHeight  = 6.5  // of ruled lines
	sideWidth   = 60.0 // of the checklist beside the map
	leastMap    = 55.0
)

// fieldLayout is how the things of one field share its pages.
type fieldLayout struct {
	beside    bool // the checklist stands beside the map, else below the table
	mapWidth  float64
	mapHeight float64
	row       float64 // height of a row of the table
	first     int     // rows on the first page
	each      int     // rows on every other page
	changes   int     // ruled lines
	rows      int
}

// pages is the number of pages of a field.
func (l fieldLayout) pages() int {
	if l.rows <= l.first {
		return 1
	}
	return 1 + (l.rows-l.first+l.each-1)/l.each
}

// fieldShape is what the layout must know of a field and of the checklist.
type fieldShape struct {
	paper         Paper
	rows          int
	high          float64 // height of the field to its width
	below, beside float64 // heights of the checklist in either place
}

// room is the height that map, table and changes share.
func (f fieldShape) room() float64 {
	return f.paper.Height - 2*fieldMargin - footHeight - headHeight - stripHeight - tableHead - 6
}

func (f fieldShape) width() float64 { return f.paper.Width - 2*fieldMargin }

func changesHeight(lines int) float64 { return 5 + float64(lines)*lineHeight }

// heightFor is the height of a map of the field that is so wide.
func (f fieldShape) heightFor(width float64) float64 { return (width-2*mapAir)*f.high + 2*mapAir }

// scale is the width of the field on a map.
func (f fieldShape) scale(l fieldLayout) float64 {
	return math.Min(l.mapWidth-2*mapAir, (l.mapHeight-2*mapAir)/f.high)
}

// layOutField puts the checklist where the map comes out larger, and gives the
// map what the rows leave, first roomy, then tight. Where even that does not do,
// the table goes on on further pages.
func layOutField(f fieldShape) fieldLayout {
	below, fitsBelow := f.try(false)
	beside, fitsBeside := f.try(true)
	switch {
	case fitsBeside && (!fitsBelow || f.scale(beside) > f.scale(below)):
		return beside
	case fitsBelow:
		return below
	}
	// The map of so many units needs all the room that there is.
	alone := f
	alone.rows = 0
	l := layOutField(alone)
	left := f.room() - l.mapHeight
	if !l.beside {
		left -= f.below
	}
	l.rows, l.changes = f.rows, 2
	var best fieldLayout
	for _, row := range []float64{7, 6.5, 6} { // lower ones where they save a page
		l.row = row
		l.first = int((left - changesHeight(l.changes)) / row)
		l.each = int((f.paper.Height - 2*fieldMargin - footHeight - tableHead - 10) / row)
		if best.each == 0 || l.pages() < best.pages() {
			best = l
		}
	}
	return best
}

// try lays a field out on one page, and tells whether that can be.
func (f fieldShape) try(beside bool) (fieldLayout, bool) {
	l := fieldLayout{beside: beside, mapWidth: f.width(), first: f.rows, each: 1, rows: f.rows}
	room, most := f.room()-f.below, f.heightFor(l.mapWidth)
	if beside {
		l.mapWidth -= sideWidth + 4
		room, most = f.room(), math.Max(f.heightFor(l.mapWidth), f.beside)
	}
	most = math.Max(most, leastMap)
	for _, t := range []struct {
		row, least float64
		lines      int
	}{{8, 120, 3}, {7, 100, 3}, {6.2, 75, 2}, {5.6, 60, 2}} {
		left := room - float64(f.rows)*t.row - changesHeight(t.lines)
		least := math.Min(t.least, most)
		if beside {
			least = math.Max(least, f.beside)
		}
		if left < least {
			continue
		}
		l.mapHeight, l.row = math.Min(left, most), t.row
		l.changes = t.lines + int((left-l.mapHeight)/lineHeight)
		return l, true
	}
	return l, false
}

// FieldSheet writes a page to each field as PDF: map, table of units, checklist.
// Where a field has too many units for its page, the table goes on on pages of
// its own.
func (p *Packet) FieldSheet(w io.Writer, o Paperwork) error {
	s := newSheet("Field sheets, plan "+p.Hash, o.Paper, o.Fonts)
	width := o.Paper.Width - 2*fieldMargin
	below, beside := checkBlock{s, fieldMargin, width, 2}, checkBlock{s, fieldMargin + width - sideWidth, sideWidth, 1}
	layouts := make([]fieldLayout, len(p.Fields))
	of := 0
	for i := range p.Fields {
		f := &p.Fields[i]
		layouts[i] = layOutField(fieldShape{o.Paper, f.Samples(), f.high(), below.height(), beside.height()})
		of += layouts[i].pages()
	}
	page := 0
	for i := range p.Fields {
		f := &p.Fields[i]
		l := layouts[i]
		s.page()
		page++
		y := s.fieldHead(f, o, width)
		m := newMap(s, f, Rect{fieldMargin, y, l.mapWidth, l.mapHeight})
		m.draw()
		if l.beside {
			beside.draw(y)
		}
		y += l.mapHeight
		m.strip(y, fieldMargin+width, o.US)
		y += stripHeight
		rows := f.rows()
		y = s.unitTable(y, width, l.row, rows[:l.first]) + 3
		s.foot(fieldMargin, p.Hash, page, of)
		if !l.beside {
			y = below.draw(y) + 3
		}
		s.changes(y, width, l.changes)
		for rows = rows[l.first:]; len(rows) > 0; {
			n := min(l.each, len(rows))
			s.page()
			page++
			s.text(fieldMargin, fieldMargin+5, width-50, style{13, true}, s.shortened(f.Field.Name, style{13, true}, width-80)+" (continued)")
			s.unitTable(fieldMargin+9, width, l.row, rows[:n])
			s.foot(fieldMargin, p.Hash, page, of)
			rows = rows[n:]
		}
	}
	if len(p.Fields) == 0 {
		s.page()
	}
	return s.write(w)
}

// shortened cuts a text to a width.
func (s *sheet) shortened(text string, st style, width float64) string {
	return s.fonts.fit(clean(text), st.bold, width/(st.size*pt))
}

// fieldHead writes the title and the lines to fill in, and returns where the
// page goes on.
func (s *sheet) fieldHead(f *PacketField, o Paperwork, width float64) float64 {
	left, y := fieldMargin, fieldMargin
	right := left + width
	farm := style{11, false}
	farmWidth := math.Min(s.width(o.Farm, farm), 0.38*width)
	s.right(right, y+6, farmWidth+0.01, farm, o.Farm)
	title := style{20, true}
	s.text(left, y+7, width-farmWidth-5, title, f.Field.Name)
	area := f.Field.Frame.Area(f.Field.Boundary)
	size := fmt.Sprintf("%.2f ha", area/geo.Hectare)
	if o.US {
		size = fmt.Sprintf("%.2f ac", area/geo.Acre)
	}
	st := style{9, false}
	facts := joined(size, countOf(len(f.Units), "unit"), countOf(f.Samples(), "bag"), countOf(f.Cores(), "core"))
	if crop := o.Crop; crop != "" {
		facts = joined(facts, s.shortened(crop, st, width/3))
	}
	s.text(left, y+12, width, st, facts)
	y += 19
	s.given(left, y, left+0.26*width, st, "Date", o.Date)
	s.blank(left+0.28*width, y, left+0.6*width, st, "Sampled by")
	s.blank(left+0.62*width, y, right, st, "Weather, soil moisture")
	return fieldMargin + headHeight
}

// unitRow is a row of the table of units.
type unitRow struct {
	unit, id, part, cores, depth, waypoints, numbers, notes string
}

func (f *PacketField) rows() []unitRow {
	var out []unitRow
	for i := range f.Units {
		u := &f.Units[i]
		for k, x := range u.Samples {
			r := unitRow{id: x.ID, part: u.Short, cores: strconv.Itoa(x.Cores), depth: x.Depth, waypoints: x.First, numbers: strconv.Itoa(x.From)}
			if x.Last != x.First {
				r.waypoints += " to " + x.Last
				r.numbers += "–" + strconv.Itoa(x.To)
			}
			if u.manyComposites {
				r.part = joined(r.part, fmt.Sprintf("composite %d", x.Composite))
			}
			if k == 0 {
				r.unit, r.notes = strconv.Itoa(u.Number), u.said()
			}
			out = append(out, r)
		}
	}
	return out
}

// column is one of a table.
type column struct {
	head  string
	width float64
}

// unitTable draws rows, nothing where there are none, and returns where the page goes on.
func (s *sheet) unitTable(y, width, height float64, rows []unitRow) float64 {
	if len(rows) == 0 {
		return y
	}
	columns := []column{{"", 7}, {"Unit", 10}, {"Bag", 19}, {"Part of the field", 30}, {"Cores", 11}, {"Depth", 16}, {"Waypoints", 34}, {"On map", 18}, {"Notes", 0}}
	rest := width
	for _, c := range columns {
		rest -= c.width
	}
	columns[len(columns)-1].width = rest
	s.header(fieldMargin, y, tableHead, columns)
	y += tableHead
	st, heavy := style{8.5, false}, style{9.5, true}
	for _, r := range rows {
		x := fieldMargin
		base := y + height/2 + 0.36*st.size*pt
		s.tick(x+1.6, y+height/2+1.8, 3.6)
		for i, text := range []string{"", r.unit, r.id, r.part, r.cores, r.depth, r.waypoints, r.numbers} {
			st := st
			if i == 1 || i == 2 {
				st = heavy
			}
			s.text(x+1, base, columns[i].width-1.4, st, text)
			x += columns[i].width
		}
		// What the plan says stands small at the top; the rest is to write on.
		s.text(x+1, y+2.2, columns[8].width-1.4, style{5.5, false}, r.notes)
		s.rule(x, y, x, y+height, 0.15)
		y += height
		s.rule(fieldMargin, y, fieldMargin+width, y, 0.15)
	}
	return y
}

// header draws the head of a table, white on black.
func (s *sheet) header(x, y, height float64, columns []column) {
	st := style{8, true}
	for _, c := range columns {
		s.ink(0)
		s.fill(Rect{x, y, c.width + 0.01, height})
		s.pdf.SetTextColor(255, 255, 255)
		s.text(x+1, y+height/2+0.36*st.size*pt, c.width-1.2, st, c.head)
		x += c.width
	}
	s.ink(0)
}

// Letters of the checklist.
func checkStyle() style { return style{7.5, false} }

const checkLeading = 3.2

// checkBlock is the checklist, lines for what an adviser asks later, and the
// caution, in one or two columns.
type checkBlock struct {
	s        *sheet
	x, width float64
	columns  int
}

// place gives each item its place from the top of the block, and returns the
// height of the highest column.
func (c checkBlock) place(do func(dx, dy, width float64, text string)) float64 {
	items := checklist()
	each := (len(items) + c.columns - 1) / c.columns
	width := (c.width - 6*float64(c.columns-1)) / float64(c.columns)
	highest := 0.0
	for k := range c.columns {
		dy := 0.0
		for _, text := range items[k*each : min((k+1)*each, len(items))] {
			do(float64(k)*(width+6), dy, width, text)
			dy += float64(c.s.lines(width-4.5, checkStyle(), text))*checkLeading + 0.9
		}
		highest = math.Max(highest, dy)
	}
	return highest
}

func (c checkBlock) height() float64 {
	h := c.place(func(float64, float64, float64, string) {})
	if c.columns == 1 {
		h += 6
	}
	return h + 6.5 + c.cautionHeight()
}

func (c checkBlock) cautionHeight() float64 {
	return float64(c.s.lines(c.width-4, style{8, true}, caution))*3.6 + 2.2
}

// draw draws the block from y down and returns where the page goes on.
func (c checkBlock) draw(y float64) float64 {
	s := c.s
	y += c.place(func(dx, dy, width float64, text string) {
		s.tick(c.x+dx, y+dy+2.7, 2.6)
		s.paragraph(c.x+dx+4.2, y+dy+2.4, width-4.5, checkLeading, checkStyle(), text)
	}) + 4
	st := style{8, false}
	if c.columns == 1 {
		s.blank(c.x, y, c.x+c.width, st, "Last lime")
		y += 6
		s.blank(c.x, y, c.x+c.width, st, "Last fertiliser, manure")
	} else {
		s.blank(c.x, y, c.x+0.4*c.width, st, "Last lime")
		s.blank(c.x+0.43*c.width, y, c.x+c.width, st, "Last fertiliser, manure")
	}
	box := Rect{c.x, y + 2.5, c.width, c.cautionHeight()}
	s.frame(box, 0.5)
	s.paragraph(box.X+2, box.Y+4, c.width-4, 3.6, style{8, true}, caution)
	return box.Bottom()
}

// changes draws lines for what was done otherwise than planned.
func (s *sheet) changes(y, width float64, lines int) {
	st := style{8, true}
	w := s.text(fieldMargin, y+3, width, st, "Changed in the field")
	s.text(fieldMargin+w+1.5, y+3, width-w-2, style{8, false}, "(waypoint: core moved or left out, and why)")
	for i := range lines {
		base := y + 4.4 + float64(i+1)*lineHeight
		s.rule(fieldMargin, base, fieldMargin+width, base, 0.15)
	}
}
