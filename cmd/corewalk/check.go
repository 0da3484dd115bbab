package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo"
	"corewalk/geo/crs"
	"corewalk/geo/vector"
)

// checkedFile is what is said of one file.
type checkedFile struct {
	File     string          `json:"file"`
	Error    string          `json:"error,omitempty"` // why it was refused as a whole
	System   *checkedSystem  `json:"system,omitempty"`
	Columns  []checkedColumn `json:"columns"`
	AreaHa   float64         `json:"area_ha"`
	AreaAc   float64         `json:"area_ac"`
	Extent   *[4]float64     `json:"extent,omitempty"` // west, south, east, north in degrees
	Features []geo.Inspected `json:"features"`
	Findings []geo.Finding   `json:"findings"`

	layer *vector.Layer
}

type checkedSystem struct {
	Name     string  `json:"name"`
	EPSG     int     `json:"epsg,omitempty"`
	Unit     string  `json:"unit"`
	Metres   float64 `json:"metres_per_unit,omitempty"`
	From     string  `json:"from"` // how it was found
	Accuracy float64 `json:"accuracy_m,omitempty"`
	Note     string  `json:"note,omitempty"`
}

type checkedColumn struct {
	Name string `json:"name"`
	Type string `json:"type"`
}

// errRefused tells that a file has a fault that was not mended; the report says
// which.
var errRefused = errors.New("refused")

// checkFile inspects one file; what stops it from being read is part of the
// answer.
func checkFile(path, name, system string) checkedFile {
	c := checkedFile{File: path, Columns: []checkedColumn{}, Features: []geo.Inspected{}, Findings: []geo.Finding{}}
	layer, err := readLayer(path, system)
	if err != nil {
		c.Error = oneLine(err)
		return c
	}
	c.layer = layer
	unit, metres := layer.CRS.Unit()
	accuracy, note := layer.CRS.Accuracy()
	c.System = &checkedSystem{Name: layer.CRS.Name(), EPSG: layer.CRS.EPSG(), Unit: unit, Metres: metres, From: layer.CRSFrom, Accuracy: accuracy, Note: note}
	for _, col := range layer.Columns {
		c.Columns = append(c.Columns, checkedColumn{col.Name, col.Type.String()})
	}
	in, err := geo.Inspect(layer, name)
	if err != nil {
		c.Error = oneLine(err)
		return c
	}
	c.AreaHa, c.AreaAc = in.AreaM2/geo.Hectare, in.AreaM2/geo.Acre
	c.Extent, c.Features, c.Findings = in.Extent, in.Features, in.Findings
	return c
}

func (c *checkedFile) refused() bool {
	if c.Error != "" {
		return true
	}
	for _, f := range c.Findings {
		if f.Outcome == geo.Refused {
			return true
		}
	}
	return false
}

// maxListed is the most features and findings that are listed on a terminal;
// --json has them all.
const maxListed = 200

