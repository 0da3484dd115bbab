package lab

import (
	"strings"
	"testing"
)

func TestReadPoints(t *testing.T) {
	table := readTestdata(t, "points.csv")
	points, r, err := ReadPoints(table, "EASTING", "northing ")
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Check(); err != nil {
		t.Error(err)
	}
	want := `2 joined r2
3 refused: no value in coordinate column Northing
4 joined r4
5 refused: coordinate east in column Easting is not a number
6 refused: empty row
7 refused: has 5 cells, the header 4
r2 | Zn 1022 | Lead 299
r4 | Zn 640 | Lead <2.5
4/Lead censored "<5": below the limit 5; computed with half of it, 2.5
`
	if got := digest(r); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if len(points) != 2 || points[1].ID != "r4" || points[1].X != 181165 || points[1].Y != 333537 || points[1].Row != 4 {
		t.Errorf("points %+v", points)
	}
	if m, ok := points[0].Result.Value("zinc"); !ok || m.Value != 1022 {
		t.Errorf("zinc is %+v, %v", m, ok)
	}
	if table.Columns[0].Role != RoleNumber {
		t.Error("the table itself was changed")
	}
}

func TestReadPointsColumns(t *testing.T) {
	table := readTestdata(t, "points.csv")
	for _, c := range []struct{ x, y, want string }{
		{"lon", "Northing", "points.csv: x coordinate: there is no column lon; the columns are: Easting, Northing, Zinc, Lead"},
		{"Easting", "", "points.csv: no column is named for y; the columns are: Easting, Northing, Zinc, Lead"},
		{"Easting", "easting", "points.csv: column Easting can't hold both x and y"},
	} {
		if _, _, err := ReadPoints(table, c.x, c.y); err == nil || err.Error() != c.want {
			t.Errorf("%s, %s: got %v, want %s", c.x, c.y, err, c.want)
		}
	}
}

// Figures of the head of the oxford data (P. A. Burrough; in R's gstat), whose
// names carry a digit.
func TestReadPointsDataSetNames(t *testing.T) {
	table, err := ReadTable(strings.NewReader("PROFILE,XCOORD,YCOORD,ELEV,PROFCLASS,MAPCLASS,MG1,OM1,CEC1,PH1,PHOS1,POT1,DEPTHCM\n"+
		"1,100,2100,598,Ct,Ct,63,5.7,20,7.7,13,196,61\n2,100,2000,597,Ct,Ia,58,5.6,22,7.7,9.2,157,91\n"), "oxford.csv")
	if err != nil {
		t.Fatal(err)
	}
	points, _, err := ReadPoints(table, "xcoord", "ycoord")
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]float64{"Mg": 58, "OM": 5.6, "CEC": 22, "pH": 7.7, "P": 9.2, "phos1": 9.2, "K": 157, "elev": 597} {
		if m, ok := points[1].Result.Value(name); !ok || m.Value != want {
			t.Errorf("%s is %+v, want %v", name, m, want)
		}
	}
}

// A table from another reader: rows are numbered from 1.
func TestNewTable(t *testing.T) {
	table := NewTable("points.shp", []string{"SAMPLE_ID", "x", "y", "P_ppm", "ph"}, [][]string{
		{"A1", "1.5", "2,5", "12", "6.5"}, {"A2", "-3", "−4", "<3", ""}, {},
	})
	points, r, err := ReadPoints(table, "X", "Y")
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Check(); err != nil {
		t.Error(err)
	}
	want := `1 joined A1
2 joined A2
3 refused: empty row
A1 | P 12 mg/kg | pH 6.5
A2 | P <1.5 mg/kg
2/P_ppm censored "<3": below the limit 3; computed with half of it, 1.5
2/ph missing "": no value
`
	if got := digest(r); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if points[0].Y != 2.5 || points[1].X != -3 || points[1].Y != -4 {
		t.Errorf("points %+v", points)
	}
}
