package corpus

import (
	"context"
	"encoding/json"
	"fmt"
	"math"

	"strikerose/dataset"
)

// sessionField ties one column of the sessions table to a field of
// dataset.Session: get reads the field for writing, set stores a value read.
type sessionField struct {
	column
	get func(s *dataset.Session) any
	set func(s *dataset.Session, value any)
}

func textField(name, doc string, at func(*dataset.Session) *string) sessionField {
	return sessionField{
		column{name: name, kind: kindString, doc: doc},
		func(s *dataset.Session) any { return []string{*at(s)} },
		func(s *dataset.Session, v any) { *at(s) = v.([]string)[0] },
	}
}

func countField(name, doc string, at func(*dataset.Session) *int64) sessionField {
	return sessionField{
		column{name: name, kind: kindInt64, doc: doc},
		func(s *dataset.Session) any { return []int64{*at(s)} },
		func(s *dataset.Session, v any) { *at(s) = v.([]int64)[0] },
	}
}

func intField(name, doc string, at func(*dataset.Session) *int) sessionField {
	return sessionField{
		column{name: name, kind: kindInt64, doc: doc},
		func(s *dataset.Session) any { return []int64{int64(*at(s))} },
		func(s *dataset.Session, v any) { *at(s) = int(v.([]int64)[0]) },
	}
}

func numberField(name, unit, doc string, at func(*dataset.Session) *float64) sessionField {
	return sessionField{
		column{name: name, kind: kindFloat64, unit: unit, doc: doc},
		func(s *dataset.Session) any { return []float64{*at(s)} },
		func(s *dataset.Session, v any) { *at(s) = v.([]float64)[0] },
	}
}

func axisFields(stem, unit, doc string, at func(*dataset.Session) *[3]float64) []sessionField {
	fields := make([]sessionField, 3)
	for k, axis := range []string{"x", "y", "z"} {
		fields[k] = numberField(stem+"_"+axis, unit, doc+" along the sensor's "+axis, func(s *dataset.Session) *float64 { return &at(s)[k] })
	}
	return fields
}

// sessionFields lists the columns of the sessions table in order.
func sessionFields() []sessionField {
	fields := []sessionField{
		textField("rig", "rig revision, NAME-rREV", func(s *dataset.Session) *string { return &s.Rig }),
		textField("session", "session name, unique in the corpus", func(s *dataset.Session) *string { return &s.Name }),
		textField("striker", "who struck", func(s *dataset.Session) *string { return &s.Striker }),
		textField("log_name", "base name of the log as it came", func(s *dataset.Session) *string { return &s.LogName }),
		textField("log_sha256", "of the log as it came; names the file below raw", func(s *dataset.Session) *string { return &s.LogSHA256 }),
		countField("log_bytes", "size of the log as it came", func(s *dataset.Session) *int64 { return &s.LogBytes }),
		textField("dialect", "form of the log", func(s *dataset.Session) *string { return &s.Dialect }),
		textField("compression", "of the log: gzip, zstd or none", func(s *dataset.Session) *string { return &s.Compression }),
		textField("time_unit", "of the log: us, ms or s", func(s *dataset.Session) *string { return &s.TimeUnit }),
		textField("accel_unit", "of the log: counts, g, mg or m/s2", func(s *dataset.Session) *string { return &s.AccelUnit }),
		textField("gyro_unit", "of the log: counts, dps or rad/s", func(s *dataset.Session) *string { return &s.GyroUnit }),
		countField("samples", "samples in the session", func(s *dataset.Session) *int64 { return &s.Samples }),
		intField("segments", "stretches without restart or missing samples", func(s *dataset.Session) *int { return &s.Segments }),
		numberField("duration_s", "s", "first to last sample on the repaired clock", func(s *dataset.Session) *float64 { return &s.DurationS }),
		numberField("nominal_rate_hz", "Hz", "sample rate by the rig", func(s *dataset.Session) *float64 { return &s.NominalRateHz }),
		numberField("rate_hz", "Hz", "sample rate found, by the board's own clock", func(s *dataset.Session) *float64 { return &s.RateHz }),
		numberField("raw_per_second", "1/s", "units of t_raw in a second", func(s *dataset.Session) *float64 { return &s.RawPerSecond }),
		{
			column{name: "has_gyro", kind: kindBool, doc: "rotation rates are there"},
			func(s *dataset.Session) any { return []bool{s.HasGyro} },
			func(s *dataset.Session, v any) { s.HasGyro = v.([]bool)[0] },
		},
		intField("wraps", "of the board's counter", func(s *dataset.Session) *int { return &s.Wraps }),
		intField("restarts", "of the board", func(s *dataset.Session) *int { return &s.Restarts }),
		intField("gaps", "losses that start a new segment", func(s *dataset.Session) *int { return &s.Gaps }),
		countField("lost_samples", "all missing samples, those in gaps too", func(s *dataset.Session) *int64 { return &s.LostSamples }),
		countField("damaged_stamps", "put right from the neighbours", func(s *dataset.Session) *int64 { return &s.DamagedStamps }),
		countField("records", "lines or frames that carried a sample", func(s *dataset.Session) *int64 { return &s.Records }),
		countField("damaged_records", "lines or frames refused", func(s *dataset.Session) *int64 { return &s.DamagedRecords }),
		countField("other_lines", "headers, banners, comments", func(s *dataset.Session) *int64 { return &s.OtherLines }),
		countField("junk_bytes", "between binary frames", func(s *dataset.Session) *int64 { return &s.JunkBytes }),
		countField("clipped_samples", "with any accelerometer axis at its limit", func(s *dataset.Session) *int64 { return &s.ClippedSamples }),
		{
			column{name: "repairs", kind: kindString, doc: "JSON: what was mended, how often, where first"},
			func(s *dataset.Session) any { return []string{encodeRepairs(s.Repairs)} },
			nil, // read by decodeRepairs, which can fail
		},
	}
	fields = append(fields, axisFields("noise_mps2", "m/s2", "specific force: still noise", func(s *dataset.Session) *[3]float64 { return &s.NoiseMPS2 })...)
	fields = append(fields, axisFields("noise_radps", "rad/s", "rotation rate: still noise", func(s *dataset.Session) *[3]float64 { return &s.NoiseRadps })...)
	fields = append(fields, axisFields("still_mps2", "m/s2", "specific force: mean of still stretches", func(s *dataset.Session) *[3]float64 { return &s.StillMPS2 })...)
	return append(fields,
		numberField("still_s", "s", "how much of the session was still", func(s *dataset.Session) *float64 { return &s.StillS }),
		numberField("slant_deg", "deg", "of the sensor's up axis against gravity, at rest", func(s *dataset.Session) *float64 { return &s.SlantDeg }),
		numberField("slant_toward_deg", "deg", "bearing toward which the up axis leans", func(s *dataset.Session) *float64 { return &s.SlantTowardDeg }),
	)
}

