package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo"
	"corewalk/geo/plane"
	"corewalk/geo/vector"
	"corewalk/interp"
	"corewalk/interp/zone"
	"corewalk/sampling"
)

// zoneParameters say which ground stands out.
type zoneParameters struct {
	Patch    []string `json:"patch"` // limits, as pH < 6.0
	Smallest float64  `json:"smallest_m2"`
	Insist   bool     `json:"insist"` // use surfaces that are not supported, too

	limits []zone.Limit
}

func (p *zoneParameters) parse() error {
	if len(p.Patch) == 0 {
		return errors.New("no limit is given; name at least one, as in \"pH < 6.0\"")
	}
	for _, s := range p.Patch {
		l, err := zone.ParseLimit(s)
		if err != nil {
			return err
		}
		p.limits = append(p.limits, l)
	}
	return nil
}

// What the patches were drawn on.
const (
	onSurface = "surface"
	onUnits   = "sampling units"
)

// patchSet is what lies beyond one limit in one field.
type patchSet struct {
	field   *geo.Field
	analyte sampling.Analyte
	limit   zone.Limit
	basis   string
	patches []patchRecord
	rest    figures
	shape   plane.Shape // the rest
	dropped int
	note    string
}

type patchRecord struct {
	id       string
	division geo.Division
	shape    plane.Shape
	samples  []string
	figures
}

type figures struct {
	area                  float64 // true m²
	mean, least, greatest float64
	pixels                int
	composites            int
	compositesMean        float64
}

type zoneSummary struct {
	Zones   string         `json:"zones"`
	Patches []patchSummary `json:"patches"`
	Rest    []patchSummary `json:"rest"`
	Notices []string       `json:"notices"`
	Files   []string       `json:"files"`

	sets []patchSet
}

type patchSummary struct {
	ID         string   `json:"id,omitempty"`
	Field      string   `json:"field"`
	Limit      string   `json:"limit"`
	Basis      string   `json:"basis"`
	AreaHa     float64  `json:"area_ha"`
	AreaAc     float64  `json:"area_ac"`
	Mean       *float64 `json:"mean"`
	Least      *float64 `json:"least"`
	Greatest   *float64 `json:"greatest"`
	Composites int      `json:"composites"`
}

// layerLimits finds the analytes of limits; one that names several depth layers
// becomes a limit for each.
func layerLimits(limits []zone.Limit, all []sampling.Analyte) ([]zone.Limit, []sampling.Analyte, error) {
	var out []zone.Limit
	var analytes []sampling.Analyte
	for _, l := range limits {
		found, err := findAnalytes(all, l.Analyte)
		if err != nil {
			return nil, nil, fmt.Errorf("limit %s: %w", l, err)
		}
		for _, a := range found {
			if len(found) > 1 {
				l.Analyte = a.Name
			}
			out, analytes = append(out, l), append(analytes, a)
		}
	}
	return out, analytes, nil
}

// zoneStep draws the patches beyond each limit on the surfaces.
func zoneStep(resultsPath, surfacesPath string, p zoneParameters, out *outputs) (zoneSummary, error) {
	if err := p.parse(); err != nil {
		return zoneSummary{}, err
	}
	r, err := readResults(resultsPath)
	if err != nil {
		return zoneSummary{}, err
	}
	index, err := readSurfaces(surfacesPath)
	if err != nil {
		return zoneSummary{}, err
	}
	s := zoneSummary{Zones: zonesFile, Patches: []patchSummary{}, Rest: []patchSummary{}, Notices: []string{}}
	inputs := []string{resultsPath, surfacesPath}
	counts := map[string]int{}
	limits, analytes, err := layerLimits(p.limits, r.Analytes)
	if err != nil {
		return zoneSummary{}, err
	}
	for i, l := range limits {
		a := analytes[i]
		for _, f := range r.Fields {
			k := slices.IndexFunc(index.Surfaces, func(x surfaceRecord) bool { return x.Field == f.Name && x.Analyte == a.Name })
			if k < 0 {
				s.Notices = append(s.Notices, fmt.Sprintf("field %s: there is no surface of %s, so no patch is drawn for %s", f.Name, a.Name, l))
				continue
			}
			set, err := onePatchSet(r, f, a, l, index.Surfaces[k], surfacesPath, p, counts)
			if err != nil {
				return zoneSummary{}, fmt.Errorf("field %s, limit %s: %w", f.Name, l, err)
			}
			if set.note != "" {
				s.Notices = append(s.Notices, set.note)
			}
			s.sets = append(s.sets, set)
			inputs = append(inputs, filepath.Join(filepath.Dir(surfacesPath), filepath.FromSlash(index.Surfaces[k].File)))
		}
	}
	features, err := s.features()
	if err != nil {
		return zoneSummary{}, err
	}
	slices.Sort(inputs[2:])
	inputs = slices.Compact(inputs)
	head, err := newHeader(p, inputs)
	if err != nil {
		return zoneSummary{}, err
	}
	out.inputs = append(out.inputs, inputs...)
	if err := out.addGeoJSON(zonesFile, vector.Collection{Features: features, Members: []vector.Member{{Name: "corewalk", Value: head}}}); err != nil {
		return zoneSummary{}, err
	}
	s.Files = out.names()
	return s, out.commit()
}

