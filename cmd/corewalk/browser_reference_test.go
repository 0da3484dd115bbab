//go:build reference

package main

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// tab is a page in a headless Chromium.
type tab struct {
	*testing.T
	ctx context.Context

	mu    sync.Mutex
	said  []string // on the console
	asked []string // of the network
}

// browse opens a page. What it says on the console and asks of the network is
// looked at when the test ends.
func browse(t *testing.T, path string) *tab {
	t.Helper()
	if _, err := findBrowser(); err != nil {
		t.Fatal(err)
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.WindowSize(1280, 900))
	if os.Geteuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	ctx, end := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(end)
	ctx, end = chromedp.NewContext(ctx)
	t.Cleanup(end)
	ctx, end = context.WithTimeout(ctx, 3*time.Minute)
	t.Cleanup(end)
	b := &tab{T: t, ctx: ctx}
	messages := chromedp.Console(ctx)
	requests := chromedp.Events(ctx, network.RequestWillBeSent)
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
	go func() {
		for m, err := range messages {
			if err != nil {
				return
			}
			b.mu.Lock()
			b.said = append(b.said, m.String())
			b.mu.Unlock()
		}
	}()
	go func() {
		for r, err := range requests {
			if err != nil {
				return
			}
			b.mu.Lock()
			b.asked = append(b.asked, r.Request.URL)
			b.mu.Unlock()
		}
	}()
	b.size(1280, 900)
	b.do(chromedp.Navigate(fileURL(path)))
	t.Cleanup(func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		if len(b.said) > 0 {
			t.Errorf("on the console: %q", b.said)
		}
		for _, url := range b.asked {
			if url != fileURL(path) && !strings.HasPrefix(url, "data:") {
				t.Errorf("the page asked for %.100s", url)
			}
		}
		if len(b.asked) == 0 {
			t.Error("no request was seen, not even that for the page: the check sees nothing")
		}
	})
	return b
}

func (b *tab) do(steps ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	if err := chromedp.Do(b.ctx, steps...); err != nil {
		b.Fatal(err)
	}
}

func (b *tab) size(width, height int64) {
	b.Helper()
	b.do(chromedp.EmulateViewport(width, height))
}

// eval runs a script, with promises awaited, and decodes what comes of it.
func eval[T any](b *tab, script string, args ...any) T {
	b.Helper()
	for i, a := range args {
		text, err := json.Marshal(a)
		if err != nil {
			b.Fatal(err)
		}
		script = strings.ReplaceAll(script, fmt.Sprintf("$%d", i+1), string(text))
	}
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T]("(async () => { "+script+" })()", chromedp.EvalAwaitPromise))
	if err != nil {
		b.Fatalf("%v in %.200s", err, script)
	}
	return v
}

// mouse sends the pointer to a place of the window.
func (b *tab) mouse(x, y float64) { b.Helper(); b.do(chromedp.MouseEvent(chromedp.MouseMoved, x, y)) }

// picture puts a picture of the window by, where COREWALK_PICTURES names a
// folder for those who want to look.
func (b *tab) picture(name string) {
	b.Helper()
	dir := os.Getenv("COREWALK_PICTURES")
	if dir == "" {
		return
	}
	shot, err := chromedp.Call(b.ctx, page.CaptureScreenshot, page.CaptureScreenshotParams{})
	if err != nil {
		b.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), shot.Data, 0o644); err != nil {
		b.Fatal(err)
	}
}

// demoPage is the page of the demonstration, and its folder.
func demoPage(t *testing.T) (page, season string) {
	t.Helper()
	dir := t.TempDir()
	mustCall(t, "demo", dir)
	return filepath.Join(dir, "season", reportFile), filepath.Join(dir, "season")
}

// onMap returns where in the window a place in the frame of a field is, by what
// the page says of its map.
const onMap = `
	const figure = document.getElementById($1), pane = figure.querySelector(".pane"), g = JSON.parse(figure.querySelector("script").textContent);
	const p = new DOMPoint(g.left + ($2 - g.west) * g.scale, g.top + (g.north - $3) * g.scale).matrixTransform(pane.getScreenCTM());
	return [p.x, p.y];`

func chooseLayer(b *tab, viewer, layer string) {
	b.Helper()
	eval[bool](b, `const s = document.getElementById($1).querySelector(".layers"); s.value = $2; s.dispatchEvent(new Event("change")); return s.value === $2`, viewer, layer)
}

