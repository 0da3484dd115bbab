package main

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/paulmach/orb"
	"github.com/spf13/cobra"

	"corewalk/geo/crs"
	"corewalk/geo/raster"
	"corewalk/geo/vector"
	"corewalk/sampling"
)

// The demonstration farm is invented: its name, fields, figures and laboratory.
// It lies on open ground in UTM zone 15 north.
const (
	demoSystem = 26915 // NAD83 / UTM zone 15N, metres
	demoEast   = 446000.0
	demoNorth  = 4653000.0
)

// demoJob is the job file of the farm. results is put in once there is a plan.
const demoJob = `# An invented farm, to try corewalk on.
farm: Larkspur Bottom (invented)
units: us
boundary:   {file: fields.shp, name: NAME}
exclude:    [{file: wet.geojson, setback: 15m}]
management: {file: crops.geojson, name: crop}
problems:   {file: sick.geojson, name: id}
plan:    {design: grid, cell: 2.5ac, cores: 12, spacing: 5m, setback: 10m, depth: 0-8in, seed: 7}
kit:     {tests: [pH, buffer pH, P, K, OM, CEC]}
%ssurface: {analytes: [pH, buffer pH, P, K], pixel: 5m, method: auto, power: auto, near: auto, formats: [tif, svg]}
zone:    {classes: ["pH: 5.5, 6.0, 6.5, 7.0", "P: table ohio-corn-soybean"], patch: ["pH < 6.0", "P < 20", "K < 120"],
          smallest: 0.25ac, least-width: 12m, smooth: yes, shapefiles: yes, pictures: svg}
rate:
  use: [iowa-2002-lime, tri-state-2020-p, tri-state-2020-k]
  crop: ["corn, 180 bu/ac, pH 6.5", "alfalfa: alfalfa, 6 ton/ac, pH 6.9"]
  product: ["quarry lime (invented): CCE 92, mesh 4/8/60 100/90/55, moisture 2, rule iowa, 26 USD/ton, least 500 lb/ac, step 100 lb/ac",
            "TSP: 0-46-0, 620 USD/ton, least 60 lb/ac, step 5 lb/ac", "potash: 0-0-60, 480 USD/ton, least 60 lb/ac, step 5 lb/ac"]
out: season
`

// demoFields are the invented boundaries, in metres from the farm's corner.
func demoFields() []demoShape {
	return []demoShape{
		{"Home Ground", orb.Polygon{{{0, 0}, {620, 20}, {640, 330}, {400, 345}, {390, 600}, {-15, 590}, {0, 0}}}},
		{"Long Slip", orb.Polygon{{{700, 40}, {820, 0}, {1080, 640}, {960, 690}, {700, 40}}}},
		{"Tinker's Piece", orb.Polygon{{{430, 390}, {690, 380}, {710, 620}, {560, 660}, {425, 615}, {430, 390}}}},
	}
}

type demoShape struct {
	name    string
	polygon orb.Polygon
}

func demoWet() []demoShape {
	return []demoShape{
		{"pond", orb.Polygon{circle(180, 240, 38, 24)}},
		{"grass waterway", orb.Polygon{{{780, 300}, {930, 250}, {934, 262}, {786, 312}, {780, 300}}}},
		{"old stack bottom", orb.Polygon{circle(660, 430, 14, 12)}},
	}
}

func demoCrops() []demoShape {
	return []demoShape{
		{"corn", orb.Polygon{{{-40, -40}, {680, -40}, {680, 300}, {-40, 290}, {-40, -40}}}},
		{"alfalfa", orb.Polygon{{{-40, 290}, {680, 300}, {680, 345}, {405, 360}, {405, 640}, {-40, 640}, {-40, 290}}}},
	}
}

func demoSick() []demoShape {
	return []demoShape{{"yellow knoll", orb.Polygon{circle(540, 540, 42, 20)}}}
}

func circle(x, y, r float64, n int) orb.Ring {
	out := make(orb.Ring, 0, n+1)
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		// Not quite round, as nothing on a farm is.
		q := r * (1 + 0.12*math.Sin(3*a))
		out = append(out, orb.Point{x + q*math.Cos(a), y + q*math.Sin(a)})
	}
	return append(out, out[0])
}

// truth is the invented soil: pH, P and K (ppm) at metres from the corner of
// the farm. Two sour patches, one poor in P, and a slope in K.
func truth(x, y float64) (ph, p, k float64) {
	bump := func(cx, cy, r float64) float64 {
		return math.Exp(-((x-cx)*(x-cx) + (y-cy)*(y-cy)) / (2 * r * r))
	}
	ph = 6.7 + 0.0003*(x-400) - 1.2*bump(520, 130, 95) - 1.1*bump(90, 480, 80) - 1.3*bump(540, 540, 45) + 0.15*math.Sin(x/150)
	p = 34 + 0.012*(y-300) - 24*bump(880, 480, 110) + 30*bump(60, 60, 90) + 3*math.Sin((x+y)/120)
	k = 175 - 0.06*(x-300) + 0.04*(y-200) - 45*bump(300, 520, 90)
	return ph, p, k
}

