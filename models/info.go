package models

// Kinds of detectors.
const (
	Rule   = "rule"   // geometry or physics, no training
	Fitted = "fitted" // learned from labels
)

// Info describes a family or a detector.
type Info struct {
	Name  string
	Kind  string   // Rule or Fitted
	Doc   string   // one line
	Gives []string // of "bearing", "height"
	// NeedsGyro tells that it cannot work without a gyroscope: no detector of the
	// family, or this one, which learned where there were rotation rates.
	NeedsGyro bool
	UsesGyro  bool    // works better with one
	WaitMs    float64 // how long after the onset it reads
	// GyroWaitMs is the same where there are rotation rates; 0 is WaitMs.
	GyroWaitMs float64
	Cost       Cost
	Board      bool   // can be exported to a board
	NotBoard   string // why not
	// Calibrated tells whether the stated certainty was measured on labelled
	// strikes; a rule without labels states a prior instead.
	Calibrated bool
}

// Wait is how long after the onset it reads, with rotation rates or without.
func (i Info) Wait(gyro bool) float64 {
	if gyro && i.GyroWaitMs > 0 {
		return i.GyroWaitMs
	}
	return i.WaitMs
}

// Cost counts what one answer takes, after the features: multiply-accumulate
// operations and numbers to store. For a family it is typical.
type Cost struct{ Macs, Numbers int }
