package gpx

import (
	"encoding/xml"
	"fmt"
	"io"

	"github.com/twpayne/go-gpx"
)

const namespace = "http://www.topografix.com/GPX/1/1"

// root is the outer element. It stands in for gpx.GPX, which writes a time of
// the year 1 into every metadata element, and has an order of attributes that
// changes from run to run.
type root struct {
	XMLName  xml.Name       `xml:"gpx"`
	Version  string         `xml:"version,attr"`
	Creator  string         `xml:"creator,attr"`
	XMLNS    string         `xml:"xmlns,attr"`
	XSI      string         `xml:"xmlns:xsi,attr"`
	Schema   string         `xml:"xsi:schemaLocation,attr"`
	Metadata *metadata      `xml:"metadata"`
	Wpt      []*gpx.WptType `xml:"wpt"`
	Rte      []*gpx.RteType `xml:"rte"`
}

type metadata struct {
	Name string `xml:"name,omitempty"`
	Desc string `xml:"desc,omitempty"`
}

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
	doc := root{
		Version: "1.1", Creator: d.Creator,
		XMLNS: namespace, XSI: "http://www.w3.org/2001/XMLSchema-instance",
		Schema: namespace + " " + namespace + "/gpx.xsd",
		Wpt:    points(d.Waypoints),
	}
	if d.Name != "" || d.Description != "" {
		doc.Metadata = &metadata{Name: d.Name, Desc: d.Description}
	}
	for _, r := range d.Routes {
		doc.Rte = append(doc.Rte, &gpx.RteType{Name: r.Name, RtePt: points(r.Waypoints)})
	}
	text, err := xml.MarshalIndent(doc, "", " ")
	if err != nil {
		return fmt.Errorf("gpx: %w", err)
	}
	if _, err := io.WriteString(w, xml.Header+string(text)+"\n"); err != nil {
		return fmt.Errorf("writing gpx: %w", err)
	}
	return nil
}

func points(waypoints []Waypoint) []*gpx.WptType {
	var points []*gpx.WptType
	for _, w := range waypoints {
		at := round(w.At)
		points = append(points, &gpx.WptType{
			Lon: at.Lon(), Lat: at.Lat(), Name: w.Name, Cmt: w.Comment, Desc: w.Description,
		})
	}
	return points
}
