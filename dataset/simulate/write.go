package simulate

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// Dialects names the log dialects that can be written, as dataset/intake names
// them.
func Dialects() []string { return []string{"counts-csv", "units-csv", "console", "jsonl", "frames"} }

// WriteLog runs a session and writes it as a board would that logs in one of
// the dialects. Units are those that the rig's [log] states, else the dialect's
// usual ones. Where the log can carry words, it says that it is simulated. It
// errors on an unknown dialect, on units that the rig does not define, and on
// what w errors on.
func WriteLog(w io.Writer, dialect string, s *Session) error {
	out := bufio.NewWriterSize(w, 1<<16)
	l, err := newLogger(dialect, s.Rig(), s.HasGyro())
	if err != nil {
		return fmt.Errorf("simulate: %w", err)
	}
	if _, err := out.Write(l.start(nil, false)); err != nil {
		return err
	}
	var line []byte
	err = s.Each(func(x Sample) error {
		line = line[:0]
		if x.Restart {
			line = l.start(line, true)
		}
		line = l.record(line, x)
		_, err := out.Write(line)
		return err
	})
	if err != nil {
		return err
	}
	return out.Flush()
}

// logger writes the records of one dialect.
type logger struct {
	dialect string
	gyro    bool
	time    string // unit
	micros  int64  // in it
	accel   scaleTo
	rate    scaleTo
	frame   rig.FrameLayout
}

// scaleTo is a unit of readings.
type scaleTo struct {
	unit   string
	perSI  float64
	digits int // after the point
}

func newLogger(dialect string, r *rig.Rig, gyro bool) (*logger, error) {
	l := &logger{dialect: dialect, gyro: gyro}
	accel, rate := "counts", "counts"
	l.time = "us"
	switch dialect {
	case "counts-csv", "jsonl":
	case "units-csv", "console":
		accel, rate, l.time = "g", "dps", "ms"
	case "frames":
		if r.Log.Frame == nil {
			return nil, fmt.Errorf("rig %s has no [log.frame]: describe the frames there (magic, fields, checksum)", r.Key())
		}
		var err error
		if l.frame, err = r.Log.Frame.Parse(); err != nil {
			return nil, err
		}
		if !gyro && framesCarryGyro(l.frame) {
			return nil, errors.New("the frames of [log.frame] carry rotation rates, and the sensor gives none: take gx, gy and gz out of its fields")
		}
	default:
		return nil, fmt.Errorf("dialect %q is not known: use one of %v", dialect, Dialects())
	}
	// What a log's own names state is not overridden by the rig.
	if dialect != "units-csv" {
		if h := r.Log.AccelUnit; h != "" {
			accel = h
		}
		if h := r.Log.GyroUnit; h != "" {
			rate = h
		}
		if h := r.Log.TimeUnit; h != "" && dialect != "counts-csv" {
			l.time = h
		}
	}
	l.micros = map[string]int64{"us": 1, "ms": 1000, "s": 1_000_000}[l.time]
	l.accel = scaleTo{accel, map[string]float64{
		"g": 1 / dataset.StandardGravity, "mg": 1000 / dataset.StandardGravity, "m/s2": 1, "counts": r.Sensor.AccelLSBPerG / dataset.StandardGravity}[accel],
		map[string]int{"g": 5, "mg": 2, "m/s2": 4}[accel]}
	l.rate = scaleTo{rate, map[string]float64{"dps": bearing.Deg(1), "rad/s": 1, "counts": r.Sensor.GyroLSBPerDPS * bearing.Deg(1)}[rate],
		map[string]int{"dps": 3, "rad/s": 5}[rate]}
	if l.accel.perSI == 0 {
		return nil, fmt.Errorf("rig %s does not say how many counts make a g: give accel_lsb_per_g, or choose a dialect in units", r.Key())
	}
	if gyro && l.rate.perSI == 0 {
		return nil, fmt.Errorf("rig %s does not say how many counts make a degree per second: give gyro_lsb_per_dps, or choose a dialect in units", r.Key())
	}
	return l, nil
}

func framesCarryGyro(f rig.FrameLayout) bool {
	for _, x := range f.Fields {
		if x.Name == "gx" {
			return true
		}
	}
	return false
}

// start is what the board writes when it comes up.
func (l *logger) start(b []byte, again bool) []byte {
	switch l.dialect {
	case "counts-csv":
		b = append(b, "t_us,ax,ay,az"...)
		if l.gyro {
			b = append(b, ",gx,gy,gz"...)
		}
		return append(b, '\n')
	case "units-csv":
		b = append(b, "time_ms,ax_g,ay_g,az_g"...)
		if l.gyro {
			b = append(b, ",gx_dps,gy_dps,gz_dps"...)
		}
		return append(b, '\n')
	case "console":
		if again {
			b = append(b, '\n')
		}
		return append(b, "*** boot, simulated board\n"...)
	case "jsonl":
		return append(b, `{"boot":1,"simulated":true}`+"\n"...)
	}
	return b
}