// lines says for a person what is in the file.
func (c *checkedFile) lines() []string {
	out := []string{c.File}
	say := func(format string, args ...any) { out = append(out, "  "+fmt.Sprintf(format, args...)) }
	if c.System != nil {
		s := c.System
		code := ""
		if s.EPSG != 0 {
			code = fmt.Sprintf(" (EPSG:%d)", s.EPSG)
		}
		say("system: %s%s, in %s; found by: %s", s.Name, code, unitText(s), s.From)
		if s.Accuracy > 0 {
			say("        tied to WGS 84 within about %g m (%s)", s.Accuracy, s.Note)
		}
	}
	if c.Error != "" {
		say("REFUSED: %s", c.Error)
		return out
	}
	kinds := map[string]int{}
	for _, f := range c.Features {
		kinds[f.Geometry]++
	}
	var counts []string
	for _, k := range []struct{ kind, word string }{{"polygon", "polygons"}, {"line", "lines"}, {"points", "points"}, {"none", "without geometry"}} {
		if n := kinds[k.kind]; n > 0 {
			counts = append(counts, fmt.Sprintf("%s: %d", k.word, n))
		}
	}
	line := fmt.Sprintf("features: %d", len(c.Features))
	if len(counts) > 0 {
		line += " (" + strings.Join(counts, ", ") + ")"
	}
	say("%s", line)
	var columns []string
	for _, col := range c.Columns {
		columns = append(columns, fmt.Sprintf("%s (%s)", col.Name, col.Type))
	}
	if len(columns) == 0 {
		columns = []string{"none"}
	}
	say("columns: %s", strings.Join(columns, ", "))
	if c.Extent != nil {
		e := c.Extent
		say("extent: %.7f, %.7f to %.7f, %.7f (longitude, latitude)", e[0], e[1], e[2], e[3])
	}
	if c.AreaHa > 0 {
		say("true area: %.4f ha, %.4f ac", c.AreaHa, c.AreaAc)
	}
	for i, f := range c.Features {
		if i == maxListed {
			say("... and %d more features; --json lists all", len(c.Features)-i)
			break
		}
		line := fmt.Sprintf("%d", f.Index)
		if f.Name != "" {
			line += " " + f.Name
		}
		switch f.Geometry {
		case "polygon":
			line += fmt.Sprintf(": %.4f ha, %.4f ac, perimeter %.1f m (%.1f ft)", f.AreaM2/geo.Hectare, f.AreaM2/geo.Acre, f.Perimeter, f.Perimeter/geo.Foot)
			if f.Parts > 1 {
				line += fmt.Sprintf(", %d parts", f.Parts)
			}
			if f.Holes > 0 {
				line += fmt.Sprintf(", %d holes", f.Holes)
			}
			line += fmt.Sprintf(", %d vertices", f.Vertices)
		case "line":
			line += fmt.Sprintf(": line of %.1f m (%.1f ft)", f.Perimeter, f.Perimeter/geo.Foot)
		case "points":
			line += fmt.Sprintf(": %d points", f.Vertices)
		default:
			line += ": no geometry"
		}
		say("%s", line)
	}
	if len(c.Findings) == 0 {
		say("nothing wrong was found")
	}
	for i, f := range c.Findings {
		if i == maxListed {
			say("... and %d more findings; --json lists all", len(c.Findings)-i)
			break
		}
		say("%s", findingText(f))
	}
	return out
}

func unitText(s *checkedSystem) string {
	if s.Metres == 0 || s.Metres == 1 {
		return s.Unit
	}
	return fmt.Sprintf("%s (%.12g m)", s.Unit, s.Metres)
}

func findingText(f geo.Finding) string {
	place := ""
	if f.Feature > 0 {
		place = fmt.Sprintf("feature %d", f.Feature)
		if f.Name != "" {
			place += " (" + f.Name + ")"
		}
		if f.Ring > 0 {
			place += fmt.Sprintf(", ring %d", f.Ring)
		}
	}
	if f.At != nil {
		place += fmt.Sprintf(" at %.7f, %.7f", f.At.Lon(), f.At.Lat())
	}
	if place != "" {
		place += ": "
	}
	text := fmt.Sprintf("%s: %s%s; %s", strings.ToUpper(string(f.Outcome)), place, f.Text, f.Done)
	if f.Changed != nil {
		text += fmt.Sprintf(" (its true area changes by %+.1f m²)", *f.Changed)
	}
	return text
}

// mend writes the mended features, with all their attributes, as GeoJSON or, in
// the file's own system, as a shapefile.
func (c *checkedFile) mend(path string, force bool) ([]string, error) {
	if c.refused() {
		return nil, fmt.Errorf("%s cannot be mended: it has faults that are refused, told above", c.File)
	}
	var features []vector.OutFeature
	for i := range c.layer.Features {
		f := &c.layer.Features[i]
		o := vector.OutFeature{ID: f.ID}
		switch {
		case len(c.Features[i].Shape) > 0:
			o.Shape = c.Features[i].Shape
		case len(f.Lines) == 1:
			o.Line = f.Lines[0]
		case len(f.Lines) > 1:
			return nil, fmt.Errorf("%s: feature %d is a line of several parts, which cannot be written; split it", c.File, f.Index)
		case len(f.Points) == 1:
			p := f.Points[0]
			o.Point = &p
		case len(f.Points) > 1:
			o.Points = f.Points
		}
		for k, col := range c.layer.Columns {
			o.Properties = append(o.Properties, vector.Property{Name: col.Name, Value: f.Values[k]})
		}
		features = append(features, o)
	}
	out := &outputs{dir: filepath.Dir(path), force: force, inputs: partsOf(c.File)}
	base := filepath.Base(path)
	switch strings.ToLower(filepath.Ext(path)) {
	case ".geojson", ".json":
		if err := out.addGeoJSON(base, vector.Collection{Features: features}); err != nil {
			return nil, err
		}
	case ".shp":
		if err := out.addShapefile(strings.TrimSuffix(base, filepath.Ext(base)), c.layer.CRS, c.layer.Columns, features); err != nil {
			return nil, err
		}
	default:
		return nil, usageError{fmt.Errorf("--mend writes .geojson or .shp, not %q", filepath.Ext(path))}
	}
	return out.names(), out.commit()
}

