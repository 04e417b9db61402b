package advice

import (
	"context"

	"strikerose/eval/bound"
)

// Wait is what can be told when a detector listens for a time after the onset,
// at the workable limit. Errors are the largest along the bag.
type Wait struct {
	AfterS         float64 `json:"after_s"`         // how long after the onset a detector listens, seconds, above 0
	Error          Error   `json:"workable_limit"`  // largest least error along the bag
	MisplacedShare float64 `json:"misplaced_share"` // share of strikes put on the wrong face or in the wrong band, in [0, 1]
}

// Depth is what could be told with the sensor at a depth, at the workable
// limit, the rest of the rig as it is. Errors are the largest along the bag.
type Depth struct {
	DepthM         float64 `json:"depth_m"`         // where the sensor would sit, metres below the bag's top edge, at least 0
	CanSit         bool    `json:"can_sit"`         // whether it can sit there, beside or in what moves with the bag as one
	Error          Error   `json:"workable_limit"`  // largest least error along the bag
	MisplacedShare float64 `json:"misplaced_share"` // share of strikes put on the wrong face or in the wrong band, in [0, 1]
	FlipShare      float64 `json:"flip_share"`      // share of the bag's length in which peak and arctangent is wrong by half a turn, in [0, 1]
	ClippedShare   float64 `json:"clipped_share"`   // share of the bag's length in which the hard blow passes the accelerometer's range, in [0, 1]
	Along          []Error `json:"-"`               // workable limit at each of the sheet's heights: only charts show them
}

// waitsS are the times after the onset that are looked at. A blow of usual
// length is over after 18 ms; a second hit follows after some 0.3 s.
func waitsS() []float64 {
	return []float64{0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.1, 0.125, 0.15, 0.175, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6}
}

func (s *study) overWait(ctx context.Context) error {
	gyro := s.rig.HasGyro()
	var err error
	if s.sheet.Waits, err = s.waits(ctx, gyro); err != nil {
		return err
	}
	other, err := s.waits(ctx, !gyro)
	if err != nil {
		return err
	}
	s.sheet.Whole.AnswerAfterS, s.sheet.Whole.OtherAfterS = s.answerAfter(s.sheet.Waits), s.answerAfter(other)
	return nil
}

// waits looks at every wait, with or without a gyroscope.
func (s *study) waits(ctx context.Context, gyro bool) ([]Wait, error) {
	var out []Wait
	for _, after := range waitsS() {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		setting := s.workable(gyro)
		setting.AfterS = after
		all, err := bound.AlongBag(setting, s.heights)
		if err != nil {
			return nil, err
		}
		out = append(out, Wait{after, errorOf(worst(all)), s.wholeMisplaced(all)})
	}
	return out, nil
}

// answerAfter is the shortest of some waits that is within both tolerances.
func (s *study) answerAfter(waits []Wait) *float64 {
	for _, w := range waits {
		if s.bearingWithin(w.Error) && s.heightWithin(w.Error) {
			return &w.AfterS
		}
	}
	return nil
}

func (s *study) bearingWithin(e Error) bool {
	return e.BearingSDDeg != nil && *e.BearingSDDeg <= s.sheet.Tolerance.BearingDeg
}

func (s *study) heightWithin(e Error) bool {
	return e.HeightSDM != nil && *e.HeightSDM <= s.sheet.Tolerance.HeightM
}

// steps is how many equal steps of depth are looked at from the bag's top edge
// to its bottom edge.
const steps = 50

func (s *study) overDepth(ctx context.Context) error {
	length := s.rig.Bag.LengthM
	var depths []float64
	for i := range steps + 1 {
		depths = append(depths, length*float64(i)/steps)
	}
	m, err := bound.OverDepth(ctx, s.workable(s.rig.HasGyro()), depths, s.heights)
	if err != nil {
		return err
	}
	for i, d := range depths {
		s.sheet.Depths = append(s.sheet.Depths, s.depth(d, m.Least[i]))
	}
	return nil
}

func (s *study) depth(depthM float64, all []bound.Least) Depth {
	m := s.mechanics
	m.SensorM = depthM + m.StrapM
	flip := flips(m)
	var along []Error
	for _, l := range all {
		along = append(along, errorOf(l))
	}
	return Depth{Along: along, DepthM: depthM, CanSit: s.canSit(depthM), Error: errorOf(worst(all)), MisplacedShare: s.wholeMisplaced(all),
		FlipShare: (flip.to - flip.from) / m.LengthM, ClippedShare: s.clippedShare(m, s.rig.Sensor.AccelRangeG)}
}

// edgeM is how far a sensor stays from the bag's ends. A choice without source:
// about the size of a board with its padding.
const edgeM = 0.03

// canSit tells whether a sensor can sit at a depth: clear of the bag's ends
// and, where there is a core, not below it, as only loose filling is there.
func (s *study) canSit(depthM float64) bool {
	lowest := s.rig.Bag.LengthM - edgeM
	if c := s.rig.Core; c != nil {
		lowest = min(lowest, c.TopDepthM+c.LengthM)
	}
	return depthM >= edgeM-1e-9 && depthM <= lowest+1e-9
}
