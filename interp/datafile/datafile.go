// Package datafile reads the YAML files in which tables and jobs are written,
// and refuses those that the library behind it would choke on.
package datafile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/goccy/go-yaml"
)

// Limits of a file in bytes, of a line, and of brackets within brackets. The
// library takes a time that goes with the square of them: 3.6 s for a list of 120
// kB in one line, and all memory for 200 000 open brackets.
const (
	LargestFile     = 1 << 18
	longestLine     = 1 << 12
	deepestBrackets = 50
	deepestIndent   = 200
)

// Check refuses what the library would take too long over, with the line.
func Check(data []byte) error {
	if len(data) > LargestFile {
		return fmt.Errorf("it has %d bytes; at most %d are read", len(data), LargestFile)
	}
	line, column, indent, deep := 1, 0, 0, 0
	for _, b := range data {
		if b == ' ' && indent == column || b == '-' && indent == column {
			indent++
		}
		column++
		switch b {
		case '\n':
			line, column, indent = line+1, 0, 0
		case '[', '{':
			deep++
		case ']', '}':
			deep = max(deep-1, 0)
		}
		if column > longestLine || deep > deepestBrackets || indent > deepestIndent {
			return fmt.Errorf("line %d is too long or too deep; write it over more lines", line)
		}
	}
	return nil
}

// Decode decodes the one document of a file into v; keys that v does not know, and
// a second document, are errors. Errors are of one line.
func Decode(data []byte, v any) error {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	if err := Check(data); err != nil {
		return err
	}
	err := Guard(func() error {
		decoder := yaml.NewDecoder(bytes.NewReader(data), yaml.Strict())
		if err := decoder.Decode(v); err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		var more any
		if decoder.Decode(&more) == nil {
			return errors.New("there is a second document in it, after ---; put all into one")
		}
		return nil
	})
	if err != nil {
		message, _, _ := strings.Cut(err.Error(), "\n")
		return errors.New(message)
	}
	return nil
}

// Guard does what may panic in the library, which it does on some files of a few
// bytes, and returns that as an error.
func Guard(do func() error) (err error) {
	defer func() {
		if recover() != nil {
			err = errors.New("it is not YAML that can be read; look for a stray tag, anchor or bracket")
		}
	}()
	return do()
}
