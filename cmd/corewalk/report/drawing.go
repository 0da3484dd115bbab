package report

import (
	"encoding/base64"
	"html/template"
)

// inlined is a drawing as an image of its own: documents that stand in a page
// as they are would share their ids with it and with each other.
type inlined struct {
	Alt string
	URL template.URL
}

func inline(drawings []Drawing) []inlined {
	var out []inlined
	for _, d := range drawings {
		if len(d.SVG) > 0 {
			out = append(out, inlined{d.Alt, template.URL("data:image/svg+xml;base64," + base64.StdEncoding.EncodeToString(d.SVG))})
		}
	}
	return out
}