func (a *app) demoCommand() *cobra.Command {
	var force bool
	c := &cobra.Command{
		Use:   "demo DIR",
		Short: "Write an invented farm and run everything on it",
		Long: `Writes an invented farm to DIR: a shapefile of fields, wet ground, crops and a
problem area as GeoJSON, and a lab file as a lab would send it, some rows of it
awkward; then runs 'corewalk run DIR/job.yaml'. The lab's figures come from an
invented ground truth with noise, which the surfaces are judged by at the end.`,
		Example: "  corewalk demo out",
		Args:    exactly(1, "one folder"),
		RunE: func(_ *cobra.Command, args []string) error {
			return a.demo(args[0], force)
		},
	}
	c.Flags().BoolVar(&force, "force", false, "overwrite files that are there already")
	return c
}

func (a *app) demo(dir string, force bool) error {
	inputs := &outputs{dir: dir, force: force}
	if err := demoInputs(inputs); err != nil {
		return err
	}
	if err := inputs.commit(); err != nil {
		return err
	}
	// The ids of the samples come from the plan, so the lab file is made after
	// a run that stops there.
	jobPath := filepath.Join(dir, "job.yaml")
	samples, err := demoPlan(dir)
	if err != nil {
		return err
	}
	more := &outputs{dir: dir, force: force}
	text := demoLab(samples)
	for name, content := range map[string]string{"lab.csv": text, "job.yaml": fmt.Sprintf(demoJob, "results: {file: lab.csv}\n")} {
		if err := more.add(name, func(w io.Writer) error { _, err := io.WriteString(w, content); return err }); err != nil {
			return err
		}
	}
	slices.SortFunc(more.files, func(a, b outFile) int { return strings.Compare(a.name, b.name) })
	if err := more.commit(); err != nil {
		return err
	}
	j, err := readJob(jobPath)
	if err != nil {
		return err
	}
	s, err := runJob(j, force)
	if err != nil {
		return err
	}
	judged, err := judge(j, s)
	if err != nil {
		return err
	}
	lines := append([]string{"An invented farm; nothing in it is real."}, s.lines...)
	lines = append(lines, "Against the invented truth (root mean squared difference over all pixels):")
	lines = append(lines, judged...)
	files := append(inputs.names(), more.names()...)
	return a.report(s, lines, s.notices, append(files, s.Files...))
}

// demoInputs writes the map of the farm.
func demoInputs(out *outputs) error {
	system, err := crs.FromEPSG(demoSystem)
	if err != nil {
		return err
	}
	features := func(shapes []demoShape, column string) ([]vector.OutFeature, error) {
		var list []vector.OutFeature
		for _, s := range shapes {
			polygon := make(orb.Polygon, len(s.polygon))
			for i, ring := range s.polygon {
				for _, p := range ring {
					ll, err := system.Inverse(demoEast+p[0], demoNorth+p[1])
					if err != nil {
						return nil, err
					}
					polygon[i] = append(polygon[i], orb.Point(ll))
				}
			}
			list = append(list, vector.OutFeature{
				Shape: crs.LonLatShape{polygon}, Properties: []vector.Property{{Name: column, Value: s.name}},
			})
		}
		return list, nil
	}
	fields, err := features(demoFields(), "NAME")
	if err != nil {
		return err
	}
	if err := out.addShapefile("fields", system, []vector.Column{{Name: "NAME", Type: vector.Text}}, fields); err != nil {
		return err
	}
	for _, f := range []struct {
		name, column string
		shapes       []demoShape
	}{{"wet.geojson", "name", demoWet()}, {"crops.geojson", "crop", demoCrops()}, {"sick.geojson", "id", demoSick()}} {
		list, err := features(f.shapes, f.column)
		if err != nil {
			return err
		}
		note := vector.Member{Name: "note", Value: "invented, for trying corewalk out"}
		if err := out.addGeoJSON(f.name, vector.Collection{Features: list, Members: []vector.Member{note}}); err != nil {
			return err
		}
	}
	return nil
}

