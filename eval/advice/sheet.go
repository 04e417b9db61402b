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
	Version   int        `json:"version"`
	Key       string     `json:"key"` // NAME-rREV
	Rig       *rig.Rig   `json:"rig"` // as read, with usual faces and bands where it gave none
	Modes     []Mode     `json:"modes"`
	Mass      Mass       `json:"mass"`
	Dead      Dead       `json:"dead"`
	Assumed   Assumed    `json:"assumed"`
	Tolerance Tolerance  `json:"tolerance"`
	Bands     []Band     `json:"bands"` // from the bottom up
	Whole     Whole      `json:"whole"`
	Waits     []Wait     `json:"waits"`  // shortest first
	Depths    []Depth    `json:"depths"` // of the sensor, from the top down
	Blow      Blow       `json:"blow"`
	Heights   []AtHeight `json:"heights"` // along the bag, from the bottom up
	Advice    []Advice   `json:"advice"`  // largest gain first
}

// Mode is one free motion.
type Mode struct {
	Name      string  `json:"name"`
	Hz        float64 `json:"hz"`
	PeriodS   float64 `json:"period_s"`
	DecayS    float64 `json:"decay_s"`    // the amplitude falls to 1/e in it
	From      string  `json:"from"`       // Computed, Measured or Usual
	DecayFrom string  `json:"decay_from"` // Measured or Usual
}

// Where a mode's value comes from.
const (
	Computed = "computed"
	Measured = "measured"
	Usual    = "usual"
)

// Mass is how the bag's mass is spread.
type Mass struct {
	CentreHeightM float64 `json:"centre_height_m"`
	CentreDepthM  float64 `json:"centre_depth_m"`
	GyrationM     float64 `json:"gyration_m"`
	TwistKgM2     float64 `json:"twist_kg_m2"`
	Estimated     bool    `json:"estimated"` // from core and filling, not from the file
}

// Dead is the dead height and what lies beyond it.
type Dead struct {
	HeightM *float64 `json:"height_m"` // null: the sensor sits where every blow kicks it the same way round
	OnBag   bool     `json:"on_bag"`
	// Blows on these heights kick the sensor the wrong way round; equal where
	// none do.
	FlipFromM float64 `json:"flip_from_m"`
	FlipToM   float64 `json:"flip_to_m"`
	FlipShare float64 `json:"flip_share"` // of the bag's length
	// On these heights the kick is weak: less than a tenth of what a blow at the
	// centre of mass gives. Equal where it never is.
	WeakFromM float64 `json:"weak_from_m"`
	WeakToM   float64 `json:"weak_to_m"`
	// Blows on these heights kick it one way or the other when the centre of mass
	// lies up to DoubtM away from where the file puts it. Equal where all do the
	// same.
	DoubtFromM float64 `json:"doubt_from_m"`
	DoubtToM   float64 `json:"doubt_to_m"`
	DoubtM     float64 `json:"doubt_m"`
}

// weakShare is the share of 1/mass below which a kick is called weak. A choice
// without source.
const weakShare = 0.1

// Assumed is what the least errors rest on.
type Assumed struct {
	ImpulseNs      float64 `json:"impulse_ns"`
	ContactS       float64 `json:"contact_s"`
	BeforeS        float64 `json:"before_s"`
	AfterS         float64 `json:"after_s"`
	RateHz         float64 `json:"rate_hz"`
	AccelNoiseMPS2 float64 `json:"accel_noise_mps2"`
	NoiseGiven     bool    `json:"noise_given"` // the accelerometer's, in the rig file
	GyroNoiseRadps float64 `json:"gyro_noise_radps"`
}

// Tolerance is the largest standard deviation that a user can live with.
type Tolerance struct {
	BearingDeg float64 `json:"bearing_deg"`
	HeightM    float64 `json:"height_m"`
}

// Error is a least error; null cannot be told at all.
type Error struct {
	BearingSDDeg *float64 `json:"bearing_sd_deg"`
	HeightSDM    *float64 `json:"height_sd_m"`
}

// Band is one band of heights. Its errors are the largest within it.
type Band struct {
	Name            string  `json:"name"`
	FromM           float64 `json:"from_m"`
	ToM             float64 `json:"to_m"`
	FlipShare       float64 `json:"flip_share"`       // of the band, for peak and arctangent
	HardestG        float64 `json:"hardest_g"`        // largest reading of the hard blow
	SensorLimit     Error   `json:"sensor_limit"`     // as the rig is
	WorkableLimit   Error   `json:"workable_limit"`   // as the rig is
	OtherSensor     Error   `json:"other_sensor"`     // workable limit with a gyroscope where there is none, without where there is
	MisplacedShare  float64 `json:"misplaced_share"`  // at the workable limit
	OtherMisplaced  float64 `json:"other_misplaced"`  // likewise for the other sensor
	WrongBandShare  float64 `json:"wrong_band_share"` // part of it that is by height
	NeedsWidthM     float64 `json:"needs_width_m"`    // width at which a fifth is misplaced by height; 0: none
	HoldsDeadHeight bool    `json:"holds_dead_height"`
}

// Whole is the mean over the whole bag.
type Whole struct {
	MisplacedShare float64  `json:"misplaced_share"` // at the workable limit
	OtherMisplaced float64  `json:"other_misplaced"` // likewise for the other sensor
	AnswerAfterS   *float64 `json:"answer_after_s"`  // shortest wait within both tolerances; null: none looked at
	OtherAfterS    *float64 `json:"other_after_s"`   // likewise for the other sensor
	ClippedShare   float64  `json:"clipped_share"`   // of the heights, for the hard blow
	HardestG       float64  `json:"hardest_g"`       // its largest reading
	ClipsFromN     float64  `json:"clips_from_n"`    // least force that clips anywhere
	TurnRadps      float64  `json:"turn_radps"`      // largest rate of turning after the hard blow
	ContactSamples float64  `json:"contact_samples"` // samples in its contact
}

// AtHeight is the bag at one height.
type AtHeight struct {
	HeightM        float64 `json:"height_m"`
	AcceleranceKg1 float64 `json:"accelerance_per_kg"` // of the sensor, for a blow here; below 0 kicks it the wrong way round
	SensorLimit    Error   `json:"sensor_limit"`
	WorkableLimit  Error   `json:"workable_limit"`
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
