package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"os"
	"slices"

	"corewalk/geo/vector"
)

// lineFile is a GeoJSON file as corewalk writes it, with a feature to a line, of
// which only those features are in memory that are worked on.
type lineFile struct {
	path string
	file *os.File
	head []byte // all before the features
}

// span is a line of the file: a feature without the comma behind it.
type span struct {
	at   int64
	size int
}

// Close closes the file.
func (r *lineFile) Close() {
	if r.file != nil {
		r.file.Close()
	}
}

const featuresLine = "\"features\":[\n"

// maxHead bounds what stands before the features: the analytes and the hashes of
// the inputs.
const maxHead = 16 << 20

// scan shows every feature, without the comma behind it, and where it stands; it
// reports whether the file is as corewalk writes it and each was taken.
func (r *lineFile) scan(take func(line []byte, at span) bool) bool {
	in := bufio.NewReaderSize(r.file, 1<<20)
	var at int64
	next := func() ([]byte, bool) {
		var line []byte
		for {
			part, err := in.ReadSlice('\n')
			line = append(line, part...)
			at += int64(len(part))
			if err != bufio.ErrBufferFull {
				return line, err == nil
			}
		}
	}
	for {
		line, ok := next()
		if !ok || len(r.head) > maxHead {
			return false
		}
		r.head = append(r.head, line...)
		if string(line) == featuresLine {
			break
		}
	}
	for {
		begin := at
		line, ok := next()
		if !ok {
			return false
		}
		if bytes.Equal(line, []byte("]}\n")) {
			_, err := in.ReadByte()
			return err == io.EOF
		}
		line = bytes.TrimSuffix(bytes.TrimSuffix(line, []byte("\n")), []byte(","))
		if !take(line, span{begin, len(line)}) {
			return false
		}
	}
}

// parse reads the features on some lines.
func (r *lineFile) parse(lines []span) (*vector.Layer, error) {
	data := slices.Clone(r.head)
	for i, l := range lines {
		if i > 0 {
			data = append(data, ',')
		}
		at := len(data)
		data = slices.Grow(data, l.size)[:at+l.size]
		if _, err := r.file.ReadAt(data[at:], l.at); err != nil {
			return nil, fmt.Errorf("%s cannot be read: %w", r.path, err)
		}
	}
	return vector.Parse(r.path, append(data, "]}"...))
}
