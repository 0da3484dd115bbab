package report

import "fmt"

// mostChanges is how many grounds the table of changes has.
const mostChanges = 200

// sincePage is what changed since earlier seasons.
type sincePage struct {
	Names    []string
	Fields   []Change
	Told     []Change // of grounds, those that can be told from noise first
	Expected bool     // some change has one
	Yearly   bool
	Quiet    string
	More     string
	Apart    []string
	Notes    []string
}

func newSince(s *Seasons) *sincePage {
	if s == nil || len(s.Names) < 2 {
		return nil
	}
	out := &sincePage{Names: s.Names, Apart: s.Apart, Notes: s.Notes}
	grounds := 0
	for _, c := range s.Changes {
		out.Expected, out.Yearly = out.Expected || c.Expected != "", out.Yearly || c.Yearly != ""
		switch {
		case c.Sample == "":
			out.Fields = append(out.Fields, c)
			continue
		case c.Told:
			out.Told = append(out.Told, c)
		}
		grounds++
	}
	if n := grounds - len(out.Told); n > 0 {
		out.Quiet = fmt.Sprintf("Of %s of single grounds, %d show no change that can be told from noise, or have nothing to be compared with. Of those that seem to have changed, expect about %d to be chance.", plural(grounds, "figure", "figures"), n, (grounds+10)/20)
	}
	if n := len(out.Told) - mostChanges; n > 0 {
		out.Told = out.Told[:mostChanges]
		out.More = fmt.Sprintf("%d more are listed by corewalk season trend.", n)
	}
	return out
}

// changeTable is what the template of a table of changes reads.
type changeTable struct {
	Page    *sincePage
	Changes []Change
	Caption string
	Grounds bool
}

func tableOfChanges(p *sincePage, changes []Change, caption string) changeTable {
	return changeTable{p, changes, caption, changes[0].Sample != ""}
}
