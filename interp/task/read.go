package task

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"corewalk/geo/crs"
)

// maxXML bounds TASKDATA.XML, unpacked.
const maxXML = 64 << 20

// Read reads a zip of task data, as Write makes it: of one farm, planned tasks
// with treatment zones or a grid of setpoints of mass per area. What else stands
// in it is passed over, so long as it does not change the meaning; files that
// refer to others, and other figures than identifier 6, are refused.
//
// Every treatment zone with polygons comes back as a Zone: a Zone of several
// parts as several. Rates are those of the file, so whole mg/m². A unit of
// presentation that is not one of those here comes back as KgHa. Files that
// Check refuses are errors. Nothing is taken on trust: not more is unpacked than
// 64 MB of XML and MaxCells cells.
func Read(r io.ReaderAt, size int64) (*File, error) {
	f, err := read(r, size)
	if err != nil {
		return nil, fmt.Errorf("task file: %w", err)
	}
	return f, nil
}

func read(r io.ReaderAt, size int64) (*File, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, err
	}
	a := archive{files: map[string]*zip.File{}}
	var main string
	for _, f := range z.File {
		// Media of terminals know no lower case.
		name := strings.ToUpper(f.Name)
		if a.files[name] != nil {
			return nil, fmt.Errorf("two files in it are called %q", name)
		}
		a.files[name] = f
		if path.Base(name) == "TASKDATA.XML" && !strings.HasPrefix(name, "__MACOSX/") {
			if main != "" {
				return nil, fmt.Errorf("both %q and %q in it; give one of them", main, name)
			}
			main = name
		}
	}
	if main == "" {
		return nil, errors.New("no TASKDATA.XML in it")
	}
	a.folder = path.Dir(main)
	data, err := a.unpack(main, maxXML)
	if err != nil {
		return nil, err
	}
	d := newDecoder(bytes.NewReader(data))
	if err := d.file(); err != nil {
		return nil, fmt.Errorf("%s, line %d: %w", path.Base(main), d.line(), err)
	}
	cells := 0
	for i := range d.tasks {
		if err := d.resolve(&d.tasks[i], &a, &cells); err != nil {
			return nil, fmt.Errorf("task %s: %w", d.tasks[i].id, err)
		}
	}
	return &d.out, d.out.Check()
}

type archive struct {
	files  map[string]*zip.File // by name in capitals
	folder string
}

func (a *archive) unpack(name string, most int) ([]byte, error) {
	f := a.files[name]
	if f == nil {
		return nil, fmt.Errorf("%s: not in the archive", path.Base(name))
	}
	if f.Flags&1 != 0 {
		return nil, fmt.Errorf("%s: protected by a password; unpack it first", path.Base(name))
	}
	if f.UncompressedSize64 > uint64(most) {
		return nil, fmt.Errorf("%s: %d bytes unpacked, which is more than the %d expected", path.Base(name), f.UncompressedSize64, most)
	}
	r, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path.Base(name), err)
	}
	defer r.Close()
	// The size in the directory, which may lie, saves growing and bounds nothing.
	var data bytes.Buffer
	data.Grow(int(f.UncompressedSize64) + bytes.MinRead)
	if _, err := data.ReadFrom(io.LimitReader(r, int64(most)+1)); err != nil {
		return nil, fmt.Errorf("%s: %w", path.Base(name), err)
	}
	if data.Len() > most {
		return nil, fmt.Errorf("%s: more than the %d bytes expected", path.Base(name), most)
	}
	return data.Bytes(), nil
}

// cells reads the binary file of a grid whose cells have size bytes.
func (a *archive) cells(name string, n, size int) ([]byte, error) {
	data, err := a.unpack(path.Join(a.folder, strings.ToUpper(name)+".BIN"), n*size)
	if err == nil && len(data) != n*size {
		err = fmt.Errorf("%s: %d bytes for %d cells of %d", name, len(data), n, size)
	}
	return data, err
}

