package board

import (
	"fmt"
	"math"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/features/onset"
)

// Wants says what a detector needs of the chain, times in milliseconds about the
// onset.
type Wants struct {
	PreMs, PostMs float64 // of the window
	SoonMs        float64 // of the early answer's; 0 for none
	Gyro, Level   bool
}

// Units convert counts to SI.
type Units struct {
	AccelMPS2 float64 // of one count
	GyroRadps float64
}

// UnitsOf reads them from a rig. Where the rig gives no counts, the range is taken
// to fill 16 bits.
func UnitsOf(r *rig.Rig) Units {
	a, g := r.Sensor.AccelLSBPerG, r.Sensor.GyroLSBPerDPS
	if !(a > 0) {
		a = 32768 / r.Sensor.AccelRangeG
	}
	u := Units{AccelMPS2: dataset.StandardGravity / a}
	if r.HasGyro() {
		if !(g > 0) {
			g = 32768 / r.Sensor.GyroRangeDPS
		}
		u.GyroRadps = bearing.Rad(1) / g
	}
	return u
}

// Times that belong to the chain, as in features/chain; steadyMs after its largest
// short difference an event's first half is over.
const (
	contactMs  = 30
	earlyMs    = 10
	nearGapMs  = 30
	steadyMs   = 3
	mostLost   = 5
	clipShare  = 0.999
	mostRefill = 2.2

	noiseLeastShare = 1.0 / 8
	medianOfNormal  = 0.6744897501960817

	usualMPS2, usualRadps = 0.3, 0.03
	leastPart             = 0.01

	tailBaseFromMs, tailBaseToMs = -30, -4
	tailPushFromMs, tailPushToMs = 2, 18
	tailFromMs, tailToMs         = 28, 44

	ringFast, ringFastS = 0.15, 0.05
	ringSlow, ringSlowS = 0.02, 1.0
	deadMs              = 120

	longRunMs = 5
)

// Plan is a table with the length of the ring that goes with it.
type Plan struct {
	Table Table
	Ring  int
	// MountDeg is how far bearings must still be turned, clockwise.
	MountDeg float64
	rate     float64
}

// NewPlan derives the numbers for a rig. It errors on a rig that the chain cannot
// work with, naming the rig file's entry.
func NewPlan(r *rig.Rig, w Wants) (*Plan, error) {
	rate := r.Sensor.RateHz
	f, err := onset.New(onset.Config{
		RateHz: rate, ClipMPS2: r.Sensor.AccelRangeG * dataset.StandardGravity,
		NoiseMPS2: r.Sensor.AccelNoiseMPS2, MassKg: r.Bag.MassKg,
	})
	if err != nil {
		return nil, fmt.Errorf("rig %s: %w", r.Key(), err)
	}
	if w.Gyro && !r.HasGyro() {
		return nil, fmt.Errorf("rig %s: the detector needs a gyroscope, and the rig has none: train on recordings of this rig", r.Key())
	}
	u := UnitsOf(r)
	p := f.Params()
	n := &Plan{rate: rate}
	t := &n.Table
	t.Period = whole(256e6 / rate)
	t.Late = t.Period * 3 / 4
	t.MostLost = mostLost
	t.Farthest = whole(8e6 / rate)
	t.Clip = int32(math.Ceil(clipShare * r.Sensor.AccelRangeG * dataset.StandardGravity / u.AccelMPS2))
	t.Clip = min(t.Clip, 32767)
	t.MostClip = whole(mostRefill * float64(t.Clip))
	if err = n.sort(r); err != nil {
		return nil, err
	}
	t.Gyro, t.Level = flag(w.Gyro), flag(w.Level)
	n.noise(r, p, u)

	t.Blip = int32(p.Blip)
	for i := range t.RunTimes {
		t.RunTimes[i] = 4
		if float64(i+1)*1000/rate > longRunMs {
			t.RunTimes[i] = 20
		}
	}
	t.Boxcar, t.Lag, t.Collect, t.Settle, t.Longest = int32(p.Short), int32(p.Lag), int32(p.Collect), int32(p.Settle), int32(p.Longest)
	t.Dead, t.Before, t.Snatch = int32(p.Dead), int32(p.Before), int32(p.Snatch)
	twice := 2 * float64(p.Short)
	t.PerNoise = whole(p.PerNoise * twice * 256)
	t.Floor = whole(p.FloorMPS2 / u.AccelMPS2 * twice)
	t.Shove = whole(p.ShoveMPS2 / u.AccelMPS2 * twice)
	t.Ring = [2]int32{whole(ringFast * math.Exp(deadMs/1000.0/ringFastS) * 256), whole(ringSlow * 256)}
	for i, s := range []float64{ringFastS, ringSlowS} {
		t.Fade[i] = whole(-1 / math.Expm1(-1/(s*rate)))
	}
	t.Tail = [6]int32{
		n.near(tailBaseFromMs), n.near(tailBaseToMs) + 1, n.near(tailPushFromMs), n.near(tailPushToMs) + 1, n.near(tailFromMs), n.near(tailToMs) + 1,
	}
	t.Contact, t.Early, t.NearGap = n.up(contactMs), n.up(earlyMs), n.up(nearGapMs)
	t.Post, t.Soon, t.Steady = max(n.up(w.PostMs), t.Contact), n.up(w.SoonMs), max(1, n.near(steadyMs))
	if t.Post > t.Dead {
		return nil, fmt.Errorf("board: an answer %g ms after the onset comes when the next strike may have begun: at most %d ms", w.PostMs, deadMs)
	}
	n.level(r, u)
	for n.Ring = 1; n.Ring < int(max(n.up(w.PreMs), t.NearGap))+max(int(t.Post), p.Span())+Lookahead+2; {
		n.Ring *= 2
	}
	return n, nil
}

