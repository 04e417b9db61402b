package firmware

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"math"

	"strikerose/dataset/rig"
	"strikerose/features"
	"strikerose/models"
)

// TableFormat and TableVersion open every coefficient table. The version is
// raised whenever a reader of before would take the table wrongly.
const (
	TableFormat  = "strikerose coefficient table"
	TableVersion = 1
)

// Types of numbers in a table.
const (
	typeFloat32 = "float32"
	typeInt16   = "int16"
)

// Table is the content of table.json: every number that the C computes with,
// under the name that it has there, and where it comes from.
type Table struct {
	Format   string `json:"format"`
	Version  int    `json:"version"`
	Detector string `json:"detector"`
	Form     string `json:"form,omitempty"`
	Profile  string `json:"profile"` // float32
	Tool     string `json:"tool,omitempty"`

	Rig      TableRig       `json:"rig"`
	WaitMs   float64        `json:"wait_ms"` // after the onset, until every feature can be had
	Features []TableFeature `json:"features"`
	// FeatureVersion is that of the features' definitions.
	FeatureVersion int         `json:"feature_version"`
	Sizes          []TableSize `json:"sizes"`
	Numbers        []Array     `json:"numbers"`
	Checksum       Checksum    `json:"checksum"`

	Training  models.Training  `json:"training"`
	Certainty models.Certainty `json:"certainty"` // for this rig
	// Scores are errors by cross-validation, the chosen form first; none for a
	// detector without labels.
	Scores  []models.Score `json:"scores,omitempty"`
	Vectors TableVectors   `json:"golden_vectors"`
}

// TableRig is the rig that the numbers are for.
type TableRig struct {
	Key       string           `json:"key"`
	Faces     int              `json:"faces"`
	HasGyro   bool             `json:"has_gyro"`
	YawDeg    float64          `json:"yaw_deg"`   // learned, added to every bearing
	YawKnown  bool             `json:"yaw_known"` // false: no labels of this rig, 0 degrees
	Constants models.Constants `json:"constants"`
}

// TableFeature is one number that the C takes, in its order.
type TableFeature struct {
	Index  int     `json:"index"`
	Name   string  `json:"name"`
	CName  string  `json:"c_name"`
	Unit   string  `json:"unit"`
	Doc    string  `json:"doc"`
	FromMs float64 `json:"from_ms"` // stretch that it reads, after the onset
	ToMs   float64 `json:"to_ms"`
	Needed bool    `json:"needed"` // without it the answer is a guess; the others say how sure it is
}

// TableSize is a whole number that the C's loops count to.
type TableSize struct {
	Name  string `json:"name"`
	Value int    `json:"value"`
	Doc   string `json:"doc"`
}

// Array is one array of numbers, or a single one.
type Array struct {
	Name   string    `json:"name"`
	Unit   string    `json:"unit"` // "" for positions and counts
	Doc    string    `json:"doc"`
	Type   string    `json:"type"`           // float32 or int16
	Over   []string  `json:"over,omitempty"` // sizes whose product is its length, the last one running fastest; none for a single number
	Values []float32 `json:"values"`

	values []float64 // before rounding
}

func (a Array) scalar() bool { return len(a.Over) == 0 }

// Checksum protects the numbers.
type Checksum struct {
	Kind  string `json:"kind"`
	Over  string `json:"over"`
	Value string `json:"value"` // hexadecimal
}

// TableVectors counts the golden vectors.
type TableVectors struct {
	Recorded int `json:"recorded"` // from real strikes
	MadeUp   int `json:"made_up"`  // stand in for strikes where none were given
	Extreme  int `json:"extreme"`  // zeros, clipped, huge, no number
	LeftOut  int `json:"left_out"` // too near a threshold for float32 to decide as float64 does
}

const (
	checksumKind = "CRC-32/ISO-HDLC"
	checksumOver = "all numbers in the order of this file, each as four bytes, lowest first: float32 by its IEEE 754 bits, int16 as a 32-bit two's complement"
)

// checksum is the CRC-32 of IEEE 802.3 (polynomial 0xEDB88320 reflected) over
// the numbers, as checksumOver says.
func checksum(numbers []Array) uint32 {
	var data []byte
	for _, a := range numbers {
		for _, v := range a.Values {
			bits := math.Float32bits(v)
			if a.Type == typeInt16 {
				bits = uint32(int32(v))
			}
			data = binary.LittleEndian.AppendUint32(data, bits)
		}
	}
	return crc32.ChecksumIEEE(data)
}

