package gpx

import (
	"bufio"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
)

// limits bound what is read of a file.
type limits struct {
	size   int // bytes, a multiple of a MiB
	places int // waypoints, routes, tracks and segments: each takes more room in memory than in the file
}

// standard are the limits of Read. A track point of a handheld takes 100 to 150
// bytes, so that the size holds some hundred hours at a point a second. The
// places are twice the cores that a plan may have.
func standard() limits { return limits{size: 64 << 20, places: 1_000_000} }

const (
	// maxToken bounds the bytes of one tag, text or comment.
	maxToken = 1 << 20
	// maxDepth and maxAttributes lie far above what the schema has, whatever
	// receivers put into its extensions.
	maxDepth      = 100
	maxAttributes = 1000
)

// source hands the bytes of a file to the XML decoder, and counts them: decoding
// while reading keeps the file out of memory.
type source struct {
	r     *bufio.Reader
	size  int
	left  int   // bytes that may follow
	token int   // bytes since the last token
	err   error // why the bytes end before the file does
}

func newSource(r io.Reader, size int) *source {
	s := &source{r: bufio.NewReaderSize(r, 1<<16), size: size, left: size}
	if mark, err := s.r.Peek(3); err == nil && string(mark) == "\ufeff" {
		s.r.Discard(len(mark)) // cannot fail: they are in the buffer
		s.left -= len(mark)
	}
	return s
}

func (s *source) ReadByte() (byte, error) {
	b, err := s.r.ReadByte()
	if err := s.count(1, err); err != nil {
		return 0, err
	}
	return b, nil
}

// Read is called instead of ReadByte where the file is not in UTF-8.
func (s *source) Read(p []byte) (int, error) {
	n, err := s.r.Read(p)
	if err := s.count(n, err); err != nil {
		return 0, err
	}
	return n, nil
}

func (s *source) count(n int, err error) error {
	switch {
	case s.err != nil:
	case err == io.EOF:
		return err
	case err != nil:
		s.err = fmt.Errorf("reading gpx: %w", err)
	case n > s.left:
		s.err = fmt.Errorf("gpx: file is above %d MiB: take out the tracks that are not needed, or split it", s.size>>20)
	case s.token > maxToken:
		s.err = fmt.Errorf("gpx: a text or tag is above %d MiB: take it out", maxToken>>20)
	}
	s.left -= n
	s.token += n
	return s.err
}

// tokens are those of a file, checked before the decoder that sorts out namespaces
// keeps a record of every element that is open.
type tokens struct {
	from *source
	raw  *xml.Decoder
	open []xml.Name
}

func (t *tokens) Token() (xml.Token, error) {
	token, err := t.raw.RawToken()
	t.from.token = 0
	if syntax, ok := err.(*xml.SyntaxError); ok {
		return nil, errors.New(syntax.Msg) // the line comes later
	}
	if err == io.EOF && len(t.open) > 0 {
		return nil, fmt.Errorf("unexpected EOF: the file is cut short in element %.40q", t.open[len(t.open)-1].Local)
	}
	if err != nil {
		return nil, err
	}
	switch e := token.(type) {
	case xml.StartElement:
		if len(t.open) == maxDepth {
			return nil, fmt.Errorf("elements lie more than %d deep in each other: no receiver writes this", maxDepth)
		}
		if len(e.Attr) > maxAttributes {
			return nil, fmt.Errorf("element %.40q has more than %d attributes: no receiver writes this", e.Name.Local, maxAttributes)
		}
		t.open = append(t.open, e.Name)
	case xml.EndElement:
		last := len(t.open) - 1
		if last < 0 || t.open[last] != e.Name {
			return nil, fmt.Errorf("element %.40q ends where it is not the innermost one that is open: the file is damaged", e.Name.Local)
		}
		t.open = t.open[:last]
	}
	return token, nil
}
