package gpx

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/twpayne/go-gpx"
	"golang.org/x/text/encoding/htmlindex"

	"corewalk/geo/crs"
)

// Read reads a GPX file of version 1.0 or 1.1: its name, waypoints, routes and
// tracks. Heights and whatever else it holds are passed over, and so are segments
// without points. Names lose the space at their ends; they may be empty or the
// same, as other programs write them. Times are UTC, as the schema has them where
// they name no zone; the zero time stands for none.
//
// A file above 64 MiB or with more than a million waypoints, routes, tracks and
// segments, one that is not GPX or is cut short, a point without a proper
// longitude and latitude, and a time of a point or a number of a waypoint that
// cannot be read are errors. Memory stays below some ten times the largest file.
func Read(r io.Reader) (Document, error) { return read(r, standard()) }

func read(r io.Reader, most limits) (Document, error) {
	from := newSource(r, most.size)
	raw := xml.NewDecoder(from)
	raw.CharsetReader = decoded
	f := reader{xml: xml.NewTokenDecoder(&tokens{from: from, raw: raw}), most: most.places}
	err := f.file()
	if from.err != nil {
		return Document{}, from.err
	}
	if err != nil {
		line, _ := raw.InputPos()
		return Document{}, fmt.Errorf("gpx: line %d: %w", line, err)
	}
	return f.doc, nil
}

// decoded turns text of the encoding that the XML declaration names into UTF-8.
func decoded(label string, input io.Reader) (io.Reader, error) {
	encoding, err := htmlindex.Get(label)
	if err != nil {
		return nil, fmt.Errorf("unknown encoding %.40q: save the file as UTF-8", label)
	}
	return encoding.NewDecoder().Reader(input), nil
}

type reader struct {
	xml    *xml.Decoder
	doc    Document
	places int // waypoints, routes, tracks and segments so far
	most   int // of places
}

// file reads from before the outer element to the end of the file.
func (f *reader) file() error {
	for {
		token, err := f.xml.Token()
		if err == io.EOF {
			return errors.New("no gpx element: the file is empty or not GPX")
		}
		if err != nil {
			return err
		}
		switch t := token.(type) {
		case xml.StartElement:
			if err := f.root(t); err != nil {
				return err
			}
			return f.rest()
		case xml.CharData:
			if len(bytes.TrimSpace(t)) > 0 {
				return errors.New("text before the first element: the file is not GPX")
			}
		}
	}
}

// rest refuses anything but comments and space after the outer element.
func (f *reader) rest() error {
	for {
		token, err := f.xml.Token()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		switch t := token.(type) {
		case xml.Comment, xml.ProcInst:
			continue
		case xml.CharData:
			if len(bytes.TrimSpace(t)) == 0 {
				continue
			}
		}
		return errors.New("more data after the end of the gpx element")
	}
}

func (f *reader) root(start xml.StartElement) error {
	space := strings.TrimRight(start.Name.Space, "/")
	if start.Name.Local != "gpx" || space != "" && space != namespace && space != "http://www.topografix.com/GPX/1/0" {
		return fmt.Errorf("outer element is %.40q of %.60q: a gpx element of version 1.0 or 1.1 expected", start.Name.Local, space)
	}
	for _, a := range start.Attr {
		if a.Name.Local == "creator" && a.Name.Space == "" {
			f.doc.Creator = a.Value
		}
	}
	return f.children(start, func(child xml.StartElement) error {
		switch child.Name.Local {
		case "wpt":
			w, err := f.waypoint(child)
			if err != nil {
				return fmt.Errorf("waypoint %d: %w", len(f.doc.Waypoints)+1, err)
			}
			f.doc.Waypoints = append(f.doc.Waypoints, w)
			return nil
		case "rte":
			route, err := f.route(child)
			if err != nil {
				return fmt.Errorf("route %d: %w", len(f.doc.Routes)+1, err)
			}
			f.doc.Routes = append(f.doc.Routes, route)
			return nil
		case "trk":
			track, err := f.track(child)
			if err != nil {
				return fmt.Errorf("track %d: %w", len(f.doc.Tracks)+1, err)
			}
			f.doc.Tracks = append(f.doc.Tracks, track)
			return nil
		case "metadata":
			return f.children(child, f.about)
		}
		return f.about(child) // version 1.0 has the name and description here
	})
}

// about takes the name and description of the file.
func (f *reader) about(start xml.StartElement) error {
	switch start.Name.Local {
	case "name":
		return f.xml.DecodeElement(&f.doc.Name, &start)
	case "desc":
		return f.xml.DecodeElement(&f.doc.Description, &start)
	}
	return f.xml.Skip()
}

func (f *reader) route(start xml.StartElement) (Route, error) {
	var route Route
	if err := f.count(); err != nil {
		return route, err
	}
	err := f.children(start, func(child xml.StartElement) error {
		switch child.Name.Local {
		case "name":
			err := f.xml.DecodeElement(&route.Name, &child)
			route.Name = strings.TrimSpace(route.Name)
			return err
		case "rtept":
			w, err := f.waypoint(child)
			if err != nil {
				return fmt.Errorf("waypoint %d: %w", len(route.Waypoints)+1, err)
			}
			route.Waypoints = append(route.Waypoints, w)
			return nil
		}
		return f.xml.Skip()
	})
	return route, err
}

// children calls each for every element inside the one that start began. Those
// of other schemas are passed over.
func (f *reader) children(start xml.StartElement, each func(xml.StartElement) error) error {
	for {
		token, err := f.xml.Token()
		if err != nil {
			return err
		}
		switch t := token.(type) {
		case xml.EndElement:
			return nil
		case xml.StartElement:
			if t.Name.Space != start.Name.Space {
				err = f.xml.Skip()
			} else {
				err = each(t)
			}
			if err != nil {
				return err
			}
		}
	}
}

// waypoint reads a point. The position is read here and not by the library,
// which takes a missing or empty number as 0 and looks at no range.
func (f *reader) waypoint(start xml.StartElement) (Waypoint, error) {
	at, err := position(start)
	if err != nil {
		return Waypoint{}, err
	}
	if err := f.count(); err != nil {
		return Waypoint{}, err
	}
	var w gpx.WptType
	if err := f.xml.DecodeElement(&w, &start); err != nil {
		return Waypoint{}, err
	}
	return Waypoint{At: at, Name: strings.TrimSpace(w.Name), Comment: w.Cmt, Description: w.Desc, Time: w.Time.UTC()}, nil
}

// count takes one more waypoint, route, track or segment.
func (f *reader) count() error {
	if f.places++; f.places > f.most {
		return fmt.Errorf("more than %d waypoints, routes, tracks and segments: split the file", f.most)
	}
	return nil
}

func position(start xml.StartElement) (crs.LonLat, error) {
	var at crs.LonLat
	for i, name := range [2]string{"lon", "lat"} {
		found := false
		for _, a := range start.Attr {
			if a.Name.Local != name || a.Name.Space != "" {
				continue
			}
			v, err := parseDegrees(a.Value)
			if err != nil {
				return at, fmt.Errorf("%s: %w", name, err)
			}
			if found {
				return at, fmt.Errorf("%s is there twice", name)
			}
			at[i], found = v, true
		}
		if !found {
			return at, fmt.Errorf("%s is missing", name)
		}
	}
	return at, checkPosition(at)
}
