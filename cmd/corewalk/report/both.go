package report

import (
	"bytes"
	"strings"
	"unicode/utf8"
)

// A text that reads differently in US and in metric units holds both, between
// characters that no text has: Unicode keeps them free for such a use. What is
// written at the end of all shows one of them, at the reader's choice.
const (
	inUS     = "\ufdd0"
	inMetric = "\ufdd1"
	inEither = "\ufdd2"
)

// Both returns a text that shows one or the other, as the reader of the page
// chooses.
func Both(us, metric string) string {
	if us == metric {
		return us
	}
	return inUS + us + inMetric + metric + inEither
}

// cutBoth finds the first text of Both in s.
func cutBoth(s string) (before, us, metric, after string, found bool) {
	before, rest, found := strings.Cut(s, inUS)
	if !found {
		return s, "", "", "", false
	}
	us, rest, _ = strings.Cut(rest, inMetric)
	metric, after, _ = strings.Cut(rest, inEither)
	// A name that holds a sign has no right to it.
	return before, strings.ReplaceAll(us, inUS, ""), strings.ReplaceAll(metric, inUS, ""), after, true
}

// one is s in the units of the reader.
func one(s string, american bool) string {
	var b strings.Builder
	for {
		before, us, metric, after, found := cutBoth(s)
		b.WriteString(before)
		switch {
		case !found:
			return b.String()
		case american:
			b.WriteString(us)
		default:
			b.WriteString(metric)
		}
		s = after
	}
}

// longer is the number of characters that s takes at most.
func longer(s string) int {
	return max(utf8.RuneCountInString(one(s, true)), utf8.RuneCountInString(one(s, false)))
}

// settle writes out what Both has made. In the text of the page both stand, one
// of them hidden by the style. Names, descriptions and attributes, where no
// elements can stand, have the one that the page begins with; but data-t, which
// the page's script reads, has both in braces, and so have scripts.
func settle(page []byte, american bool) []byte {
	s := string(page)
	if !strings.Contains(s, inUS) {
		return page
	}
	var out bytes.Buffer
	out.Grow(len(page) + len(page)/8)
	for s != "" {
		open := strings.IndexByte(s, '<')
		if open < 0 {
			open = len(s)
		}
		out.WriteString(spans(s[:open], "span"))
		if s = s[open:]; s == "" {
			break
		}
		end := strings.IndexByte(s, '>') + 1 // none stands in an attribute: they are escaped
		if end == 0 {
			end = len(s)
		}
		tag := s[:end]
		s = s[end:]
		out.WriteString(attributes(tag, american))
		switch name := strings.TrimLeft(tag[:min(len(tag), 8)], "<"); {
		case strings.HasPrefix(name, "title"), strings.HasPrefix(name, "desc"):
			inside := before(s, "</")
			out.WriteString(one(inside, american))
			s = s[len(inside):]
		case strings.HasPrefix(name, "script"):
			inside := before(s, "</script")
			out.WriteString(braces(inside))
			s = s[len(inside):]
		case strings.HasPrefix(name, "style"):
			inside := before(s, "</style")
			out.WriteString(inside)
			s = s[len(inside):]
		case strings.HasPrefix(name, "text"):
			inside := before(s, "</text")
			s = s[len(inside):]
			// A text on a map may begin with its title.
			if strings.HasPrefix(inside, "<title") {
				title := inside[:strings.Index(inside, "</title>")+len("</title>")]
				out.WriteString(one(title, american))
				inside = inside[len(title):]
			}
			out.WriteString(spans(inside, "tspan"))
		}
	}
	return out.Bytes()
}

func before(s, end string) string {
	inside, _, _ := strings.Cut(s, end)
	return inside
}

func spans(s, element string) string {
	var b strings.Builder
	for {
		before, us, metric, after, found := cutBoth(s)
		b.WriteString(before)
		if !found {
			return b.String()
		}
		b.WriteString("<" + element + ` class="us">` + us + "</" + element + "><" + element + ` class="me">` + metric + "</" + element + ">")
		s = after
	}
}

func braces(s string) string {
	return strings.NewReplacer(inUS, "{", inMetric, "|", inEither, "}").Replace(s)
}

func attributes(tag string, american bool) string {
	if !strings.Contains(tag, inUS) {
		return tag
	}
	const data = ` data-t="`
	before, rest, found := strings.Cut(tag, data)
	if !found {
		return one(tag, american)
	}
	value, after, _ := strings.Cut(rest, `"`)
	return one(before, american) + data + braces(value) + `"` + one(after, american)
}