const readingOf = `
	const line = document.getElementById($1).querySelector(".readout");
	for (let i = 0; i < 50 && line.textContent.includes("\u2026"); i++) await new Promise(done => setTimeout(done, 20));
	return line.textContent;`

// What the page says of a place is what GDAL finds in the raster there: on the
// large map, whole and magnified, and on the surface's own.
func TestReferencePageSaysWhatTheRasterHolds(t *testing.T) {
	path, season := demoPage(t)
	index, err := readSurfaces(filepath.Join(season, "surfaces.json"))
	if err != nil {
		t.Fatal(err)
	}
	b := browse(t, path)
	type layer struct {
		Field, Figure, Viewer, Name string
		Read                        bool
	}
	layers := eval[[]layer](b, `
		return [...document.querySelectorAll("figure.viewer")].flatMap(figure => JSON.parse(figure.querySelector("script").textContent).layers.filter(l => l.grid).map(l =>
			({ Field: document.getElementById(figure.dataset.field).textContent, Figure: l.id, Viewer: figure.id, Name: l.name, Read: true })))`)
	if len(layers) < 5 {
		t.Fatalf("%d surfaces can be read off", len(layers))
	}
	compared, blank := 0, 0
	for n, l := range layers {
		var record *surfaceRecord
		for i := range index.Surfaces {
			if r := &index.Surfaces[i]; r.Field == l.Field && (r.Analyte == l.Name || strings.HasPrefix(l.Name, r.Analyte+" (")) {
				record = r
			}
		}
		if record == nil {
			t.Fatalf("no surface of %s in %s", l.Name, l.Field)
		}
		grid, err := readGrid(filepath.Join(season, surfacesFile), *record)
		if err != nil {
			t.Fatal(err)
		}
		tif := filepath.Join(season, record.File)
		for _, where := range []string{"whole", "near", "own"} {
			figure := l.Viewer
			switch where {
			case "whole":
				chooseLayer(b, l.Viewer, l.Figure)
				eval[bool](b, `document.getElementById($1).querySelector(".zoom [value=all]").click(); document.getElementById($1).querySelector(".stage").scrollIntoView({block: "center"}); return true`, l.Viewer)
			case "near":
				eval[bool](b, `const z = document.getElementById($1).querySelector(".zoom [value=in]"); z.click(); z.click(); z.click(); return true`, l.Viewer)
			case "own":
				figure = l.Figure
				eval[bool](b, `document.getElementById($1).querySelector(".map").scrollIntoView({block: "center"}); return true`, l.Figure)
			}
			for k := range 12 {
				// Pixels all over, by a rule and not by luck.
				col, row := (k*37+n*11)%grid.Width, (k*53+n*7)%grid.Height
				if where == "near" {
					col, row = grid.Width*(40+(k*7)%20)/100, grid.Height*(40+(k*11)%20)/100
				}
				x, y := grid.Center(col, row)
				at := eval[[]float64](b, map[bool]string{false: onMap, true: `
					const map = document.getElementById($1).querySelector(".map"), g = JSON.parse(document.getElementById($4).querySelector("script").textContent);
					const p = new DOMPoint(g.left + ($2 - g.west) * g.scale, g.top + (g.north - $3) * g.scale).matrixTransform(map.getScreenCTM());
					return [p.x, p.y];`}[where == "own"], figure, x, y, l.Viewer)
				b.mouse(at[0], at[1])
				said := eval[string](b, readingOf, figure)
				out, err := exec.Command("gdallocationinfo", "-valonly", "-geoloc", tif, strconv.FormatFloat(x, 'f', 3, 64), strconv.FormatFloat(y, 'f', 3, 64)).CombinedOutput()
				if err != nil {
					t.Fatalf("gdallocationinfo: %v: %s", err, out)
				}
				first, _, _ := strings.Cut(string(out), "\n") // the second band of a kriged surface is its error
				want, err := strconv.ParseFloat(first, 64)
				if err != nil {
					t.Fatalf("gdallocationinfo says %q", out)
				}
				if strings.HasPrefix(said, "outside the field") {
					continue
				}
				rest, ok := strings.CutPrefix(said, l.Name+" ")
				if !ok {
					t.Fatalf("%s, %s, %s: the page says %q", l.Field, l.Name, where, said)
				}
				if want == -9999 {
					blank++
					if !strings.HasPrefix(rest, "no value here") {
						t.Errorf("%s, %s, %s: the raster has none, the page says %q", l.Field, l.Name, where, said)
					}
					continue
				}
				number := strings.FieldsFunc(rest, func(r rune) bool { return r == ' ' || r == '·' })[0]
				got, err := strconv.ParseFloat(strings.Replace(number, "−", "-", 1), 64)
				if err != nil {
					t.Fatalf("%s, %s, %s: the page says %q", l.Field, l.Name, where, said)
				}
				_, fraction, _ := strings.Cut(number, ".")
				if half := 0.5 * math.Pow(10, -float64(len(fraction))); math.Abs(got-want) > half*(1+1e-6) {
					t.Errorf("%s, %s, %s: the raster has %v, the page says %q", l.Field, l.Name, where, want, said)
				}
				compared++
			}
		}
	}
	if compared < 100 {
		t.Errorf("only %d values were compared", compared)
	}
	t.Logf("%d values and %d blanks compared on %d surfaces", compared, blank, len(layers))
}