// readTask is a task as it stands in the file, its references not yet followed.
type readTask struct {
	id, name, field                    string
	standard, positionLost, outOfField int // codes, -1 for none
	zones                              []readZone
	grid                               *readGrid
}

type readZone struct {
	code          int
	name          string
	shape         crs.LonLatShape
	told          bool
	rate          int32
	product, unit string
}

type readGrid struct {
	Grid
	name     string
	length   int // -1 where it is not said
	template int // -1 for none
}

// resolve makes the task of the file out of t.
func (d *decoder) resolve(t *readTask, a *archive, cells *int) error {
	out := Task{Name: t.name}
	byCode := map[int]*readZone{}
	product := ""
	for i := range t.zones {
		z := &t.zones[i]
		if byCode[z.code] != nil {
			return fmt.Errorf("two treatment zones have the code %d", z.code)
		}
		byCode[z.code] = z
		if !z.told {
			return fmt.Errorf("treatment zone %d: no value", z.code)
		}
		if product == "" {
			product = z.product
		}
		if z.product != product {
			return fmt.Errorf("treatment zones of %q and of %q; only tasks with one product are read", product, z.product)
		}
		if i == 0 {
			out.Unit = d.units[z.unit]
		}
	}
	var ok bool
	if out.Field, ok = d.fields[t.field]; !ok {
		return fmt.Errorf("field %q is not in the file", t.field)
	}
	if out.Product, ok = d.products[product]; !ok {
		return fmt.Errorf("product %q is not in the file", product)
	}
	for _, o := range []struct {
		code int
		rate *float64
	}{{t.standard, &out.Outside.Default}, {t.positionLost, &out.Outside.PositionLost}, {t.outOfField, &out.Outside.OutOfField}} {
		if o.code < 0 {
			continue
		}
		z := byCode[o.code]
		if z == nil {
			return fmt.Errorf("treatment zone %d, for where no other applies, is not there", o.code)
		}
		*o.rate = float64(z.rate)
	}
	for _, z := range t.zones {
		if len(z.shape) == 0 {
			continue
		}
		if t.grid != nil {
			return errors.New("both treatment zones with outlines and a grid; only tasks with one of them are read")
		}
		out.Zones = append(out.Zones, Zone{Name: z.name, Rate: float64(z.rate), Shape: z.shape})
	}
	if g := t.grid; g != nil {
		if err := g.fill(a, byCode, cells); err != nil {
			return fmt.Errorf("grid: %w", err)
		}
		out.Grid = &g.Grid
	}
	d.out.Tasks = append(d.out.Tasks, out)
	return nil
}

// fill reads the cells of g; cells counts those of the whole file.
func (g *readGrid) fill(a *archive, byCode map[int]*readZone, cells *int) error {
	if g.Columns < 1 || g.Rows < 1 || g.Columns > MaxCells || g.Rows > MaxCells/g.Columns || *cells+g.Columns*g.Rows > MaxCells {
		return fmt.Errorf("%d columns and %d rows: there must be one of each at least, and at most %d cells in all grids", g.Columns, g.Rows, MaxCells)
	}
	n, size := g.Columns*g.Rows, 4
	*cells += n
	if g.Coded {
		size = 1
	} else if byCode[g.template] == nil {
		return fmt.Errorf("treatment zone %d, which says what its cells hold, is not there", g.template)
	}
	if g.length >= 0 && g.length != n*size {
		return fmt.Errorf("%d bytes are said for %d cells of %d", g.length, n, size)
	}
	data, err := a.cells(g.name, n, size)
	if err != nil {
		return err
	}
	g.Values = make([]int32, n)
	for i := range g.Values {
		if !g.Coded {
			g.Values[i] = int32(binary.LittleEndian.Uint32(data[4*i:]))
			continue
		}
		z := byCode[int(data[i])]
		if z == nil {
			return fmt.Errorf("row %d from the south, column %d: treatment zone %d is not there", i/g.Columns+1, i%g.Columns+1, data[i])
		}
		g.Values[i] = z.rate
	}
	return nil
}
