package lab

import "testing"

// The expected tables were worked out by hand from the files.
func TestLongFiles(t *testing.T) {
	testTables(t, []tableCase{
		{file: "long_methods.csv", why: `letterhead, methods told apart, two spellings of one analyte, a lab number`, samples: "AB01C AB02D", last: 14, want: `
`},
		{file: "long_semicolon.csv", why: `decimal commas, an empty column, samples out of order`, samples: "AB01C AB02D", last: 7, want: `
`},
		{file: "long_depths.csv", why: `depths from two columns, a replicate, a blank value, the unit in the header`, samples: "N24@0-8in N24@8-24in N25", last: 8, want: `
`},
		{file: "long_faults.csv", why: `rows that hold no value of a sample`, samples: "AB01C AB02D AB03E AB04F", last: 15, want: `
`},
	}, FormatText)
}
