//go:build reference

package crs_test

import (
	"bufio"
	"encoding/binary"
	"encoding/json"
	"io"
	"math"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"corewalk/geo/crs"
)

const pointsPerCode = 2000

// proj starts testdata/proj_points.py with the lines as its input, and returns
// its output.
func proj(t *testing.T, mode string, lines []string) *bufio.Reader {
	t.Helper()
	cmd := exec.Command("/usr/bin/python3", "testdata/proj_points.py", mode, strconv.Itoa(pointsPerCode))
	cmd.Stdin = strings.NewReader(strings.Join(lines, "\n"))
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		io.Copy(io.Discard, out)
		if err := cmd.Wait(); err != nil {
			t.Errorf("proj_points.py %s: %v", mode, err)
		}
	})
	return bufio.NewReaderSize(out, 1<<20)
}

func readFloats(t *testing.T, r io.Reader, n int) []float64 {
	t.Helper()
	v := make([]float64, n)
	if err := binary.Read(r, binary.LittleEndian, v); err != nil {
		t.Fatal(err)
	}
	return v
}

// Every system of the table, at random points of its area of use, against PROJ
// from the same geographic system: the method and its parameters.
func TestReferenceTableAgainstPROJ(t *testing.T) {
	codes := crs.Codes()
	var lines []string
	for _, c := range codes {
		lines = append(lines, strconv.Itoa(c))
	}
	r := proj(t, "table", lines)
	compared, points := 0, 0
	worst, worstUTM, worstBack := 0.0, 0.0, 0.0
	var worstCode, worstBackCode int
	for _, code := range codes {
		var head struct {
			Code, Base, N int
		}
		line, err := r.ReadBytes('\n')
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(line, &head); err != nil {
			t.Fatal(err)
		}
		v := readFloats(t, r, 4*head.N)
		s, err := crs.FromEPSG(code)
		if err != nil {
			t.Errorf("%d: %v", code, err)
			continue
		}
		if head.Code != code || head.Base != s.Base() || head.N != pointsPerCode {
			t.Fatalf("%d: PROJ answered for %+v", code, head)
		}
		_, metres := s.Unit()
		if s.Geographic() {
			metres = 111320
		}
		limit := 1e-3
		if strings.Contains(s.Name(), "UTM zone") {
			limit = 1e-4
		}
		for i := 0; i < len(v); i += 4 {
			lon, lat, px, py := v[i], v[i+1], v[i+2], v[i+3]
			x, y, err := s.ForwardOwn(lon, lat)
			off := math.Hypot(x-px, y-py) * metres
			if err != nil || !(off <= limit) {
				t.Errorf("%d %s: %.9f, %.9f: %.6f, %.6f (%v), PROJ %.6f, %.6f", code, s.Name(), lon, lat, x, y, err, px, py)
				break
			}
			if off > worst {
				worst, worstCode = off, code
			}
			if limit == 1e-4 {
				worstUTM = math.Max(worstUTM, off)
			}
			blon, blat, err := s.InverseOwn(x, y)
			back := math.Max(math.Abs(math.Remainder(blon-lon, 360)), math.Abs(blat-lat))
			if err != nil || !(back <= 1e-9) {
				t.Errorf("%d %s: %.12f, %.12f came back as %.12f, %.12f (%v)", code, s.Name(), lon, lat, blon, blat, err)
				break
			}
			if back > worstBack {
				worstBack, worstBackCode = back, code
			}
			points++
		}
		compared++
	}
	if compared != len(codes) {
		t.Errorf("%d systems of %d compared", compared, len(codes))
	}
	t.Logf("%d systems, %d points: worst %.3g m (EPSG:%d), of UTM zones %.3g m; there and back %.3g degrees (EPSG:%d)",
		compared, points, worst, worstCode, worstUTM, worstBack, worstBackCode)
}