type box struct{ X, Y, Width float64 }

func viewOf(b *tab, viewer string) box {
	b.Helper()
	v := eval[[]float64](b, `return document.getElementById($1).querySelector(".pane").getAttribute("viewBox").split(" ").map(Number)`, viewer)
	return box{v[0], v[1], v[2]}
}

// The large map moves and zooms by mouse, wheel, keys, buttons and fingers.
func TestReferenceMapMovesAndZooms(t *testing.T) {
	path, _ := demoPage(t)
	b := browse(t, path)
	const viewer = "f1-plan"
	eval[bool](b, `document.getElementById($1).querySelector(".stage").scrollIntoView({block: "center"}); return true`, viewer)
	middle := eval[[]float64](b, `const r = document.getElementById($1).querySelector(".pane").getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]`, viewer)
	x, y := middle[0], middle[1]
	whole := viewOf(b, viewer)
	changed := func(what string, was box, ok func(now box) bool) box {
		t.Helper()
		now := viewOf(b, viewer)
		if !ok(now) {
			t.Errorf("%s: the view was %v and is %v", what, was, now)
		}
		return now
	}
	wheel := func(delta float64, o ...chromedp.MouseOption) {
		t.Helper()
		b.do(chromedp.MouseEvent(chromedp.MouseWheel, x, y, append(o, turned(delta))...), chromedp.Sleep(150*time.Millisecond))
	}
	back := func() {
		t.Helper()
		eval[bool](b, `document.getElementById($1).querySelector(".stage").scrollIntoView({block: "center"}); return true`, viewer)
	}

	wheel(-200)
	changed("a wheel without Ctrl, which is for the page", whole, func(now box) bool { return now == whole })
	back()
	wheel(-200, chromedp.ButtonModifiers(chromedp.ModifierCtrl))
	near := changed("a wheel with Ctrl", whole, func(now box) bool { return now.Width < whole.Width })
	drag := func(dx, dy float64) {
		t.Helper()
		b.do(chromedp.MouseEvent(chromedp.MousePressed, x, y, chromedp.ButtonLeft), chromedp.MouseEvent(chromedp.MouseMoved, x+dx/2, y+dy/2, chromedp.ButtonLeft),
			chromedp.MouseEvent(chromedp.MouseMoved, x+dx, y+dy, chromedp.ButtonLeft), chromedp.MouseEvent(chromedp.MouseReleased, x+dx, y+dy, chromedp.ButtonLeft))
	}
	drag(60, 40)
	moved := changed("dragging", near, func(now box) bool { return now.X < near.X && now.Y < near.Y && now.Width == near.Width })
	drag(-30, -20)
	moved = changed("dragging back", moved, func(now box) bool { return now.X > moved.X && now.Y > moved.Y })
	eval[bool](b, `document.getElementById($1).querySelector(".zoom [value=all]").click(); return true`, viewer)
	changed("the button for all", moved, func(now box) bool { return now == whole })
	for _, value := range []string{"in", "in", "out"} {
		was := viewOf(b, viewer)
		eval[bool](b, `document.getElementById($1).querySelector(".zoom [value="+$2+"]").click(); return true`, viewer, value)
		changed("the button "+value, was, func(now box) bool { return (value == "in") == (now.Width < was.Width) && now.Width != was.Width })
	}
	// Keys: the map takes the focus by tabbing, and says what lies in its middle.
	eval[bool](b, `document.getElementById($1).querySelector(".stage").focus(); return true`, viewer)
	was := viewOf(b, viewer)
	for _, key := range []struct {
		text string
		ok   func(now box) bool
	}{
		{"\u0302", func(now box) bool { return now.X < was.X }}, // arrow left
		{"\u0303", func(now box) bool { return now.X > was.X }}, // right
		{"\u0304", func(now box) bool { return now.Y < was.Y }}, // up
		{"\u0301", func(now box) bool { return now.Y > was.Y }}, // down
		{"+", func(now box) bool { return now.Width < was.Width }},
		{"-", func(now box) bool { return now.Width > was.Width }},
		{"0", func(now box) bool { return now == whole }},
	} {
		b.do(chromedp.KeyEvent(key.text))
		was = changed(fmt.Sprintf("the key %q", key.text), was, key.ok)
	}
	b.do(chromedp.KeyEvent("\r"))
	if said := eval[string](b, `return document.getElementById($1).querySelector("[role=status]").textContent`, viewer); !strings.Contains(said, "pH ") {
		t.Errorf("read aloud: %q", said)
	}
	b.picture("keys")

	// Fingers, on a phone: a tap reads, two magnify.
	b.do(chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch))
	back()
	middle = eval[[]float64](b, `const r = document.getElementById($1).querySelector(".pane").getBoundingClientRect(); return [r.x + r.width / 3, r.y + r.height / 3]`, viewer)
	b.do(chromedp.TapXY(middle[0], middle[1]), chromedp.Sleep(300*time.Millisecond))
	if said := eval[string](b, readingOf, viewer); !strings.Contains(said, "pH ") || !strings.Contains(said, " in management unit ") {
		t.Errorf("a tap reads %q", said)
	}
	b.picture("tapped")
	was = viewOf(b, viewer)
	pinch(b, middle[0], middle[1])
	changed("a pinch", was, func(now box) bool { return now.Width < was.Width })
}

