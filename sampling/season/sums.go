package season

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"hash"
	"math"
)

// sums hash the rows of plans as they pass by, table by table in the order of
// tables, rows of a table in their order. Up to schema version 2 a season is
// hashed as a whole, and values that are missing enter the hash.
type sums struct {
	version int
	of      map[planKey]*hasher
}

type planKey struct {
	season string
	plan   int // 0 up to version 2
}

func newSums(version int) *sums { return &sums{version, map[planKey]*hasher{}} }

// begin opens a season of version 2: its hash begins with what the season is.
func (x *sums) begin(s Season) {
	if x.version > 2 {
		return
	}
	h := &hasher{Hash: sha256.New()}
	h.about(s)
	x.of[planKey{s.Name, 0}] = h
}

// table begins a table.
func (x *sums) table(t table) {
	if x.version > 2 {
		return
	}
	for _, h := range x.of {
		h.value(t.name)
	}
}

func (x *sums) row(season string, plan int, t table, row []any) {
	if x.version <= 2 {
		h := x.of[planKey{season, 0}]
		for _, v := range row {
			h.value(v)
		}
		return
	}
	k := planKey{season, plan}
	h := x.of[k]
	if h == nil {
		h = &hasher{Hash: sha256.New()}
		x.of[k] = h
	}
	if h.table != t.name {
		h.table = t.name
		h.value(t.name)
	}
	h.row(row)
}

// read takes all rows of a season.
func (x *sums) read(ctx context.Context, q querier, s Season) error {
	x.begin(s)
	for _, t := range tablesAt(x.version) {
		x.table(t)
		if err := each(ctx, q, x.version, t, s.Name, func(plan int, row []any) error {
			x.row(s.Name, plan, t, row)
			return nil
		}); err != nil {
			return err
		}
	}
	return nil
}

// plan returns the hash of the rows of a plan.
func (x *sums) plan(season string, plan int) string {
	h := x.of[planKey{season, plan}]
	if h == nil {
		h = &hasher{Hash: sha256.New()}
	}
	return hex.EncodeToString(h.Sum(nil))
}

// season returns the hash of a season with plans of these hashes.
func (x *sums) season(s Season, plans []string) string {
	if x.version <= 2 {
		return x.plan(s.Name, 0)
	}
	return seasonHash(s, plans)
}

func seasonHash(s Season, plans []string) string {
	h := hasher{Hash: sha256.New()}
	h.about(s)
	for _, p := range plans {
		h.value(p)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// check tells whether the rows of a season are those that it was added with.
func (x *sums) check(s Season, plans []string) bool {
	for k := range x.of {
		if k.season == s.Name && x.version > 2 && (k.plan < 1 || k.plan > len(plans)) {
			return false
		}
	}
	for i, p := range plans {
		if x.plan(s.Name, i+1) != p {
			return false
		}
	}
	return x.season(s, plans) == s.Hash
}

// digestOf is that of a record with these seasons.
func digestOf(seasons []Season) string {
	sum := sha256.New()
	for _, s := range seasons {
		fmt.Fprintln(sum, s.Hash)
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// hasher takes values with their kinds and lengths.
type hasher struct {
	hash.Hash
	table string // whose rows are coming in
	b     []byte
}

func (h *hasher) about(s Season) {
	for _, v := range []string{s.Name, s.Date, s.Lab, s.Program} {
		h.value(v)
	}
}

func (h *hasher) value(v any) {
	h.b = appendValue(h.b[:0], v)
	h.Write(h.b)
}

// row takes the values of a row with their places, so that columns that are added
// later change nothing where they are empty.
func (h *hasher) row(row []any) {
	h.b = h.b[:0]
	for i, v := range row {
		if g, ok := v.(geometry); v != nil && (!ok || !g.empty()) {
			h.b = appendValue(append(h.b, byte(i)), v)
		}
	}
	h.b = append(h.b, 0xFF)
	h.Write(h.b)
}

// appendValue writes the kind of a value, its length and itself.
func appendValue(b []byte, v any) []byte {
	at := len(b)
	b = append(b, 'n', 0, 0, 0, 0, 0, 0, 0, 0)
	switch x := v.(type) {
	case string:
		b[at] = 't'
		b = append(b, x...)
	case int64:
		b[at] = 'i'
		b = binary.LittleEndian.AppendUint64(b, uint64(x))
	case float64:
		b[at] = 'f'
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
	case geometry:
		if !x.empty() {
			b[at] = 'g'
			b = x.appendBlob(b)
		}
	}
	binary.LittleEndian.PutUint64(b[at+1:], uint64(len(b)-at-9))
	return b
}