// Every text that PROJ writes of every system of the table must read to the
// same numbers, and to the code.
func TestReferenceTextsFromPROJ(t *testing.T) {
	codes := crs.Codes()
	var lines []string
	for _, c := range codes {
		lines = append(lines, strconv.Itoa(c))
	}
	r := proj(t, "texts", lines)
	read := map[string]int{}
	otherCode := map[string]int{}
	for _, code := range codes {
		line, err := r.ReadBytes('\n')
		if err != nil {
			t.Fatal(err)
		}
		var a struct {
			Code  int
			At    [2]float64
			Texts map[string]string
		}
		if err := json.Unmarshal(line, &a); err != nil {
			t.Fatal(err)
		}
		if a.Code != code || len(a.Texts) != 5 {
			t.Fatalf("%d: PROJ answered %+v", code, a)
		}
		want, err := crs.FromEPSG(code)
		if err != nil {
			t.Fatal(err)
		}
		wx, wy, err := want.ForwardOwn(a.At[0], a.At[1])
		if err != nil {
			t.Errorf("%d: %v", code, err)
			continue
		}
		_, metres := want.Unit()
		if want.Geographic() {
			metres = 111320
		}
		for kind, text := range a.Texts {
			s, err := crs.FromText(text)
			if err != nil {
				t.Errorf("%d %s: %v: %s", code, kind, err, text)
				continue
			}
			x, y, err := s.ForwardOwn(a.At[0], a.At[1])
			if off := math.Hypot(x-wx, y-wy) * metres; err != nil || !(off < 1e-4) || s.Base() != want.Base() {
				t.Errorf("%d %s: %.6f, %.6f (%v) on %d, want %.6f, %.6f on %d: %s", code, kind, x, y, err, s.Base(), wx, wy, want.Base(), text)
			}
			if s.EPSG() != code {
				otherCode[kind]++
				if s.EPSG() == 0 {
					t.Errorf("%d %s: not recognised: %s", code, kind, text)
				}
			}
			read[kind]++
		}
	}
	t.Logf("texts read %v; read as another code with the same numbers %v", read, otherCode)
}

// What WKT writes, PROJ must read to the numbers of the code. PROJ takes its
// time over each, so every datum is read once, and every projection but for its
// central meridian.
func TestReferencePROJReadsOurTexts(t *testing.T) {
	var codes []int
	var lines []string
	seen := map[any]bool{}
	for _, c := range crs.Codes() {
		s, err := crs.FromEPSG(c)
		if err != nil {
			t.Fatal(err)
		}
		a, b := s.Parts()
		if seen[a] && seen[b] {
			continue
		}
		seen[a], seen[b] = true, true
		codes = append(codes, c)
		lines = append(lines, strconv.Itoa(c)+" "+s.WKT())
	}
	r := proj(t, "read", lines)
	worst := 0.0
	unnamed := map[string]bool{}
	for _, code := range codes {
		line, err := r.ReadBytes('\n')
		if err != nil {
			t.Fatal(err)
		}
		var a struct {
			Code               int
			Datum, Want, Error string
			Off                float64 // metres
		}
		if err := json.Unmarshal(line, &a); err != nil {
			t.Fatal(err)
		}
		s, _ := crs.FromEPSG(code)
		if a.Code != code || a.Error != "" || !(a.Off >= 0 && a.Off <= 1e-4) {
			t.Errorf("%d: %+v: %s", code, a, s.WKT())
		}
		worst = math.Max(worst, a.Off)
		if a.Datum != a.Want {
			unnamed[a.Want] = true
			if s.Registered() {
				t.Errorf("%d: PROJ takes the datum for %s, not %s: %s", code, a.Datum, a.Want, s.WKT())
			}
		}
	}
	t.Logf("%d texts read by PROJ, worst %.3g m; datums without a name for .prj files that PROJ does not know by ours: %v", len(codes), worst, unnamed)
}

// The published transformations, against PROJ's, to WGS 84 and back.
func TestReferenceTransformationsAgainstPROJ(t *testing.T) {
	var lines []string
	var systems []*crs.System
	for _, c := range crs.Codes() {
		s, err := crs.FromEPSG(c)
		if err != nil {
			t.Fatal(err)
		}
		if op, ok := s.Shifted(); ok && s.Geographic() {
			lines = append(lines, strconv.Itoa(c)+" "+strconv.Itoa(op))
			systems = append(systems, s)
		}
	}
	if len(systems) != 11 {
		t.Errorf("%d datums with a transformation", len(systems))
	}
	r := proj(t, "shift", lines)
	worst := 0.0
	for _, s := range systems {
		var head struct{ Code, Base, N int }
		line, err := r.ReadBytes('\n')
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(line, &head); err != nil {
			t.Fatal(err)
		}
		v := readFloats(t, r, 4*head.N)
		for i := 0; i < len(v); i += 4 {
			p, err := s.Inverse(v[i], v[i+1])
			off := math.Max(math.Abs(p[0]-v[i+2]), math.Abs(p[1]-v[i+3]))
			worst = math.Max(worst, off)
			if err != nil || !(off < 1e-9) {
				t.Errorf("%d: %.9f, %.9f: %.10f (%v), PROJ %.10f, %.10f", s.EPSG(), v[i], v[i+1], p, err, v[i+2], v[i+3])
				break
			}
			x, y, err := s.Forward(p)
			if err != nil || math.Abs(x-v[i]) > 1e-12 || math.Abs(y-v[i+1]) > 1e-12 {
				t.Errorf("%d: %.9f, %.9f came back as %.14f, %.14f (%v)", s.EPSG(), v[i], v[i+1], x, y, err)
				break
			}
		}
	}
	t.Logf("worst %.3g degrees", worst)
}
