package lab

import "testing"

// The expected tables were worked out by hand from the files.
func TestModusFiles(t *testing.T) {
	testTables(t, []tableCase{
		{file: "modus_plain.xml", why: `one depth, methods by code, places, a value below a limit, recommendations that are no results`, samples: "AB01C AB02D", last: 2, want: `
`},
		{file: "modus_depths.xml", why: `a name space, depths described after the samples and in several units, a second value, two events`, samples: "N24@0-20cm N24@20-60cm N25", last: 5, want: `
`},
		{file: "modus_odd.xml", why: `qualifiers, codes not known, texture, no ids, a plant sample, places that are none`, samples: "AB03E 8", last: 3, want: `
`},
		{file: "modus_latin1.xml", why: `an old encoding, decimal commas`, samples: "Äcker-1", last: 1, want: `
`},
	}, FormatModus)
}
