package cost

import "fmt"

// Budget is what a board has to give; 0 is no limit.
type Budget struct {
	FlashBytes int
	RAMBytes   int // for state and stack
	Work       int // for one sample, with or without an answer
}

// Over names what of a cost is beyond the budget, in words; nothing fits.
func (b Budget) Over(c *Cost) []string {
	var out []string
	for _, x := range []struct {
		what        string
		takes, have int
		unit        string
	}{
		{"flash", c.FlashBytes, b.FlashBytes, "bytes"},
		{"memory", c.MemoryBytes(), b.RAMBytes, "bytes"},
		{"the work of a sample", c.Worst(), b.Work, c.Unit},
	} {
		if x.have > 0 && x.takes > x.have {
			out = append(out, fmt.Sprintf("%s on %s: %d %s, %d allowed", x.what, c.Target, x.takes, x.unit, x.have))
		}
	}
	return out
}

// MemoryBytes is state and stack together.
func (c *Cost) MemoryBytes() int { return c.RAMBytes + max(c.StackBytes, c.BoundBytes) }

// Worst is the most work of any sample.
func (c *Cost) Worst() int { return max(c.WorstSample, c.WorstAnswer) }

// Late is how many samples come while the hardest is worked on, at a clock that
// gives one Unit a cycle: the sensor's queue must hold so many.
func (c *Cost) Late(clockHz, rateHz float64) float64 { return float64(c.Worst()) / clockHz * rateHz }
