package intake

import "math"

// Costs of what may lie between two stamps, in arbitrary units; their order is
// what matters. One wrong stamp is likelier than a loss that the next stamp
// takes back, and a restart needs at least three stamps that go on from it.
const (
	costDamaged = 3.0
	costExtra   = 0.5 // a record that has no place in time
	costLoss    = 1.0 // one lost sample; more cost slowly more
	costMostGap = 5.0
	costWrap    = 0.5
	costRestart = 8.0

	pathReach  = 8    // damaged stamps in a row, plus one
	mostWrapS  = 0.25 // a wrap with a longer loss is taken for a restart: boards are away longer than that
	mostPauseS = 3600 // so is a longer step forward
)

// move is the step from one believed stamp to another.
type move struct {
	cost    float64
	restart bool
	step    float64 // of the unwrapped stamp
	wrap    bool
}

// between judges the step from record j to record i.
func (c *clock) between(j, i int) move {
	step := float64(c.Raw[i] - c.Raw[j])
	k := i - j
	e := step - float64(k)*c.period
	slack := c.slack
	if math.Abs(e) <= slack {
		return move{cost: 0.02 * math.Abs(e) / slack, step: step}
	}
	best := move{cost: costRestart, restart: true}
	if m, ok := c.forward(e, slack, k); ok && step <= mostPauseS*c.PerSecond {
		best = move{cost: m, step: step}
	}
	if step < 0 {
		for _, modulus := range c.Moduli {
			w := step + modulus
			if w < 0 || w > mostWrapS*c.PerSecond {
				continue
			}
			ew := w - float64(k)*c.period
			cost, ok := 0.0, true
			if math.Abs(ew) > slack {
				cost, ok = c.forward(ew, slack, k)
			}
			if cost += costWrap; ok && cost < best.cost {
				best = move{cost: cost, step: w, wrap: true}
			}
		}
	}
	return best
}

// forward is the cost of an excess e of the step over k periods: a loss where
// it is positive, records too many where it is negative. Records too many leave
// the rhythm of those after them alone, so that the excess is whole periods.
func (c *clock) forward(e, slack float64, k int) (cost float64, ok bool) {
	if e > 0 {
		return min(costMostGap, costLoss+0.6*math.Log2(max(1, e/c.period))), true
	}
	extra := math.Round(-e / c.period)
	if extra > float64(k-1) || math.Abs(e+extra*c.period) > c.quantum+0.1*c.period {
		return 0, false
	}
	return costExtra * extra, true
}

// path finds the cheapest way through the stamps: which to believe, where the
// counter wrapped and where the board restarted. It unwraps the believed ones.
func (c *clock) path() {
	n := len(c.Raw)
	c.slack = max(c.period/2, c.quantum+0.1*c.period)
	c.cost = resized(c.cost, n)
	c.from = cleared(c.from, n) // records back to the stamp believed before; 0: none
	cost, from := c.cost, c.from
	for i := range n {
		cost[i] = costDamaged * float64(i)
		if i >= pathReach {
			cost[i] = math.Inf(1)
		}
		for k := 1; k <= pathReach && k <= i; k++ {
			before := cost[i-k] + costDamaged*float64(k-1)
			if before >= cost[i] {
				continue
			}
			if m := c.between(i-k, i); before+m.cost < cost[i] {
				cost[i] = before + m.cost
				from[i] = int8(k)
			}
		}
	}
	end := n - 1
	for k := 1; k < pathReach && k < n; k++ {
		if cost[n-1-k]+costDamaged*float64(k) < cost[end]+costDamaged*float64(n-1-end) {
			end = n - 1 - k
		}
	}
	c.good = cleared(c.good, n)
	for i := end; ; i -= int(from[i]) {
		c.good[i] = true
		if from[i] == 0 {
			break
		}
	}
	c.unwrap()
}

// unwrap numbers the runs between restarts and gives each believed stamp its
// time in its run.
func (c *clock) unwrap() {
	n := len(c.Raw)
	c.time = cleared(c.time, n)
	c.run = resized(c.run, n)
	c.wrapAt = c.wrapAt[:0]
	last := -1
	elapsed := 0.0
	run := int32(0)
	for i := range n {
		c.run[i] = run
		if !c.good[i] {
			continue
		}
		if last >= 0 {
			m := c.between(last, i)
			if m.restart {
				run++
				elapsed = 0
				c.run[i] = run
			} else {
				elapsed += m.step
				if m.wrap {
					c.wrapAt = append(c.wrapAt, i)
				}
			}
		}
		c.time[i] = elapsed
		last = i
	}
}
