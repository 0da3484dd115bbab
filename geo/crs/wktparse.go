package crs

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

const (
	wktMaxBytes = 1 << 20
	wktMaxDepth = 32 // the deepest real text has about ten levels
)

// node is one KEYWORD[...] of a WKT text, or one value in it: a quoted string
// or a bare word or number.
type node struct {
	text   string // keyword in capitals, or the value
	quoted bool
	kids   []node
	group  bool // has brackets
}

// parseWKT reads the first element of a WKT text. Further elements after a
// comma, as in the .prj files that carry a VERTCS, are checked and left out.
func parseWKT(text string) (node, error) {
	if len(text) > wktMaxBytes {
		return node{}, fmt.Errorf("WKT text of %d bytes is too long", len(text))
	}
	p := wktParser{s: text}
	first, err := p.value(0)
	for err == nil && p.skip(',') {
		_, err = p.value(0)
	}
	if err != nil {
		return node{}, err
	}
	if p.space(); p.i < len(p.s) {
		return node{}, p.fail("text after the end")
	}
	if !first.group {
		return node{}, fmt.Errorf("not a WKT text: it starts with %q", clip(first.text))
	}
	return first, nil
}

type wktParser struct {
	s string
	i int
}

func (p *wktParser) fail(what string) error {
	return fmt.Errorf("WKT text: %s at byte %d", what, p.i)
}

func (p *wktParser) space() {
	for p.i < len(p.s) && strings.IndexByte(" \t\r\n\x00", p.s[p.i]) >= 0 {
		p.i++
	}
}

// skip steps over c, if it comes next.
func (p *wktParser) skip(c byte) bool {
	p.space()
	if p.i < len(p.s) && p.s[p.i] == c {
		p.i++
		return true
	}
	return false
}

func (p *wktParser) value(depth int) (node, error) {
	if depth > wktMaxDepth {
		return node{}, p.fail("too many levels of brackets")
	}
	if p.skip('"') {
		return p.quoted()
	}
	start := p.i
	for p.i < len(p.s) && strings.IndexByte("[](),\" \t\r\n\x00", p.s[p.i]) < 0 {
		p.i++
	}
	n := node{text: p.s[start:p.i]}
	if n.text == "" {
		return n, p.fail("a value is missing")
	}
	closing := byte(']')
	if !p.skip('[') {
		if !p.skip('(') {
			return n, nil
		}
		closing = ')'
	}
	n.text, n.group = strings.ToUpper(n.text), true
	if p.skip(closing) {
		return n, nil
	}
	for {
		kid, err := p.value(depth + 1)
		if err != nil {
			return n, err
		}
		n.kids = append(n.kids, kid)
		if p.skip(closing) {
			return n, nil
		}
		if !p.skip(',') {
			return n, p.fail("a comma or a closing bracket is missing")
		}
	}
}

// quoted reads the rest of a string; a doubled quote stands for one.
func (p *wktParser) quoted() (node, error) {
	var b strings.Builder
	for {
		j := strings.IndexByte(p.s[p.i:], '"')
		if j < 0 {
			return node{}, p.fail("a closing quote is missing")
		}
		b.WriteString(p.s[p.i : p.i+j])
		p.i += j + 1
		if p.i == len(p.s) || p.s[p.i] != '"' {
			return node{text: b.String(), quoted: true}, nil
		}
		b.WriteByte('"')
		p.i++
	}
}

// child returns the first element with one of the keywords.
func (n node) child(keys ...string) (node, bool) {
	for _, key := range keys {
		for _, k := range n.kids {
			if k.group && k.text == key {
				return k, true
			}
		}
	}
	return node{}, false
}

// name returns the string that stands first in an element.
func (n node) name() (string, error) {
	if len(n.kids) == 0 || !n.kids[0].quoted {
		return "", fmt.Errorf("WKT text: %s has no name", clip(n.text))
	}
	return n.kids[0].text, nil
}

// number returns the i-th value of an element.
func (n node) number(i int) (float64, error) {
	if i >= len(n.kids) || n.kids[i].group || n.kids[i].quoted {
		return 0, fmt.Errorf("WKT text: %s lacks a number", clip(n.text))
	}
	s := n.kids[i].text
	v, err := strconv.ParseFloat(s, 64)
	// ParseFloat also takes words and hexadecimals.
	if err != nil || strings.Trim(s, "0123456789+-.eE") != "" || math.IsInf(v, 0) {
		return 0, fmt.Errorf("WKT text: %s has %q for a number", clip(n.text), clip(s))
	}
	return v, nil
}

// code returns the EPSG code that an element claims, or 0.
func (n node) code() int {
	id, ok := n.child("AUTHORITY", "ID")
	if !ok || len(id.kids) < 2 || !strings.EqualFold(id.kids[0].text, "EPSG") {
		return 0
	}
	c, err := strconv.Atoi(id.kids[1].text)
	if err != nil || c < 0 {
		return 0
	}
	return c
}
