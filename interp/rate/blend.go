package rate

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Share is what a product has of a nutrient.
type Share struct {
	Of      string  // N, P2O5, K2O, Ca, Mg, S, Zn, B, Cu, Mn, Fe; P, K, MgO and CaO are turned into these (see Nutrient)
	Percent float64 // of the product's mass
}

// Product is a fertiliser.
type Product struct {
	Name       string
	Analysis   []Share
	PricePerKg float64 // money per kg; a price per US ton over KgPerShortTon; 0: not known
}

// ParseAnalysis reads an analysis as it stands on the bag, N-P2O5-K2O in %:
// 11-52-0. More follows as 12S or 1Zn: 12-40-0-10S-1Zn.
func ParseAnalysis(text string) ([]Share, error) {
	parts := strings.Split(strings.TrimSpace(text), "-")
	wrong := fmt.Errorf("%q is no analysis; write N-P2O5-K2O in %%, as 11-52-0, and more as 11-52-0-5S", text)
	if len(parts) < 3 || len(parts) > 12 {
		return nil, wrong
	}
	var out []Share
	for i, part := range parts {
		of := ""
		if i < 3 {
			of = []string{"N", "P2O5", "K2O"}[i]
		} else {
			at := strings.IndexFunc(part, func(r rune) bool { return (r < '0' || r > '9') && r != '.' })
			if at < 0 {
				return nil, wrong
			}
			part, of = part[:at], part[at:]
		}
		x, ok := plainNumber(part)
		if !ok {
			return nil, wrong
		}
		if x > 0 {
			out = append(out, Share{of, x})
		}
	}
	_, err := Product{Name: text, Analysis: out}.shares()
	return out, err
}

// shares returns the share of each nutrient, 0 to 1, as rates count it.
func (p Product) shares() (map[string]float64, error) {
	out := map[string]float64{}
	total := 0.0
	for _, s := range p.Analysis {
		name, factor, ok := Nutrient(s.Of)
		if !ok {
			return nil, fmt.Errorf("product %s: %q is no nutrient; say N, P2O5, K2O, Ca, Mg, S, Zn, B, Cu, Mn or Fe", p.Name, s.Of)
		}
		if !(s.Percent >= 0 && s.Percent <= 100) {
			return nil, fmt.Errorf("product %s has %g %% %s; give 0 to 100", p.Name, s.Percent, s.Of)
		}
		if _, twice := out[name]; twice {
			return nil, fmt.Errorf("product %s has %s twice", p.Name, name)
		}
		total += s.Percent
		out[name] = rounded(s.Percent * factor / 100)
	}
	// 100 % is not enough: P2O5 and K2O are only reckoned as such, and
	// superphosphoric or monopotassium phosphate come close to it.
	if total > 110 {
		return nil, fmt.Errorf("product %s: its analysis adds to %g %%", p.Name, total)
	}
	if !(p.PricePerKg >= 0) || math.IsInf(p.PricePerKg, 0) {
		return nil, fmt.Errorf("product %s: its price is %g", p.Name, p.PricePerKg)
	}
	return out, nil
}

// Need is a rate of a nutrient that is wanted.
type Need struct {
	Of      string  // as rates count it: N, P2O5, K2O ...
	Rate    float64 // kg/ha
	Limited bool    // never more of it than Rate, whatever comes short
}

// Amount is a rate of a product.
type Amount struct {
	Product Product
	Rate    float64 // kg/ha of product
}

// Supply is what a mix brings of a nutrient, in kg/ha.
type Supply struct {
	Of             string
	Need           float64
	Supplied       float64
	Short, Surplus float64 // against Need; one of them is 0
}

// Mix is a mix of products.
type Mix struct {
	Amounts  []Amount // of every product, in their order; 0 of those that aren't used
	Supplies []Supply // of every need in their order, then of what else the products bring
	Cost     float64  // money per ha; 0 where a product in it has no price
	Steps    []Step   // every supply, reckoned from the amounts
}

