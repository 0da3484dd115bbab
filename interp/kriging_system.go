package interp

import (
	"math"

	"corewalk/interp/variogram"
)

// system is ordinary kriging from one set of places (G. Matheron 1963,
// doi:10.2113/gsecongeo.58.8.1246; Isaaks & Srivastava 1989, ch. 12), by the
// Cholesky factor L of their covariances C = L L'. With a = L^-1 1, b = L^-1 z
// and v = L^-1 c, where c are the covariances between the places and the one
// that is asked for, the mean by generalised least squares is m = a'b / a'a,
// the figure m + v'(b - m a), and its variance C(0) - v'v + (1 - a'v)^2 / a'a,
// which are the figures of the bordered system with a Lagrange multiplier.
//
// Figures are taken above the first one, so that equal figures give exactly
// that figure.
type system struct {
	covariances variogram.Covariances
	zero        float64 // C(0), nugget included
	x, y        []float64
	lower       []float64 // L, row after row without what lies above the diagonal
	a, b        []float64
	aa          float64 // a'a
	first, mean float64
	// dual is C^-1 (z - m): the figure is m + c'dual. Filled by finish.
	dual []float64
}

// row is row i of the factor, up to and with the diagonal.
func (s *system) row(i int) []float64 { return s.lower[i*(i+1)/2:][: i+1 : i+1] }

// leastPivot is the least conditional variance of a place, given those before
// it, as a share of the sill, with which a system is solved. It falls below
// where places are as good as one for the model: then figures would be made of
// rounding errors. The conditional variances of any subset of the places, in
// the same order, are at least as large.
const leastPivot = 1e-10

// factor prepares the system of places; it tells false where a pivot is too
// small. Memory of s is used again.
func (s *system) factor(x, y, value []float64) bool {
	n := len(x)
	s.x, s.y = x, y
	s.lower = grown(s.lower, n*(n+1)/2)
	for i := range n {
		row := s.row(i)
		s.covariances.Between(row[:i], x[i], y[i], x, y)
		row[i] = s.zero
	}
	// Four rows at once up to the first of them: the sums of one row wait for
	// each other, those of four do not. Each sum has the same order as alone.
	for i := 0; i < n; i += 4 {
		if i+4 <= n {
			p, q, r, t := s.row(i), s.row(i+1), s.row(i+2), s.row(i+3)
			for j := range i {
				l := s.row(j)
				dp, dq, dr, dt := dot4(l[:j], p, q, r, t)
				p[j], q[j], r[j], t[j] = (p[j]-dp)/l[j], (q[j]-dq)/l[j], (r[j]-dr)/l[j], (t[j]-dt)/l[j]
			}
		}
		for k := i; k < min(i+4, n); k++ {
			p := s.row(k)
			from := i
			if i+4 > n {
				from = 0
			}
			for j := from; j < k; j++ {
				l := s.row(j)
				p[j] = (p[j] - dot(l[:j], p)) / l[j]
			}
			pivot := p[k] - dot(p[:k], p)
			if !(pivot >= leastPivot*s.zero) {
				return false
			}
			p[k] = math.Sqrt(pivot)
		}
	}
	s.a, s.b = grown(s.a, n), grown(s.b, n)
	s.first = value[0]
	for i := range n {
		s.a[i], s.b[i] = 1, value[i]-s.first
	}
	s.forward(s.a)
	s.forward(s.b)
	s.aa = dot(s.a, s.a)
	s.mean = dot(s.a, s.b) / s.aa
	for i := range n {
		s.b[i] -= float64(s.mean * s.a[i])
	}
	return true
}

// finish fills dual.
func (s *system) finish() {
	s.dual = append(s.dual[:0], s.b...)
	for i := len(s.dual) - 1; i >= 0; i-- {
		row := s.row(i)
		s.dual[i] /= row[i]
		for j, l := range row[:i] {
			s.dual[j] -= float64(l * s.dual[i])
		}
	}
}

// forward turns v into L^-1 v.
func (s *system) forward(v []float64) {
	for i := range v {
		row := s.row(i)
		v[i] = (v[i] - dot(row[:i], v)) / row[i]
	}
}