// record appends one sample.
func (l *logger) record(b []byte, x Sample) []byte {
	switch l.dialect {
	case "counts-csv", "units-csv":
		b = l.stamp(b, x)
		for _, v := range x.A {
			b = l.accel.append(append(b, ','), v)
		}
		if l.gyro {
			for _, v := range x.G {
				b = l.rate.append(append(b, ','), v)
			}
		}
		return append(b, '\n')
	case "console":
		b = l.stamp(append(b, "t:"...), x)
		for k, v := range x.A {
			b = l.accel.append(append(b, ' ', 'a', "xyz"[k], ':'), v)
		}
		if l.gyro {
			for k, v := range x.G {
				b = l.rate.append(append(b, ' ', 'g', "xyz"[k], ':'), v)
			}
		}
		return append(b, '\n')
	case "jsonl":
		b = l.list(append(l.stamp(append(b, `{"t":`...), x), `,"a":`...), l.accel, x.A)
		if l.gyro {
			b = l.list(append(b, `,"g":`...), l.rate, x.G)
		}
		return append(b, '}', '\n')
	}
	return l.packed(b, x)
}

func (l *logger) list(b []byte, u scaleTo, v [3]float64) []byte {
	b = u.append(append(b, '['), v[0])
	b = u.append(append(b, ','), v[1])
	return append(u.append(append(b, ','), v[2]), ']')
}

// stamp appends the counter as a text, of 32 bits.
func (l *logger) stamp(b []byte, x Sample) []byte {
	t := uint64(uint32(x.Micros))
	switch {
	case l.time == "us":
		return strconv.AppendUint(b, t, 10)
	case l.time == "ms" && l.dialect == "console":
		return strconv.AppendUint(b, t/1000, 10)
	case l.time == "ms":
		return strconv.AppendFloat(b, float64(t)/1e3, 'f', 3, 64)
	}
	return strconv.AppendFloat(b, float64(t)/1e6, 'f', 6, 64)
}

// append appends a reading as a text, rounded to the unit's digits.
func (u scaleTo) append(b []byte, si float64) []byte {
	whole := int64(1)
	for range u.digits {
		whole *= 10
	}
	v := int64(math.RoundToEven(si * u.perSI * float64(whole)))
	if u.digits == 0 {
		return strconv.AppendInt(b, v, 10)
	}
	if v < 0 {
		b, v = append(b, '-'), -v
	}
	b = append(strconv.AppendInt(b, v/whole, 10), '.')
	for v %= whole; whole > 1; v %= whole {
		whole /= 10
		b = append(b, byte('0'+v/whole))
	}
	return b
}

// packed appends one frame. Fields that carry nothing of a sample are 0.
func (l *logger) packed(b []byte, x Sample) []byte {
	at := len(b)
	b = append(b, l.frame.Magic...)
	for _, f := range l.frame.Fields {
		var v float64
		switch f.Name {
		case "t":
			b = appendField(b, f, uint64(x.Micros/l.micros))
			continue
		case "ax", "ay", "az":
			v = x.A[f.Name[1]-'x'] * l.accel.perSI
		case "gx", "gy", "gz":
			v = x.G[f.Name[1]-'x'] * l.rate.perSI
		}
		b = appendField(b, f, bits(f, v))
	}
	body := b[at+len(l.frame.Magic):]
	switch l.frame.Checksum {
	case "xor8":
		var c byte
		for _, v := range body {
			c ^= v
		}
		b = append(b, c)
	case "sum8":
		var c byte
		for _, v := range body {
			c += v
		}
		b = append(b, c)
	case "crc16-ccitt-false":
		b = binary.BigEndian.AppendUint16(b, rig.CRC16(body))
	}
	return b
}

// bits are those of a reading in a field, held to what the field can hold.
func bits(f rig.FrameField, v float64) uint64 {
	switch {
	case f.Float && f.Bits == 32:
		return uint64(math.Float32bits(float32(v)))
	case f.Float:
		return math.Float64bits(v)
	case f.Signed:
		most := math.Ldexp(1, f.Bits-1)
		return uint64(int64(min(max(math.Round(v), -most), most-1)))
	}
	return uint64(min(max(math.Round(v), 0), math.Ldexp(1, f.Bits)-1))
}

func appendField(b []byte, f rig.FrameField, v uint64) []byte {
	n := f.Bits / 8
	for i := range n {
		shift := 8 * i
		if f.Big {
			shift = 8 * (n - 1 - i)
		}
		b = append(b, byte(v>>shift))
	}
	return b
}