// onePatchSet draws the patches of one limit in one field. Ids count through
// all fields.
func onePatchSet(r *sampling.Results, f *geo.Field, a sampling.Analyte, l zone.Limit, record surfaceRecord, surfacesPath string, p zoneParameters, counts map[string]int) (patchSet, error) {
	set := patchSet{field: f, analyte: a, limit: l, basis: onSurface}
	grid, err := readGrid(surfacesPath, record)
	if err != nil {
		return set, err
	}
	if grid.EPSG != f.Frame.EPSG() {
		return set, fmt.Errorf("%s is in EPSG:%d, the field in EPSG:%d; make the surfaces from these results", record.File, grid.EPSG, f.Frame.EPSG())
	}
	on := ground{grid.Geometry, interp.Mask(f, grid.Geometry)}
	units, err := unitsOf(r, f, a.Name)
	if err != nil {
		return set, err
	}
	if !record.Supported && !p.Insist {
		set.basis = onUnits
		set.note = fmt.Sprintf("field %s: the surface of %s is not supported, so patches for %s are drawn on %s; --insist takes the surface all the same", f.Name, a.Name, l, onUnits)
		grid = interp.Steps(on.geometry, on.division, units)
	}
	var parts []zone.Ground
	for _, d := range f.Divisions {
		parts = append(parts, zone.Ground{Name: d.Name, Shape: d.Shape})
	}
	result, err := zone.Patches(grid, parts, on.division, l, zone.Options{Smallest: p.Smallest / planarPerTrue(f)})
	if err != nil {
		return set, err
	}
	set.dropped = result.Dropped
	side := "low"
	if !l.Low() {
		side = "high"
	}
	samples := samplesOf(units)
	set.shape = f.Ground
	inside := make([]bool, len(samples))
	for _, patch := range result.Patches {
		key := slug(a.Name) + "-" + side
		counts[key]++
		pr := patchRecord{id: fmt.Sprintf("%s-%d", key, counts[key]), division: f.Divisions[patch.Division], shape: patch.Shape}
		pr.figures = figures{area: f.Frame.Area(patch.Shape), mean: patch.Mean, least: patch.Least, greatest: patch.Greatest, pixels: patch.Pixels}
		at := plane.NewLocator(patch.Shape)
		for i, s := range samples {
			if !inside[i] && s.Division == patch.Division && at.Contains(s.At) {
				inside[i] = true
				pr.samples = append(pr.samples, s.ID)
				pr.composites++
				pr.compositesMean += s.Value
			}
		}
		if pr.composites > 0 {
			pr.compositesMean /= float64(pr.composites)
		}
		set.patches = append(set.patches, pr)
	}
	var shapes []plane.Shape
	for _, pr := range set.patches {
		shapes = append(shapes, pr.shape)
	}
	all, err := plane.Union(shapes...)
	if err != nil {
		return set, err
	}
	if set.shape, err = plane.Subtract(f.Ground, all); err != nil {
		return set, err
	}
	set.rest = figures{area: f.Frame.Area(set.shape), mean: result.Rest.Mean, least: result.Rest.Least, greatest: result.Rest.Greatest, pixels: result.Rest.Pixels}
	for i, s := range samples {
		if !inside[i] {
			set.rest.composites++
			set.rest.compositesMean += s.Value
		}
	}
	if set.rest.composites > 0 {
		set.rest.compositesMean /= float64(set.rest.composites)
	}
	return set, nil
}

// planarPerTrue is the true area in square metres per square metre of the
// frame.
func planarPerTrue(f *geo.Field) float64 {
	return f.Frame.Area(f.Ground) / f.Ground.Area()
}

