package lab

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"
)

// maxZip bounds the packed size: the directory of a zip file takes memory before
// any of it is unpacked.
const maxZip = 64 << 20

// workbook is an .xlsx file (ECMA-376 part 1, SpreadsheetML) as far as it says
// where the cells are.
type workbook struct {
	files    map[string]*zip.File // by name in lower case
	max      int64                // bytes of one part
	sheets   []sheetRef
	from1904 bool // days are counted from 1904
	texts    []string
	styles   []numberStyle

	textsPart, stylesPart string
}

type sheetRef struct {
	name, part string
	hidden     bool
}

// readWorkbook reads one sheet. It is read here and not by a library for the
// bounds: the cells come as a stream, with what they hold and not what they show.
func readWorkbook(raw []byte, name string, o Options, lim limits) (*Table, error) {
	w, err := openWorkbook(raw, lim)
	if err != nil {
		return nil, err
	}
	ref, err := w.choose(o.Sheet)
	if err != nil {
		return nil, err
	}
	if err := w.readTexts(lim); err != nil {
		return nil, fmt.Errorf("shared texts: %w", err)
	}
	if err := w.readStyles(); err != nil {
		return nil, fmt.Errorf("styles: %w", err)
	}
	t := &Table{Name: name, Format: FormatWorkbook}
	if len(w.sheets) > 1 {
		t.Notes = append(t.Notes, fmt.Sprintf("sheet %s is read; the workbook has %s", show(ref.name), w.names()))
	}
	s := &sheetReader{w: w, lim: lim}
	if err := w.scan(ref.part, s.read); err != nil {
		return nil, fmt.Errorf("sheet %s: %w", show(ref.name), err)
	}
	g := s.grid()
	g.sheet = ref.name
	if len(g.rows) == 0 {
		return nil, fmt.Errorf("sheet %s is empty; the workbook has %s", show(ref.name), w.names())
	}
	head, err := g.header(o)
	if err != nil {
		return nil, fmt.Errorf("sheet %s: %w; the workbook has %s", show(ref.name), err, w.names())
	}
	if s.hidden != "" {
		t.Notes = append(t.Notes, s.hidden+" hidden in the sheet and read all the same")
	}
	if err := t.take(g, head, o, lim); err != nil {
		return nil, fmt.Errorf("sheet %s: %w", show(ref.name), err)
	}
	return t, nil
}

