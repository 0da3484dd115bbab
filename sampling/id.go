package sampling

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// alphabet is that of sample ids; a character's value is its place. It holds no
// vowel, so that an id never spells a month or any other word, and no letter
// that is read as a digit in most hands (I, O, S). Its size, 29, is a prime.
const alphabet = "0123456789BCDFGHJKLMNPQRTVWXZ"

// CheckCharacter returns the check character of an id's body of 1 to 27
// characters of the alphabet of sample ids. With it at the end, the values
// weighted 1, 2, 3 ... from the right add up to a multiple of 29, as those of an
// ISBN-10 do to one of 11. Since 29 is a prime, every single wrong character is
// caught, and every swap of two different ones, neighbours or not. (ISO 7064
// MOD 37,36, which takes all letters, lets some swaps of neighbours pass.) It
// fails on any other character.
func CheckCharacter(body string) (byte, error) {
	if len(body) == 0 || len(body) >= len(alphabet)-1 {
		return 0, fmt.Errorf("a sample id of %d characters before the last cannot be checked; take 1 to %d", len(body), len(alphabet)-2)
	}
	sum := 0
	for i := range len(body) {
		v := strings.IndexByte(alphabet, body[i])
		if v < 0 {
			return 0, fmt.Errorf("sample id %q has %q, which no sample id has; its characters are digits and %s", body, body[i], alphabet[10:])
		}
		sum += v * (len(body) + 1 - i)
	}
	return alphabet[(len(alphabet)-sum%len(alphabet))%len(alphabet)], nil
}

// ValidID reports whether an id ends in the right check character.
func ValidID(id string) bool {
	if len(id) < 2 {
		return false
	}
	c, err := CheckCharacter(id[:len(id)-1])
	return err == nil && c == id[len(id)-1]
}

// codeLetters are the letters of field codes. Z is left out because it looks
// like a 2 and ends the short names of months in some languages (Mrz, wrz).
const codeLetters = "BCDFGHJKLMNPQRTVWX"

// fieldCode returns the letters that stand for the nth field (from 0): two for
// the first 324, then three, and so on.
func fieldCode(n int) string {
	base := len(codeLetters)
	width, room := 2, base*base
	for n >= room {
		n -= room
		width++
		room *= base
	}
	code := make([]byte, width)
	for i := width - 1; i >= 0; i-- {
		code[i] = codeLetters[n%base]
		n /= base
	}
	return string(code)
}

// PlaceOf returns the place in its farm, from 0, of the field whose code an id
// begins with, in capitals; false when it begins with none. It says nothing of the
// rest of the id.
func PlaceOf(id string) (place int, ok bool) {
	width := 0
	for width < len(id) && strings.IndexByte(codeLetters, id[width]) >= 0 {
		width++
	}
	if width < 2 || width > longestCode || width == len(id) || id[width] < '0' || id[width] > '9' {
		return 0, false
	}
	base, room := len(codeLetters), len(codeLetters)*len(codeLetters)
	for w := 2; w < width; w++ {
		place += room
		room *= base
	}
	n := 0
	for i := range width {
		n = n*base + strings.IndexByte(codeLetters, id[i])
	}
	return place + n, true
}

// shapeOfID is that of sample ids: field code, unit, where units have several
// samples the character of one, check character.
var shapeOfID = regexp.MustCompile(`^[` + codeLetters + `]{2,6}[0-9]{2,}[` + alphabet + `]{1,2}$`)

const longestID = 10

// Slips returns the ids, in order, that a hand may have meant by one that is none:
// those that become it by one wrong character, one too many, or two neighbours that
// changed places. Most often the check character leaves one or none.
func Slips(id string) []string {
	if len(id) > longestID+1 {
		return nil
	}
	var out []string
	try := func(s string) {
		if s != id && shapeOfID.MatchString(s) && ValidID(s) && !slices.Contains(out, s) {
			out = append(out, s)
		}
	}
	for i := range id {
		for _, c := range alphabet {
			try(id[:i] + string(c) + id[i+1:])
		}
		try(id[:i] + id[i+1:])
		if i > 0 {
			try(id[:i-1] + id[i:i+1] + id[i-1:i] + id[i+1:])
		}
	}
	slices.Sort(out)
	return out
}

// longestCode is what names of cores leave for field codes where units and cores
// have two digits each.
const longestCode = longestName - 4

// sampleID returns the id of a sample: field code, number of the unit, where
// units have several samples the number of that (from 0) in the alphabet of ids,
// check character, as in BC07K. It begins with two letters that are no word, so
// a spreadsheet takes it neither for a number nor for a date.
func sampleID(field, unit, digits, sample, ofSamples int) (string, error) {
	body := fmt.Sprintf("%s%0*d", fieldCode(field), digits, unit)
	if ofSamples > 1 {
		if sample+1 >= len(alphabet) {
			return "", fmt.Errorf("%d samples to a unit are more than ids can tell apart (%d); take fewer composites or depth layers", ofSamples, len(alphabet)-1)
		}
		body += alphabet[sample+1 : sample+2]
	}
	c, err := CheckCharacter(body)
	if err != nil {
		return "", err
	}
	return body + string(c), nil
}
