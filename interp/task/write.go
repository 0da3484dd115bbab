package task

import (
	"archive/zip"
	"bufio"
	"encoding/binary"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

const folder = "TASKDATA/"

// Write writes f as a zip with the folder TASKDATA, as it is unpacked onto the
// medium of a terminal: TASKDATA.XML, and for each grid GRD00000.BIN and so on.
// The same file gives the same bytes. Names are cut as Notices tells, positions
// rounded to 1e-9 degree, rates as Setpoint does. What Check finds is an error,
// and nothing is written then. How many vertices there are is not bounded; Read
// takes those of 64 MB, which are about 1.3 million.
func Write(w io.Writer, f *File) error {
	if err := f.Check(); err != nil {
		return fmt.Errorf("task file: %w", err)
	}
	z := zip.NewWriter(w)
	create := func(name string) (*bufio.Writer, error) {
		// The first day that a zip can hold: the bytes must not tell the hour.
		e, err := z.CreateHeader(&zip.FileHeader{
			Name: folder + name, Method: zip.Deflate, Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC),
		})
		return bufio.NewWriter(e), err
	}
	grid := 0
	for i := range f.Tasks {
		t := &f.Tasks[i]
		if t.Grid == nil {
			continue
		}
		b, err := create(gridName(grid) + ".BIN")
		if err != nil {
			return err
		}
		if err := t.writeCells(b); err != nil {
			return err
		}
		grid++
	}
	b, err := create("TASKDATA.XML")
	if err != nil {
		return err
	}
	if err := f.writeXML(b); err != nil {
		return err
	}
	return z.Close()
}

func gridName(i int) string { return fmt.Sprintf("GRD%05d", i) }

func (t *Task) writeCells(b *bufio.Writer) error {
	if !t.Grid.Coded {
		var cell [4]byte
		for _, v := range t.Grid.Values {
			binary.LittleEndian.PutUint32(cell[:], uint32(v))
			if _, err := b.Write(cell[:]); err != nil {
				return err
			}
		}
		return b.Flush()
	}
	c, err := t.treatments()
	if err != nil {
		return err
	}
	codes := map[int32]byte{}
	for code, z := range c.zones {
		codes[z.rate] = byte(code)
	}
	for _, v := range t.Grid.Values {
		if err := b.WriteByte(codes[v]); err != nil {
			return err
		}
	}
	return b.Flush()
}

// element writes XML; errors of the writer beneath come out at its Flush.
type element struct{ *bufio.Writer }

// open writes a start tag with the attributes name, value, name, value ...;
// those without a value are left out.
func (e element) open(name string, attributes ...string) { e.tag(name, ">\n", attributes) }

// leaf writes an element without content.
func (e element) leaf(name string, attributes ...string) { e.tag(name, "/>\n", attributes) }

func (e element) close(name string) { fmt.Fprintf(e, "</%s>\n", name) }

func (e element) tag(name, end string, attributes []string) {
	e.WriteString("<" + name)
	for i := 0; i < len(attributes); i += 2 {
		if attributes[i+1] == "" {
			continue
		}
		e.WriteString(" " + attributes[i] + `="`)
		xml.EscapeText(e, []byte(attributes[i+1]))
		e.WriteByte('"')
	}
	e.WriteString(end)
}