// Layers: what is chosen is drawn and explained, and a doubt is said.
func TestReferenceLayers(t *testing.T) {
	path, _ := demoPage(t)
	b := browse(t, path)
	type option struct{ Value, Text string }
	doubts := 0
	for _, viewer := range []string{"f1-plan", "f2-plan", "f3-plan"} {
		options := eval[[]option](b, `return [...document.getElementById($1).querySelectorAll("option")].map(o => ({ Value: o.value, Text: o.textContent }))`, viewer)
		if len(options) < 8 {
			t.Errorf("%s has %d layers", viewer, len(options))
		}
		for _, o := range options[1:] {
			chooseLayer(b, viewer, o.Value)
			drawn := eval[[]any](b, `
				const f = document.getElementById($1), ground = f.querySelector("[data-slot=ground]");
				return [ground.querySelectorAll("image, path, use, circle").length, f.querySelector("figcaption").textContent.trim().length, f.querySelector(".bad").textContent, f.querySelectorAll("[data-slot] [id]").length]`, viewer)
			if drawn[0].(float64) == 0 || drawn[1].(float64) == 0 {
				t.Errorf("%s, %s: nothing is drawn or explained: %v", viewer, o.Text, drawn)
			}
			if drawn[3].(float64) > 0 {
				t.Errorf("%s, %s: ids stand twice", viewer, o.Text)
			}
			doubtful := strings.Contains(o.Text, "NOT supported")
			if doubtful != strings.Contains(drawn[2].(string), "NOT SUPPORTED") {
				t.Errorf("%s, %s: the note says %q", viewer, o.Text, drawn[2])
			}
			if doubtful {
				doubts++
			}
		}
		chooseLayer(b, viewer, "")
		if left := eval[float64](b, `return document.getElementById($1).querySelector("[data-slot=ground]").childNodes.length`, viewer); left != 0 {
			t.Errorf("%s: a layer stays", viewer)
		}
	}
	if doubts == 0 {
		t.Error("no doubt was met")
	}
	for _, mark := range []string{"units", "labels", "cores", "patches"} {
		shown := func() bool {
			return eval[bool](b, `return [...document.querySelectorAll("#f1-plan [data-show="+$1+"]")].some(e => getComputedStyle(e).display !== "none")`, mark)
		}
		on := shown()
		eval[bool](b, `document.querySelector("#f1-plan [type=checkbox][value="+$1+"]").click(); return true`, mark)
		if off := shown(); !on || off {
			t.Errorf("%s are shown: %v, and without the tick %v", mark, on, off)
		}
	}
}

