package lab

import "slices"

// farthest is the greatest distance at which an id is offered for another.
const farthest = 2

// finder looks for the ids nearest to one that is in no plan.
type finder struct {
	ids      []string
	keys     [][]rune
	unpadded map[string][]int32 // places in ids, by key without leading zeros
	one, two *neighbourhood     // by deletions of at most that many characters; made when first in need
	seen     []int32            // by id, the number of the last question it was compared for
	question int32
	budget   int // of compared characters: keeps a hostile file from taking hours
	known    map[string][]string
}

func newFinder(samples []SampleRef) *finder {
	f := &finder{budget: 100_000_000, known: map[string][]string{}, unpadded: map[string][]int32{}}
	seen := make(map[string]bool, len(samples))
	for _, s := range samples {
		id := tidy(s.ID)
		if id == "" || len(id) > 64 || seen[id] {
			continue
		}
		seen[id] = true
		key := idKey(id)
		bare := unpad(key)
		f.unpadded[bare] = append(f.unpadded[bare], int32(len(f.ids)))
		f.ids = append(f.ids, id)
		f.keys = append(f.keys, []rune(key))
	}
	f.seen = make([]int32, len(f.ids))
	return f
}

// nearest returns the ids that are one edit away, at most three in the order of
// the plan; failing that, the one that is two edits away, if only one is. Ids
// that differ only in leading zeros count as one edit apart, and come after
// those that are.
func (f *finder) nearest(id string) []string {
	if len(id) > 64 || len(f.ids) == 0 {
		return nil
	}
	key := idKey(id)
	if near, ok := f.known[key]; ok {
		return near
	}
	if f.one == nil {
		f.one = newNeighbourhood(f.keys, 1)
	}
	runes := []rune(key)
	near, ok := f.within(f.one, runes, 1, len(f.ids))
	slices.Sort(near)
	for _, i := range f.unpadded[unpad(key)] {
		if !slices.Contains(near, i) {
			near = append(near, i)
		}
	}
	near = near[:min(len(near), 3)]
	if ok && len(near) == 0 {
		if f.two == nil {
			f.two = newNeighbourhood(f.keys, farthest)
		}
		// In a run of numbers, everything is two edits from everything.
		if near, ok = f.within(f.two, runes, farthest, 2); len(near) > 1 {
			near = nil
		}
	}
	if !ok {
		return nil
	}
	var ids []string
	for _, i := range near {
		ids = append(ids, f.ids[i])
	}
	f.known[key] = ids
	return ids
}

// within returns the first so many ids found that are at most d edits from a
// key, in no order. It is not ok when the budget ran out.
func (f *finder) within(n *neighbourhood, key []rune, d, most int) (near []int32, ok bool) {
	f.question++
	ok = true
	n.candidates(key, func(i int32) bool {
		if f.seen[i] == f.question {
			return true
		}
		f.seen[i] = f.question
		other := f.keys[i]
		if f.budget -= 8 + len(key)*len(other); f.budget < 0 {
			ok = false
			return false
		}
		// At the length of either id, nothing of it is left.
		if e := distance(key, other); e <= d && e < len(key) && e < len(other) {
			near = append(near, i)
		}
		return len(near) < most
	})
	return near, ok
}

// window is how many characters of a key, from one of its ends, go into a
// neighbourhood: it bounds the size of the index for long ids.
const window = 8

// neighbourhood finds the keys that may be within some edits of another. Two
// keys within d edits (swaps of neighbours among them) become the same when at
// most d characters are deleted from each. What both have in common then begins
// with the same window-d characters, and these are left of the first window
// characters of either when d are deleted; so the windows will do. After the
// symmetric deletions of T. Bocek, E. Hunt and B. Stiller (Fast Similarity Search
// in Large Dictionaries, University of Zurich, ifi-2007.02).
type neighbourhood struct {
	d       int
	back    bool // windows are at the end of the keys
	heads   []int32
	entries []entry
}

type entry struct {
	hash     uint32
	id, next int32
}

func newNeighbourhood(keys [][]rune, d int) *neighbourhood {
	n := &neighbourhood{d: d}
	// Ids of one farm often begin, or end, alike.
	front, back, count := map[uint32]bool{}, map[uint32]bool{}, 0
	var buf [window]rune
	for _, key := range keys {
		w := cut(&buf, key, false)
		front[hashRunes(w, -1, -1)] = true
		back[hashRunes(cut(&buf, key, true), -1, -1)] = true
		count += 1 + len(w)
		if d > 1 {
			count += len(w) * (len(w) - 1) / 2
		}
	}
	n.back = len(back) > len(front)
	size := 1
	for size < count {
		size *= 2
	}
	n.heads = make([]int32, size)
	n.entries = make([]entry, 1, count+1) // the first stands for none
	for i, key := range keys {
		deletions(cut(&buf, key, n.back), d, func(h uint32) bool {
			at := &n.heads[int(h)&(size-1)]
			n.entries = append(n.entries, entry{h, int32(i), *at})
			*at = int32(len(n.entries) - 1)
			return true
		})
	}
	return n
}

// candidates calls yield with the places of keys that may be near, some of them
// more than once, until it returns false.
func (n *neighbourhood) candidates(key []rune, yield func(int32) bool) {
	var buf [window]rune
	deletions(cut(&buf, key, n.back), n.d, func(h uint32) bool {
		for at := n.heads[int(h)&(len(n.heads)-1)]; at != 0; at = n.entries[at].next {
			if e := n.entries[at]; e.hash == h && !yield(e.id) {
				return false
			}
		}
		return true
	})
}

// cut copies the window of a key into buf, from the back to the front if back
// is set.
func cut(buf *[window]rune, key []rune, back bool) []rune {
	w := buf[:min(window, len(key))]
	for i := range w {
		if back {
			w[i] = key[len(key)-1-i]
		} else {
			w[i] = key[i]
		}
	}
	return w
}

// deletions calls yield with the hash of w and of what is left of it when one,
// and with d of 2 two, of its characters are deleted, until it returns false. Of
// a run of equal characters the first ones go, since it's all the same.
func deletions(w []rune, d int, yield func(uint32) bool) {
	if !yield(hashRunes(w, -1, -1)) {
		return
	}
	for i := range w {
		if i > 0 && w[i] == w[i-1] {
			continue
		}
		if !yield(hashRunes(w, i, -1)) {
			return
		}
		for j := i + 1; d > 1 && j < len(w); j++ {
			if w[j] == w[j-1] && j-1 != i {
				continue
			}
			if !yield(hashRunes(w, i, j)) {
				return
			}
		}
	}
}

// hashRunes is the FNV-1a hash of the characters but the ith and jth, by runes in
// place of bytes, stirred so that its low bits will do for a table.
func hashRunes(w []rune, i, j int) uint32 {
	h := uint32(2166136261)
	for k, r := range w {
		if k != i && k != j {
			h = (h ^ uint32(r)) * 16777619
		}
	}
	return h ^ h>>15
}

// unpad takes the leading zeros off the numbers in a key.
func unpad(key string) string {
	var b []byte
	kept := 0 // key[:kept] is in b
	inside := false
	for i := range len(key) {
		digit := isDigit(rune(key[i]))
		if key[i] == '0' && !inside && i+1 < len(key) && isDigit(rune(key[i+1])) {
			b = append(b, key[kept:i]...)
			kept = i + 1
			continue
		}
		inside = digit
	}
	if kept == 0 {
		return key
	}
	return string(append(b, key[kept:]...))
}