// Blend finds the amounts of products that meet the needs: exactly, where that
// can be. Where not, the needs count in their order: the first comes short by the
// least that can be, then the second, and so on; then the first has the least
// surplus, and so on; then it is the mix of least cost, where all products have a
// price, then of least mass. No
// limited nutrient goes above its need, nor is a limited nutrient that isn't
// needed brought by any product. At most 6 needs and 8 products are taken.
func Blend(needs []Need, products []Product) (Mix, error) {
	b := blend{needs: needs, products: products}
	if err := b.read(); err != nil {
		return Mix{}, err
	}
	b.search()
	return b.mix(), nil
}

type blend struct {
	needs    []Need
	products []Product
	all      []map[string]float64
	a        [][]float64 // share of need i in product j
	best     []float64   // amounts
	rank     []float64   // of best: what is to be small, first things first
	scale    float64     // the largest need
}

func (b *blend) read() error {
	if len(b.needs) == 0 || len(b.needs) > 6 || len(b.products) == 0 || len(b.products) > 8 {
		return fmt.Errorf("there are %d needs and %d products; give 1 to 6 needs and 1 to 8 products", len(b.needs), len(b.products))
	}
	for i, p := range b.products {
		s, err := p.shares()
		if err != nil {
			return err
		}
		if slices.ContainsFunc(b.products[:i], func(o Product) bool { return o.Name == p.Name }) {
			return fmt.Errorf("product %s is there twice", p.Name)
		}
		b.all = append(b.all, s)
	}
	for i, n := range b.needs {
		if name, _, ok := Nutrient(n.Of); !ok || name != n.Of {
			return fmt.Errorf("need %d is of %q; say N, P2O5, K2O, Ca, Mg, S, Zn, B, Cu, Mn or Fe", i+1, n.Of)
		}
		if slices.ContainsFunc(b.needs[:i], func(o Need) bool { return o.Of == n.Of }) {
			return fmt.Errorf("the need of %s is there twice", n.Of)
		}
		if !(n.Rate >= 0 && n.Rate <= 1e5) {
			return fmt.Errorf("the need of %s is %g kg/ha; give 0 to 100000", n.Of, n.Rate)
		}
		row := make([]float64, len(b.products))
		for j := range b.products {
			row[j] = b.all[j][n.Of]
		}
		if n.Rate > 0 && !slices.ContainsFunc(row, func(s float64) bool { return s > 0 }) {
			return fmt.Errorf("no product has %s, and %g kg/ha of it are needed; add one, or leave the need away", n.Of, n.Rate)
		}
		b.a = append(b.a, row)
		b.scale = max(b.scale, n.Rate)
	}
	return nil
}

// search tries every corner: some products, as many needs met exactly. What is
// looked for is piecewise linear, so that the best lies in one of them.
func (b *blend) search() {
	b.best = make([]float64, len(b.products))
	b.rank = b.ranked(b.best)
	for used := 1; used < 1<<len(b.products); used++ {
		columns := bits(used, len(b.products))
		for met := 1; met < 1<<len(b.needs); met++ {
			rows := bits(met, len(b.needs))
			if len(rows) != len(columns) {
				continue
			}
			x, ok := b.solve(rows, columns)
			if !ok || !b.allowed(x) {
				continue
			}
			if rank := b.ranked(x); b.less(rank, b.rank) {
				b.best, b.rank = x, rank
			}
		}
	}
}

func bits(set, n int) []int {
	var out []int
	for i := range n {
		if set&(1<<i) != 0 {
			out = append(out, i)
		}
	}
	return out
}

// solve finds the amounts of the products in columns that meet the needs in rows
// exactly (Gauss, with the largest pivot).
func (b *blend) solve(rows, columns []int) ([]float64, bool) {
	n := len(rows)
	m := make([][]float64, n)
	for i, r := range rows {
		for _, c := range columns {
			m[i] = append(m[i], b.a[r][c])
		}
		m[i] = append(m[i], b.needs[r].Rate)
	}
	for k := range n {
		pivot := k
		for i := k + 1; i < n; i++ {
			if math.Abs(m[i][k]) > math.Abs(m[pivot][k]) {
				pivot = i
			}
		}
		m[k], m[pivot] = m[pivot], m[k]
		if math.Abs(m[k][k]) < 1e-9 {
			return nil, false
		}
		for i := range n {
			if i == k {
				continue
			}
			f := m[i][k] / m[k][k]
			for j := k; j <= n; j++ {
				m[i][j] -= float64(f * m[k][j])
			}
		}
	}
	x := make([]float64, len(b.products))
	for k, c := range columns {
		x[c] = rounded(m[k][n] / m[k][k])
		if x[c] < 0 && x[c] > -1e-9*b.scale {
			x[c] = 0
		}
	}
	return x, true
}

