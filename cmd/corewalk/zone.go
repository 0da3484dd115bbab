package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"corewalk/geo"
	"corewalk/geo/vector"
	"corewalk/interp"
	"corewalk/sampling"
)

// What zones and patches were drawn on.
const (
	onSurface = "surface"
	onUnits   = "sampling units"
)

const (
	kindPatch = "patch"
	kindZone  = "zone"
)

// zoneDecimals are those of degrees in the files of zones: 1e-13 degree is a
// hundredth of a micrometre, so that places where a line between zones meets the
// outline of the ground stay on it, and areas sum to that of the ground.
const zoneDecimals = 13

type zoneSummary struct {
	Zones      string         `json:"zones"`
	Patches    []patchSummary `json:"patches"`
	Rest       []patchSummary `json:"rest"`
	Partitions []partition    `json:"partitions"`
	Meetings   []meeting      `json:"meetings"`
	Notices    []string       `json:"notices"`
	Files      []string       `json:"files"`

	sets  []patchSet
	zoned []zoneSet
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
	Chance     *float64 `json:"chance,omitempty"`
	Without    *float64 `json:"mean_without,omitempty"`
	Composites int      `json:"composites"`
}

// partition tells how a field was cut into zones of one analyte, and that its
// zones have the area of the ground.
type partition struct {
	Field   string         `json:"field"`
	Analyte string         `json:"analyte"`
	Limits  []float64      `json:"limits"`
	Source  string         `json:"source,omitempty"`
	Basis   string         `json:"basis"`
	Ground  float64        `json:"ground_m2"` // true area of what is covered
	Sum     float64        `json:"zones_m2"`  // of the areas of the zones
	Merged  int            `json:"merged"`
	Classes []classSummary `json:"classes"`
}

type classSummary struct {
	Class  int     `json:"class"` // from 1; 0 without a value
	Name   string  `json:"name"`
	Zones  int     `json:"zones"`
	AreaHa float64 `json:"area_ha"`
	AreaAc float64 `json:"area_ac"`
}

// meeting is ground that patches of two analytes share.
type meeting struct {
	Field   string     `json:"field"`
	Patches [2]string  `json:"patches"`
	AreaHa  float64    `json:"area_ha"`
	of      [2]patchAt // before they have ids
}

// patchAt is the place of a patch among those of its field.
type patchAt struct{ set, patch int }

