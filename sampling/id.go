package sampling

import (
	"fmt"
	"strings"
)

// alphabet is that of ISO 7064 MOD 37,36: a character's value is its place.
const alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

// CheckCharacter returns the ISO 7064 MOD 37,36 check character of an id of
// digits and capital letters. The hybrid system catches every single wrong
// character and every swap of two neighbours. It fails on any other character.
func CheckCharacter(body string) (byte, error) {
	p := 36
	for i := range len(body) {
		v := strings.IndexByte(alphabet, body[i])
		if v < 0 {
			return 0, fmt.Errorf("sample id %q has a character that is neither digit nor capital letter", body)
		}
		p += v
		if p > 36 {
			p -= 36
		}
		p = p * 2 % 37
	}
	return alphabet[(37-p)%36], nil
}

// ValidID reports whether an id ends in the right check character.
func ValidID(id string) bool {
	if len(id) < 2 {
		return false
	}
	c, err := CheckCharacter(id[:len(id)-1])
	return err == nil && c == id[len(id)-1]
}

// consonants are the letters of field codes: no vowel, so that a code never
// spells a month or any other word, and no letter that is read as a digit.
const consonants = "BCDFGHJKLMNPQRTVWXZ"

// fieldCode returns the letters that stand for the nth field (from 0): two for
// the first 361, then three, and so on.
func fieldCode(n int) string {
	base := len(consonants)
	width, room := 2, base*base
	for n >= room {
		n -= room
		width++
		room *= base
	}
	code := make([]byte, width)
	for i := width - 1; i >= 0; i-- {
		code[i] = consonants[n%base]
		n /= base
	}
	return string(code)
}

// sampleID returns the id of a unit: field code, number of the unit, check
// character, as in BC07K. It begins with two letters that are no word, so a
// spreadsheet takes it neither for a number nor for a date.
func sampleID(field, unit, digits int) string {
	body := fmt.Sprintf("%s%0*d", fieldCode(field), digits, unit)
	c, err := CheckCharacter(body)
	if err != nil {
		// The body is made of the alphabet.
		c = '0'
	}
	return body + string(c)
}
