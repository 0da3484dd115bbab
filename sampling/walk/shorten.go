package walk

// shorten improves the walk until no change that is tried makes it shorter.
func (t *tour) shorten() {
	for k := range t.order {
		t.mark(k)
	}
	t.settle()
	t.turned = t.turned[:0]
}

// settle looks at the stops on the list until it is empty, and returns how much
// shorter the walk got.
func (t *tour) settle() float64 {
	var gain float64
	for head := 0; head < len(t.dirty); head++ {
		s := t.dirty[head]
		t.isDirty[s] = false
		for {
			g := t.turnAt(s)
			if g == 0 {
				g = t.moveAt(s)
			}
			if g == 0 {
				break
			}
			gain += g
		}
		if head > 1000 && head > len(t.dirty)/2 {
			t.dirty = append(t.dirty[:0], t.dirty[head+1:]...)
			head = -1
		}
	}
	t.dirty = t.dirty[:0]
	return gain
}

// canTurn reports whether groups stay together when i to j is turned round.
func (t *tour) canTurn(i, j int) bool {
	return t.group[t.order[i]] == t.group[t.order[j]] || (t.edge(i) && t.edge(j+1))
}

const (
	moveStops  = 3 // the longest stretch of stops that is moved elsewhere
	moveGroups = 3 // and of groups
)

// moveAt moves a short stretch that begins or ends with the stop a next to one
// near it, if that makes the walk shorter, and returns by how much.
func (t *tour) moveAt(a int32) float64 {
	p := int(t.at[a])
	if p < t.base {
		return 0
	}
	first, last := t.ends(p)
	for length := 0; length < moveStops; length++ {
		if p+length <= last {
			if g := t.moveStretch(p, p+length, a); g > 0 {
				return g
			}
		}
		if length > 0 && p-length >= first {
			if g := t.moveStretch(p-length, p, a); g > 0 {
				return g
			}
		}
	}
	if p == first { // whole groups from here on
		for k, j := 0, last; k < moveGroups; k++ {
			if g := t.moveStretch(p, j, a); g > 0 {
				return g
			}
			if j+1 >= len(t.order) {
				break
			}
			_, j = t.ends(j + 1)
		}
	}
	if p == last { // whole groups up to here
		for k, i := 0, first; k < moveGroups; k++ {
			if g := t.moveStretch(i, p, a); g > 0 {
				return g
			}
			if i <= t.base {
				break
			}
			i, _ = t.ends(i - 1)
		}
	}
	return 0
}

// moveStretch moves the stretch from i to j, an end of which is a, to where a
// stands next to a stop near it.
func (t *tour) moveStretch(i, j int, a int32) float64 {
	legs := t.legs[i] + t.legs[j+1]
	near := t.near[a]
	if len(near) == 0 || legs-near[0].off <= t.worth {
		return 0
	}
	before, after := t.stop(i-1), t.stop(j+1)
	cut := legs // at most what cutting the stretch out saves
	if before >= 0 && after >= 0 {
		if past := t.known(before, after); past >= 0 {
			cut -= past
		} else {
			cut -= t.least(before, after)
		}
	}
	if cut-near[0].off <= t.worth {
		return 0
	}
	other := t.order[i]
	if other == a {
		other = t.order[j]
	}
	first, last := t.ends(i)
	whole := t.edge(i) && t.edge(j+1)
	within := j <= last
	for n := range near {
		off, c := near[n].off, near[n].id
		if off >= cut {
			break
		}
		q := int(t.at[c])
		if q >= i && q <= j {
			continue
		}
		for side := range 2 {
			// The gap is before place k: c, gap, d, or d, gap, c.
			k, d := q+1, t.stop(q+1)
			if side == 1 {
				k, d = q, t.stop(q-1)
			}
			if k < t.base || k == i || k == j+1 || (k < i && i-k > t.reach) || (k > j && k-j > t.reach) {
				continue
			}
			if !(within && k >= first && k <= last+1) && !(whole && t.edge(k)) {
				continue
			}
			cd := t.legs[k]
			if cut+cd-off-t.least(other, d) <= t.worth {
				continue
			}
			if before >= 0 && after >= 0 {
				cut = legs - t.d(before, after)
			}
			gain := cut + cd - t.d(c, a) - t.d(other, d)
			if gain <= t.worth {
				continue
			}
			// With c before the gap a comes first.
			turned := (side == 0) != (t.order[i] == a)
			if i == j {
				turned = false
			}
			if k > j {
				t.swap(i, j+1, k, turned, false)
			} else {
				t.swap(k, i, j+1, false, turned)
			}
			return gain
		}
	}
	return 0
}