// zoneStep draws zones and patches on the surfaces. Fields are worked on by all
// processors, and what is finished is put down at once.
func zoneStep(resultsPath, surfacesPath string, p zoneParameters, out *outputs) (zoneSummary, error) {
	if err := p.check(); err != nil {
		return zoneSummary{}, err
	}
	r, err := openResults(resultsPath)
	if err != nil {
		return zoneSummary{}, err
	}
	defer r.Close()
	index, err := readSurfaces(surfacesPath)
	if err != nil {
		return zoneSummary{}, err
	}
	limits, limited, err := layerLimits(p.limits, r.analytes)
	if err != nil {
		return zoneSummary{}, err
	}
	classings, err := p.classings(r.analytes)
	if err != nil {
		return zoneSummary{}, err
	}
	inputs := append([]string{resultsPath, surfacesPath}, p.Tables...)
	var residuals map[surfaceKey][]interp.Residual
	if len(limits) > 0 && index.Residuals != "" {
		path, err := besideIndex(surfacesPath, index.Residuals)
		if err != nil {
			return zoneSummary{}, err
		}
		if residuals, err = readResiduals(path, func(name string) bool {
			return slices.ContainsFunc(limited, func(a sampling.Analyte) bool { return a.Name == name })
		}); err != nil {
			return zoneSummary{}, err
		}
		inputs = append(inputs, path)
	}
	surfaces := index.byKey()
	rasters, err := rasterFiles(surfacesPath, surfaces, r.fields, analyteNames(limited, classings))
	if err != nil {
		return zoneSummary{}, err
	}
	inputs = append(inputs, rasters...)
	head, err := newHeader(p, inputs)
	if err != nil {
		return zoneSummary{}, err
	}
	members := []vector.Member{{Name: "corewalk", Value: head}}
	out.inputs = append(out.inputs, inputs...)
	defer out.discard()

	s := zoneSummary{Zones: zonesFile, Patches: []patchSummary{}, Rest: []patchSummary{}, Partitions: []partition{}, Meetings: []meeting{}, Notices: []string{}}
	fieldSlugs, analyteSlugs := r.slugs()
	counts := map[string]int{}
	draw := func(zonesOut, patchesOut io.Writer) error {
		zones, err := vector.NewStream(zonesOut, members)
		if err != nil {
			return err
		}
		patches, err := vector.NewStream(patchesOut, members)
		if err != nil {
			return err
		}
		err = inOrder(len(r.fields), func(i int) (fieldZones, error) {
			f, composites, err := r.field(i)
			if err != nil {
				return fieldZones{}, err
			}
			m := zoneMaker{
				zoneParameters: p, what: "its zones and patches are drawn on", field: f, limits: limits, limited: limited, classings: classings,
				surfaces: surfaces, residuals: residuals, surfacesPath: surfacesPath, out: out, slug: fieldSlugs[i], analyteSlugs: analyteSlugs,
			}
			z, err := m.make(composites)
			if err != nil {
				return z, fmt.Errorf("field %s: %w", f.Name, err)
			}
			return z, nil
		}, func(_ int, z fieldZones) error {
			z.number(counts)
			s.Notices = append(s.Notices, z.notices...)
			s.Meetings = append(s.Meetings, z.meetings...)
			lines, own, err := z.patchFeatures(&s)
			if err != nil {
				return err
			}
			zones.Write(z.zones)
			zones.Write(lines)
			patches.Write(own)
			s.Partitions = append(s.Partitions, z.partitions...)
			out.take(z.files...)
			if p.keep {
				s.zoned = append(s.zoned, z.zoned...)
			} else {
				z.forget()
			}
			s.sets = append(s.sets, z.sets...)
			return nil
		})
		if err != nil {
			return err
		}
		return errors.Join(zones.Close(), patches.Close())
	}
	zones, patches := outFile{}, outFile{}
	if len(limits) == 0 {
		zones, err = out.stage(zonesFile, func(w io.Writer) error { return draw(w, io.Discard) })
	} else {
		patches, err = out.stage(patchesFile, func(w io.Writer) error {
			zones, err = out.stage(zonesFile, func(z io.Writer) error { return draw(z, w) })
			return err
		})
	}
	if err != nil {
		return zoneSummary{}, trimPrefix(trimPrefix(err, patchesFile), zonesFile)
	}
	out.take(zones)
	if len(limits) > 0 {
		out.take(patches)
	}
	s.Files = out.names()
	return s, out.commit()
}

// patchesFile holds the patches alone, to be the problem areas of a next plan.
const patchesFile = "patches.geojson"

