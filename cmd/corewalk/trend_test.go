package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"corewalk/geo/crs"
	"corewalk/sampling/season"
)

// inventedSeasons are five seasons of twelve cells; P falls by two a year, pH does not.
func inventedSeasons() ([]season.Season, []season.Observation) {
	random := rand.New(rand.NewPCG(1, 5))
	var seasons []season.Season
	var all []season.Observation
	for i := range 5 {
		s := season.Season{Name: fmt.Sprint(2021 + i), Date: fmt.Sprintf("%d-04-10", 2021+i), Lab: "Brook"}
		seasons = append(seasons, s)
		for u := range 12 {
			x, y := 10+0.0015*float64(u%4), 52+0.0009*float64(u/4)
			shape := crs.LonLatShape{{orb.Ring{{x, y}, {x + 0.0015, y}, {x + 0.0015, y + 0.0009}, {x, y + 0.0009}, {x, y}}}}
			o := season.Observation{
				Season: s.Name, Field: "Home", Sample: fmt.Sprintf("%c%02d", 'A'+i, u), UnitNumber: u + 1, Depth: "0-8in", Cores: 12, Lab: s.Lab,
				Replicates: 1, At: crs.LonLat{x + 0.0007, y + 0.0004}, Shape: shape,
			}
			o.Analyte, o.Method, o.Unit, o.Value = "P", "Mehlich-3", "mg/kg", 40+float64(u)-2*float64(i)+random.NormFloat64()
			all = append(all, o)
			o.Analyte, o.Method, o.Unit, o.Value = "pH", "water", "", 6.3+0.02*float64(u)+0.1*random.NormFloat64()
			all = append(all, o)
		}
	}
	return seasons, all
}

func trendCalled(t *testing.T, args ...string) (stdout, stderr string, err error) {
	t.Helper()
	var out, errs strings.Builder
	a := &app{stdout: &out, stderr: &errs}
	c := a.trendCommand(func(string) ([]season.Season, []season.Observation, error) {
		s, o := inventedSeasons()
		return s, o, nil
	})
	c.Flags().BoolVar(&a.json, "json", false, "")
	c.SetArgs(append([]string{"farm.gpkg"}, args...))
	c.SilenceErrors, c.SilenceUsage = true, true
	c.SetOut(io.Discard)
	err = c.Execute()
	return out.String(), errs.String(), err
}

func TestTrendInWords(t *testing.T) {
	out, notes, err := trendCalled(t)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"Home, P in mg/kg, since 2024: fell by ", "each year since 2021: fell by 2.1 (", "Home, pH, since 2024: no change that can be told from noise (",
		"no change that can be told from noise, or nothing to compare with: ",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is not said in\n%s", want, out)
		}
	}
	if !strings.Contains(notes, sharedError) {
		t.Errorf("notes %q", notes)
	}
}

func TestTrendFiles(t *testing.T) {
	dir := t.TempDir()
	out, _, err := trendCalled(t, "--json", "--analyte", "P", "--harvest", "corn, 180 bu/ac", "--harvest", "soybean, 55 bu/ac", "--table", "tri-state-2020-p", "--out", dir)
	if err != nil {
		t.Fatal(err)
	}
	var s trendSummary
	if err := json.Unmarshal([]byte(out), &s); err != nil {
		t.Fatal(err)
	}
	if len(s.Fields) != 1 || len(s.Units) != 12 || len(s.Seasons) != 5 || len(s.Notes) != 2 {
		t.Fatalf("%d fields, %d units, %v, %v", len(s.Fields), len(s.Units), s.Seasons, s.Notes)
	}
	// (180 x 0.35 + 55 x 0.79) / 2 lb of P2O5 a year, 20 lb to the mg/kg.
	if e := s.Fields[0].Slope.Expected; e == nil || math.Abs(*e+(180*0.35+55*0.79)/2/20) > 1e-4 {
		t.Errorf("expected %v", e)
	}
	file, err := os.Open(filepath.Join(dir, "trend.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil || len(rows) != 14 || rows[1][0] != "Home" || rows[1][1] != "" || rows[2][1] == "" || rows[1][16] != "true" {
		t.Errorf("%d rows, %v, %q", len(rows), err, rows[1])
	}
	if _, err := os.Stat(filepath.Join(dir, "trend.json")); err != nil {
		t.Error(err)
	}
}

func TestTrendRefusals(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"--analyte", "Zn"}, `the analyte "Zn"`},
		{[]string{"--field", "Nowhere"}, `the field "Nowhere"`},
		{[]string{"--noise", "pH"}, "is not understood"},
		{[]string{"--noise", "pH -1"}, "is not understood"},
		{[]string{"--confidence", "100"}, "is not a share of 100"},
		{[]string{"--harvest", "corn, 180 bu/ac"}, "go together"},
		{[]string{"--harvest", "corn", "--table", "tri-state-2020-p"}, "needs a yield"},
		{[]string{"--harvest", "rye, 60 bu/ac", "--table", "tri-state-2020-p"}, `does not know the crop "rye"`},
		{[]string{"--harvest", "corn, 180 bu/ac", "--table", "nowhere"}, "nowhere"},
	} {
		if _, _, err := trendCalled(t, c.args...); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v", c.args, err)
		}
	}
	if _, err := trendOf(nil, nil, trendParameters{}); err == nil || !strings.Contains(err.Error(), "a change needs two") {
		t.Error(err)
	}
}

func TestNoiseOfATrend(t *testing.T) {
	out, _, err := trendCalled(t, "--json", "--noise", "P 10%", "--noise", "pH 0.1", "--confidence", "80")
	if err != nil {
		t.Fatal(err)
	}
	var s trendSummary
	if err := json.Unmarshal([]byte(out), &s); err != nil {
		t.Fatal(err)
	}
	for _, x := range s.Units {
		if x.Noise != "as given" || x.NoiseSD != 0.1 || x.Share != (x.Analyte == "P") {
			t.Errorf("%s: %+v", x.Analyte, x)
		}
		if half := (x.Since.High - x.Since.Low) / 2; x.Analyte == "pH" && math.Abs(half-1.281552*0.1*math.Sqrt2) > 1e-3 {
			t.Errorf("an interval of %v", half)
		}
	}
}