func whole(x float64) int32 { return int32(math.Round(x)) }

func flag(b bool) int32 {
	if b {
		return 1
	}
	return 0
}

func (n *Plan) near(ms float64) int32 { return int32(math.Floor(ms*n.rate/1000 + 0.5)) }

func (n *Plan) up(ms float64) int32 { return int32(math.Ceil(ms*n.rate/1000 - 1e-9)) }

// sort finds the sensor's axis along the bag and puts it last, after the two across,
// which seen from above lie as x and y do.
func (n *Plan) sort(r *rig.Rig) error {
	t := &n.Table
	m, err := r.Sensor.Axes.Matrix()
	if err != nil {
		return fmt.Errorf("rig %s: %w", r.Key(), err)
	}
	for k := range int32(3) {
		if math.Abs(m[2][k]) > 0.5 {
			t.SortX, t.SortY, t.SortUp, t.Upright = (k+1)%3, (k+2)%3, k, 1
			if m[2][k] < 0 {
				t.SortX, t.SortY, t.Upright = t.SortY, t.SortX, -1
			}
			return nil
		}
	}
	return fmt.Errorf("rig %s: no axis of the sensor points up or down: correct axes in the rig file", r.Key())
}

// noise sets what the meter works with.
func (n *Plan) noise(r *rig.Rig, p onset.Params, u Units) {
	t := &n.Table
	start := p.StartMPS2
	if r.Sensor.AccelNoiseMPS2 > 0 {
		t.Noise = min(max(1, whole(r.Sensor.AccelNoiseMPS2/u.AccelMPS2*256)), mostNoise)
		return
	}
	least := noiseLeastShare * start
	t.Measured = 1
	t.Noise = max(1, whole(start/u.AccelMPS2*256))
	t.NoiseLeast = max(1, whole(least/u.AccelMPS2*256))
	edge := least / u.AccelMPS2 * medianOfNormal * math.Sqrt(20) // counts
	t.NoiseEdge = whole(math.Log2(edge) * (1 << 24))
	t.NoiseTop = whole(least / u.AccelMPS2 * 256 * math.Exp2(float64(noiseBins-2)/noiseBinsPer2))
	t.NoiseFirst = max(1, int32(n.rate/16))
	t.NoiseUntil = int32(2 * n.rate)
}

// level sets what the resting reading works with.
func (n *Plan) level(r *rig.Rig, u Units) {
	t := &n.Table
	length := r.Hang.ChainM + r.Hang.StrapM + r.Inertia().CentreOfMassDepthM
	t.Block = whole(2 * math.Pi * math.Sqrt(length/dataset.StandardGravity) * n.rate)
	a, g := r.AccelTurn(), r.GyroTurn()
	order := [3]int32{t.SortX, t.SortY, t.SortUp}
	rest := a.Reading([3]float64{0, 0, dataset.StandardGravity})
	for k, from := range order {
		for i := range 3 {
			t.TurnA[i][k], t.TurnG[i][k] = whole(a.Matrix[i][from]*(1<<14)), whole(g.Matrix[i][from]*(1<<14))
		}
		t.ZeroA[k] = whole(rest[from] / u.AccelMPS2 * 16)
		if u.GyroRadps > 0 {
			t.ZeroG[k] = whole(g.Bias[from] / u.GyroRadps * 16)
		}
	}
	t.Turned = flag(r.Calibration != nil && (r.Calibration.AccelMatrix != nil || r.Calibration.GyroMatrix != nil))
	if t.Turned == 0 {
		n.MountDeg = bearing.Of(complex(a.Matrix[1][t.SortY], a.Matrix[0][t.SortY]))
	}
	square := func(x float64) float64 { return x * x }
	t.SpreadA = max(1, whole(square(leastPart*usualMPS2/u.AccelMPS2)*256))
	t.WeightA = whole(float64(t.SpreadA) * stillWeight / (square(usualMPS2/u.AccelMPS2) * 256))
	if u.GyroRadps > 0 {
		t.SpreadG = max(1, whole(square(leastPart*usualRadps/u.GyroRadps)*256))
		t.WeightG = whole(float64(t.SpreadG) * stillWeight / (square(usualRadps/u.GyroRadps) * 256))
	}
}

// Stretch makes a stretch from times after the onset, as features weighs them:
// sample j stands for the time from j to j + 1.
func (n *Plan) Stretch(fromMs, toMs float64) Stretch {
	at := func(ms float64) float64 { return math.Round(ms*n.rate/1000*1e6) / 1e6 }
	from, to := at(fromMs), at(toMs)
	first, last := math.Floor(from), math.Ceil(to)-1
	part := func(j float64) int16 { return int16(whole(256 * (math.Min(j+1, to) - math.Max(j, from)))) }
	s := Stretch{First: int16(first), Last: int16(last), FirstPart: part(first)}
	if last > first {
		s.LastPart = max(1, part(last))
	}
	return s
}

// Whole makes a stretch of the samples that lie wholly or partly in a time.
func (n *Plan) Whole(fromMs, toMs float64) Stretch {
	s := n.Stretch(fromMs, toMs)
	s.FirstPart = 256
	if s.Last > s.First {
		s.LastPart = 256
	}
	return s
}

// Make makes the chain ready for samples. The table must stay as it is.
func (c *Chain) Make(t *Table, ring int) {
	c.table = t
	c.a, c.g, c.stamps = make([][3]int16, ring), make([][3]int16, ring), make([]uint16, ring)
	c.Start()
}

// Fresh tells whether the segment has one reading alone.
func (c *Chain) Fresh() bool { return c.n == c.first()+1 }