func analyteNames(limited []sampling.Analyte, classings []classing) []string {
	var out []string
	for _, a := range limited {
		out = append(out, a.Name)
	}
	for _, c := range classings {
		out = append(out, c.analyte.Name)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// number gives the patches of a field their ids, which count through all
// fields.
func (z *fieldZones) number(counts map[string]int) {
	for i := range z.sets {
		set := &z.sets[i]
		side := "low"
		if !set.limit.Low() {
			side = "high"
		}
		key := slug(set.analyte.Name) + "-" + side
		for k := range set.patches {
			counts[key]++
			set.patches[k].id = fmt.Sprintf("%s-%d", key, counts[key])
		}
	}
	for i := range z.meetings {
		m := &z.meetings[i]
		for k, at := range m.of {
			m.Patches[k] = z.sets[at.set].patches[at.patch].id
		}
	}
}

func (s *zoneSummary) text(m measure) []string {
	var out []string
	if len(s.sets) > 0 {
		out = append(out, fmt.Sprintf("%d patches", len(s.Patches)))
	}
	for _, set := range s.sets {
		if len(out) > mostLines {
			out = append(out, "  ... and more; all are in "+patchesFile)
			break
		}
		for _, p := range set.patches {
			line := fmt.Sprintf("  %s in %s: %s, mean %.3g (%.3g to %.3g), %d composites; drawn on %s",
				p.id, set.field.Name, m.area(p.area), p.mean, p.least, p.greatest, p.composites, set.basis)
			if p.chance != nil {
				line += fmt.Sprintf("; chance to be %s %.0f %%", set.limit, 100**p.chance)
			}
			out = append(out, line)
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
	for _, x := range s.Meetings {
		out = append(out, fmt.Sprintf("  %s and %s meet over %s", x.Patches[0], x.Patches[1], m.area(x.AreaHa*geo.Hectare)))
	}
	if len(s.Partitions) > 0 {
		n := 0
		for _, p := range s.Partitions {
			for _, c := range p.Classes {
				n += c.Zones
			}
		}
		out = append(out, fmt.Sprintf("%d zones", n))
	}
	for i, p := range s.Partitions {
		if i == mostLines {
			out = append(out, "  ... and more; all are in "+zonesFile)
			break
		}
		var parts []string
		for _, c := range p.Classes {
			parts = append(parts, fmt.Sprintf("%s %s (%d)", c.Name, m.area(c.AreaHa*geo.Hectare), c.Zones))
		}
		out = append(out, fmt.Sprintf("  %s, %s, drawn on %s: %s", p.Field, p.Analyte, p.Basis, strings.Join(parts, "; ")))
	}
	return out
}

func (a *app) zoneCommand() *cobra.Command {
	var results, surfaces string
	choices := settingFlags[zoneParameters]{params: *defaultZone()}
	units := unitsValue("metric")
	var to outFlags
	c := &cobra.Command{
		Use:   "zone --results results.geojson --surfaces surfaces.json (--classes CLASSES | --patch LIMIT) [flags]",
		Short: "Draw zones by class, and the patches beyond critical limits",
		Long: `Cuts every field into zones by the classes of an analyte. The zones of a field
cover its ground without gap or overlap, and none reaches across the edge of a
management unit or problem area. Zones that are too small or too narrow for the
machine join their neighbours.

Draws contiguous ground beyond each limit as a patch with an id, its area, the
mean, least and greatest value inside, and the chance that a place in it is truly
beyond (from the standard error of kriging, or from what leaving out composites
showed); and for each limit the rest of the field with its figure. Limits are in
the unit of the results.

Where a surface is not supported by its cross-validation, all of this is drawn on
the figures of the sampling units instead. Writes zones.geojson and
patches.geojson; "corewalk plan --problems patches.geojson --problems-name id" takes
the patches as problem areas of the next round.`,
		Example: `  corewalk zone --results out/results.geojson --surfaces out/surfaces.json \
    --classes "pH: 5.5, 6.0, 6.5" --classes "P: quantiles 4" --smallest 0.5ac --least-width 18m --smooth --out out
  corewalk zone --results out/results.geojson --surfaces out/surfaces.json \
    --patch "pH < 6.0" --patch "P < 15" --smallest 0.25ac --out out`,
		Args: exactly(0, ""),
		RunE: func(*cobra.Command, []string) error {
			if results == "" || surfaces == "" || len(choices.params.Patch)+len(choices.params.Classes) == 0 {
				return usageError{errors.New("--results, --surfaces and at least one --classes or --patch are needed")}
			}
			choices.params.us = units == "us"
			s, err := zoneStep(results, surfaces, choices.params, to.outputs())
			if err != nil {
				return err
			}
			return a.report(s, s.text(measure{units == "us"}), s.Notices, s.Files)
		},
	}
	c.Flags().StringVar(&results, "results", "", "`FILE` results.geojson")
	c.Flags().StringVar(&surfaces, "surfaces", "", "`FILE` surfaces.json, with the files that it names beside it")
	choices.add(c, zoneSettings())
	c.Flags().Var(&units, "units", "units of the summary and on pictures")
	to.add(c)
	return c
}
