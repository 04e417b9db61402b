package advice

// A hard blow, to see what a sensor must bear. No source gives blows on a
// hanging bag: these are on a dummy's face or its like, which is stiffer.
const (
	// Mean peak force and momentum (effective mass 2.9 kg at 9.14 m/s) of 18
	// straight punches by 7 Olympic boxers: Walilko, Viano and Bir 2005, Br J
	// Sports Med 39:710-719.
	straightPeakN     = 3427.0
	straightImpulseNs = 2.9 * 9.14
	// Mean peak force of hooks of 11 boxers: Viano et al. 2005, Neurosurgery
	// 57:1154-1172.
	hookPeakN = 4405.0

	straightSource = "the mean straight punch of seven Olympic boxers (Walilko, Viano and Bir 2005)"
	hookSource     = "the mean of eleven boxers (Viano et al. 2005)"
	givenSource    = "as asked for"
)

// Blow is the hard blow that a sensor is held against.
type Blow struct {
	PeakN       float64 `json:"peak_n"`       // peak force of a straight punch, newtons, above 0
	PeakSource  string  `json:"peak_source"`  // where that comes from
	ImpulseNs   float64 `json:"impulse_ns"`   // impulse of a straight punch, newton seconds, above 0
	HookPeakN   float64 `json:"hook_peak_n"`  // peak force of a hook, newtons, above 0
	HookSource  string  `json:"hook_source"`  // where that comes from
	ContactS    float64 `json:"contact_s"`    // contact time of a half-sine pulse of that peak force and impulse, seconds, above 0
	PulseSource string  `json:"pulse_source"` // where that comes from
}
