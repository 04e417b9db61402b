package advice

import (
	"context"
	"fmt"
	"math"

	"strikerose/dataset/rig"
	"strikerose/eval/bound"
)

// Version is that of the JSON of Sheet and Change.
const Version = 1

// Options says what a rig is held against. Fields that are 0 take usual
// values.
type Options struct {
	PeakForceN          float64 // of a hard blow; 0: a published mean
	BearingToleranceDeg float64 // standard deviation; 0: a quarter of a face
	HeightToleranceM    float64 // likewise; 0: a quarter of the narrowest band
}

// Sheet is what a rig's file says about the rig.
type Sheet struct {
	Version   int        `json:"version"`   // version of this format: raised when a name changes its meaning, not when one is added
	Key       string     `json:"key"`       // NAME-rREV of the rig
	Rig       *rig.Rig   `json:"rig"`       // the file as read, with usual faces and bands where it gave none; never null
	Modes     []Mode     `json:"modes"`     // free motions of the bag
	Mass      Mass       `json:"mass"`      // how its mass is spread
	Dead      Dead       `json:"dead"`      // height at which a blow does not move the sensor, and what lies beyond
	Assumed   Assumed    `json:"assumed"`   // what the least errors rest on
	Tolerance Tolerance  `json:"tolerance"` // errors that are to be kept below
	Bands     []Band     `json:"bands"`     // what can be told in each band, from the bottom up
	Whole     Whole      `json:"whole"`     // the same over the whole bag
	Waits     []Wait     `json:"waits"`     // what can be told by how long a detector listens, the shortest first
	Depths    []Depth    `json:"depths"`    // what could be told by where the sensor sits, from the top down
	Blow      Blow       `json:"blow"`      // hard blow that the sensor is held against
	Heights   []AtHeight `json:"heights"`   // what can be told along the bag, from the bottom up
	Advice    []Advice   `json:"advice"`    // what to do, the largest gain first
}

// Mode is one free motion.
type Mode struct {
	Name      string  `json:"name"`       // motion in words, one of swing, rocking or twist
	Hz        float64 `json:"hz"`         // frequency, hertz, above 0
	PeriodS   float64 `json:"period_s"`   // time of one cycle, seconds, above 0
	DecayS    float64 `json:"decay_s"`    // time in which the amplitude falls to 1/e, seconds, above 0
	From      string  `json:"from"`       // where the frequency comes from, one of Computed, Measured or Usual
	DecayFrom string  `json:"decay_from"` // where the decay comes from, one of Measured or Usual
}

// Where a mode's value comes from.
const (
	Computed = "computed"
	Measured = "measured"
	Usual    = "usual"
)

// Mass is how the bag's mass is spread.
type Mass struct {
	CentreHeightM float64 `json:"centre_height_m"` // centre of mass, metres above the bag's bottom edge
	CentreDepthM  float64 `json:"centre_depth_m"`  // centre of mass, metres below the bag's top edge
	GyrationM     float64 `json:"gyration_m"`      // radius of gyration about the centre of mass, metres, above 0
	TwistKgM2     float64 `json:"twist_kg_m2"`     // moment of inertia about the bag's axis, kg m², above 0
	Estimated     bool    `json:"estimated"`       // whether these are estimated from core and filling rather than stated in the file
}

// Dead is the dead height and what lies beyond it.
type Dead struct {
	// HeightM is metres above the bag's bottom edge, below 0 for below it; null where
	// the sensor sits so that every blow kicks it the same way round.
	HeightM *float64 `json:"height_m"`
	OnBag   bool     `json:"on_bag"` // whether that lies on the bag
	// FlipFromM is the lower end of the heights at which a blow kicks the sensor the wrong
	// way round, metres; both ends equal where none does.
	FlipFromM float64 `json:"flip_from_m"`
	FlipToM   float64 `json:"flip_to_m"`  // upper end of those heights, metres
	FlipShare float64 `json:"flip_share"` // their share of the bag's length, in [0, 1]
	// WeakFromM is the lower end of the heights at which the kick is less than a tenth of
	// what a blow at the centre of mass gives, metres; both ends equal where it never
	// is.
	WeakFromM float64 `json:"weak_from_m"`
	WeakToM   float64 `json:"weak_to_m"` // upper end of those heights, metres
	// DoubtFromM is the lower end of the heights at which a blow kicks it one way or the
	// other when the centre of mass lies up to doubt_m from where the file puts it,
	// metres; both ends equal where all do the same.
	DoubtFromM float64 `json:"doubt_from_m"`
	DoubtToM   float64 `json:"doubt_to_m"` // upper end of those heights, metres
	DoubtM     float64 `json:"doubt_m"`    // doubt about the centre of mass, metres, at least 0
}

// weakShare is the share of 1/mass below which a kick is called weak. A choice
// without source.
const weakShare = 0.1

// Assumed is what the least errors rest on.
type Assumed struct {
	ImpulseNs      float64 `json:"impulse_ns"`       // impulse of the blow, newton seconds, above 0
	ContactS       float64 `json:"contact_s"`        // length of its contact, seconds, above 0
	BeforeS        float64 `json:"before_s"`         // seconds of samples read before the onset, at least 0
	AfterS         float64 `json:"after_s"`          // seconds of samples read after the onset, above 0
	RateHz         float64 `json:"rate_hz"`          // samples a second, above 0
	AccelNoiseMPS2 float64 `json:"accel_noise_mps2"` // noise of an accelerometer's reading, m/s², a standard deviation, above 0
	NoiseGiven     bool    `json:"noise_given"`      // whether that noise is stated in the rig file
	GyroNoiseRadps float64 `json:"gyro_noise_radps"` // noise of a gyroscope's reading, rad/s, a standard deviation, above 0
}

