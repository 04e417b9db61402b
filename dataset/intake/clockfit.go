package intake

import "math"

// The local line of stamp on position. Crystals drift by parts per million a
// second; the window follows that, and still averages thousands of quantised
// stamps. Choices without source.
const (
	fitBlockS  = 0.25 // records averaged to one point
	fitReachS  = 4.0  // half width of the window
	slopePrior = 2e-4 // how far the local period may stray from the session's
)

// block is the robust mean of a few neighbouring records.
type block struct {
	x, y   float64 // position and residual time against an even pace
	weight float64 // records
}

// fitting is the memory of a fit.
type fitting struct {
	blocks       []block
	xs, ys, near []float64
	value, slope []float64
}

// fit returns the times, in units of the stamps since the run's base, of the
// kept records of one segment.
func (c *clock) fit(members []int) []float64 {
	first := c.position[members[0]]
	blocks := c.blocks(members, first)
	out := resized(c.at, len(members))
	c.at = out
	if len(blocks) == 0 { // no stamp to believe in: an even pace
		for k, i := range members {
			out[k] = float64(c.position[i]) * c.period
		}
		return out
	}
	// Knots: the line's value and slope at each block's centre.
	f := &c.fitting
	f.value, f.slope = resized(f.value, len(blocks)), resized(f.slope, len(blocks))
	value, slope := f.value, f.slope
	reach := fitReachS * c.PerSecond / c.period
	for b := range blocks {
		value[b], slope[b] = c.localLine(blocks, b, reach)
	}
	b := 0
	for k, i := range members {
		x := float64(c.position[i] - first)
		for b+1 < len(blocks) && blocks[b+1].x <= x {
			b++
		}
		var y float64
		switch {
		case x < blocks[0].x || b+1 == len(blocks):
			y = value[b] + slope[b]*(x-blocks[b].x)
		default:
			f := (x - blocks[b].x) / (blocks[b+1].x - blocks[b].x)
			y = value[b] + f*(value[b+1]-value[b])
		}
		out[k] = x*c.period + y
	}
	return out
}

// blocks averages the good records of a segment in blocks that start with it.
func (c *clock) blocks(members []int, first int64) []block {
	size := max(8, int64(fitBlockS*c.PerSecond/c.period))
	f := &c.fitting
	out, xs, ys, sorted := f.blocks[:0], f.xs[:0], f.ys[:0], f.near[:0]
	flush := func() {
		if len(ys) == 0 {
			return
		}
		sorted = append(sorted[:0], ys...)
		middle := nthSmallest(sorted, len(sorted)/2)
		near := max(c.quantum, 0.05*c.period)
		var p block
		for k, y := range ys {
			if math.Abs(y-middle) <= near {
				p.x += xs[k]
				p.y += y
				p.weight++
			}
		}
		p.x /= p.weight
		p.y /= p.weight
		out = append(out, p)
		xs, ys = xs[:0], ys[:0]
	}
	current := int64(0)
	for _, i := range members {
		x := c.position[i] - first
		if x/size != current {
			flush()
			current = x / size
		}
		if c.good[i] {
			xs = append(xs, float64(x))
			ys = append(ys, c.time[i]-float64(x)*c.period)
		}
	}
	flush()
	f.blocks, f.xs, f.ys, f.near = out, xs, ys, sorted
	return out
}

// localLine fits a line to the blocks around block b, weighted by tricube
// (Cleveland 1979), its slope drawn toward the session's period where there is
// little to go by, and returns value and slope at b.
func (c *clock) localLine(blocks []block, b int, reach float64) (value, slope float64) {
	var s0, s1, s2, y0, y1 float64
	add := func(p block) bool {
		x := p.x - blocks[b].x
		u := math.Abs(x) / reach
		if u >= 1 {
			return false
		}
		w := 1 - u*u*u
		w *= w * w * p.weight
		s0 += w
		s1 += w * x
		s2 += w * x * x
		y0 += w * p.y
		y1 += w * x * p.y
		return true
	}
	for i := b; i < len(blocks) && add(blocks[i]); i++ {
	}
	for i := b - 1; i >= 0 && add(blocks[i]); i-- {
	}
	noise := max(c.quantum, 1e-6*c.period) / math.Sqrt(12)
	prior := slopePrior * c.period
	s2 += noise * noise / (prior * prior)
	slope = (s0*y1 - s1*y0) / (s0*s2 - s1*s1)
	return (y0 - slope*s1) / s0, slope
}

// refine takes the period from the positions of the good records, as the slope
// over all runs, each with its own start; and the grain of the stamps from
// their spread about it.
func (c *clock) refine() {
	var top, bottom float64
	for i := 0; i < len(c.Raw); {
		j := i
		var n, mx, my float64
		for ; j < len(c.Raw) && c.run[j] == c.run[i]; j++ {
			if c.good[j] {
				n++
				mx += float64(c.position[j])
				my += c.time[j]
			}
		}
		mx, my = mx/n, my/n
		for k := i; k < j; k++ {
			if c.good[k] {
				x := float64(c.position[k]) - mx
				top += x * (c.time[k] - my)
				bottom += x * x
			}
		}
		i = j
	}
	c.top, c.bottom = 0, 0
	if bottom > 0 && top > 0 {
		c.period = top / bottom
		c.top, c.bottom = top, bottom
	}
	rest := c.rest[:0]
	for i, t := range c.time {
		if c.good[i] {
			rest = append(rest, t-float64(c.position[i])*c.period)
		}
	}
	c.rest = rest
	c.quantum = max(c.grain, spread(rest, min(rhythmRows, len(rest))))
}
