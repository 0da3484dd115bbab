package zone

import (
	"cmp"
	"container/heap"
	"slices"
)

// merge merges the given zones into their neighbours, the smallest first, and
// what comes of that as long as it is smaller than least. A zone that has grown
// to that in the meantime is left. It returns how many were merged, and their
// area.
func (z *zoning) merge(list []int32, least float64) (merged int, area float64) {
	if len(list) == 0 {
		return 0, 0
	}
	m := newMerger(z)
	for _, i := range list {
		m.queue = append(m.queue, m.task(i))
	}
	heap.Init(&m.queue)
	for len(m.queue) > 0 {
		t := heap.Pop(&m.queue).(task)
		if m.sets.root(t.zone) != t.zone || m.area[t.zone] != t.area {
			continue
		}
		into, ok := m.absorb(t.zone)
		if !ok {
			continue
		}
		merged++
		area += t.area
		if m.area[into] < least {
			heap.Push(&m.queue, m.task(into))
		}
	}
	if merged > 0 {
		z.number(func(cell int32) (set, class int32) {
			set = m.sets.root(z.zone[cell])
			return set, m.class[set]
		})
	}
	return merged, area
}

// task is a zone to be merged, as it was when it was found.
type task struct {
	area     float64
	px, zone int32
}

// queue is a heap of tasks.
type queue []task

func (q queue) Len() int { return len(q) }
func (q queue) Less(i, j int) bool {
	a, b := q[i], q[j]
	return cmp.Or(cmp.Compare(a.area, b.area), cmp.Compare(a.px, b.px), cmp.Compare(a.zone, b.zone)) < 0
}
func (q queue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(t any)   { *q = append(*q, t.(task)) }
func (q *queue) Pop() any {
	t := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return t
}

// merger merges zones into their neighbours.
type merger struct {
	z     *zoning
	queue queue
	sets  sets // of zones
	// By zone.
	class []int32
	area  []float64
	px    []int32 // the first pixel
	// The arrows round the zones as lists: the first and last of each zone, and
	// the next of each arrow; -1 for none.
	head, tail, next []int32
	// For the neighbours of the zone at hand, -1 for other zones.
	length []float64
	beside []int32
}

func newMerger(z *zoning) *merger {
	g, n := z.g, len(z.area)
	m := &merger{
		z: z, sets: newSets(n), class: slices.Clone(z.class), area: slices.Clone(z.area), px: make([]int32, n),
		head: make([]int32, n), tail: make([]int32, n), next: make([]int32, len(g.arrows)), length: make([]float64, n),
	}
	for i := range n {
		m.px[i] = g.cells[z.first[i]].px
		m.head[i], m.tail[i], m.length[i] = -1, -1, -1
	}
	for i := range g.arrows {
		a := &g.arrows[i]
		if zone := z.zone[a.cell]; a.twin >= 0 && z.zone[g.arrows[a.twin].cell] != zone {
			m.next[i] = m.head[zone]
			if m.head[zone] < 0 {
				m.tail[zone] = int32(i)
			}
			m.head[zone] = int32(i)
		}
	}
	return m
}

func (m *merger) task(i int32) task { return task{m.area[i], m.px[i], i} }

// absorb merges a zone into the neighbour with the longest line in common, and
// that with others of its class that the zone hangs together with. It reports
// the zone made of them, and false if there is no neighbour.
func (m *merger) absorb(i int32) (int32, bool) {
	g := m.z.g
	m.beside = m.beside[:0]
	for at := m.head[i]; at >= 0; at = m.next[at] {
		o := m.sets.root(m.z.zone[g.arrows[g.arrows[at].twin].cell])
		l := g.length(at)
		if o == i {
			continue
		}
		if m.length[o] < 0 {
			m.beside = append(m.beside, o)
			m.length[o] = 0
		}
		m.length[o] += l
	}
	if len(m.beside) == 0 {
		return i, false
	}
	best := slices.MinFunc(m.beside, func(a, b int32) int {
		return cmp.Or(cmp.Compare(m.length[b], m.length[a]), cmp.Compare(m.area[b], m.area[a]), cmp.Compare(m.px[a], m.px[b]), cmp.Compare(a, b))
	})
	class := m.class[best]
	into := m.unite(i, best)
	for _, o := range m.beside {
		if o != best && m.class[o] == class && m.length[o] > hair {
			into = m.unite(into, o)
		}
		m.length[o] = -1
	}
	m.class[into] = class
	return into, true
}

// unite makes one zone of two.
func (m *merger) unite(i, j int32) int32 {
	into := m.sets.unite(i, j)
	other := i + j - into
	m.area[into] += m.area[other]
	m.px[into] = min(m.px[into], m.px[other])
	switch {
	case m.head[into] < 0:
		m.head[into], m.tail[into] = m.head[other], m.tail[other]
	case m.head[other] >= 0:
		m.next[m.tail[into]] = m.head[other]
		m.tail[into] = m.tail[other]
	}
	return into
}
