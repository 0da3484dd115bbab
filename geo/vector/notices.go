package vector

import "fmt"

// notices gathers what was mended, one line for each kind of fault, so that a
// file with ten thousand open rings gives one line and not ten thousand.
type notices struct {
	file  string
	all   []Fault
	order []string
	first map[string]string
	count map[string]int
}

func newNotices(file string) *notices {
	return &notices{file: file, first: map[string]string{}, count: map[string]int{}}
}

// add notes that what happened at place; place may be "".
func (n *notices) add(place, what string) {
	if n.count[what] == 0 {
		n.order = append(n.order, what)
		n.first[what] = place
	}
	n.count[what]++
	if len(n.all) < maxFaults {
		n.all = append(n.all, Fault{place, what})
	}
}

func (n *notices) lines() []string {
	var out []string
	for _, what := range n.order {
		line := n.file + ": "
		if p := n.first[what]; p != "" {
			line += p + ": "
		}
		line += what
		if more := n.count[what] - 1; more > 0 {
			line += fmt.Sprintf(" (and %d more)", more)
		}
		out = append(out, line)
	}
	return out
}
