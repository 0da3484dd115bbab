package gpx

import (
	"encoding/xml"
	"fmt"
	"strings"
	"time"
)

func (f *reader) track(start xml.StartElement) (Track, error) {
	var track Track
	if err := f.count(); err != nil {
		return track, err
	}
	err := f.children(start, func(child xml.StartElement) error {
		switch child.Name.Local {
		case "name":
			err := f.xml.DecodeElement(&track.Name, &child)
			track.Name = strings.TrimSpace(track.Name)
			return err
		case "trkseg":
			segment, err := f.segment(child)
			if err != nil {
				return fmt.Errorf("segment %d: %w", len(track.Segments)+1, err)
			}
			if len(segment) > 0 {
				track.Segments = append(track.Segments, segment)
			}
			return nil
		}
		return f.xml.Skip()
	})
	return track, err
}

func (f *reader) segment(start xml.StartElement) ([]TrackPoint, error) {
	var points []TrackPoint
	if err := f.count(); err != nil {
		return nil, err
	}
	err := f.children(start, func(child xml.StartElement) error {
		if child.Name.Local != "trkpt" {
			return f.xml.Skip()
		}
		p, err := f.trackPoint(child)
		if err != nil {
			return fmt.Errorf("point %d: %w", len(points)+1, err)
		}
		points = append(points, p)
		return nil
	})
	return points, err
}

// trackPoint reads a point by hand: by reflection, as waypoints are read, a long
// track would take several times as long.
func (f *reader) trackPoint(start xml.StartElement) (TrackPoint, error) {
	var p TrackPoint
	var err error
	if p.At, err = position(start); err != nil {
		return p, err
	}
	err = f.children(start, func(child xml.StartElement) error {
		if child.Name.Local != "time" {
			return f.xml.Skip()
		}
		p.Time, err = f.time()
		return err
	})
	return p, err
}

// time reads the rest of a time element. An empty one is the zero time.
func (f *reader) time() (time.Time, error) {
	var text []byte
	for {
		token, err := f.xml.Token()
		if err != nil {
			return time.Time{}, err
		}
		switch t := token.(type) {
		case xml.CharData:
			text = append(text, t...)
		case xml.StartElement:
			if err := f.xml.Skip(); err != nil {
				return time.Time{}, err
			}
		case xml.EndElement:
			s := strings.TrimSpace(string(text))
			if s == "" {
				return time.Time{}, nil
			}
			for _, layout := range [2]string{time.RFC3339Nano, "2006-01-02T15:04:05"} {
				if v, err := time.Parse(layout, s); err == nil {
					return v.UTC(), nil
				}
			}
			return time.Time{}, fmt.Errorf("time %.40q cannot be read: it must be like 2024-05-01T09:30:00Z", s)
		}
	}
}