func sessionsTable() *table {
	t := &table{name: "sessions", frame: "sensor", most: 1}
	for _, f := range sessionFields() {
		t.columns = append(t.columns, f.column)
	}
	return t
}

// samplesKey is the metadata key under which a session's row states the
// checksum of its samples part.
const samplesKey = "samples_sha256"

func encodeSession(ctx context.Context, s *dataset.Session, samplesSHA string) ([]byte, error) {
	var data []any
	for _, f := range sessionFields()[2:] { // without rig and session
		data = append(data, f.get(s))
	}
	return sessionsTable().encode(ctx, s, data, keyValue{samplesKey, samplesSHA})
}

// decodeSession returns the row and the checksum of the samples it belongs to.
func decodeSession(ctx context.Context, file []byte) (s dataset.Session, samplesSHA string, err error) {
	d, err := sessionsTable().decode(ctx, file)
	if err != nil {
		return s, "", err
	}
	return sessionFrom(d)
}

func sessionFrom(d *decoded) (s dataset.Session, samplesSHA string, err error) {
	if d.rows != 1 {
		return s, "", fmt.Errorf("holds %d rows, want 1", d.rows)
	}
	for i, f := range sessionFields() {
		if f.set != nil {
			f.set(&s, d.columns[i])
			continue
		}
		if err := json.Unmarshal([]byte(d.columns[i].([]string)[0]), &s.Repairs); err != nil {
			return s, "", fmt.Errorf("column %s: %w", f.name, err)
		}
	}
	if len(s.Repairs) == 0 {
		s.Repairs = nil
	}
	return s, d.meta[samplesKey], nil
}

func encodeRepairs(repairs []dataset.Repair) string {
	if len(repairs) == 0 {
		return "[]"
	}
	data, err := json.Marshal(repairs)
	if err != nil {
		panic("corpus: repairs cannot be encoded: " + err.Error()) // strings and numbers always can
	}
	return string(data)
}

// checkRow refuses a row with numbers that are not finite or counts below 0.
func checkRow(s *dataset.Session) error {
	for _, f := range sessionFields() {
		switch v := f.get(s).(type) {
		case []float64:
			if math.IsNaN(v[0]) || math.IsInf(v[0], 0) {
				return fmt.Errorf("%s is %v", f.name, v[0])
			}
		case []int64:
			if v[0] < 0 {
				return fmt.Errorf("%s is %d", f.name, v[0])
			}
		}
	}
	return nil
}
