// Package onset finds strikes in a stream of accelerometer samples.
//
// One causal finder serves every use. In the order in which a sample meets
// them, its parts are: despike (take out blips), difference (second
// differences of short means), a threshold, a short collection, mending, the
// onset's place by the Akaike criterion, and rules that tell a strike from a
// blip, a swing, a shove and a snatch of the chain. It needs no gyroscope and
// looks no further ahead than Lookahead samples; memory is fixed when it is
// made, and whole, sample by sample or in odd blocks it says the same.
//
// It refuses rates at which a contact is too short to be told from a blip. It
// sits below features/chain, which feeds it samples in the bag's frame and
// cuts windows around what it finds.
package onset

import (
	"fmt"
	"math"
)

// Config says what the finder has to know of the sensor and the bag.
type Config struct {
	RateHz    float64 // nominal sample rate
	ClipMPS2  float64 // limit of one accelerometer axis
	NoiseMPS2 float64 // standard deviation of one axis at rest; 0: measured from the first seconds
	MassKg    float64 // mass of the bag
}

// Limits of the sample rate. Below 200 Hz a contact of 14 ms may show in one
// sample alone and look like any blip; above 8 kHz nothing is gained and the
// buffers grow.
const (
	minRateHz = 200
	maxRateHz = 8000
)

// FastestRockingHz is the rocking of a bag against its chain from which the
// bag's own motion may pass for strikes. Simulated bags that rock more slowly give
// hardly a false find; one on a chain of 5 cm, which rocks at nearly 5 Hz, gives
// more than half as many again as strikes (a test in features/chain holds both).
const FastestRockingHz = 3.2

// Params are the finder's numbers for one rig, in samples and m/s2. Every one
// follows from the rate, the noise or the bag's mass by the constants below.
type Params struct {
	RateHz float64
	Blip   int // most samples of a run that is taken for a blip
	Short  int // length of the short boxcar, samples
	Long   int // length of the long boxcar, samples

	Lag     int // samples by which the long difference lags the short one
	Collect int // least samples collected after the trigger before the decision
	Settle  int // least samples after the largest short difference
	Longest int // most samples collected after the trigger
	Dead    int // samples after a strike's onset in which no other is looked for
	Before  int // stretch before mid-contact in which the onset may lie
	Snatch  int // samples after a strike within which the chain may snatch

	LimitMPS2 float64 // largest reading taken as real, bag axes
	FloorMPS2 float64 // smallest trigger level
	ShoveMPS2 float64 // largest short difference of a shove
	StartMPS2 float64 // noise taken until it is measured
	PerNoise  float64 // trigger level over the noise of one axis
}

