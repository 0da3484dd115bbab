package lab

import "slices"

// TypingDistance counts the slips between a and b: characters wrong, missing,
// added, or swapped with their neighbour (Damerau 1964, doi:10.1145/363958.363994).
func TypingDistance(a, b string) int { return distance([]rune(a), []rune(b)) }

// Unplace turns joined points into unmatched rows, each with its reason: they
// lie where nothing is to be mapped. Their results go; what was noted of their
// cells stays. Rows that are not joined, or not there, are passed over.
func (r *Reckoning) Unplace(reasons map[int]string) {
	for i := range r.Rows {
		f := &r.Rows[i]
		if reason, ok := reasons[f.Row]; ok && f.Fate == Joined {
			f.Fate, f.SampleID, f.Reason = Unmatched, "", reason
			r.Counts.Joined--
			r.Counts.Unmatched++
		}
	}
	r.Results = slices.DeleteFunc(r.Results, func(x Result) bool {
		_, ok := reasons[x.Rows[0]]
		return ok && len(x.Rows) == 1
	})
}
