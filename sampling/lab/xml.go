package lab

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Bounds of the XML read here, far above what any such file has.
const (
	maxXMLToken = 4 << 20 // bytes of one tag or text
	maxXMLDepth = 100
)

// xmlScanner reads XML token by token. It takes no DOCTYPE, so that there are no
// entities to expand, and bounds what the decoder keeps in memory.
type xmlScanner struct {
	d     *xml.Decoder
	in    *boundedReader
	depth int
}

func newXMLScanner(r io.Reader, max int64) *xmlScanner {
	in := &boundedReader{r: r, left: max}
	d := xml.NewDecoder(in)
	d.CharsetReader = func(_ string, r io.Reader) (io.Reader, error) { return r, nil } // it is UTF-8 by now
	return &xmlScanner{d: d, in: in}
}

// next returns the next start tag, end tag or text, and io.EOF after the last.
// The token is good until the next call.
func (s *xmlScanner) next() (xml.Token, error) {
	for {
		s.in.token = 0
		token, err := s.d.Token()
		if err != nil {
			var syntax *xml.SyntaxError
			if errors.As(err, &syntax) {
				return nil, fmt.Errorf("is damaged: XML line %d: %s", syntax.Line, syntax.Msg)
			}
			return nil, err
		}
		switch token.(type) {
		case xml.StartElement:
			if s.depth++; s.depth > maxXMLDepth {
				return nil, fmt.Errorf("nests XML elements more than %d deep", maxXMLDepth)
			}
			return token, nil
		case xml.EndElement:
			s.depth--
			return token, nil
		case xml.CharData:
			return token, nil
		case xml.Directive:
			return nil, errors.New("has a DOCTYPE, which has no place in this file")
		}
	}
}

// boundedReader ends with an error after so many bytes in all, or for one token.
type boundedReader struct {
	r     io.Reader
	left  int64
	token int
}

func (b *boundedReader) Read(p []byte) (int, error) {
	n, err := b.r.Read(p)
	if b.left -= int64(n); b.left < 0 {
		return 0, errors.New("unpacks to more than a lab file has: it is damaged, or should be split")
	}
	if b.token += n; b.token > maxXMLToken {
		return 0, fmt.Errorf("has an XML tag or text of more than %d bytes", maxXMLToken)
	}
	return n, err
}

// xmlRoot returns the local name of the root element, "" if the text is no XML.
func xmlRoot(text string) string {
	text = strings.TrimLeft(text, " \t\r\n\ufeff")
	if !strings.HasPrefix(text, "<") {
		return ""
	}
	if len(text) > 15 && strings.EqualFold(text[:14], "<!DOCTYPE html") {
		return "html"
	}
	s := newXMLScanner(strings.NewReader(text), int64(len(text)))
	for {
		token, err := s.next()
		if err != nil {
			return ""
		}
		if start, ok := token.(xml.StartElement); ok {
			return start.Name.Local
		}
	}
}

// attr returns an attribute by its local name without regard to case.
func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if strings.EqualFold(a.Name.Local, name) {
			return a.Value
		}
	}
	return ""
}