// Constants of the finder. Times belong to the contact of a glove with a bag,
// which lasts some 10 to 30 ms whatever the bag, against 80 ms and more for
// any push; they do not change with the rig. Ratios have no unit. The two
// sizes are forces: what a force does to a bag goes as one over its mass.
const (
	// shortMs is about half a contact: three boxcars of 8 ms then span one, so
	// that the middle one can sit on the push and the outer ones beside it.
	// On simulated recordings 6 ms loses light strikes and 8 to 10 ms do not
	// differ.
	shortMs = 8
	// longTimes is the long boxcar over the short one. Three short boxcars
	// answer to 24 ms, three long ones to 72 ms: a contact answers more to the
	// first, a push or the bag's rocking more to the second.
	longTimes = 3
	// An event is collected for collectMs at least, and until its largest short
	// difference lies settleMs back: then contact is over, the long difference,
	// which lags by half the boxcars' difference in length, has answered, and a
	// shove shows that it goes on. longestMs ends it in any case, so that a
	// strike whose event something else has triggered is still seen whole.
	collectMs = 30
	settleMs  = 25
	longestMs = 90
	// deadMs: nobody lands two blows within 120 ms with enough force to be
	// told apart, and the second difference of the first has died down.
	deadMs = 120
	// beforeMs reaches from mid-contact to well before any contact's start.
	beforeMs = 35
	// snatchMs: a bag thrown up by a hard blow falls back and pulls the chain
	// taut within this time.
	snatchMs = 800

	// noiseTimes is the trigger over the noise of the short difference. The
	// size of noise on two axes exceeds 12 standard deviations never in
	// practice (exp(-72) a sample); the margin is for noise that is not
	// Gaussian: rattling, bits of the converter, a fan.
	noiseTimes = 12
	// floorN is the force, felt as acceleration of the whole bag, below which
	// a short push is not called a strike: 10.5 N is 0.30 m/s2 on 35 kg.
	floorN = 10.5
	// shoveN is the most that a push which is not a strike gives in the short
	// difference: 87.5 N is 2.5 m/s2 on 35 kg. A shove of 300 N rises over
	// 40 ms or more, of which the short difference sees a part.
	shoveN = 87.5

	// The ring threshold: for a while after a strike the trigger is a part of
	// that strike's size, for what flexing and rocking leave in the short
	// difference: 15 % at the end of the dead time, gone 0.1 s later, and 2 %
	// that fades with the rocking in a second.
	ringFast, ringFastS = 0.15, 0.05
	ringSlow, ringSlowS = 0.02, 1.0

	// blipRatio: a lone sample off by h gives h in the raw second difference
	// and h/k in the short one, k samples long; a contact gives less in the raw
	// difference than in the short one, which spans it.
	blipRatio = 2
	// swingRatio: an event whose long difference is more than twice its short
	// one lasts longer than any contact: simulated strikes stand above 0.5, most
	// above 0.8, and a motion slow against both boxcars at 1/9, the ratio of
	// their lengths squared.
	swingRatio = 0.45
	// shoveTail: a strike's push is over 28 ms after its onset, a shove's not.
	shoveTail = 0.6
	// A snatch is mostly vertical and smaller than the strike that caused it.
	snatchVertical = 0.9
	snatchSize     = 0.3

	// startDensity is the noise density of a poor present-day sensor,
	// 300 ug/sqrt(Hz), from which the noise is guessed until it is measured.
	startDensity = 300e-6 * 9.80665

	// onsetSamples is taken off the onset that the Akaike criterion picks: it
	// names the first sample that has changed, half a sample late on average,
	// and a usual anti-alias filter delays by another half.
	onsetSamples = 1

	// gridMPS2 is the step to which samples are rounded inside the finder, a
	// power of two far below any sensor's noise. Sums of such numbers are
	// exact, so running sums never drift and equal sums taken afresh; a fixed
	// point finder works alike, with the sensor's own step.
	gridMPS2 = 1.0 / 4096
)

// paramsFor derives the numbers for a rig.
func paramsFor(c Config) (Params, error) {
	switch {
	case !(c.RateHz >= minRateHz && c.RateHz <= maxRateHz):
		return Params{}, fmt.Errorf("finder: rate: %g Hz is outside %d to %d Hz: correct rate_hz in the rig file", c.RateHz, minRateHz, maxRateHz)
	case !(c.MassKg > 0) || math.IsInf(c.MassKg, 0):
		return Params{}, fmt.Errorf("finder: bag: mass %g kg is not above 0: correct mass_kg in the rig file", c.MassKg)
	case !(c.ClipMPS2 > 0) || math.IsInf(c.ClipMPS2, 0):
		return Params{}, fmt.Errorf("finder: accelerometer: limit %g m/s² is not above 0: correct accel_range_g in the rig file", c.ClipMPS2)
	case !(c.NoiseMPS2 >= 0) || math.IsInf(c.NoiseMPS2, 0):
		return Params{}, fmt.Errorf("finder: accelerometer: noise %g m/s² is below 0: correct accel_noise_mps2 in the rig file, or leave it out to have it measured", c.NoiseMPS2)
	}
	p := Params{
		RateHz:    c.RateHz,
		Blip:      longestBlip(c.RateHz),
		Short:     max(2, samples(shortMs, c.RateHz)),
		Collect:   samples(collectMs, c.RateHz),
		Longest:   samples(longestMs, c.RateHz),
		Dead:      samples(deadMs, c.RateHz),
		Before:    samples(beforeMs, c.RateHz),
		Snatch:    samples(snatchMs, c.RateHz),
		LimitMPS2: c.ClipMPS2 * math.Sqrt(3), // a turned axis sees all three at their limit
		FloorMPS2: floorN / c.MassKg,
		ShoveMPS2: shoveN / c.MassKg,
		StartMPS2: startDensity * math.Sqrt(c.RateHz/2),
	}
	p.Long = longTimes * p.Short
	p.Lag = 3 * (p.Long - p.Short) / 2
	p.Settle = max(p.Lag, samples(settleMs, c.RateHz))
	// The second difference of k-means of white noise has variance (1 + 1/4 +
	// 1/4)/k.
	p.PerNoise = noiseTimes * math.Sqrt(1.5/float64(p.Short))
	return p, nil
}

// samples converts milliseconds to the nearest number of samples.
func samples(ms, rateHz float64) int { return int(math.Floor(ms*rateHz/1000 + 0.5)) }
