package firmware

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"

	"strikerose/dataset/rig"
	"strikerose/dataset/simulate"
	"strikerose/features/chain/board"
	"strikerose/models"
	"strikerose/models/firmware/answer"
)

// File is one file of an exported directory.
type File struct {
	Name string
	Data []byte
}

// Bundle is all that an export writes. The same input gives the same bytes.
type Bundle struct {
	Files  []File         // in the order in which a reader wants them
	Notes  []string       // what the user should know, in words
	Stream []board.Sample // the golden streams' samples
}

// Options add to the table what the detector's file does not say.
type Options struct {
	Tool    string // this program and its version
	Profile string // Fixed or Float32; "" is Fixed
	// Recorded holds samples of the rig to make golden streams of; where there are
	// none, they are simulated.
	Recorded [][]board.Sample
}

// Detectors names the families that can be exported.
func Detectors() []string {
	return []string{"peak-arctangent", "kick-direction", "pendulum", "complex-ridge", "cart"}
}

// TableFormat and TableVersion open every table.json. The version is raised
// whenever a reader of before would take it wrongly.
const (
	TableFormat  = "strikerose board table"
	TableVersion = 2
)

// Table is the content of table.json.
type Table struct {
	Format   string `json:"format"`
	Version  int    `json:"version"`
	Detector string `json:"detector"`
	Form     string `json:"form,omitempty"`
	Profile  string `json:"profile"`
	Tool     string `json:"tool,omitempty"`

	Rig       TableRig         `json:"rig"`
	Layout    string           `json:"layout"`   // of the C; hexadecimal
	Checksum  string           `json:"checksum"` // CRC-16/CCITT-FALSE over all numbers, lowest byte first; hexadecimal
	Bytes     int              `json:"bytes"`
	Sizes     map[string]int   `json:"sizes"`
	Rounding  string           `json:"rounding"`
	Formats   []Format         `json:"formats"`
	Numbers   []Number         `json:"numbers"`
	Certainty []Stating        `json:"certainty"` // by the event's code
	Flags     map[string]int   `json:"flags"`
	Training  models.Training  `json:"training"`
	Measured  models.Certainty `json:"measured"` // how sure the detector is, as it was measured
	Scores    []models.Score   `json:"scores,omitempty"`
	Vectors   TableVectors     `json:"golden_streams"`
}

// TableRig is the rig that the numbers are for.
type TableRig struct {
	Key       string           `json:"key"`
	RateHz    float64          `json:"rate_hz"`
	Faces     int              `json:"faces"`
	AccelMPS2 float64          `json:"accel_count_mps2"`
	GyroRadps float64          `json:"gyro_count_radps,omitempty"`
	YawDeg    float64          `json:"yaw_deg"`   // learned, added to every bearing
	YawKnown  bool             `json:"yaw_known"` // false: no labels of this rig, 0 degrees
	Constants models.Constants `json:"constants"`
}

// Stating is what one certainty code means.
type Stating struct {
	Code             int     `json:"code"`
	Name             string  `json:"name"`
	BearingSDDeg     float64 `json:"bearing_sd_deg"`
	BearingHalf90Deg float64 `json:"bearing_half90_deg"`
	HeightSDM        float64 `json:"height_sd_m"`
	HeightHalf90M    float64 `json:"height_half90_m"`
}

// TableVectors says what the golden streams are made of.
type TableVectors struct {
	From    string `json:"from"` // recorded or simulated
	Samples int    `json:"samples"`
	Events  int    `json:"events"`
}

// Export writes a detector for one rig. It refuses a detector that cannot run on a
// board, and says why.
func Export(ctx context.Context, f *models.File, r *rig.Rig, o Options) (*Bundle, error) {
	if o.Profile == "" {
		o.Profile = Fixed
	}
	v, err := NewDevice(f.Detector, r, o.Profile)
	if err != nil {
		return nil, err
	}
	return v.export(ctx, f.Training, o)
}

func (v *Device) export(ctx context.Context, training models.Training, o Options) (*Bundle, error) {
	p, err := v.translate()
	if err != nil {
		return nil, err
	}
	entries, err := v.entries(p.Fields)
	if err != nil {
		return nil, err
	}
	stream, about, err := v.streams(ctx, o.Recorded)
	if err != nil {
		return nil, err
	}
	events, err := v.Run(ctx, stream)
	if err != nil {
		return nil, err
	}
	if len(events) == 0 {
		return nil, errors.New("export: no strike is found in the golden streams: give a corpus with strikes on this rig")
	}
	t := v.table(p, entries, training, o)
	t.Vectors = TableVectors{about, len(stream), len(events)}
	table, err := t.encode()
	if err != nil {
		return nil, err
	}
	b := &Bundle{Files: []File{
		{fileHeader, []byte(v.header(p))}, {fileCode, []byte(v.code(p))}, {fileNumbers, []byte(v.numbers(p, entries))},
		{fileTable, table}, {fileVectors, []byte(v.vectors(stream, events, "Samples are "+about))},
		{fileCheck, []byte(piece(fileCheck))}, {fileReplay, []byte(piece(fileReplay))},
		{fileExample, []byte(piece(fileExample))}, {fileReadme, []byte(v.readme(&t))},
	}}
	b.Notes, b.Stream = v.notes(about), stream
	return b, nil
}

