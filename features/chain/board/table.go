package board

// Lookahead is how many samples the despiker needs beyond the one it hands on:
// a run of three and two samples after it.
const Lookahead = 4

// Axes and what counts as a blip.
const (
	axes       = 3 // in the chain: two across the bag, then the one along it
	axisUp     = 2
	longestRun = 3 // samples of a blip
	mostMends  = 2 // of one event
)

// Table holds the chain's numbers for one rig. Samples are counted at the
// sensor's rate, sizes are counts of the accelerometer (Q8: 1/256 of one).
type Table struct {
	Period   int32 // between samples, Q8 microseconds
	Late     int32 // how late a sample comes if one before it was lost, Q8 microseconds
	MostLost int32 // most lost samples that are filled in; more end the segment
	Farthest int32 // a stamp further than this many microseconds from the last ends the segment too
	Clip     int32 // size of a clipped reading, counts
	MostClip int32 // largest reading put back for a clipped one, counts
	SortX    int32 // which of the sensor's axes comes first in the chain: 0, 1 or 2
	SortY    int32 // which second, so that seen from above it lies anticlockwise of the first
	SortUp   int32 // which lies along the bag
	Gyro     int32 // 1 with a gyroscope, 0 without
	Level    int32 // 1 where the resting reading is wanted, 0 where not
	Measured int32 // 1 where the noise is measured, 0 where the rig gives it

	Noise      int32 // of one axis, Q8: as the rig gives it, or until it is measured
	NoiseLeast int32 // least noise that is taken for measured, Q8
	NoiseEdge  int32 // logarithm to base 2 of the size, in counts, at which the second bin of third differences begins, Q24
	NoiseTop   int32 // noise, Q8, at which the last bin begins
	NoiseFirst int32 // samples to the first value, which is renewed at each doubling
	NoiseUntil int32 // samples after which it stays

	Blip     int32    // most samples of a run that is taken for a blip
	RunTimes [3]int32 // how many times the movement beside it a run of one, two, three samples must stand off
	Boxcar   int32    // length of the short boxcar; the long one is three times as long
	Lag      int32    // by which the long difference lags the short one
	Collect  int32    // least samples collected after the trigger
	Settle   int32    // least samples after the largest short difference
	Longest  int32    // most samples collected after the trigger
	Dead     int32    // after a strike's onset without another
	Before   int32    // stretch before mid-contact in which the onset may lie
	Snatch   int32    // samples after a strike within which the chain may snatch

	PerNoise int32    // trigger level over the noise, times twice the short boxcar, Q8
	Floor    int32    // smallest trigger level, counts times twice the short boxcar
	Shove    int32    // largest short difference of a shove, likewise
	Ring     [2]int32 // what a strike adds to the trigger level at its onset, as a part of its size: fast and slow, Q8; the fast one below 2
	Fade     [2]int32 // with each sample it loses its part of one over this
	Tail     [6]int32 // samples after the onset: base from and to, push from and to, tail from and to

	Contact int32 // samples after the onset in which clipping is looked for
	Early   int32 // samples before the onset in which contact may have begun
	NearGap int32 // samples before the onset in which a loss still matters
	Post    int32 // samples from the onset on that an answer wants
	Soon    int32 // likewise for the early answer; 0 for none
	Steady  int32 // samples after the largest short difference until an early answer is tried

	Block   int32    // samples of a block of the resting reading: one slow swing
	ZeroA   [3]int32 // what the accelerometer is taken to read at rest before it is known, Q4
	ZeroG   [3]int32 // likewise the gyroscope
	WeightA int32    // of that, as a block's weight (see level)
	WeightG int32
	SpreadA int32 // variance of a still block's mean, counts squared, Q8
	SpreadG int32
	Turned  int32       // 1 where the matrices turn readings to the bag's frame; 0 where the bearing is turned at the end
	Upright int32       // 1 where the sensor's axis along the bag points up, -1 where down
	TurnA   [3][3]int32 // from the sensor's axes to the bag's, calibrated, Q14
	TurnG   [3][3]int32
}
