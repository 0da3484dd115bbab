package main

import (
	"bytes"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"

	"corewalk/interp/datafile"
	"corewalk/sampling/lab"
)

// entry is a node of a job file: text, a list or keyed entries, with the line
// it stands on. Text is kept as it is written, so that a name such as 0012 is
// not read as a number.
type entry struct {
	line int
	key  string // path of keys, as in plan.cell
	text string
	kind entryKind
	list []entry
	keys []string
	of   map[string]entry
}

type entryKind int

const (
	isText entryKind = iota
	isList
	isMap
	isNone
)

// readYAML reads a job file into entries.
func readYAML(path string) (entry, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return entry{}, readError(err)
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if err := datafile.Check(data); err != nil {
		return entry{}, fmt.Errorf("%s: %w", path, err)
	}
	var e entry
	err = datafile.Guard(func() error {
		e, err = parseYAML(path, data)
		return err
	})
	if err != nil && !strings.HasPrefix(err.Error(), path) {
		err = fmt.Errorf("%s: %w", path, err)
	}
	return e, err
}

// parseYAML parses a file that Check passed.
func parseYAML(path string, data []byte) (entry, error) {
	file, err := parser.ParseBytes(data, 0)
	if err != nil {
		return entry{}, fmt.Errorf("%s: %s", path, firstLine(err.Error()))
	}
	var body ast.Node
	for _, d := range file.Docs {
		if d.Body == nil {
			continue
		}
		if body != nil {
			return entry{}, fmt.Errorf("%s: line %d: a second document; a job file holds one", path, lineOf(d.Body))
		}
		body = d.Body
	}
	if body == nil {
		return entry{}, fmt.Errorf("%s is empty; a job names at least a boundary", path)
	}
	e, err := toEntry(body, "", 0)
	if err != nil {
		return entry{}, fmt.Errorf("%s: %w", path, err)
	}
	if e.kind != isMap {
		return entry{}, fmt.Errorf("%s: line %d: a job file holds keys such as boundary and plan", path, e.line)
	}
	return e, nil
}

// parserPlace is where the parser says that it failed: [line:column].
var parserPlace = regexp.MustCompile(`^\[(\d+):\d+\] `)

// firstLine keeps the message of a parser error and drops its excerpt.
func firstLine(s string) string {
	s, _, _ = strings.Cut(s, "\n")
	return parserPlace.ReplaceAllString(s, "line $1: ")
}

func lineOf(n ast.Node) int {
	if t := n.GetToken(); t != nil && t.Position != nil {
		return t.Position.Line
	}
	return 0
}

func toEntry(n ast.Node, key string, depth int) (entry, error) {
	e := entry{line: lineOf(n), key: key}
	if depth > 20 {
		return e, fmt.Errorf("line %d: nested too deep", e.line)
	}
	switch n := n.(type) {
	case *ast.NullNode:
		e.kind = isNone
	case *ast.StringNode:
		e.text = n.Value
	case *ast.LiteralNode:
		e.text = strings.TrimSpace(n.Value.Value)
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		e.text = n.GetToken().Value
	case *ast.SequenceNode:
		e.kind = isList
		for i, v := range n.Values {
			item, err := toEntry(v, fmt.Sprintf("%s[%d]", key, i+1), depth+1)
			if err != nil {
				return e, err
			}
			e.list = append(e.list, item)
		}
	case *ast.MappingNode:
		return mapEntry(e, n.Values, depth)
	case *ast.MappingValueNode:
		return mapEntry(e, []*ast.MappingValueNode{n}, depth)
	default:
		return e, fmt.Errorf("line %d: %s is not understood here; write it plainly, without anchors or tags", e.line, n.Type())
	}
	return e, nil
}

func mapEntry(e entry, values []*ast.MappingValueNode, depth int) (entry, error) {
	e.kind, e.of = isMap, map[string]entry{}
	for _, v := range values {
		name := v.Key.GetToken().Value
		path := name
		if e.key != "" {
			path = e.key + "." + name
		}
		if _, double := e.of[name]; double {
			return e, fmt.Errorf("line %d: %s stands there twice", lineOf(v.Key), path)
		}
		item, err := toEntry(v.Value, path, depth+1)
		if err != nil {
			return e, err
		}
		if item.line == 0 || item.kind != isText {
			item.line = lineOf(v.Key)
		}
		e.keys = append(e.keys, name)
		e.of[name] = item
	}
	return e, nil
}

// fail is an error at the entry.
func (e entry) fail(format string, args ...any) error {
	where := fmt.Sprintf("line %d: ", e.line)
	if e.key != "" {
		where += e.key + ": "
	}
	return fmt.Errorf("%s%w", where, fmt.Errorf(format, args...))
}

// only refuses keys that are not among those known, and offers the nearest.
func (e entry) only(known ...string) error {
	if e.kind != isMap {
		return e.fail("holds keys: %s", strings.Join(known, ", "))
	}
	for _, k := range e.keys {
		if slices.Contains(known, k) {
			continue
		}
		item := e.of[k]
		where := ""
		if e.key != "" {
			where = " in " + e.key
		}
		nearest := slices.MinFunc(known, func(a, b string) int { return lab.TypingDistance(k, a) - lab.TypingDistance(k, b) })
		if lab.TypingDistance(k, nearest) <= max(2, len(k)/3) {
			return fmt.Errorf("line %d: there is no key %q%s; did you mean %q?", item.line, k, where, nearest)
		}
		return fmt.Errorf("line %d: there is no key %q%s; there are: %s", item.line, k, where, strings.Join(known, ", "))
	}
	return nil
}

// str returns the text of a key, "" where it is absent.
func (e entry) str(key string) (string, error) {
	item, ok := e.of[key]
	if !ok || item.kind == isNone {
		return "", nil
	}
	if item.kind != isText {
		return "", item.fail("is one value, not several")
	}
	return strings.TrimSpace(item.text), nil
}

// strs returns the texts of a key that takes a list, or a single text.
func (e entry) strs(key string) ([]string, error) {
	item, ok := e.of[key]
	switch {
	case !ok || item.kind == isNone:
		return nil, nil
	case item.kind == isText:
		return []string{strings.TrimSpace(item.text)}, nil
	case item.kind == isMap:
		return nil, item.fail("is a list, as in [a, b]")
	}
	var out []string
	for _, v := range item.list {
		if v.kind != isText {
			return nil, v.fail("is one value, not several")
		}
		out = append(out, strings.TrimSpace(v.text))
	}
	return out, nil
}

// read parses the text of a key into to; nothing happens where it is absent.
func read[T any](e entry, key string, to *T, parse func(string) (T, error)) error {
	s, err := e.str(key)
	if err != nil || s == "" {
		return err
	}
	v, err := parse(s)
	if err != nil {
		return e.of[key].fail("%w", err)
	}
	*to = v
	return nil
}
