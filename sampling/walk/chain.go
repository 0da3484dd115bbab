package walk

const (
	chainSteps = 3  // the most stretches that are turned round in a chain
	chainReach = 10 // the longest that is turned on trust
)

// step is a stretch that may be turned round: with the leg ab gone, b comes to
// stand next to x instead, and the leg from y to x goes.
type step struct {
	x, y  int32
	i, j  int     // the stretch
	goes  float64 // the length of the leg from y to x
	ahead bool    // x lies on the side of b
}

// turnAt turns stretches round that end at the stop a, up to three in a chain, if
// they all together make the walk shorter, and returns by how much. Of the first
// ones it trusts that those that follow will make them good (Lin and Kernighan
// 1973, doi:10.1287/opre.21.2.498).
func (t *tour) turnAt(a int32) float64 {
	for _, way := range [2]int{1, -1} {
		b := t.stop(int(t.at[a]) + way)
		if b < 0 {
			continue // a ends the walk: there is no leg to save
		}
		if gain := t.chain(a, b, way); gain > 0 {
			return gain
		}
	}
	return 0
}

// chain takes the leg from a to its neighbour b out, the way of which is 1 where
// b comes next and -1 where it came before.
func (t *tour) chain(a, b int32, way int) float64 {
	var added [chainSteps][2]int32
	first := len(t.turned)
	keep, best := first, t.worth
	open := t.legs[int(t.at[a])+max(way, 0)] // what is saved so far, without a leg from a to b
	for n := range added {
		s, ok := t.next(a, b, way, open, best, n == chainSteps-1, added[:n])
		if !ok {
			break
		}
		added[n] = [2]int32{b, s.x}
		bx := t.d(b, s.x) // longer than it was taken for if it is round obstacles
		open += s.goes - bx
		// A leg that the next step takes out again need not be measured round
		// obstacles.
		ay := t.least(a, s.y)
		if open-ay > best {
			ay = t.d(a, s.y)
		}
		if way > 0 {
			t.reverse(s.i, s.j, ay, bx)
		} else {
			t.reverse(s.i, s.j, bx, ay)
		}
		t.turned = append(t.turned, [2]int32{int32(s.i), int32(s.j)})
		if open-ay > best {
			best, keep = open-ay, len(t.turned)
		}
		if !s.ahead {
			way = -way
		}
		if b = s.y; b < 0 {
			break
		}
	}
	t.undo(keep)
	if keep == first {
		return 0
	}
	for _, s := range t.turned[first:] {
		i, j := int(s[0]), int(s[1])
		t.mark(i-1, i, j, j+1)
	}
	return best
}

// next finds the best step that saves something as long as a has no new leg; the
// last one of a chain, and long ones, must make the chain better than best. Legs
// that were added may not go again.
func (t *tour) next(a, b int32, way int, open, best float64, last bool, added [][2]int32) (s step, ok bool) {
	p := int(t.at[a])
	near := t.near[b]
	var most float64 // that a step saves, the leg from a to y left aside
	for n := range near {
		off, x := near[n].off, near[n].id
		if off >= open {
			break
		}
		if x == a {
			continue
		}
		q := int(t.at[x])
		goes := t.legs[q+max(-way, 0)]
		saved := goes - off
		if ok && saved <= most {
			continue
		}
		ahead := (q-p)*way > 0
		i, j := min(q, p), max(q, p)
		if ahead {
			i, j = min(p, q-way), max(p, q-way)
			if way > 0 {
				i++
			} else {
				j--
			}
		}
		if i < t.base || i >= j || j-i > t.reach {
			continue
		}
		y := t.stop(q - way)
		sure := last || j-i > chainReach
		if sure && open+saved-t.least(a, y) <= best || !t.canTurn(i, j) || contains(added, x, y) {
			continue
		}
		if sure && open+saved-t.d(a, y) <= best {
			continue
		}
		s, ok, most = step{x, y, i, j, goes, ahead}, true, saved
	}
	return s, ok
}

func contains(legs [][2]int32, x, y int32) bool {
	for _, l := range legs {
		if l == [2]int32{x, y} || l == [2]int32{y, x} {
			return true
		}
	}
	return false
}
