package vector

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/jonas-p/go-shp"
	"github.com/paulmach/orb"

	"corewalk/geo/crs"
)

// shpMost keeps a .shp file within what every program reads: offsets of 31
// bits.
const shpMost = 1<<31 - 1

// WriteShapefile writes path (ending in .shp) and beside it the .shx, .dbf,
// .prj and .cpg files, in the system sys, the texts in UTF-8. All features have
// the same kind of geometry, and each has one; shells turn clockwise. Of the
// properties those in fields are written, under the names that ShortNames
// gives; one that a feature lacks is empty. Numbers keep their decimals up to
// 15.
//
// The files are written aside, read back and compared, and only then put in
// place; files of an earlier layer of that name that would no longer fit
// (indexes, metadata) are removed.
func WriteShapefile(path string, sys *crs.System, fields []Column, features []OutFeature) error {
	ext := filepath.Ext(path)
	if !strings.EqualFold(ext, ".shp") {
		return fmt.Errorf("%s: the name of a shapefile ends in .shp", filepath.Base(path))
	}
	if err := writeShapefile(strings.TrimSuffix(path, ext), ext, sys, fields, features); err != nil {
		return fmt.Errorf("%s: %w", filepath.Base(path), err)
	}
	return nil
}

func writeShapefile(stem, ext string, sys *crs.System, fields []Column, features []OutFeature) error {
	kind, records, err := shpShapes(sys, features)
	if err != nil {
		return err
	}
	attributes, err := tableBytes(fields, features)
	if err != nil {
		return err
	}
	temp, err := os.MkdirTemp(filepath.Dir(stem), ".corewalk-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(temp)
	if err := writeGeometry(filepath.Join(temp, "new"), kind, records); err != nil {
		return err
	}
	for name, content := range map[string][]byte{
		"new.dbf": attributes, "new.prj": []byte(sys.WKT()), "new.cpg": []byte("UTF-8"),
	} {
		if err := os.WriteFile(filepath.Join(temp, name), content, 0o666); err != nil {
			return err
		}
	}
	parts := []string{".dbf", ".shx", ".prj", ".cpg", ".shp"} // .shp last: it is what others look for
	for _, part := range parts {
		if err := syncFile(filepath.Join(temp, "new"+part)); err != nil {
			return err
		}
	}
	if err := removeStale(stem, ext); err != nil {
		return err
	}
	for _, part := range parts {
		to := stem + part
		if part == ".shp" {
			to = stem + ext
		}
		if err := os.Rename(filepath.Join(temp, "new"+part), to); err != nil {
			return err
		}
	}
	return nil
}

// shpShapes turns the features into go-shp's shapes in the system sys.
func shpShapes(sys *crs.System, features []OutFeature) (shp.ShapeType, []shp.Shape, error) {
	var first geometryKind
	records := make([]shp.Shape, 0, len(features))
	size := int64(shpHeader)
	for i := range features {
		f := &features[i]
		kind, err := f.kind()
		if err == nil {
			err = f.checkNames()
		}
		switch {
		case err != nil:
			return 0, nil, fmt.Errorf("feature %d: %w", i+1, err)
		case i == 0:
			first = kind
		case kind != first && kind != noGeometry:
			return 0, nil, fmt.Errorf("feature %d has another kind of geometry than feature 1; a shapefile holds one kind", i+1)
		}
		s, err := shpShape(sys, f, kind)
		if err != nil {
			return 0, nil, fmt.Errorf("feature %d: %w", i+1, err)
		}
		records = append(records, s)
		if size += recordSize(s); size > shpMost {
			return 0, nil, errors.New("larger than the 2 GB that a shapefile holds")
		}
	}
	kinds := map[geometryKind]shp.ShapeType{
		noGeometry: shp.POLYGON, shapeGeometry: shp.POLYGON, lineGeometry: shp.POLYLINE,
		pointGeometry: shp.POINT, pointsGeometry: shp.MULTIPOINT,
	}
	return kinds[first], records, nil
}

// recordSize is the size of a record in a .shp file, in bytes.
func recordSize(s shp.Shape) int64 {
	switch s := s.(type) {
	case *shp.Polygon:
		return 8 + 44 + 4*int64(len(s.Parts)) + 16*int64(len(s.Points))
	case *shp.PolyLine:
		return 8 + 44 + 4*int64(len(s.Parts)) + 16*int64(len(s.Points))
	case *shp.MultiPoint:
		return 8 + 40 + 16*int64(len(s.Points))
	}
	return 8 + 20
}

func shpShape(sys *crs.System, f *OutFeature, kind geometryKind) (shp.Shape, error) {
	switch kind {
	case pointGeometry:
		pts, err := project(sys, orb.LineString{orb.Point(*f.Point)}, false)
		if err != nil {
			return nil, err
		}
		return &pts[0], nil
	case pointsGeometry:
		line := make(orb.LineString, len(f.Points))
		for i, p := range f.Points {
			line[i] = orb.Point(p)
		}
		pts, err := project(sys, line, false)
		if err != nil {
			return nil, err
		}
		return &shp.MultiPoint{Box: shp.BBoxFromPoints(pts), NumPoints: int32(len(pts)), Points: pts}, nil
	case lineGeometry:
		pts, err := project(sys, orb.LineString(f.Line), true)
		if err != nil {
			return nil, err
		}
		if len(pts) < 2 {
			return nil, errors.New("the line has fewer than two points")
		}
		return shp.NewPolyLine([][]shp.Point{pts}), nil
	case shapeGeometry:
		parts, err := shpParts(sys, f.Shape)
		if err != nil {
			return nil, err
		}
		if len(parts) > 0 {
			p := shp.Polygon(*shp.NewPolyLine(parts))
			return &p, nil
		}
	}
	return nil, errors.New("no geometry, which a shapefile cannot hold")
}

// shpParts makes the rings of a shape into parts, shells clockwise. Rings
// without area are left out, and with a shell its holes.
func shpParts(sys *crs.System, shape crs.LonLatShape) ([][]shp.Point, error) {
	var parts [][]shp.Point
	for i, polygon := range shape {
		for k, ring := range polygon {
			pts, err := project(sys, orb.LineString(ring), true)
			if err != nil {
				return nil, fmt.Errorf("polygon %d, ring %d, %w", i+1, k+1, err)
			}
			if n := len(pts); n > 0 && pts[0] != pts[n-1] {
				pts = append(pts, pts[0])
			}
			area := ringArea(toPoints(pts))
			if len(pts) < 4 || area == 0 {
				if k == 0 {
					break
				}
				continue
			}
			if (area < 0) != (k == 0) {
				slices.Reverse(pts)
			}
			parts = append(parts, pts)
		}
	}
	return parts, nil
}

// project carries a line into sys. distinct drops a vertex that equals the one
// before it.
func project(sys *crs.System, line orb.LineString, distinct bool) ([]shp.Point, error) {
	pts := make([]shp.Point, 0, len(line)+1)
	for i, p := range line {
		x, y, err := sys.Forward(crs.LonLat(p))
		if err != nil {
			return nil, fmt.Errorf("vertex %d: %w", i+1, err)
		}
		q := shp.Point{X: x, Y: y}
		if !distinct || len(pts) == 0 || q != pts[len(pts)-1] {
			pts = append(pts, q)
		}
	}
	return pts, nil
}

// writeGeometry writes stem.shp and stem.shx with go-shp, which tells of no
// error while writing; so what is on disk is read back and compared.
func writeGeometry(stem string, kind shp.ShapeType, records []shp.Shape) error {
	w, err := shp.Create(stem, kind)
	if err != nil {
		return err
	}
	for _, s := range records {
		w.Write(s)
	}
	w.Close()
	return checkWritten(stem, kind, records)
}

// checkWritten proves that stem.shp and stem.shx hold the records.
func checkWritten(stem string, kind shp.ShapeType, records []shp.Shape) error {
	failed := func(err error) error {
		return fmt.Errorf("what was written does not read back (is the disk full?): %w", err)
	}
	data, err := os.ReadFile(stem + ".shp")
	if err != nil {
		return failed(err)
	}
	index, err := os.ReadFile(stem + ".shx")
	if err != nil {
		return failed(err)
	}
	size := int64(shpHeader)
	for _, s := range records {
		size += recordSize(s)
	}
	if int64(len(data)) != size || len(index) != shpHeader+8*len(records) || !isShapefile(data) {
		return failed(fmt.Errorf("%d bytes of %d", len(data)+len(index), size+int64(shpHeader+8*len(records))))
	}
	have, places, err := shpRecords(data, newNotices(""))
	if err != nil {
		return failed(err)
	}
	if have != int32(kind) || len(places) != len(records) {
		return failed(fmt.Errorf("%d records of %d", len(places), len(records)))
	}
	if err := checkIndex(index, places); err != nil {
		return failed(err)
	}
	plain, err := plainStream(data, have, places)
	if err != nil {
		return failed(err)
	}
	back, err := shapes(plain, len(places))
	if err != nil {
		return failed(err)
	}
	for i := range back {
		if !sameShape(back[i], records[i]) {
			return failed(fmt.Errorf("record %d differs", i+1))
		}
	}
	return nil
}

func sameShape(a, b shp.Shape) bool {
	pa, na := pointsOf(a)
	pb, nb := pointsOf(b)
	return slices.Equal(pa, pb) && slices.Equal(na, nb)
}

func pointsOf(s shp.Shape) ([]shp.Point, []int32) {
	switch s := s.(type) {
	case *shp.Point:
		return []shp.Point{*s}, nil
	case *shp.MultiPoint:
		return s.Points, nil
	case *shp.PolyLine:
		return s.Points, s.Parts
	case *shp.Polygon:
		return s.Points, s.Parts
	}
	return nil, nil
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// removeStale removes the files beside stem that belonged to an earlier layer
// of its name: indexes and metadata of any kind, and parts that differ in
// letter case from those to be written.
func removeStale(stem, ext string) error {
	entries, err := os.ReadDir(filepath.Dir(stem))
	if err != nil {
		return err
	}
	kept := []string{ext, ".shx", ".dbf", ".prj", ".cpg"}
	stale := []string{".shp", ".shx", ".dbf", ".prj", ".cpg", ".qix", ".sbn", ".sbx", ".fbn", ".fbx", ".ain", ".aih",
		".atx", ".ixs", ".mxs", ".qpj", ".shp.xml", ".aux.xml", ".shp.aux.xml"}
	base := filepath.Base(stem)
	for _, e := range entries {
		rest, ok := strings.CutPrefix(e.Name(), base)
		if ok && !e.IsDir() && slices.Contains(stale, strings.ToLower(rest)) && !slices.Contains(kept, rest) {
			if err := os.Remove(filepath.Join(filepath.Dir(stem), e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}