func (f *File) writeXML(b *bufio.Writer) error {
	e := element{b}
	e.WriteString(xml.Header)
	e.WriteString("<!--\n")
	for _, line := range append([]string{Caution}, f.Notes...) {
		// Two hyphens end a comment.
		line = strings.ReplaceAll(plain(line), "--", "- -")
		e.WriteString(strings.ReplaceAll(line, "--", "- -") + "\n")
	}
	e.WriteString("-->\n")
	program := designator(f.Program)
	if program == "" {
		program = "corewalk"
	}
	version := designator(f.Version)
	if version == "" {
		version = "unknown"
	}
	e.open("ISO11783_TaskData", "VersionMajor", "4", "VersionMinor", "3",
		"ManagementSoftwareManufacturer", program, "ManagementSoftwareVersion", version, "DataTransferOrigin", "1")
	customer, farm := "", ""
	if name := designator(f.Customer); name != "" {
		customer = "CTR1"
		e.leaf("CTR", "A", customer, "B", name)
	}
	if name := designator(f.Farm); name != "" {
		farm = "FRM1"
		e.leaf("FRM", "A", farm, "B", name, "I", customer)
	}
	var shown []Unit
	for _, t := range f.Tasks {
		shown = append(shown, t.Unit)
	}
	slices.Sort(shown)
	shown = slices.Compact(shown)
	for i, u := range shown {
		name, scale, decimals := u.presentation()
		e.leaf("VPN", "A", id("VPN", i), "B", "0", "C", number(scale), "D", strconv.Itoa(decimals), "E", name)
	}
	for i, p := range f.Products {
		density := ""
		if d := math.Round(p.Density * 1000); d > 0 {
			density = number(d)
		}
		e.leaf("PDT", "A", id("PDT", i), "B", designator(p.Name), "H", density)
	}
	for i, field := range f.Fields {
		e.open("PFD", "A", id("PFD", i), "C", designator(field.Name), "D", number(math.Round(field.Area)), "E", customer, "F", farm)
		e.shape("1", field.Boundary)
		e.close("PFD")
	}
	grid := 0
	for i := range f.Tasks {
		t := &f.Tasks[i]
		unit, _ := slices.BinarySearch(shown, t.Unit)
		c, err := t.treatments()
		if err != nil {
			return err
		}
		e.open("TSK", "A", id("TSK", i), "B", designator(t.Name), "C", customer, "D", farm, "E", id("PFD", t.Field), "G", "1",
			"H", strconv.Itoa(c.standard), "I", strconv.Itoa(c.positionLost), "J", strconv.Itoa(c.outOfField))
		for code, z := range c.zones {
			e.open("TZN", "A", strconv.Itoa(code), "B", designator(z.name))
			if z.polygon != nil {
				e.shape("2", crs.LonLatShape{z.polygon})
			}
			e.leaf("PDV", "A", "0006", "B", strconv.Itoa(int(z.rate)), "C", id("PDT", t.Product), "E", id("VPN", unit))
			e.close("TZN")
		}
		e.leaf("CAN", "C", comment)
		if g := t.Grid; g != nil {
			kind, size, template := "2", 4, strconv.Itoa(c.template)
			if g.Coded {
				kind, size, template = "1", 1, ""
			}
			e.leaf("GRD", "A", number(round9(g.South)), "B", number(round9(g.West)), "C", number(g.CellNorth), "D", number(g.CellEast),
				"E", strconv.Itoa(g.Columns), "F", strconv.Itoa(g.Rows), "G", gridName(grid),
				"H", strconv.Itoa(size*len(g.Values)), "I", kind, "J", template)
			grid++
		}
		e.close("TSK")
	}
	e.close("ISO11783_TaskData")
	return e.Flush()
}

// shape writes polygons of the given type.
func (e element) shape(kind string, s crs.LonLatShape) {
	for _, polygon := range s {
		e.open("PLN", "A", kind)
		for i, ring := range polygon {
			e.ring(i > 0, ring)
		}
		e.close("PLN")
	}
}

func (e element) ring(hole bool, ring orb.Ring) {
	kind := "1"
	if hole {
		kind = "2"
	}
	e.open("LSG", "A", kind)
	for _, p := range written(ring) {
		e.leaf("PNT", "A", "2", "C", number(p[1]), "D", number(p[0]))
	}
	e.close("LSG")
}

func id(kind string, i int) string { return kind + strconv.Itoa(i+1) }

// number returns x in the fewest decimals that read back as x, never with an
// exponent.
func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
