package dataset

// Session is what is known of one recording: one row of the sessions table.
type Session struct {
	Name        string `json:"session"`
	Rig         string `json:"rig"` // NAME-rREV
	Striker     string `json:"striker,omitempty"`
	LogName     string `json:"log_name"` // base name of the log as it came
	LogSHA256   string `json:"log_sha256"`
	LogBytes    int64  `json:"log_bytes"` // as it came, compressed or not
	Dialect     string `json:"dialect"`
	Compression string `json:"compression,omitempty"` // gzip, zstd or ""
	TimeUnit    string `json:"time_unit"`             // of the log: us, ms, s
	AccelUnit   string `json:"accel_unit"`            // counts, g, mg, m/s2
	GyroUnit    string `json:"gyro_unit,omitempty"`

	Samples       int64   `json:"samples"`
	Segments      int     `json:"segments"`
	DurationS     float64 `json:"duration_s"` // repaired clock, first to last sample
	NominalRateHz float64 `json:"nominal_rate_hz"`
	RateHz        float64 `json:"rate_hz"`        // found, by the board's own clock
	RawPerSecond  float64 `json:"raw_per_second"` // units of t_raw in a second
	HasGyro       bool    `json:"has_gyro"`

	Wraps          int      `json:"wraps"`             // of the board's counter
	Restarts       int      `json:"restarts"`          // of the board
	Gaps           int      `json:"gaps"`              // losses that start a new segment
	LostSamples    int64    `json:"lost_samples"`      // all missing samples, those in gaps too
	DamagedStamps  int64    `json:"damaged_stamps"`    // put right from the neighbours
	Records        int64    `json:"records"`           // lines or frames that carried a sample
	DamagedRecords int64    `json:"damaged_records"`   // lines or frames refused
	OtherLines     int64    `json:"other_lines"`       // headers, banners, comments
	JunkBytes      int64    `json:"junk_bytes"`        // between binary frames
	ClippedSamples int64    `json:"clipped_samples"`   // with any accelerometer axis at its limit
	Repairs        []Repair `json:"repairs,omitempty"` // what was mended, where first

	NoiseMPS2      [3]float64 `json:"noise_mps2"` // per sensor axis, from the third difference
	NoiseRadps     [3]float64 `json:"noise_radps"`
	StillMPS2      [3]float64 `json:"still_mps2"`       // mean reading of still stretches, sensor frame
	StillS         float64    `json:"still_s"`          // how much of the session was still
	SlantDeg       float64    `json:"slant_deg"`        // of the sensor's up axis against gravity, at rest
	SlantTowardDeg float64    `json:"slant_toward_deg"` // bearing toward which the up axis leans
}

// Repair counts one kind of mending and says where it happened first.
type Repair struct {
	Kind  string   `json:"kind"`
	Count int64    `json:"count"`
	First []string `json:"first,omitempty"` // "line 118, byte 5021: ..."
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