// Every table sorts by every column, up and down, and by what the figures mean.
func TestReferenceTablesSort(t *testing.T) {
	path, _ := demoPage(t)
	b := browse(t, path)
	type sorted struct {
		Caption, Head, State string
		Cells                []string
	}
	for _, units := range []string{"us", "me"} {
		eval[bool](b, `document.querySelector("[name=units][value="+$1+"]").click(); return true`, units)
		tables := eval[[]sorted](b, `
			const out = [];
			for (const table of document.querySelectorAll("table")) for (const button of table.querySelectorAll("button.sort")) for (let i = 0; i < 2; i++) {
				button.click();
				const head = button.closest("th");
				const text = cell => { const c = cell.cloneNode(true); for (const e of c.querySelectorAll($1)) e.remove(); return c.textContent.trim(); };
				out.push({ Caption: table.caption ? table.caption.textContent : "", Head: text(head), State: head.getAttribute("aria-sort"),
					Cells: [...table.tBodies[0].rows].filter(r => !r.classList.contains("rest")).map(r => r.cells[head.cellIndex] ? text(r.cells[head.cellIndex]) : "") });
			}
			return out;`, map[string]string{"us": ".me", "me": ".us"}[units])
		areas := 0
		for i, s := range tables {
			want := "ascending"
			if i%2 == 1 {
				want = "descending"
			}
			if s.State != want {
				t.Fatalf("%s by %s is %q, want %s", s.Caption, s.Head, s.State, want)
			}
			if s.Head != "Area" {
				continue
			}
			areas++
			last := math.Inf(-1)
			for _, cell := range s.Cells {
				if cell == "–" || cell == "" {
					continue
				}
				number, unit, _ := strings.Cut(cell, " ")
				v, err := strconv.ParseFloat(number, 64)
				if err != nil {
					t.Fatalf("%s: the area %q", s.Caption, cell)
				}
				v *= map[string]float64{"ac": 4046.8564224, "sq ft": 0.09290304, "ha": 1e4, "m²": 1}[unit]
				if i%2 == 1 {
					v = -v
				}
				if v < last {
					t.Fatalf("%s is not sorted: %q", s.Caption, s.Cells)
				}
				last = v
			}
		}
		if areas < 10 {
			t.Errorf("%d columns of areas were sorted", areas)
		}
	}
}

// What the reader sees is in one system of units, the other a click away.
func TestReferenceUnitsSwitch(t *testing.T) {
	path, _ := demoPage(t)
	b := browse(t, path)
	for _, c := range []struct{ value, has, no string }{
		{"us", "ac", " kg/ha"}, {"me", " ha", "lb/ac on"}, {"us", " ac", " t on"},
	} {
		eval[bool](b, `document.querySelector("[name=units][value="+$1+"]").click(); return true`, c.value)
		text := eval[string](b, `return document.querySelector("main").innerText`)
		if !strings.Contains(text, c.has) || strings.Contains(text, c.no) {
			t.Errorf("in %s the page lacks %q or has %q", c.value, c.has, c.no)
		}
		if strings.ContainsAny(text, "\ufdd0\ufdd1\ufdd2") {
			t.Errorf("in %s signs are left in the text", c.value)
		}
	}
}