// addShapefile takes the files of a shapefile.
func (o *outputs) addShapefile(stem string, system *crs.System, columns []vector.Column, features []vector.OutFeature) error {
	dir, err := os.MkdirTemp("", "corewalk-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	if err := vector.WriteShapefile(filepath.Join(dir, stem+".shp"), system, columns, features); err != nil {
		return err
	}
	for _, ext := range []string{".shp", ".shx", ".dbf", ".prj", ".cpg"} {
		data, err := os.ReadFile(filepath.Join(dir, stem+ext))
		if err != nil {
			return err
		}
		o.files = append(o.files, outFile{name: stem + ext, data: data})
	}
	return nil
}

func (a *app) checkCommand() *cobra.Command {
	var name, system, mend string
	var force bool
	c := &cobra.Command{
		Use:   "check FILE...",
		Short: "Say what is in a boundary file, and what is wrong with it",
		Long: `Says what is in each file: its coordinate system and how that was found, its
features and columns, true areas and perimeters on the ellipsoid, and every
fault with its place. Each fault is either mended, by one rule, or refused, with
the reason:

  All rings of a feature are noded where they meet, and the ground inside an odd
  number of them is kept; parts and holes under 1 m² are dropped. Where features
  share ground, the first in the file keeps it.

--mend writes the mended file. The exit status is 1 when anything is refused.`,
		Example: `  corewalk check fields.shp wet.geojson
  corewalk check fields.shp --mend mended.geojson`,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) == 0 {
				return usageError{errors.New("name at least one file to check")}
			}
			if mend != "" && len(args) != 1 {
				return usageError{errors.New("--mend takes a single file")}
			}
			return nil
		},
		RunE: func(_ *cobra.Command, args []string) error {
			var files []checkedFile
			var lines []string
			refused := 0
			for _, path := range args {
				c := checkFile(path, name, system)
				files = append(files, c)
				lines = append(lines, c.lines()...)
				if c.refused() {
					refused++
				}
			}
			if far := farApart(files); far != "" {
				lines = append(lines, far)
			}
			if err := a.report(struct {
				Files []checkedFile `json:"files"`
			}{files}, lines, nil, nil); err != nil {
				return err
			}
			if mend != "" {
				names, err := files[0].mend(mend, force)
				if err != nil {
					return err
				}
				if !a.json {
					for _, n := range names {
						fmt.Fprintf(a.stdout, "wrote %s\n", n)
					}
				}
			}
			if refused > 0 {
				return fmt.Errorf("%d of %d files %w; what is wrong stands with each", refused, len(files), errRefused)
			}
			return nil
		},
	}
	c.Flags().StringVar(&name, "name", "", "`COLUMN` that names the features")
	c.Flags().StringVar(&system, "crs", "", "coordinate `SYSTEM` of the files, overriding their own, as in EPSG:26915")
	c.Flags().StringVar(&mend, "mend", "", "`FILE` (.geojson or .shp) to write the mended features to")
	c.Flags().BoolVar(&force, "force", false, "overwrite files that are there already (never an input)")
	return c
}

// farApart warns when files that were checked together have nothing to do with
// each other, and says so when swapping longitude and latitude would bring them
// together.
func farApart(files []checkedFile) string {
	const near = 2.0 // degrees, some 200 km
	apart := func(a, b [4]float64) bool {
		return a[0] > b[2]+near || b[0] > a[2]+near || a[1] > b[3]+near || b[1] > a[3]+near
	}
	var first *checkedFile
	for i := range files {
		f := &files[i]
		if f.Extent == nil {
			continue
		}
		if first == nil {
			first = f
			continue
		}
		if !apart(*first.Extent, *f.Extent) {
			continue
		}
		e := *f.Extent
		text := fmt.Sprintf("NOTE: %s and %s lie far apart; one of them may say a wrong system", filepath.Base(first.File), filepath.Base(f.File))
		if !apart(*first.Extent, [4]float64{e[1], e[0], e[3], e[2]}) {
			text = fmt.Sprintf("NOTE: %s would lie by %s if its longitudes and latitudes changed places; they look swapped in one of the two", filepath.Base(f.File), filepath.Base(first.File))
		}
		return text
	}
	return ""
}