// features writes the patches, and for each limit the rest of the field.
func (s *zoneSummary) features() ([]vector.OutFeature, error) {
	var out []vector.OutFeature
	for _, set := range s.sets {
		f := set.field
		add := func(kind, id string, d *geo.Division, shape plane.Shape, x figures, samples []string) error {
			ll, err := f.Frame.LonLatShape(shape)
			if err != nil {
				return err
			}
			properties := []vector.Property{{Name: "kind", Value: kind}}
			if id != "" {
				properties = append(properties, vector.Property{Name: "id", Value: id})
			}
			properties = append(properties, vector.Property{Name: "field", Value: f.Name})
			if d != nil && d.Name != "" {
				column := "management"
				if d.Kind == geo.Problem {
					column = "problem"
				}
				properties = append(properties, vector.Property{Name: column, Value: d.Name})
			}
			sum := patchSummary{
				ID: id, Field: f.Name, Limit: set.limit.String(), Basis: set.basis, Composites: x.composites,
				AreaHa: decimals(x.area/geo.Hectare, 4), AreaAc: decimals(x.area/geo.Acre, 3),
			}
			mean, least, greatest := any(nil), any(nil), any(nil)
			if x.pixels > 0 {
				mean, least, greatest = x.mean, x.least, x.greatest
				sum.Mean, sum.Least, sum.Greatest = &x.mean, &x.least, &x.greatest
			}
			compositesMean := any(nil)
			if x.composites > 0 {
				compositesMean = x.compositesMean
			}
			properties = append(properties,
				vector.Property{Name: "analyte", Value: set.analyte.Name},
				vector.Property{Name: "limit", Value: set.limit.String()},
				vector.Property{Name: "basis", Value: set.basis},
				vector.Property{Name: "area_ha", Value: sum.AreaHa},
				vector.Property{Name: "area_ac", Value: sum.AreaAc},
				vector.Property{Name: "mean", Value: mean},
				vector.Property{Name: "least", Value: least},
				vector.Property{Name: "greatest", Value: greatest},
				vector.Property{Name: "composites", Value: x.composites},
				vector.Property{Name: "composites_mean", Value: compositesMean},
			)
			if set.analyte.Unit != "" {
				properties = append(properties, vector.Property{Name: "value_unit", Value: set.analyte.Unit})
			}
			if len(samples) > 0 {
				properties = append(properties, vector.Property{Name: "samples", Value: strings.Join(samples, ", ")})
			}
			out = append(out, vector.OutFeature{Shape: ll, Properties: properties})
			if kind == kindPatch {
				s.Patches = append(s.Patches, sum)
			} else {
				s.Rest = append(s.Rest, sum)
			}
			return nil
		}
		for _, p := range set.patches {
			if err := add(kindPatch, p.id, &p.division, p.shape, p.figures, p.samples); err != nil {
				return nil, err
			}
		}
		if err := add(kindZone, "", nil, set.shape, set.rest, nil); err != nil {
			return nil, err
		}
	}
	return out, nil
}

const (
	kindPatch = "patch"
	kindZone  = "zone"
)

func (s *zoneSummary) text(m measure) []string {
	out := []string{fmt.Sprintf("%d patches", len(s.Patches))}
	for _, set := range s.sets {
		for _, p := range set.patches {
			out = append(out, fmt.Sprintf("  %s in %s: %s, mean %.3g (%.3g to %.3g), %d composites; drawn on %s",
				p.id, set.field.Name, m.area(p.area), p.mean, p.least, p.greatest, p.composites, set.basis))
		}
		line := fmt.Sprintf("  %s without what is %s: %s", set.field.Name, set.limit, m.area(set.rest.area))
		if set.rest.pixels > 0 {
			line += fmt.Sprintf(", mean %.3g", set.rest.mean)
		}
		if set.dropped > 0 {
			line += fmt.Sprintf(" (%d smaller patches left in it)", set.dropped)
		}
		out = append(out, line)
	}
	return out
}

func (a *app) zoneCommand() *cobra.Command {
	var results, surfaces string
	var p zoneParameters
	var smallest areaValue
	units := unitsValue("metric")
	var to outFlags
	c := &cobra.Command{
		Use:   "zone --results results.geojson --surfaces surfaces.json --patch LIMIT [flags]",
		Short: "Draw the patches beyond critical limits",
		Long: `Draws contiguous ground beyond each limit as a patch with an id, its area, and
the mean, least and greatest value inside; and for each limit the rest of the
field with its figure. No patch reaches across the edge of a management unit or
problem area. Limits are in the unit of the results.

Where a surface is not supported by its cross-validation, the patches are drawn
on the figures of the sampling units instead. Writes zones.geojson.`,
		Example: `  corewalk zone --results out/results.geojson --surfaces out/surfaces.json \
    --patch "pH < 6.0" --patch "P < 15" --smallest 0.25ac --out out`,
		Args: exactly(0, ""),
		RunE: func(*cobra.Command, []string) error {
			if results == "" || surfaces == "" || len(p.Patch) == 0 {
				return usageError{errors.New("--results, --surfaces and at least one --patch are needed")}
			}
			p.Smallest = float64(smallest)
			s, err := zoneStep(results, surfaces, p, to.outputs())
			if err != nil {
				return err
			}
			return a.report(s, s.text(measure{units == "us"}), s.Notices, s.Files)
		},
	}
	c.Flags().StringVar(&results, "results", "", "`FILE` results.geojson")
	c.Flags().StringVar(&surfaces, "surfaces", "", "`FILE` surfaces.json, with the rasters that it names beside it")
	c.Flags().StringArrayVar(&p.Patch, "patch", nil, "critical `LIMIT`, as \"pH < 6.0\"; may be repeated")
	c.Flags().Var(&smallest, "smallest", "least area of a patch")
	c.Flags().BoolVar(&p.Insist, "insist", false, "use surfaces that are not supported, too")
	c.Flags().Var(&units, "units", "units of the summary")
	to.add(c)
	return c
}
