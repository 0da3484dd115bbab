package interp

import "math"

// Every figure, of a single place or of a whole raster, is made by the
// functions below from the places that count there, by easting, then northing:
// so the bits are the same whichever way they were found.

// weights turns squared distances into weights, 1/distance^Power, and returns
// their sum. A distance of nothing leaves figures that are not numbers.
func (m IDW) weights(q []float64) (total float64) {
	switch m.Power {
	case 1:
		for i, v := range q {
			q[i] = math.Sqrt(v)
		}
	case 2:
	case 3:
		for i, v := range q {
			q[i] = v * math.Sqrt(v)
		}
	case 4:
		for i, v := range q {
			q[i] = v * v
		}
	default:
		for i, v := range q {
			q[i] = math.Pow(v, -m.Power/2)
			total += q[i]
		}
		return total
	}
	return reciprocals(q)
}

// reciprocals turns each number into one over it and returns their sum. A
// division takes as long as ten products, so four share one. The products
// cannot overflow: see samePlace and farthest.
func reciprocals(u []float64) (total float64) {
	for len(u) >= 4 {
		a, b, c, d := u[0], u[1], u[2], u[3]
		ab, cd := a*b, c*d
		r := 1 / (ab * cd)
		ab, cd = r*cd, r*ab // now 1/(a*b) and 1/(c*d)
		a, b, c, d = float64(ab*b), float64(ab*a), float64(cd*d), float64(cd*c)
		total += (a + b) + (c + d)
		u[0], u[1], u[2], u[3] = a, b, c, d
		u = u[4:]
	}
	for i, v := range u {
		u[i] = 1 / v
		total += u[i]
	}
	return total
}

// product is the sum of the products of weights and figures.
func product(w, v []float64) (sum float64) {
	for len(w) >= 4 && len(v) >= 4 {
		sum += (float64(w[0]*v[0]) + float64(w[1]*v[1])) + (float64(w[2]*v[2]) + float64(w[3]*v[3]))
		w, v = w[4:], v[4:]
	}
	for i := range min(len(w), len(v)) {
		sum += float64(w[i] * v[i])
	}
	return sum
}

// inverseSquares is reciprocals of the sums of dx2 and dy2, and product with v,
// in one go: with one figure to a place, that takes half of the time.
func inverseSquares(dx2, dy2, v []float64) (total, sum float64) {
	for len(dx2) >= 4 && len(dy2) >= 4 && len(v) >= 4 {
		a, b, c, d := dx2[0]+dy2[0], dx2[1]+dy2[1], dx2[2]+dy2[2], dx2[3]+dy2[3]
		ab, cd := a*b, c*d
		r := 1 / (ab * cd)
		ab, cd = r*cd, r*ab
		a, b, c, d = float64(ab*b), float64(ab*a), float64(cd*d), float64(cd*c)
		total += (a + b) + (c + d)
		sum += (float64(a*v[0]) + float64(b*v[1])) + (float64(c*v[2]) + float64(d*v[3]))
		dx2, dy2, v = dx2[4:], dy2[4:], v[4:]
	}
	for i := range min(len(dx2), len(dy2), len(v)) {
		w := 1 / (dx2[i] + dy2[i])
		total += w
		sum += float64(w * v[i])
	}
	return total, sum
}

// heaviest is the least sum of weights with which one of the places may be
// nearer than samePlace.
func (m IDW) heaviest() float64 { return math.Pow(samePlace, -m.Power) * (1 - tie) }

// distances sets q to the squared distances of places from (x, y).
func distances(q, xs, ys []float64, x, y float64) {
	xs, ys = xs[:len(q)], ys[:len(q)]
	for i := range q {
		q[i] = squared(xs[i]-x, ys[i]-y)
	}
}

// most is the largest of squared distances, 0 of none. It goes by their bits,
// which are in the order of the numbers: that takes no branches.
func most(q []float64) float64 {
	var m uint64
	for _, v := range q {
		m = max(m, math.Float64bits(v))
	}
	return math.Float64frombits(m)
}

// least is the smallest of squared distances, infinite of none.
func least(q []float64) float64 {
	m := math.Float64bits(math.Inf(1))
	for _, v := range q {
		m = min(m, math.Float64bits(v))
	}
	return math.Float64frombits(m)
}

// onPlace is the mean figure of the places that are nearest.
func onPlace(q, values []float64, nearest float64) float64 {
	var sum, n float64
	for i, v := range q {
		if v == nearest {
			sum += values[i]
			n++
		}
	}
	return sum / n
}

// limit is the squared distance up to which places count, from that of the
// Near-th: tie more, and never beyond the radius.
func (m IDW) limit(kth float64) float64 {
	limit := min(kth*(1+tie), math.MaxFloat64)
	if m.Radius > 0 {
		limit = min(limit, m.Radius*m.Radius*(1+tie))
	}
	return limit
}

// kth returns the k-th least of the numbers. heap is working memory for k; k
// is at most the length of both.
func kth(numbers []float64, k int, heap []float64) float64 {
	heap = heap[:k]
	copy(heap, numbers)
	for i := k/2 - 1; i >= 0; i-- {
		sink(heap, i)
	}
	for _, v := range numbers[k:] {
		if v < heap[0] {
			heap[0] = v
			sink(heap, 0)
		}
	}
	return heap[0]
}

// sink brings the i-th of the heap, the largest first, to its place.
func sink(heap []float64, i int) {
	for {
		c := 2*i + 1
		if c >= len(heap) {
			return
		}
		if c+1 < len(heap) && heap[c+1] > heap[c] {
			c++
		}
		if heap[i] >= heap[c] {
			return
		}
		heap[i], heap[c] = heap[c], heap[i]
		i = c
	}
}
