package task

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

const (
	maxDepth = 16       // of elements in elements
	maxTag   = 64 << 10 // bytes from one < to the next
)

// tagGuard fails where a tag is longer than any that is meant: the decoder makes
// some hundred bytes of every attribute, and holds the tag until it ends.
type tagGuard struct {
	r     io.ByteReader
	since int
}

func (g *tagGuard) ReadByte() (byte, error) {
	b, err := g.r.ReadByte()
	if g.since++; b == '<' {
		g.since = 0
	}
	if g.since > maxTag {
		return 0, fmt.Errorf("a tag or text of more than %d bytes", maxTag)
	}
	return b, err
}

// Read is there for io.Reader; the decoder takes single bytes where it can.
func (g *tagGuard) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	b, err := g.ReadByte()
	if err != nil {
		return 0, err
	}
	p[0] = b
	return 1, nil
}

type decoder struct {
	x                *xml.Decoder
	depth            int
	out              File
	farms, customers int
	units            map[string]Unit
	fields, products map[string]int
	taskIDs          map[string]bool
	tasks            []readTask
}

func newDecoder(r io.ByteReader) *decoder {
	return &decoder{
		x: xml.NewDecoder(&tagGuard{r: r}), units: map[string]Unit{}, fields: map[string]int{}, products: map[string]int{}, taskIDs: map[string]bool{},
	}
}

func (d *decoder) line() int { line, _ := d.x.InputPos(); return line }

// attributes are those of one element; the first that is wrong is kept as err.
type attributes struct {
	start xml.StartElement
	err   error
}

// text returns an attribute, "" where it is not there.
func (a *attributes) text(name string) string {
	for _, at := range a.start.Attr {
		if at.Name.Local == name && at.Name.Space == "" {
			return at.Value
		}
	}
	return ""
}

func (a *attributes) fail(name, value, want string) {
	if a.err == nil {
		a.err = fmt.Errorf("%s: attribute %s is %.40q, not %s", a.start.Name.Local, name, value, want)
	}
}

func (a *attributes) id(name string) string {
	s := a.text(name)
	if s == "" || len(s) > 14 {
		a.fail(name, s, "an identifier of at most 14 characters")
	}
	return s
}

func (a *attributes) number(name string, least, most float64) float64 {
	s := strings.TrimSpace(a.text(name))
	x, err := strconv.ParseFloat(s, 64)
	// Written so that NaN fails; Go's hexadecimals and underscores are not XML's.
	if err != nil || !(x >= least && x <= most) || strings.ContainsAny(s, "xX_pP") {
		a.fail(name, s, fmt.Sprintf("a number from %g to %g", least, most))
		return 0
	}
	return x
}

// whole returns a whole number, or other where the attribute is not there.
func (a *attributes) whole(name string, least, most int64, other int) int {
	s := strings.TrimSpace(a.text(name))
	if s == "" && other < 0 {
		return other
	}
	n, err := strconv.ParseInt(s, 10, 64)
	if err != nil || n < least || n > most {
		a.fail(name, s, fmt.Sprintf("a whole number from %d to %d", least, most))
		return 0
	}
	return int(n)
}

// required is no value for attributes that may be left out.
const required = 0

// children calls f with the elements within the one just begun, up to its end. f
// returns false for those that it has not read, which are passed over.
func (d *decoder) children(f func(a *attributes) (bool, error)) error {
	if d.depth++; d.depth > maxDepth {
		return fmt.Errorf("more than %d elements in one another", maxDepth)
	}
	for {
		token, err := d.x.Token()
		if errors.Is(err, io.EOF) {
			err = io.ErrUnexpectedEOF
		}
		if err != nil {
			return err
		}
		switch token := token.(type) {
		case xml.StartElement:
			a := &attributes{start: token}
			read, err := f(a)
			if err == nil {
				err = a.err
			}
			if err == nil && !read {
				err = d.skip()
			}
			if err != nil {
				return err
			}
		case xml.EndElement:
			d.depth--
			return nil
		}
	}
}

