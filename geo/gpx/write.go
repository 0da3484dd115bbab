package gpx

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"

	"corewalk/geo/crs"
)

const namespace = "http://www.topografix.com/GPX/1/1"

// Write writes the document as GPX 1.1: UTF-8 with its XML declaration,
// coordinates in degrees to at most 7 decimals, no times and no tracks. The same document
// gives the same bytes. A document without waypoints makes a valid file.
//
// Each waypoint needs a name of its own, without control characters and without
// space at its ends. Points of a route may share a name only with points at
// the same position. Longitude is from -180 to below 180, latitude from -90 to
// 90. Anything else is an error that names the waypoint, and nothing is written
// then.
func Write(w io.Writer, d Document) error {
	if err := d.check(); err != nil {
		return fmt.Errorf("gpx: %w", err)
	}
	if _, err := w.Write(d.text()); err != nil {
		return fmt.Errorf("writing gpx: %w", err)
	}
	return nil
}

// text is the file. It is put together by hand: an encoder that goes by the
// types of things takes ten times as long, which tells where farms have
// thousands of fields.
func (d Document) text() []byte {
	b := &page{}
	points := len(d.Waypoints)
	for _, r := range d.Routes {
		points += len(r.Waypoints)
	}
	b.Grow(1024 + 256*points) // about as much as it takes
	b.WriteString(xml.Header)
	b.WriteString(`<gpx version="1.1" creator="`)
	b.escape(d.Creator)
	b.WriteString(`" xmlns="` + namespace + `" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" xsi:schemaLocation="` + namespace + " " + namespace + `/gpx.xsd">`)
	empty := b.Len()
	if d.Name != "" || d.Description != "" {
		b.WriteString("\n <metadata>")
		b.element("\n  ", "name", d.Name)
		b.element("\n  ", "desc", d.Description)
		b.WriteString("\n </metadata>")
	}
	for i := range d.Waypoints {
		b.waypoint("\n ", "wpt", &d.Waypoints[i])
	}
	for _, r := range d.Routes {
		b.WriteString("\n <rte>")
		b.element("\n  ", "name", r.Name)
		for i := range r.Waypoints {
			b.waypoint("\n  ", "rtept", &r.Waypoints[i])
		}
		b.WriteString("\n </rte>")
	}
	if b.Len() > empty {
		b.WriteByte('\n')
	}
	b.WriteString("</gpx>\n")
	return b.Bytes()
}

// page is a file on the way. Elements begin on a line of their own, with the
// line end and indent given.
type page struct{ bytes.Buffer }

func (b *page) waypoint(indent, name string, w *Waypoint) {
	at := round(w.At)
	b.WriteString(indent)
	b.WriteString("<" + name + ` lat="`)
	b.Write(strconv.AppendFloat(b.AvailableBuffer(), at.Lat(), 'f', -1, 64))
	b.WriteString(`" lon="`)
	b.Write(strconv.AppendFloat(b.AvailableBuffer(), at.Lon(), 'f', -1, 64))
	b.WriteString(`">`)
	inner := indent + " "
	b.element(inner, "name", w.Name)
	b.element(inner, "cmt", w.Comment)
	b.element(inner, "desc", w.Description)
	b.WriteString(indent)
	b.WriteString("</" + name + ">")
}

// element writes a text in an element, unless it is empty.
func (b *page) element(indent, name, text string) {
	if text == "" {
		return
	}
	b.WriteString(indent)
	b.WriteString("<" + name + ">")
	b.escape(text)
	b.WriteString("</" + name + ">")
}

func (b *page) escape(text string) {
	for i := range len(text) {
		if c := text[i]; c < ' ' || c > '~' || strings.IndexByte("\"'&<>", c) >= 0 {
			xml.EscapeText(b, []byte(text)) // cannot fail: nor can writing to memory
			return
		}
	}
	b.WriteString(text)
}

// round returns degrees to 7 decimals, about a centimetre. A longitude that
// rounds up to 180 is the same meridian as -180.
func round(p crs.LonLat) crs.LonLat {
	var room [32]byte
	for i, v := range p {
		// By way of the decimal digits, so that no more than 7 are ever written.
		p[i], _ = strconv.ParseFloat(string(strconv.AppendFloat(room[:0], v, 'f', 7, 64)), 64)
		if p[i] == 0 {
			p[i] = 0 // no minus before a zero
		}
	}
	if p[0] == 180 {
		p[0] = -180
	}
	return p
}