// notes tells what the user may not expect.
func (v *Device) notes(about string) []string {
	var out []string
	name, r := v.Model.Info().Name, v.Rig
	if _, known := v.Model.YawDeg(r.Key()); !known {
		out = append(out, fmt.Sprintf("%s has learned nothing of rig %s: its yaw offset is 0 until it is trained on labelled strikes of that rig", name, r.Key()))
	}
	if !v.stated.Calibrated {
		out = append(out, "the stated certainty is a guess, not measured: "+v.stated.How)
	}
	if v.stated.Difficulty != nil || v.stated.HeightDifficulty != nil {
		out = append(out, "a board states the certainty of a usual strike; apply weighs it strike by strike")
	}
	if about != recorded {
		out = append(out, "the golden streams are simulated: give a corpus with strikes on this rig to have real ones")
	}
	return out
}

const (
	recorded  = "recorded on this rig"
	simulated = "simulated for this rig"
)

// streams makes the golden streams: a few strikes each with what surrounds them.
// Between them the stamps jump, so that segments end too.
func (v *Device) streams(ctx context.Context, given [][]board.Sample) ([]board.Sample, string, error) {
	const most = 5 // strikes
	about := recorded
	if len(given) == 0 {
		about = simulated
		s, err := simulate.NewSession(simulate.Usual(v.Rig, most+3, 1))
		if err != nil {
			return nil, "", fmt.Errorf("export: golden streams: %w", err)
		}
		given = [][]board.Sample{Samples(v.Rig, s.Signal(), 1e6)}
	}
	var out []board.Sample
	n := 0
	for _, all := range given {
		if n >= most {
			break
		}
		events, err := v.Run(ctx, all)
		if err != nil {
			return nil, "", err
		}
		from := 0
		for _, e := range events {
			if e.Stage != answer.Final || e.Onset < from {
				continue
			}
			start := max(from, e.Onset-v.Ring)
			end := min(len(all), e.Ready+v.Ring/2)
			out = append(out, all[start:end]...)
			from = end
			if n++; n >= most {
				break
			}
		}
	}
	if len(out) > math.MaxInt16 {
		out = out[:math.MaxInt16]
	}
	return out, about, nil
}

func (v *Device) table(p *program, entries []entry, training models.Training, o Options) Table {
	m, r := v.Model, v.Rig
	yaw, known := m.YawDeg(r.Key())
	training.Sessions = slices.Clone(training.Sessions)
	if training.Sessions == nil {
		training.Sessions = []string{}
	}
	t := Table{
		Format: TableFormat, Version: TableVersion, Detector: m.Info().Name, Form: v.Form, Profile: v.Profile, Tool: o.Tool,
		Rig: TableRig{
			Key: r.Key(), RateHz: r.Sensor.RateHz, Faces: r.Faces, AccelMPS2: v.units.AccelMPS2, GyroRadps: v.units.GyroRadps,
			YawDeg: yaw, YawKnown: known, Constants: models.ConstantsOf(r),
		},
		Layout: fmt.Sprintf("0x%08X", p.layout), Checksum: fmt.Sprintf("0x%04X", checksum(entries)), Sizes: map[string]int{},
		Rounding: "halves away from zero in divisions, halves up in shifts; sums are held to the range of their format, never wrapped",
		Formats:  v.formats(),
		Flags:    map[string]int{"clipped": int(answer.Clipped), "unsure": int(answer.Unsure), "near_gap": int(answer.NearGap), "retracted": int(answer.Retracted)},
		Training: training, Measured: v.stated.Certainty, Scores: m.Scores,
	}
	for _, s := range p.sizes {
		t.Sizes[s.name] = s.n
	}
	for _, e := range entries {
		t.Numbers = append(t.Numbers, e.Number)
		t.Bytes += len(e.data)
	}
	for code, name := range []string{"usual", "weak", "guess"} {
		e := v.stating(uint8(code))
		t.Certainty = append(t.Certainty, Stating{code, name, e.BearingSDDeg, e.BearingHalf90Deg, e.HeightSDM, e.HeightHalf90M})
	}
	return t
}

// Format is how one kind of quantity is held.
type Format struct {
	Quantity string  `json:"quantity"`
	Unit     string  `json:"unit"`
	Fraction int     `json:"fraction_bits"`
	Holds    float64 `json:"holds"`    // largest size that it holds
	Largest  float64 `json:"largest"`  // that any strike of this sensor can give
	Headroom float64 `json:"headroom"` // the one over the other
}

// formats lists the formats with what the sensor can give at most.
func (v *Device) formats() []Format {
	u := v.units
	full := 32768.0
	push := full * u.AccelMPS2 * math.Sqrt2 * 2.2
	kick := push * (kickToMs - kickFromMs) / 1000
	list := []Format{
		{"reading", "counts", 0, 32767, full, 0},
		{"short difference times twice its length", "counts", 0, math.MaxInt32, 4 * full * float64(v.Table.Chain.Boxcar), 0},
		{"resting reading, push", "counts", 4, math.MaxInt32 / 16, full * 2.2 * 2, 0},
		{"linear form", "m/s", 20, 1 << 9, kick, 0},
		{"height", "mm", 4, math.MaxInt32 / 16, v.Rig.Bag.LengthM * 1000, 0},
		{"bearing", "turn", 32, 1, 1, 0},
	}
	if len(v.Table.Items) > 0 {
		list = append(list, Format{"feature over its usual size", "1", 16, 1 << 9, 100, 0}, Format{"aligned feature, standardised", "1", 12, 8, models.HeldSD, 0})
	}
	for i := range list {
		list[i].Headroom = list[i].Holds / list[i].Largest
	}
	return list
}

func (t *Table) encode() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(t); err != nil {
		return nil, fmt.Errorf("export: table: %w", err)
	}
	return b.Bytes(), nil
}
