package trend

import "math"

// whole makes the series of a field: of all grounds that have figures in every
// season of the stream, weighted by their areas, places alike. One composite that
// serves several grounds is counted as one.
func (c *comparer) whole(s *stream) Series {
	order := s.order()
	out := Series{Key: s.Key, Noise: s.noise}
	weight := func(x *Series) float64 {
		if x.Area > 0 {
			return x.Area
		}
		return 1
	}
	sum, all := 0.0, 0.0
	var of []*Series
	for i := range s.series {
		x := &s.series[i]
		all += weight(x)
		if len(x.Points) == len(order) {
			of = append(of, x)
			sum += weight(x)
			out.Area += x.Area
		}
	}
	if len(of) == 0 {
		out.Notes = append(out.Notes, "no ground has figures in all of these seasons")
		return out
	}
	for i, at := range order {
		p := Point{Season: c.seasons[at].Name, Years: c.years[at], Lab: c.seasons[at].Lab, Share: sum / all}
		if p.Share > 0.995 {
			p.Share = 1
		}
		place := map[*ground]int{}
		for _, x := range of {
			w, q := weight(x)/sum, &x.Points[i]
			p.Value += w * q.Value
			p.Censored = p.Censored || q.Censored
			own := q.variance
			for _, from := range q.sources {
				at, known := place[from.ground]
				if !known {
					at = len(p.sources)
					place[from.ground] = at
					p.sources = append(p.sources, source{from.ground, 0})
				}
				p.sources[at].weight += w * from.weight
				own -= from.weight * from.weight * from.variance(s.noise)
			}
			p.variance += w * w * math.Max(own, 0) // of ground that is not the same
		}
		for _, from := range p.sources {
			p.variance += from.weight * from.weight * from.variance(s.noise)
		}
		out.Points = append(out.Points, p)
	}
	c.judge(&out)
	return out
}
