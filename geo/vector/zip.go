package vector

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"path"
	"strings"
)

// readZip reads the one layer in a zip. Nothing is written to disk.
func readZip(src source, opt Options) (*Layer, error) {
	z, err := zip.NewReader(bytes.NewReader(src.data), int64(len(src.data)))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", src.name, err)
	}
	files := map[string]*zip.File{}
	var names []string
	for _, f := range z.File {
		base := path.Base(f.Name)
		// What some systems pack beside each file is not the user's.
		if strings.HasSuffix(f.Name, "/") || strings.HasPrefix(base, ".") || strings.Contains("/"+f.Name, "/__MACOSX/") {
			continue
		}
		if files[f.Name] != nil {
			return nil, fmt.Errorf("%s: two files in it are called %q", src.name, f.Name)
		}
		files[f.Name] = f
		names = append(names, f.Name)
	}
	main, err := mainInZip(names)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", src.name, err)
	}
	left := int64(maxBytes)
	open := func(name string) ([]byte, error) {
		data, err := unpack(files[name], left)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		left -= int64(len(data))
		return data, nil
	}
	data, err := open(main)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", src.name, err)
	}
	var beside, besideBase []string
	for _, name := range names {
		if path.Dir(name) == path.Dir(main) {
			beside = append(beside, name)
			besideBase = append(besideBase, path.Base(name))
		}
	}
	return readSource(source{
		name: src.name + "/" + path.Base(main),
		data: data,
		sidecar: func(ext string) (string, []byte, error) {
			base := pickSidecar(besideBase, path.Base(main), ext)
			for i, b := range besideBase {
				if base != "" && b == base {
					data, err := open(beside[i])
					return base, data, err
				}
			}
			return "", nil, nil
		},
	}, opt, false)
}

// mainInZip chooses the one shapefile or GeoJSON file. A .json file counts only
// where there is no other: it is often a description.
func mainInZip(names []string) (string, error) {
	var sure, perhaps []string
	for _, name := range names {
		switch strings.ToLower(path.Ext(name)) {
		case ".shp", ".geojson":
			sure = append(sure, name)
		case ".json":
			perhaps = append(perhaps, name)
		}
	}
	if len(sure) == 0 {
		sure = perhaps
	}
	switch len(sure) {
	case 0:
		return "", errors.New("no .shp and no .geojson file in it")
	case 1:
		return sure[0], nil
	}
	return "", fmt.Errorf("%d layers in it (%q, %q ...); unpack it and give one of them", len(sure), sure[0], sure[1])
}

func unpack(f *zip.File, most int64) ([]byte, error) {
	if f.Flags&1 != 0 {
		return nil, errors.New("protected by a password; unpack it first")
	}
	if f.UncompressedSize64 > uint64(most) {
		return nil, fmt.Errorf("larger than %d MB unpacked, which is more than is read", maxBytes>>20)
	}
	r, err := f.Open()
	if err != nil {
		return nil, err
	}
	defer r.Close()
	return readAtMost(r, most, int64(f.UncompressedSize64))
}
