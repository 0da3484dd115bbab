package walk

// legHeap is a binary heap, least key first; ties go by the nodes, so that the
// order does not depend on how the heap came about.
type legHeap []leg

func (l *leg) before(m *leg) bool {
	if l.key != m.key {
		return l.key < m.key
	}
	if l.to != m.to {
		return l.to < m.to
	}
	return l.from < m.from
}

func (h *legHeap) push(l leg) {
	*h = append(*h, l)
	q := *h
	i := len(q) - 1
	for i > 0 {
		up := (i - 1) / 2
		if !l.before(&q[up]) {
			break
		}
		q[i] = q[up]
		i = up
	}
	q[i] = l
}

func (h *legHeap) pop() (leg, bool) {
	q := *h
	if len(q) == 0 {
		return leg{}, false
	}
	top, l := q[0], q[len(q)-1]
	q = q[:len(q)-1]
	*h = q
	i := 0
	for {
		k := 2*i + 1
		if k >= len(q) {
			break
		}
		if k+1 < len(q) && q[k+1].before(&q[k]) {
			k++
		}
		if !q[k].before(&l) {
			break
		}
		q[i] = q[k]
		i = k
	}
	if len(q) > 0 {
		q[i] = l
	}
	return top, true
}