// On every width the page stays in its window, and what is not to be trusted is
// said on the first screen.
func TestReferenceWidths(t *testing.T) {
	path, _ := demoPage(t)
	b := browse(t, path)
	for _, w := range []struct {
		name          string
		width, height int64
	}{{"phone", 390, 844}, {"small-phone", 320, 568}, {"tablet", 820, 1180}, {"desktop", 1280, 800}} {
		b.size(w.width, w.height)
		for _, scheme := range []string{"light", "dark"} {
			if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}); err != nil {
				t.Fatal(err)
			}
			eval[bool](b, `scrollTo(0, 0); return true`)
			b.picture(w.name + "-" + scheme)
			first := eval[[]float64](b, `const r = document.getElementById("unsupported").getBoundingClientRect(); return [r.top, r.bottom, innerHeight, document.documentElement.scrollWidth, innerWidth]`)
			if first[0] < 0 || first[1] > first[2] {
				t.Errorf("%s: what is not supported stands at %v, below the first screen of %v", w.name, first[1], first[2])
			}
			if first[3] > first[4] {
				t.Errorf("%s: the page is %v wide in a window of %v", w.name, first[3], first[4])
			}
			chooseLayer(b, "f1-plan", "f1-a1-map")
			eval[bool](b, `document.getElementById("f1-plan").scrollIntoView(); return true`)
			b.picture(w.name + "-" + scheme + "-map")
		}
	}
}

// No check of axe-core finds anything serious, in either scheme of colours, on a
// phone and on a desk, with a layer chosen and without. COREWALK_AXE names its
// script (npm axe-core, axe.min.js).
func TestReferenceAccessibility(t *testing.T) {
	axe, err := os.ReadFile(os.Getenv("COREWALK_AXE"))
	if err != nil {
		t.Fatalf("COREWALK_AXE: %v", err)
	}
	path, _ := demoPage(t)
	b := browse(t, path)
	if _, err := chromedp.Run(b.ctx, chromedp.Evaluate[any](string(axe)+"; null")); err != nil && !strings.Contains(err.Error(), "null") {
		t.Fatal(err)
	}
	type violation struct{ ID, Impact, Help, Where string }
	type outcome struct {
		Violations []violation
		Passes     int
	}
	passes := 0
	for _, width := range []int64{390, 1280} {
		b.size(width, 900)
		for _, scheme := range []string{"light", "dark"} {
			for _, layer := range map[bool][]string{false: {""}, true: {"f1-a1-map"}}[(width > 500) == (scheme == "dark")] {
				if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}); err != nil {
					t.Fatal(err)
				}
				chooseLayer(b, "f1-plan", layer)
				o := eval[outcome](b, `
					const r = await axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] });
					return { Passes: r.passes.length, Violations: r.violations.flatMap(v => v.nodes.slice(0, 3).map(n => ({ ID: v.id, Impact: v.impact, Help: v.help, Where: n.html.slice(0, 160) + " " + n.failureSummary }))) }`)
				passes += o.Passes
				for _, v := range o.Violations {
					if v.Impact == "serious" || v.Impact == "critical" {
						t.Errorf("%d wide, %s, layer %q: %s (%s): %s: %s", width, scheme, layer, v.ID, v.Impact, v.Help, v.Where)
					} else {
						t.Logf("%d wide, %s, layer %q: %s (%s): %s", width, scheme, layer, v.ID, v.Impact, v.Where)
					}
				}
			}
		}
	}
	if passes < 100 {
		t.Errorf("axe-core passed only %d checks: it cannot have looked", passes)
	}
}

// The command prints the page on the paper asked for.
func TestReferencePrintedPage(t *testing.T) {
	path, season := demoPage(t)
	for _, c := range []struct{ paper, size string }{{"", "612 x 792 pts (letter)"}, {"a4", "(A4)"}} {
		args := []string{"report", season, "--pdf", "--force"}
		if c.paper != "" {
			args = append(args, "--paper", c.paper)
		}
		mustCall(t, args...)
		pdf := strings.TrimSuffix(path, ".html") + ".pdf"
		info, err := exec.Command("pdfinfo", pdf).CombinedOutput()
		if err != nil || !strings.Contains(string(info), c.size) {
			t.Errorf("pdfinfo: %v\n%s", err, info)
		}
		text, err := exec.Command("pdftotext", "-layout", pdf, "-").CombinedOutput()
		if err != nil {
			t.Fatal(err)
		}
		for _, want := range []string{"How sure it is", "NOT supported", "What was found", "What to spread", "Before you act on it", "How sure is this map?", "Made by inverse distance", "1 / "} {
			if !strings.Contains(string(text), want) {
				t.Errorf("on %s the printed page lacks %q", c.size, want)
			}
		}
		for _, no := range []string{"Whole field", "Ctrl and wheel", "hectares, kilograms"} {
			if strings.Contains(string(text), no) {
				t.Errorf("on %s the printed page has %q, which is for the screen", c.size, no)
			}
		}
	}
}