// forward4 does four at once.
func (s *system) forward4(v *[4][]float64) {
	p, q, r, t := v[0], v[1], v[2], v[3]
	for i := range p {
		row := s.row(i)
		dp, dq, dr, dt := dot4(row[:i], p, q, r, t)
		l := row[i]
		p[i], q[i], r[i], t[i] = (p[i]-dp)/l, (q[i]-dq)/l, (r[i]-dr)/l, (t[i]-dt)/l
	}
}

// value is the figure from the covariances c, of a finished system.
func (s *system) value(c []float64) float64 { return s.first + (s.mean + dot(s.dual, c)) }

// local is the figure from v.
func (s *system) local(v []float64) float64 { return s.first + (s.mean + dot(s.b, v)) }

// standardError is the root of the kriging variance, from v.
func (s *system) standardError(v []float64) float64 {
	rest := 1 - dot(s.a, v)
	return math.Sqrt(max(0, s.zero-dot(v, v)+float64(rest*rest)/s.aa))
}

// at is the figure at a place from a finished system, without the memory that
// an error takes.
func (s *system) at(x, y float64) float64 {
	var c [64]float64
	var sum float64
	for i := 0; i < len(s.x); i += len(c) {
		n := min(len(c), len(s.x)-i)
		s.covariances.Between(c[:n], x, y, s.x[i:], s.y[i:])
		for k, w := range s.dual[i : i+n] {
			sum += float64(w * c[k])
		}
	}
	return s.first + (s.mean + sum)
}

// leftOut returns for every place of a finished system its figure less what
// the others say, and the variance of that: with B the inverse of the bordered
// matrix, (B z)_i / B_ii and 1 / B_ii (O. Dubrule 1983,
// doi:10.1007/BF01033030). (B z)_i is dual_i, and B_ii is Q_ii - u_i^2 / 1'u
// with Q the inverse of C and u = Q 1. A place for which rounding leaves nothing
// of B_ii has a variance of 0.
func (s *system) leftOut() (residual, variance []float64) {
	n := len(s.x)
	residual, variance = make([]float64, n), make([]float64, n)
	u := system{lower: s.lower, b: s.a}
	u.finish()
	// Q_ii is the sum of squares of column i of L^-1, four columns at once; a
	// column is 0 down to the diagonal.
	var v [4][]float64
	for k := range v {
		v[k] = make([]float64, n)
	}
	for i := 0; i < n; i += 4 {
		for k := range v {
			clear(v[k][i:])
			if i+k < n {
				v[k][i+k] = 1
			}
		}
		for j := i; j < n; j++ {
			row := s.row(j)
			dp, dq, dr, dt := dot4(row[i:j], v[0][i:], v[1][i:], v[2][i:], v[3][i:])
			l := row[j]
			v[0][j], v[1][j], v[2][j], v[3][j] = (v[0][j]-dp)/l, (v[1][j]-dq)/l, (v[2][j]-dr)/l, (v[3][j]-dt)/l
		}
		for k := range min(4, n-i) {
			w := u.dual[i+k]
			b := dot(v[k][i:], v[k][i:]) - float64(w*w)/s.aa
			if b > 0 {
				residual[i+k], variance[i+k] = s.dual[i+k]/b, 1/b
			}
		}
	}
	return residual, variance
}

// dot sums the products of a with the first of b. The conversions keep the
// compiler from fusing the products.
func dot(a, b []float64) float64 {
	b = b[:len(a)]
	var sum float64
	for i, v := range a {
		sum += float64(v * b[i])
	}
	return sum
}

// dot4 is dot with four at once.
func dot4(a, p, q, r, t []float64) (sp, sq, sr, st float64) {
	n := len(a)
	p, q, r, t = p[:n], q[:n], r[:n], t[:n]
	for i, v := range a {
		sp += float64(v * p[i])
		sq += float64(v * q[i])
		sr += float64(v * r[i])
		st += float64(v * t[i])
	}
	return sp, sq, sr, st
}

// grown returns s with n elements, of any content.
func grown(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}
