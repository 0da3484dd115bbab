package report

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io"
)

//go:embed *.gohtml style.css *.js
var files embed.FS

// Write writes the page. It is one HTML file that asks nothing of any other,
// and the same data gives the same bytes. What the page cannot show (shapes
// without a place, figures that are not numbers) it leaves out or shows as a
// dash. Data are not changed.
func Write(w io.Writer, d Data) error {
	t, err := template.New("").Funcs(template.FuncMap{"changes": tableOfChanges}).ParseFS(files, "*.gohtml")
	if err != nil {
		return fmt.Errorf("report: %w", err)
	}
	p, err := newPage(d)
	if err != nil {
		return fmt.Errorf("report: %w", err)
	}
	var out bytes.Buffer
	if err := t.ExecuteTemplate(&out, "page.gohtml", p); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	if _, err := w.Write(settle(out.Bytes(), d.US)); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}
