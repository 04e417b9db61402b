package dataset

// Session is what is known of one recording: one row of the sessions table.
type Session struct {
	Name        string `json:"session"`               // name, unique in a corpus
	Rig         string `json:"rig"`                   // key of the rig it was recorded on, NAME-rREV
	Striker     string `json:"striker,omitempty"`     // who struck; absent where not stated
	LogName     string `json:"log_name"`              // base name of the log as it came
	LogSHA256   string `json:"log_sha256"`            // SHA-256 of the log as it came, hexadecimal
	LogBytes    int64  `json:"log_bytes"`             // size of the log as it came, compressed or not, at least 0
	Dialect     string `json:"dialect"`               // how the log is written, one of simulate.Dialects
	Compression string `json:"compression,omitempty"` // how the log came, one of gzip or zstd; absent for neither
	TimeUnit    string `json:"time_unit"`             // unit of the log's stamps, one of us, ms or s
	AccelUnit   string `json:"accel_unit"`            // unit of the log's accelerations, one of counts, g, mg or m/s2
	GyroUnit    string `json:"gyro_unit,omitempty"`   // unit of the log's rotation rates, one of counts, dps or rad/s; absent without a gyroscope

	Samples       int64   `json:"samples"`         // how many samples there are, at least 0
	Segments      int     `json:"segments"`        // how many stretches without restart or missing samples, at least 0
	DurationS     float64 `json:"duration_s"`      // seconds from the first to the last sample on the repaired clock, at least 0
	NominalRateHz float64 `json:"nominal_rate_hz"` // samples a second that the rig file states, or the nearest usual rate, at least 0
	RateHz        float64 `json:"rate_hz"`         // samples a second as found, by the board's own clock, at least 0
	RawPerSecond  float64 `json:"raw_per_second"`  // units of the board's stamp in a second, at least 0
	HasGyro       bool    `json:"has_gyro"`        // whether rotation rates were logged

	Wraps          int      `json:"wraps"`             // how often the board's counter started again from 0, at least 0
	Restarts       int      `json:"restarts"`          // how often the board started again, at least 0
	Gaps           int      `json:"gaps"`              // how many losses start a new segment, at least 0
	LostSamples    int64    `json:"lost_samples"`      // how many samples are missing, those in gaps too, at least 0
	DamagedStamps  int64    `json:"damaged_stamps"`    // how many stamps were put right from their neighbours, at least 0
	Records        int64    `json:"records"`           // how many lines or frames carried a sample, at least 0
	DamagedRecords int64    `json:"damaged_records"`   // how many lines or frames were refused, at least 0
	OtherLines     int64    `json:"other_lines"`       // how many lines are headers, banners or comments, at least 0
	JunkBytes      int64    `json:"junk_bytes"`        // how many bytes lie between binary frames, at least 0
	ClippedSamples int64    `json:"clipped_samples"`   // how many samples have an accelerometer axis at its limit, at least 0
	Repairs        []Repair `json:"repairs,omitempty"` // what was mended, and where first; absent where nothing was

	// NoiseMPS2 is the noise of the accelerometer's x, y and z axis, m/s², a standard
	// deviation from the third difference of still stretches, each at least 0.
	NoiseMPS2      [3]float64 `json:"noise_mps2"`
	NoiseRadps     [3]float64 `json:"noise_radps"`      // likewise of the gyroscope, rad/s, each at least 0; 0 without one
	StillMPS2      [3]float64 `json:"still_mps2"`       // mean reading of still stretches, m/s², in the sensor's own axes x, y and z
	StillS         float64    `json:"still_s"`          // how much of the session was still, seconds, at least 0
	SlantDeg       float64    `json:"slant_deg"`        // angle of the sensor's up axis against gravity at rest, degrees, in [0, 180]
	SlantTowardDeg float64    `json:"slant_toward_deg"` // bearing toward which that axis leans, degrees, in [0, 360)
}

// Repair counts one kind of mending and says where it happened first.
type Repair struct {
	Kind  string   `json:"kind"`            // what was wrong, in words
	Count int64    `json:"count"`           // how often, at least 1
	First []string `json:"first,omitempty"` // where it happened first, such as "line 118, byte 5021: ..."; absent where not known
}

// Strike is what the finder says of one strike.
type Strike struct {
	Number   int     `json:"number"`   // from 1 in a session
	OnsetNs  int64   `json:"onset_ns"` // first instant of contact, repaired clock
	ReadyNs  int64   `json:"ready_ns"` // when the finder could say so
	Segment  int32   `json:"segment"`
	PeakMPS2 float64 `json:"peak_mps2"` // largest size of the horizontal specific force during contact, as read
	Clipped  bool    `json:"clipped"`   // an accelerometer axis reached its limit during contact
	NearGap  bool    `json:"near_gap"`  // a segment starts or ends, or samples were filled, inside the window
}

// Window is a strike's surroundings in the bag's frame, conditioned, evenly
// sampled at the rig's nominal rate.
//
// The onset falls at sample Pre. Where the segment starts after the window's
// first sample or ends before its last, the first or last reading is repeated.
type Window struct {
	Strike Strike // as of the window: ready when its last sample had come
	Found  Strike // as of the shortest window: ready when the finder had decided, no gap seen after the onset
	RateHz float64
	Pre    int          // samples before the onset
	A      [3][]float64 // m/s2: x toward bearing 90, y toward bearing 0, z up
	G      [3][]float64 // rad/s, right-handed; nil without a gyroscope
}

// Post is the number of samples from the onset on.
func (w *Window) Post() int { return len(w.A[0]) - w.Pre }

// HasGyro tells whether the window holds rotation rates.
func (w *Window) HasGyro() bool { return w.G[0] != nil }