// demoPlan plans the farm and returns its samples, without keeping any file.
func demoPlan(dir string) ([]sampling.PlannedUnit, error) {
	scratch, err := os.MkdirTemp("", "corewalk-demo-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(scratch)
	path := filepath.Join(scratch, "job.yaml")
	if err := os.WriteFile(path, fmt.Appendf(nil, demoJob, ""), 0o600); err != nil {
		return nil, err
	}
	e, err := readYAML(path)
	if err != nil {
		return nil, err
	}
	j := &job{}
	if err := j.read(e, dir); err != nil {
		return nil, err
	}
	if _, err := planStep(*j.files, *j.plan, &outputs{dir: scratch}); err != nil {
		return nil, err
	}
	layer, err := vector.Read(filepath.Join(scratch, planFile), vector.Options{})
	if err != nil {
		return nil, err
	}
	return sampling.ReadUnits(layer)
}

// demoLab writes what the invented laboratory sends: letterhead, header, units,
// a row to a sample with the noise of sampling and analysis, and the rows that
// every such file seems to have.
func demoLab(samples []sampling.PlannedUnit) string {
	r, charge := rand.New(rand.NewPCG(2024, 11)), rand.New(rand.NewPCG(2024, 12))
	system := crs.UTM(15, false)
	var b strings.Builder
	b.WriteString("Plain & Fancy Soil Laboratory (invented);;;;;;;;\r\n")
	b.WriteString("Report 4471;;;;;;;;\r\n;;;;;;;;\r\n")
	b.WriteString("Lab No;Sample ID;pH;SMP Buffer pH;P Mehlich-3;K Mehlich-3;OM;CEC;Remarks\r\n")
	b.WriteString(";;;;ppm;ppm;%;meq/100 g;\r\n")
	row := func(n int, id, ph, buffer, p, k, om, cec, remark string) {
		fmt.Fprintf(&b, "%d;%s;%s;%s;%s;%s;%s;%s;%s\r\n", 88100+n, id, ph, buffer, p, k, om, cec, remark)
	}
	number := func(v float64, n int) string { return fmt.Sprintf("%.*f", n, v) }
	for i, s := range samples {
		var ph, p, k float64
		for _, c := range s.Cores {
			x, y, err := system.Forward(c.At)
			if err != nil {
				continue
			}
			a, b, c := truth(x-demoEast, y-demoNorth)
			ph, p, k = ph+a, p+b, k+c
		}
		n := float64(len(s.Cores))
		ph = ph/n + 0.08*r.NormFloat64()
		p = math.Max(p/n*(1+0.08*r.NormFloat64()), 1)
		k = k / n * (1 + 0.05*r.NormFloat64())
		om := 3.1 + 0.4*r.NormFloat64()
		cec := 14 + 1.5*charge.NormFloat64()
		buffer := math.Min(7.0, 6.95-0.45*(6.6-ph))
		id, pText, kText, remark := s.ID, number(p, 0), number(k, 0), ""
		switch i {
		case 4:
			id = misspelt(id)
		case 9:
			pText = "<5"
		case 12:
			kText = ""
		case 15:
			pText, remark = "spilt", "not enough soil left"
		}
		row(i, id, number(ph, 1), number(buffer, 1), pText, kText, number(om, 1), number(cec, 1), remark)
		if i == 7 {
			row(i, id, number(ph+0.1, 1), number(buffer, 1), number(p*1.04, 0), kText, number(om, 1), number(cec, 1), "checked again")
		}
	}
	row(len(samples), "GARDEN1", "7.1", "7.0", "88", "240", "5.2", "16.1", "")
	row(len(samples)+1, "CHECK", "6.9", "7.0", "41", "160", "2.0", "9.8", "")
	return b.String()
}

// misspelt swaps two neighbouring characters of an id.
func misspelt(id string) string {
	return id[:1] + id[2:3] + id[1:2] + id[3:]
}

// judge compares the surfaces with the invented truth, beside the plain mean of
// the composites.
func judge(j *job, s runSummary) ([]string, error) {
	if s.Surface == nil {
		return nil, nil
	}
	sums := map[string]*[3]float64{}
	var names []string
	r, err := readResults(filepath.Join(j.out, resultsFile))
	if err != nil {
		return nil, err
	}
	for _, record := range s.Surface.Surfaces {
		if !slices.Contains([]string{"pH", "P", "K"}, record.Analyte) {
			continue // there is no invented truth of it
		}
		grid, err := readGrid(filepath.Join(j.out, surfacesFile), record)
		if err != nil {
			return nil, err
		}
		mean, n := 0.0, 0.0
		for _, c := range r.Composites {
			if f, ok := c.Figure(record.Analyte); ok && c.Field == record.Field {
				mean, n = mean+f.Value, n+1
			}
		}
		mean /= n
		sum := sums[record.Analyte]
		if sum == nil {
			sum = new([3]float64)
			sums[record.Analyte] = sum
			names = append(names, record.Analyte)
		}
		for i, v := range grid.Data {
			if v == raster.NoData {
				continue
			}
			x, y := grid.Center(i%grid.Width, i/grid.Width)
			ph, p, k := truth(x-demoEast, y-demoNorth)
			real := map[string]float64{"pH": ph, "P": p, "K": k}[record.Analyte]
			sum[0] += (float64(v) - real) * (float64(v) - real)
			sum[1] += (mean - real) * (mean - real)
			sum[2]++
		}
	}
	var out []string
	for _, name := range names {
		sum := sums[name]
		out = append(out, fmt.Sprintf("  %s: surface %.3g, plain mean of each field %.3g", name, math.Sqrt(sum[0]/sum[2]), math.Sqrt(sum[1]/sum[2])))
	}
	return out, nil
}