func (d *decoder) skip() error {
	return d.children(func(*attributes) (bool, error) { return false, nil })
}

func (d *decoder) file() error {
	for {
		token, err := d.x.Token()
		if errors.Is(err, io.EOF) {
			return errors.New("no element ISO11783_TaskData in it")
		}
		if err != nil {
			return err
		}
		start, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		a := &attributes{start: start}
		if start.Name.Local != "ISO11783_TaskData" {
			return fmt.Errorf("element %.40q where ISO11783_TaskData should stand", start.Name.Local)
		}
		if v := a.text("VersionMajor"); v != "4" {
			return fmt.Errorf("task data of version %.40q; only version 4 is read", v)
		}
		d.out.Program, d.out.Version = a.text("ManagementSoftwareManufacturer"), a.text("ManagementSoftwareVersion")
		return d.children(d.top)
	}
}

func (d *decoder) top(a *attributes) (bool, error) {
	switch a.start.Name.Local {
	case "CTR":
		d.customers++
		d.out.Customer = a.text("B")
	case "FRM":
		d.farms++
		d.out.Farm = a.text("B")
	case "VPN":
		d.units[a.id("A")] = unitNamed(a.text("E"))
	case "PDT":
		name := firstOf(a.text("B"), a.text("A"))
		density := a.whole("H", 0, math.MaxInt32, -1)
		d.out.Products = append(d.out.Products, Product{Name: name, Density: float64(max(density, 0)) / 1000})
		return false, enlist(d.products, a, len(d.out.Products))
	case "PFD":
		return true, d.field(a)
	case "TSK":
		return true, d.task(a)
	case "XFR":
		return false, errors.New("parts of it stand in other files (XFR), which are not read")
	}
	if d.customers > 1 || d.farms > 1 {
		return false, errors.New("more than one farm or customer; only files of one are read")
	}
	return false, nil
}

// enlist notes the place of the n-th item of a kind by its identifier.
func enlist(places map[string]int, a *attributes, n int) error {
	key := a.id("A")
	if _, twice := places[key]; twice {
		return fmt.Errorf("%s: identifier %q is there twice", a.start.Name.Local, key)
	}
	if n > maxItems {
		return fmt.Errorf("%s: more than %d of them", a.start.Name.Local, maxItems)
	}
	places[key] = n - 1
	return nil
}

func firstOf(a, b string) string {
	if designator(a) != "" {
		return a
	}
	return b
}

func unitNamed(name string) Unit {
	for u := range units {
		if u.String() == name {
			return u
		}
	}
	return KgHa
}

func (d *decoder) field(a *attributes) error {
	f := Field{Name: firstOf(a.text("C"), a.text("A")), Area: float64(a.whole("D", 0, maxArea, required))}
	if err := enlist(d.fields, a, len(d.out.Fields)+1); err != nil {
		return err
	}
	err := d.children(func(a *attributes) (bool, error) {
		if a.start.Name.Local != "PLN" || a.text("A") != "1" {
			return false, nil
		}
		p, err := d.polygon()
		f.Boundary = append(f.Boundary, p)
		return true, err
	})
	d.out.Fields = append(d.out.Fields, f)
	return err
}