func hexadecimal(sum uint32) string { return fmt.Sprintf("0x%08X", sum) }

// table makes the table of a program.
func (p *program) table(s source, r *rig.Rig, t models.Training, o Options, v TableVectors) Table {
	t.Sessions = append([]string{}, t.Sessions...) // an empty list, not null
	out := Table{
		Format: TableFormat, Version: TableVersion, Detector: s.name, Form: s.form, Profile: "float32", Tool: o.Tool,
		Rig: TableRig{
			Key: r.Key(), Faces: r.Faces, HasGyro: r.HasGyro(), YawDeg: s.yawDeg, YawKnown: s.yawKnown,
			Constants: models.ConstantsOf(r),
		},
		WaitMs: s.waitMs, FeatureVersion: features.Version,
		Training: t, Certainty: s.certainty.Certainty, Scores: s.scores, Vectors: v,
	}
	for i, in := range p.inputs {
		out.Features = append(out.Features, TableFeature{
			Index: i, Name: in.column.Name, CName: in.cName(), Unit: in.column.Unit, Doc: in.column.Doc,
			FromMs: in.def.FromMs, ToMs: in.def.ToMs, Needed: i < p.needed,
		})
	}
	for _, s := range p.sizes {
		out.Sizes = append(out.Sizes, TableSize{s.name, s.n, s.doc})
	}
	for _, a := range p.tables {
		a.Values = make([]float32, len(a.values))
		for i, v := range a.values {
			a.Values[i] = float32(v)
		}
		out.Numbers = append(out.Numbers, a)
	}
	out.Checksum = Checksum{checksumKind, checksumOver, hexadecimal(checksum(out.Numbers))}
	return out
}

// encode writes the table as JSON.
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

// ParseTable reads a table.json and verifies it: format, version, lengths and
// checksum.
func ParseTable(data []byte) (*Table, error) {
	var head struct {
		Format  string `json:"format"`
		Version int    `json:"version"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, fmt.Errorf("coefficient table: no JSON: %w: give a table.json that `strikerose export` wrote", err)
	}
	if head.Format != TableFormat {
		return nil, fmt.Errorf("coefficient table: its format is %q, not %q: give a table.json that `strikerose export` wrote", head.Format, TableFormat)
	}
	if head.Version != TableVersion {
		return nil, fmt.Errorf("coefficient table: version %d: this program reads %d: export again", head.Version, TableVersion)
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	var t Table
	if err := d.Decode(&t); err != nil {
		return nil, fmt.Errorf("coefficient table: damaged: %w: export again", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("coefficient table: damaged: something follows it: export again")
	}
	if err := t.check(); err != nil {
		return nil, fmt.Errorf("coefficient table: damaged: %w: export again", err)
	}
	return &t, nil
}

func (t *Table) check() error {
	sizes := map[string]int{}
	for _, s := range t.Sizes {
		sizes[s.Name] = s.Value
	}
	for _, a := range t.Numbers {
		want := 1
		for _, s := range a.Over {
			n, ok := sizes[s]
			if !ok {
				return fmt.Errorf("%s: runs over %q, which is no size", a.Name, s)
			}
			want *= n
		}
		if len(a.Values) != want {
			return fmt.Errorf("%s: holds %d numbers, not %d", a.Name, len(a.Values), want)
		}
		switch a.Type {
		case typeFloat32:
		case typeInt16:
			for i, v := range a.Values {
				if v != float32(int16(v)) {
					return fmt.Errorf("%s: number %d is %g, no whole number of 16 bits", a.Name, i+1, v)
				}
			}
		default:
			return fmt.Errorf("%s: of type %q, not %s or %s", a.Name, a.Type, typeFloat32, typeInt16)
		}
	}
	if t.Checksum.Kind != checksumKind {
		return fmt.Errorf("checksum of kind %q, not %s", t.Checksum.Kind, checksumKind)
	}
	if have := hexadecimal(checksum(t.Numbers)); have != t.Checksum.Value {
		return fmt.Errorf("the numbers' checksum is %s, not %s as stated", have, t.Checksum.Value)
	}
	return nil
}
