package chain

import "strikerose/features/onset"

// Step describes one step of the chain: what it does, what it keeps and what
// it costs. Counts are of the float64 chain at the rig's rate; a narrower
// number takes less state and as many operations.
type Step struct {
	Name, Doc string
	// DelaySamples is how many samples later than it came a sample leaves the
	// step. For steps that wait for an event it is the longest wait.
	DelaySamples int
	StateBytes   int // kept from sample to sample
	OpsPerSample int // additions, multiplications and comparisons; 0: only at an event
	OpsPerEvent  int // at most, for one event; 0: none
	Params       []Param
	Board        bool // runs on a board as it is
}

// Param is one number that a step works with.
type Param struct {
	Name, Unit, Doc string
	Value           float64
}

const word = 8 // bytes of a number in the float64 chain

// Steps describes the chain in the order in which a sample meets it.
func (c *Chain) Steps() []Step {
	p := c.finder.Params()
	channels := 3
	if c.gyro {
		channels = 6
	}
	k := float64(p.Short)
	history := powerOfTwo(p.Span() + onset.Lookahead)
	event := p.Span()
	return []Step{
		{
			Name: "axes", Board: true,
			Doc:        "take off the calibrated bias and turn each reading from the sensor's frame to the bag's by a fixed matrix; mark readings at the accelerometer's limit",
			StateBytes: channels * word, OpsPerSample: 6*channels + 3,
			Params: []Param{
				{"clip", "m/s2", "reading taken as clipped", c.axes.clip},
				{"yaw", "deg", "turn of the mount, clockwise from above; the axis map comes before it", c.yawDeg},
			},
		},
		{
			Name: "fill", Board: true,
			Doc:        "fill short losses by a line between the readings beside them; a longer loss ends the segment",
			StateBytes: (channels + 1) * word, OpsPerSample: 4,
			Params: []Param{{"longest_loss", "samples", "most lost samples that are filled", longestLoss}},
		},
		{
			Name: "despike", Board: true,
			Doc:          "replace runs of up to three readings that stand off the line across them by far more than the signal moves beside them",
			DelaySamples: onset.Lookahead, StateBytes: 8*3*word + 8, OpsPerSample: 9,
			Params: []Param{
				{"noise", "m/s2", "noise of one axis; 0: measured from the first seconds", c.noise},
				{"blip", "samples", "longest run that is replaced", float64(p.Blip)},
			},
		},
		{
			Name: "find", Board: true,
			Doc:        "trigger on second differences of short means, collect the event, mend it, place its onset and tell a strike from a blip, a swing, a shove and a snatch",
			StateBytes: (history + event) * 3 * word, OpsPerSample: 20, OpsPerEvent: 110 * event,
			DelaySamples: p.Longest,
			Params: []Param{
				{"short", "samples", "length of the short boxcar", k},
				{"long", "samples", "length of the long boxcar", float64(p.Long)},
				{"collect", "samples", "least collected after the trigger before the decision", float64(p.Collect)},
				{"settle", "samples", "least waited after the largest short difference", float64(p.Settle)},
				{"longest", "samples", "most collected after the trigger", float64(p.Longest)},
				{"dead", "samples", "after a strike's onset without another", float64(p.Dead)},
				{"floor", "m/s2", "smallest trigger level", p.FloorMPS2},
				{"per_noise", "", "trigger level over the noise of one axis", p.PerNoise},
				{"shove", "m/s2", "largest short difference of a shove", p.ShoveMPS2},
			},
		},
		{
			Name: "level", Board: true,
			Doc:        "find the resting reading of the horizontal axes and the gyroscope as a weighted mean over blocks of one swing, to be taken off windows",
			StateBytes: 7 * (channels - 1) * word, OpsPerSample: 4 * (channels - 1), OpsPerEvent: channels - 1,
			Params: []Param{{"block", "samples", "length of a block: one slow swing", float64(c.level.size)}},
		},
		{
			Name: "window", Board: true,
			Doc:          "keep the newest readings and cut a window around each strike when its last sample has come",
			DelaySamples: c.post, StateBytes: powerOfTwo(c.span()) * (channels + 1) * word, OpsPerEvent: (c.pre + c.post) * channels,
			Params: []Param{
				{"pre", "samples", "before the onset", float64(c.pre)},
				{"post", "samples", "from the onset on", float64(c.post)},
			},
		},
		{
			Name: "unclip", Board: true,
			Doc:         "put back what the accelerometer's limit cut off the contact: a cubic across each clipped run, on the sensor's axes",
			OpsPerEvent: 3 * (c.count(earlyMs) + c.count(contactMs)) * 16,
			Params: []Param{
				{"from", "samples", "before the onset", float64(c.count(earlyMs))},
				{"to", "samples", "from the onset on", float64(c.count(contactMs))},
				{"most", "", "largest refilled reading over the limit", mostRefill},
			},
		},
	}
}

func powerOfTwo(least int) int {
	n := 1
	for n < least {
		n *= 2
	}
	return n
}