func (b *blend) supplied(i int, x []float64) float64 {
	total := 0.0
	for j, share := range b.a[i] {
		total += float64(share * x[j])
	}
	return total
}

// small is a difference that is none.
func (b *blend) small() float64 { return 1e-8 * (b.scale + 1e-6) }

func (b *blend) allowed(x []float64) bool {
	if slices.ContainsFunc(x, func(v float64) bool { return !(v >= 0) || math.IsInf(v, 0) }) {
		return false
	}
	for i, n := range b.needs {
		if n.Limited && b.supplied(i, x) > n.Rate+b.small() {
			return false
		}
	}
	return true
}

func (b *blend) ranked(x []float64) []float64 {
	var short, surplus []float64
	for i, n := range b.needs {
		d := b.supplied(i, x) - n.Rate
		short, surplus = append(short, max(-d, 0)), append(surplus, max(d, 0))
	}
	mass := 0.0
	for _, v := range x {
		mass += v
	}
	cost := 0.0
	if !slices.ContainsFunc(b.products, func(p Product) bool { return p.PricePerKg == 0 }) {
		cost, _ = b.cost(x) // a mix without a price would pass for the cheapest
	}
	return append(append(short, surplus...), cost, mass)
}

// cost is that of all products in a mix; 0 and false where one has no price.
func (b *blend) cost(x []float64) (float64, bool) {
	total := 0.0
	for j, v := range x {
		if v > 0 && b.products[j].PricePerKg == 0 {
			return 0, false
		}
		total += float64(v * b.products[j].PricePerKg)
	}
	return total, true
}

func (b *blend) less(p, q []float64) bool {
	for i := range p {
		if d := p[i] - q[i]; math.Abs(d) > b.small() {
			return d < 0
		}
	}
	return false
}

func (b *blend) mix() Mix {
	var m Mix
	for j, p := range b.products {
		m.Amounts = append(m.Amounts, Amount{p, b.best[j]})
	}
	if cost, ok := b.cost(b.best); ok {
		m.Cost = rounded(cost)
	}
	m.Supplies, m.Steps = b.supplies(b.best)
	return m
}

// supplies reckons what amounts of the products bring: of every need, then of what
// else is in them.
func (b *blend) supplies(amounts []float64) ([]Supply, []Step) {
	var out []Supply
	var s steps
	names := []string{}
	for _, n := range b.needs {
		names = append(names, n.Of)
	}
	for _, p := range b.products { // what else they bring, in the order of the analyses
		for _, share := range p.Analysis {
			if name, _, _ := Nutrient(share.Of); !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	for i, name := range names {
		var terms []*expr
		for j := range b.products {
			if share := b.all[j][name]; share > 0 && amounts[j] > 0 {
				terms = append(terms, mul(num(amounts[j]), num(share)))
			}
		}
		got := sum(terms...).value
		if i >= len(b.needs) && got == 0 {
			continue
		}
		text := name + " from " + b.using(name, amounts)
		if len(terms) == 0 {
			text = name + " from none of the products"
		}
		got = s.do(text, "kg/ha", sum(terms...)).value
		supply := Supply{Of: name, Supplied: got, Surplus: got}
		if i < len(b.needs) {
			supply.Need, supply.Surplus = b.needs[i].Rate, 0
			if d := got - supply.Need; math.Abs(d) > b.small() {
				supply.Short, supply.Surplus = max(-d, 0), max(d, 0)
			}
		}
		out = append(out, supply)
	}
	return out, s
}

// using names the products in the mix that bring a nutrient.
func (b *blend) using(name string, amounts []float64) string {
	var out []string
	for j, p := range b.products {
		if b.all[j][name] > 0 && amounts[j] > 0 {
			out = append(out, p.Name)
		}
	}
	return strings.Join(out, " and ")
}
