package vector

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"
)

// The walkers below go over text that checkJSON has passed. They exist because
// encoding/json matches member names in any letter case, forgets their order,
// and turns a missing or null coordinate into 0.

// checkJSON tells where text stops being JSON.
func checkJSON(text []byte) error {
	if json.Valid(text) {
		return nil
	}
	var v json.RawMessage
	err := json.Unmarshal(text, &v)
	var syntax *json.SyntaxError
	if !errors.As(err, &syntax) {
		return fmt.Errorf("not JSON: %w", err)
	}
	at := min(max(syntax.Offset-1, 0), int64(len(text)))
	if strings.HasPrefix(syntax.Error(), "unexpected end") {
		return errors.New("the text ends in the middle; the file is cut short")
	}
	return fmt.Errorf("not JSON: line %d: %w", 1+bytes.Count(text[:at], []byte("\n")), err)
}

func skipSpace(b []byte, i int) int {
	for i < len(b) && (b[i] == ' ' || b[i] == '\n' || b[i] == '\t' || b[i] == '\r') {
		i++
	}
	return i
}

// skipValue returns the place after the value that starts at i.
func skipValue(b []byte, i int) int {
	if i == len(b) {
		return i
	}
	switch b[i] {
	case '"':
		return skipString(b, i)
	case '{', '[':
	default:
		for i < len(b) && strings.IndexByte(",]} \n\t\r", b[i]) < 0 {
			i++
		}
		return i
	}
	// Within brackets only brackets and texts matter.
	for depth := 0; i < len(b); {
		switch b[i] {
		case '{', '[':
			depth++
		case '}', ']':
			if depth--; depth == 0 {
				return i + 1
			}
		case '"':
			i = skipString(b, i)
			continue
		}
		i++
	}
	return i
}

func skipString(b []byte, i int) int {
	for i++; i < len(b); i++ {
		switch b[i] {
		case '\\':
			i++
		case '"':
			return i + 1
		}
	}
	return len(b)
}

// eachMember calls fn for the members of an object, in the order of the text.
func eachMember(b []byte, fn func(name string, value []byte) error) error {
	for i := skipSpace(b, 1); i < len(b) && b[i] != '}'; {
		end := skipString(b, i)
		name, err := stringOf(b[i:end])
		if err != nil {
			return err
		}
		i = skipSpace(b, skipSpace(b, end)+1)
		end = skipValue(b, i)
		if err := fn(name, b[i:end]); err != nil {
			return err
		}
		i = skipSeparator(b, end)
	}
	return nil
}

// eachElement calls fn for the elements of an array, counted from 1.
func eachElement(b []byte, fn func(n int, value []byte) error) error {
	n := 0
	for i := skipSpace(b, 1); i < len(b) && b[i] != ']'; {
		end := skipValue(b, i)
		n++
		if err := fn(n, b[i:end]); err != nil {
			return err
		}
		i = skipSeparator(b, end)
	}
	return nil
}

func skipSeparator(b []byte, i int) int {
	i = skipSpace(b, i)
	if i < len(b) && b[i] == ',' {
		i = skipSpace(b, i+1)
	}
	return i
}

func stringOf(b []byte) (string, error) {
	if len(b) >= 2 && b[0] == '"' && bytes.IndexByte(b, '\\') < 0 && utf8.Valid(b) {
		return string(b[1 : len(b)-1]), nil
	}
	var s string
	if err := json.Unmarshal(b, &s); err != nil {
		return "", fmt.Errorf("%s is not a text", excerpt(b))
	}
	return s, nil
}

func isObject(b []byte) bool { return len(b) > 0 && b[0] == '{' }
func isArray(b []byte) bool  { return len(b) > 0 && b[0] == '[' }
func isNull(b []byte) bool   { return len(b) == 0 || b[0] == 'n' }
func isNumber(b []byte) bool { return len(b) > 0 && (b[0] == '-' || b[0] >= '0' && b[0] <= '9') }

// excerpt is a piece of JSON text short enough for an error message.
func excerpt(b []byte) string {
	const most = 40
	s := strings.Join(strings.Fields(string(b[:min(len(b), 2*most)])), " ")
	if len(s) > most {
		s = strings.ToValidUTF8(s[:most], "") + "..."
	}
	return s
}
