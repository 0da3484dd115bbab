package raster

import (
	"encoding/xml"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// The roles of the two items that GDAL shows as properties of a band.
const (
	roleName = "description"
	roleUnit = "unittype"
)

// gdalMetadata returns the content of tag 42112: the items of Meta in the order
// of their names, then for each band its statistics, unit and name in the form
// that GDAL gives them. Texts are escaped twice, because GDAL resolves them
// twice; with one escape it drops all that follows a &.
func gdalMetadata(g *Grid) (string, error) {
	var b strings.Builder
	b.WriteString("<GDALMetadata>\n")
	names := make([]string, 0, len(g.Meta))
	for name := range g.Meta {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		if err := checkItem(name, g.Meta[name]); err != nil {
			return "", err
		}
		b.WriteString(`  <Item name="` + escape(name) + `">` + escape(escape(g.Meta[name])) + "</Item>\n")
	}
	for i := range g.bandCount() {
		band := g.band(i)
		item := func(name, role, value string) {
			if role != "" {
				role = ` role="` + role + `"`
			}
			fmt.Fprintf(&b, "  <Item name=\"%s\" sample=\"%d\"%s>%s</Item>\n", name, i, role, escape(escape(value)))
		}
		figure := func(name string, value float64) {
			item("STATISTICS_"+name, "", strconv.FormatFloat(value, 'g', -1, 64))
		}
		s := band.Stats()
		if s.Count > 0 {
			figure("MAXIMUM", s.Max)
			figure("MEAN", s.Mean)
			figure("MINIMUM", s.Min)
			figure("STDDEV", s.StdDev)
		}
		figure("VALID_PERCENT", 100*float64(s.Count)/float64(len(band.Data)))
		if band.Unit != "" {
			item("UNITTYPE", roleUnit, band.Unit)
		}
		if band.Name != "" {
			item("DESCRIPTION", roleName, band.Name)
		}
	}
	b.WriteString("</GDALMetadata>\n")
	return b.String(), nil
}

// metadata sets Meta and the names and units of the bands from the XML of GDAL.
// Items about other bands, and other items about bands, are passed over.
func (f *tiffFile) metadata(g *Grid) error {
	s, err := f.text(tagGDALMetadata)
	if err != nil || s == "" {
		return err
	}
	var doc struct {
		XMLName xml.Name  `xml:"GDALMetadata"`
		Items   []xmlItem `xml:"Item"`
	}
	if err := xml.Unmarshal([]byte(s), &doc); err != nil {
		return fmt.Errorf("metadata of tag %d: %w", tagGDALMetadata, err)
	}
	for _, item := range doc.Items {
		item.Value = unescape(item.Value)
		switch {
		case item.Domain != nil:
			continue
		case item.Sample != nil:
			err = item.setBand(g)
		case item.Role == nil:
			err = item.setMeta(g)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

type xmlItem struct {
	Name   string  `xml:"name,attr"`
	Sample *string `xml:"sample,attr"`
	Role   *string `xml:"role,attr"`
	Domain *string `xml:"domain,attr"`
	Value  string  `xml:",chardata"`
}

func (item xmlItem) setMeta(g *Grid) error {
	if err := checkItem(item.Name, item.Value); err != nil {
		return err
	}
	if _, twice := g.Meta[item.Name]; twice {
		return fmt.Errorf("metadata item %q is there twice", item.Name)
	}
	if g.Meta == nil {
		g.Meta = map[string]string{}
	}
	g.Meta[item.Name] = item.Value
	return nil
}

func (item xmlItem) setBand(g *Grid) error {
	i, err := strconv.Atoi(*item.Sample)
	if err != nil || i < 0 || i >= g.bandCount() || item.Role == nil || item.Value == "" {
		return nil
	}
	name, unit := &g.Name, &g.Unit
	if i > 0 {
		name, unit = &g.More[i-1].Name, &g.More[i-1].Unit
	}
	text := name
	switch *item.Role {
	case roleName:
	case roleUnit:
		text = unit
	default:
		return nil
	}
	if *text != "" {
		return fmt.Errorf("%s of band %d is there twice", *item.Role, i+1)
	}
	*text = item.Value
	return g.band(i).checkTexts(i)
}

// checkItem refuses what would come back changed. GDAL keeps an item as one
// text name=value, takes the first = or : as the end of the name, and forgets
// items without a value.
func checkItem(name, value string) error {
	if name == "" || strings.ContainsAny(name, "=:") || strings.TrimSpace(name) != name || !plainText(name, "") {
		return fmt.Errorf("metadata name %q of the raster: it must be plain text without equals sign and colon", name)
	}
	if value == "" || strings.TrimSpace(value) != value || !plainText(value, "\n\t") {
		return fmt.Errorf("metadata item %q of the raster is %q: it must be some plain text without space at its ends", name, value)
	}
	return nil
}

// checkTexts refuses a name or unit of band i, from 0, that would come back
// changed.
func (b Band) checkTexts(i int) error {
	for _, c := range [2]struct{ what, text string }{{"name", b.Name}, {"unit", b.Unit}} {
		if strings.TrimSpace(c.text) != c.text || !plainText(c.text, "") {
			return fmt.Errorf("%s of band %d of the raster is %q: it must be one line of plain text without space at its ends", c.what, i+1, c.text)
		}
	}
	return nil
}

// plainText reports whether s is valid UTF-8 without control characters other
// than those allowed, and without the code points that XML cannot hold.
func plainText(s, allowed string) bool {
	for _, r := range s {
		if (r < ' ' || r >= 0x7f && r < 0xa0) && !strings.ContainsRune(allowed, r) || r == 0xfffe || r == 0xffff {
			return false
		}
	}
	return utf8.ValidString(s)
}

// escape and unescape turn text into XML and back. They keep line ends as they
// are and use the entities that GDAL itself writes.
func escape(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(s)
}

func unescape(s string) string {
	return strings.NewReplacer("&amp;", "&", "&lt;", "<", "&gt;", ">", "&quot;", `"`).Replace(s)
}