// openWorkbook finds the sheets.
func openWorkbook(raw []byte, lim limits) (*workbook, error) {
	if len(raw) > maxZip {
		return nil, fmt.Errorf("is a zip file of more than %d bytes: this is no lab file, or it should be split", maxZip)
	}
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		return nil, fmt.Errorf("is a damaged zip file or spreadsheet: %w", err)
	}
	w := &workbook{files: map[string]*zip.File{}, max: int64(lim.bytes), textsPart: "xl/sharedstrings.xml", stylesPart: "xl/styles.xml"}
	for _, f := range z.File {
		w.files[strings.ToLower(strings.TrimPrefix(strings.ReplaceAll(f.Name, `\`, "/"), "/"))] = f
	}
	const main = "xl/workbook.xml"
	if w.files[main] == nil {
		switch {
		case w.files["xl/workbook.bin"] != nil:
			return nil, errors.New("is a binary workbook (xlsb): save it as .xlsx or CSV")
		case w.files["content.xml"] != nil && w.files["mimetype"] != nil:
			return nil, errors.New("is an OpenDocument file (ods): save it as .xlsx or CSV")
		}
		return nil, errors.New("is a zip file without a workbook: unpack it, or save the spreadsheet as .xlsx or CSV")
	}
	targets := map[string]string{} // parts of worksheets by relation
	if err := w.scan("xl/_rels/workbook.xml.rels", func(e xml.StartElement, _ *xmlScanner) error {
		target := strings.ToLower(attr(e, "Target"))
		if !strings.HasPrefix(target, "/") {
			target = "/xl/" + target
		}
		target = path.Clean(target)[1:]
		switch path.Base(attr(e, "Type")) {
		case "worksheet":
			targets[attr(e, "Id")] = target
		case "sharedStrings":
			w.textsPart = target
		case "styles":
			w.stylesPart = target
		}
		return nil
	}); err != nil {
		return nil, fmt.Errorf("workbook: %w", err)
	}
	if err := w.scan(main, func(e xml.StartElement, _ *xmlScanner) error {
		switch e.Name.Local {
		case "workbookPr":
			w.from1904 = isTrue(attr(e, "date1904"))
		case "sheet":
			ref := sheetRef{name: attr(e, "name"), hidden: strings.Contains(strings.ToLower(attr(e, "state")), "hidden")}
			for _, a := range e.Attr { // the relation's name is id too, in another name space than sheetId
				if a.Name.Local == "id" {
					ref.part = targets[a.Value]
				}
			}
			if ref.part != "" { // else a chart, or a dialogue
				w.sheets = append(w.sheets, ref)
			}
			if len(w.sheets) > 10_000 {
				return errors.New("has more than 10000 sheets")
			}
		}
		return nil
	}); err != nil {
		return nil, fmt.Errorf("workbook: %w", err)
	}
	if len(w.sheets) == 0 {
		return nil, errors.New("the workbook has no sheet with cells")
	}
	return w, nil
}

// scan reads a part and calls do with each start tag.
func (w *workbook) scan(part string, do func(xml.StartElement, *xmlScanner) error) error {
	f := w.files[part]
	if f == nil {
		return fmt.Errorf("the file lacks its part %s: it is damaged", show(part))
	}
	in, err := f.Open()
	if err != nil {
		return fmt.Errorf("part %s: %w", show(part), err)
	}
	defer in.Close()
	s := newXMLScanner(in, w.max)
	for {
		token, err := s.next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if start, ok := token.(xml.StartElement); ok {
			if err := do(start, s); err != nil {
				return err
			}
		}
	}
}

// choose finds the sheet of a name or number, or the first that is not hidden.
func (w *workbook) choose(name string) (sheetRef, error) {
	if name == "" {
		for _, s := range w.sheets {
			if !s.hidden {
				return s, nil
			}
		}
		return w.sheets[0], nil
	}
	for _, same := range []func(a, b string) bool{func(a, b string) bool { return a == b }, strings.EqualFold} {
		for _, s := range w.sheets {
			if same(s.name, name) {
				return s, nil
			}
		}
	}
	if n, err := strconv.Atoi(name); err == nil && n >= 1 && n <= len(w.sheets) {
		return w.sheets[n-1], nil
	}
	return sheetRef{}, fmt.Errorf("there is no sheet %s; the workbook has %s", show(name), w.names())
}

// names lists the sheets for a message.
func (w *workbook) names() string {
	var list []string
	for i, s := range w.sheets {
		if i == 20 {
			list = append(list, fmt.Sprintf("and %d more", len(w.sheets)-i))
			break
		}
		list = append(list, show(s.name))
	}
	if len(list) == 1 {
		return "the one sheet " + list[0]
	}
	return "the sheets " + strings.Join(list, ", ")
}

// readTexts reads the table of texts that cells name by number.
func (w *workbook) readTexts(lim limits) error {
	if w.files[w.textsPart] == nil {
		return nil
	}
	return w.scan(w.textsPart, func(e xml.StartElement, s *xmlScanner) error {
		if e.Name.Local != "si" {
			return nil
		}
		if len(w.texts) == lim.cells {
			return fmt.Errorf("has more than %d texts", lim.cells)
		}
		text, err := richText(s)
		w.texts = append(w.texts, text)
		return err
	})
}

// richText reads a text up to the end of its element: the runs without their
// looks, and without the reading aids of Japanese.
func richText(s *xmlScanner) (string, error) {
	var b strings.Builder
	depth, aid, in := 1, 0, 0
	for depth > 0 {
		token, err := s.next()
		if err != nil {
			return "", noEOF(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			depth++
			if e.Name.Local == "rPh" && aid == 0 {
				aid = depth
			}
			if e.Name.Local == "t" && aid == 0 && in == 0 {
				in = depth
			}
		case xml.EndElement:
			if depth == aid {
				aid = 0
			}
			if depth == in {
				in = 0
			}
			depth--
		case xml.CharData:
			if in > 0 && b.Len()+len(e) <= maxXMLToken {
				b.Write(e)
			}
		}
	}
	return unescape(b.String()), nil
}

// plainText reads the text of an element up to its end.
func plainText(s *xmlScanner) (string, error) {
	var b strings.Builder
	for depth := 1; depth > 0; {
		token, err := s.next()
		if err != nil {
			return "", noEOF(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			depth++
		case xml.EndElement:
			depth--
		case xml.CharData:
			if depth == 1 && b.Len()+len(e) <= maxXMLToken {
				b.Write(e)
			}
		}
	}
	return b.String(), nil
}

func noEOF(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}

// unescape resolves _x000D_ and the like, the format's own way of writing
// characters that XML can't hold.
func unescape(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		if i+7 <= len(s) && s[i:i+2] == "_x" && s[i+6] == '_' {
			if n, err := strconv.ParseUint(s[i+2:i+6], 16, 16); err == nil {
				if n != 0 {
					b.WriteRune(rune(n))
				}
				i += 7
				continue
			}
		}
		b.WriteByte(s[i])
		i++
	}
	return b.String()
}

func isTrue(s string) bool { return s == "1" || strings.EqualFold(s, "true") }