// Tolerance is the largest standard deviation that a user can live with.
type Tolerance struct {
	BearingDeg float64 `json:"bearing_deg"` // largest standard deviation of the bearing, degrees, above 0
	HeightM    float64 `json:"height_m"`    // largest standard deviation of the height, metres, above 0
}

// Error is a least error; null cannot be told at all.
type Error struct {
	BearingSDDeg *float64 `json:"bearing_sd_deg"` // standard deviation of the bearing, degrees, at least 0; null where it cannot be told at all
	HeightSDM    *float64 `json:"height_sd_m"`    // standard deviation of the height, metres, at least 0; null where it cannot be told at all
}

// Band is one band of heights. Its errors are the largest within it.
type Band struct {
	Name        string  `json:"name"`         // name in the rig file
	FromM       float64 `json:"from_m"`       // lower end, metres above the bag's bottom edge, at least 0
	ToM         float64 `json:"to_m"`         // upper end, metres above the bag's bottom edge, above 0
	FlipShare   float64 `json:"flip_share"`   // share of the band in which peak and arctangent is wrong by half a turn, in [0, 1]
	HardestG    float64 `json:"hardest_g"`    // largest reading of the hard blow, g, at least 0
	SensorLimit Error   `json:"sensor_limit"` // largest least error within the band, by the sensor's noise alone
	// WorkableLimit is the largest least error within the band, with noise for what the
	// model leaves out and doubt about the rig's constants.
	WorkableLimit   Error   `json:"workable_limit"`
	OtherSensor     Error   `json:"other_sensor"`      // workable limit with a gyroscope where there is none, without where there is one
	MisplacedShare  float64 `json:"misplaced_share"`   // share of strikes put on the wrong face or in the wrong band at the workable limit, in [0, 1]
	OtherMisplaced  float64 `json:"other_misplaced"`   // likewise with the other sensor, in [0, 1]
	WrongBandShare  float64 `json:"wrong_band_share"`  // part of the misplaced share that is by height, in [0, 1]
	NeedsWidthM     float64 `json:"needs_width_m"`     // width of the band at which a fifth is misplaced by height, metres, at least 0; 0 for none
	HoldsDeadHeight bool    `json:"holds_dead_height"` // whether the dead height lies in it
}

// Whole is the mean over the whole bag.
type Whole struct {
	MisplacedShare float64  `json:"misplaced_share"` // share of strikes put on the wrong face or in the wrong band at the workable limit, in [0, 1]
	OtherMisplaced float64  `json:"other_misplaced"` // likewise with a gyroscope where there is none, without where there is one, in [0, 1]
	AnswerAfterS   *float64 `json:"answer_after_s"`  // shortest wait after the onset within both tolerances, seconds, above 0; null where none looked at is
	OtherAfterS    *float64 `json:"other_after_s"`   // likewise with the other sensor, above 0; null where none looked at is
	ClippedShare   float64  `json:"clipped_share"`   // share of the bag's length in which the hard blow passes the accelerometer's range, in [0, 1]
	HardestG       float64  `json:"hardest_g"`       // largest reading of the hard blow, g, at least 0
	ClipsFromN     float64  `json:"clips_from_n"`    // least peak force that passes the accelerometer's range anywhere, newtons, above 0
	TurnRadps      float64  `json:"turn_radps"`      // largest rate of turning after the hard blow, rad/s, at least 0
	ContactSamples float64  `json:"contact_samples"` // how many samples fall into its contact, at least 0
}

// AtHeight is the bag at one height.
type AtHeight struct {
	HeightM        float64 `json:"height_m"`           // metres above the bag's bottom edge, at least 0
	AcceleranceKg1 float64 `json:"accelerance_per_kg"` // acceleration of the sensor per force of a blow here, 1/kg; below 0 it is kicked the wrong way round
	SensorLimit    Error   `json:"sensor_limit"`       // least error by the sensor's noise alone
	WorkableLimit  Error   `json:"workable_limit"`     // least error with noise for what the model leaves out and doubt about the rig's constants
}

// Of returns the sheet of a valid rig. A setting that makes no sense is an
// error.
func Of(ctx context.Context, r *rig.Rig, o Options) (*Sheet, error) {
	for _, x := range []struct {
		name  string
		value float64
	}{{"peak force", o.PeakForceN}, {"bearing tolerance", o.BearingToleranceDeg}, {"height tolerance", o.HeightToleranceM}} {
		if !(x.value >= 0) || math.IsInf(x.value, 0) {
			return nil, fmt.Errorf("advice: %s is %g: give a number above 0", x.name, x.value)
		}
	}
	s := &study{rig: r, mechanics: r.Mechanics(), options: o}
	if err := s.run(ctx); err != nil {
		return nil, fmt.Errorf("advice: %s: %w", r.Key(), err)
	}
	return &s.sheet, nil
}

// errorOf takes over a bound.
func errorOf(l bound.Least) Error {
	finite := func(x float64) *float64 {
		if math.IsInf(x, 0) || math.IsNaN(x) {
			return nil
		}
		return &x
	}
	return Error{finite(l.BearingSDDeg), finite(l.HeightSDM)}
}