func (d *decoder) task(a *attributes) error {
	t := readTask{
		id: a.id("A"), name: firstOf(a.text("B"), a.text("A")), field: a.text("E"),
		standard: a.whole("H", 0, maxCode, -1), positionLost: a.whole("I", 0, maxCode, -1), outOfField: a.whole("J", 0, maxCode, -1),
	}
	if a.err != nil {
		return a.err
	}
	if d.taskIDs[t.id] {
		return fmt.Errorf("TSK: identifier %q is there twice", t.id)
	}
	d.taskIDs[t.id] = true
	if len(d.tasks) == maxItems {
		return fmt.Errorf("TSK: more than %d of them", maxItems)
	}
	err := d.children(func(a *attributes) (bool, error) {
		switch a.start.Name.Local {
		case "TZN":
			if len(t.zones) > maxCode {
				return false, fmt.Errorf("more than %d treatment zones", maxCode+1)
			}
			z, err := d.zone(a)
			t.zones = append(t.zones, z)
			return true, err
		case "GRD":
			if t.grid != nil {
				return false, errors.New("two grids in one task")
			}
			t.grid = gridOf(a)
		}
		return false, nil
	})
	d.tasks = append(d.tasks, t)
	return err
}

func gridOf(a *attributes) *readGrid {
	g := &readGrid{name: a.text("G"), length: a.whole("H", 0, math.MaxUint32, -1), template: a.whole("J", 0, maxCode, -1)}
	g.South, g.West = a.number("A", -90, 90), a.number("B", -180, 180)
	g.CellNorth, g.CellEast = a.number("C", minCell, 1), a.number("D", minCell, 1)
	g.Columns, g.Rows = a.whole("E", 1, MaxCells, required), a.whole("F", 1, MaxCells, required)
	g.Coded = a.whole("I", 1, 2, required) == 1
	if len(g.name) != 8 || strings.Trim(g.name[3:], "0123456789") != "" || g.name[:3] != "GRD" {
		a.fail("G", g.name, "GRD and five digits")
	}
	return g
}

func (d *decoder) zone(a *attributes) (readZone, error) {
	z := readZone{code: a.whole("A", 0, maxCode, required), name: a.text("B")}
	if a.err != nil {
		return z, a.err
	}
	err := d.children(func(a *attributes) (bool, error) {
		switch a.start.Name.Local {
		case "PLN":
			p, err := d.polygon()
			z.shape = append(z.shape, p)
			return true, err
		case "PDV":
			if ddi := a.text("A"); ddi != "0006" {
				return false, fmt.Errorf("treatment zone %d: figure of identifier %.40q; only 0006, mass per area, is read", z.code, ddi)
			}
			if z.told {
				return false, fmt.Errorf("treatment zone %d: two values", z.code)
			}
			z.told, z.product, z.unit = true, a.text("C"), a.text("E")
			z.rate = int32(a.whole("B", 0, math.MaxInt32, required))
		}
		return false, nil
	})
	return z, err
}

// polygon reads the rings of a polygon, wherever its shell stands among them.
func (d *decoder) polygon() (orb.Polygon, error) {
	var p orb.Polygon
	shells := 0
	err := d.children(func(a *attributes) (bool, error) {
		if a.start.Name.Local != "LSG" {
			return false, nil
		}
		kind := a.text("A")
		ring, err := d.ring()
		switch {
		case err != nil:
		case kind == "1":
			shells++
			p = slices.Insert(p, 0, ring)
		case kind == "2":
			p = append(p, ring)
		default:
			err = fmt.Errorf("LSG: a line of type %.40q in a polygon", kind)
		}
		if shells > 1 {
			err = errors.New("PLN: two outer rings in one polygon")
		}
		return true, err
	})
	if err == nil && shells == 0 {
		err = errors.New("PLN: a polygon without an outer ring")
	}
	return p, err
}

// ring reads a line as a ring, and closes it where it is left open.
func (d *decoder) ring() (orb.Ring, error) {
	var ring orb.Ring
	err := d.children(func(a *attributes) (bool, error) {
		if a.start.Name.Local == "PNT" {
			ring = append(ring, orb.Point{a.number("D", -180, 180), a.number("C", -90, 90)})
		}
		return false, nil
	})
	if err != nil {
		return nil, err
	}
	if len(ring) > 0 && ring[0] != ring[len(ring)-1] {
		ring = append(ring, ring[0])
	}
	return ring, checkShape(crs.LonLatShape{{ring}})
}
