package intake

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"

	"strikerose/dataset/rig"
)

// frameDecoder reads packed frames and finds its way back after junk.
type frameDecoder struct {
	layout rig.FrameLayout
	fields []frameField
	gyro   bool
}

// frameField is a field that carries something, with what it carries.
type frameField struct {
	rig.FrameField
	role role
}

func openFrames(h *head) (decoder, error) {
	if h.rig.Log.Frame == nil {
		return nil, errors.New("the rig file has no [log.frame]: describe the frames there (magic, fields, checksum)")
	}
	l, err := h.rig.Log.Frame.Parse()
	if err != nil {
		return nil, err
	}
	d := &frameDecoder{layout: l}
	for _, f := range l.Fields {
		for r, name := range []string{"t", "ax", "ay", "az", "gx", "gy", "gz"} {
			if f.Name == name {
				d.fields = append(d.fields, frameField{f, role(r)})
				d.gyro = d.gyro || role(r) >= roleGX
			}
		}
	}
	if h.options.Dialect == "" && d.sample(h) == 0 {
		return nil, errors.New("no frame with the magic, size and checksum of [log.frame]: compare it with the board's program")
	}
	return d, nil
}

func (d *frameDecoder) shape() shape    { return shape{gyro: d.gyro} }
func (d *frameDecoder) notes() []string { return nil }

// stampModulus is where the stamp's counter wraps; 0 for one too wide to.
func (d *frameDecoder) stampModulus() float64 {
	for _, f := range d.fields {
		if f.role == roleTime && f.Bits <= 32 {
			return math.Ldexp(1, f.Bits)
		}
	}
	return 0
}

func (d *frameDecoder) sample(h *head) int {
	n := 0
	for i := 0; i+d.layout.Size <= len(h.bytes); {
		if d.accepts(h.bytes[i:]) {
			n++
			i += d.layout.Size
		} else {
			i++
		}
	}
	if d.layout.Checksum == "none" && n*d.layout.Size*2 < len(h.bytes) {
		return 0 // a magic alone turns up anywhere
	}
	return n
}

// fits tells whether a frame with the right magic and checksum starts b.
func (d *frameDecoder) fits(b []byte) bool {
	l := &d.layout
	return len(b) >= l.Size && bytes.HasPrefix(b, l.Magic) && checksumFits(l.Checksum, b[len(l.Magic):l.Size])
}

// follows tells whether b starts a frame as far as its bytes go.
func (d *frameDecoder) follows(b []byte) bool {
	n := min(len(b), len(d.layout.Magic))
	return bytes.Equal(b[:n], d.layout.Magic[:n])
}

// accepts tells whether b starts a frame to believe in. A damaged frame passes
// its checksum now and then, above all one that lost bytes and reaches into
// its neighbour: where no frame follows directly, one that starts inside and
// fits better wins.
func (d *frameDecoder) accepts(b []byte) bool {
	size := d.layout.Size
	if !d.fits(b) {
		return false
	}
	if d.follows(b[size:]) {
		return true
	}
	for i := 1; i < size && i+size <= len(b); i++ {
		if d.fits(b[i:]) && d.follows(b[i+size:]) {
			return false
		}
	}
	return true
}

func (d *frameDecoder) decode(ctx context.Context, s *Source, r *recorder) error {
	size := d.layout.Size
	var x row
	outside := false      // among bytes that belong to no frame
	magicEnd := int64(-1) // end of the damaged frame that the last magic began
	for {
		if err := ctx.Err(); err != nil {
			return err
		}
		b, err := s.in.Peek(maxLine)
		last := err == io.EOF
		if err != nil && !last {
			return err
		}
		i := 0
		for i < len(b) && (last || i+3*size <= len(b)) {
			if d.accepts(b[i:]) {
				outside = false
				at := s.at + int64(i)
				r.Frames += int64(size)
				if d.read(b[i:], &x) {
					if err := r.add(&x, 0, at); err != nil {
						return err
					}
				} else {
					r.damaged("a reading that is no number", place(0, at), "")
				}
				i += size
				magicEnd = -1
				continue
			}
			at := s.at + int64(i)
			if bytes.HasPrefix(b[i:], d.layout.Magic) {
				kind := "frame whose checksum disagrees"
				if i+size > len(b) {
					kind = "frame cut short"
				}
				r.damaged(kind, place(0, at), "")
				magicEnd = at + int64(size)
			}
			if at < magicEnd {
				outside = false
				r.Frames++
			} else {
				if !outside {
					r.note("bytes outside frames", place(0, at), "")
				}
				outside = true
				r.Junk++
			}
			i++
		}
		s.discard(i)
		if last && i >= len(b) {
			return nil
		}
	}
}

// read takes the fields of a frame; false where a reading is not finite.
func (d *frameDecoder) read(b []byte, x *row) bool {
	*x = row{}
	for i := range d.fields {
		f := &d.fields[i]
		if f.role == roleTime {
			x.setStamp(wholeField(b[f.Offset:], &f.FrameField), 0, 0)
			continue
		}
		var v float64
		if f.Float {
			v = floatField(b[f.Offset:], &f.FrameField)
			if math.IsNaN(v) || math.Abs(v) > math.MaxFloat32 {
				return false
			}
		} else {
			v = float64(wholeField(b[f.Offset:], &f.FrameField))
		}
		x.set(f.role.column(), v, 0)
	}
	return true
}

// wholeField reads a whole number of 8 to 64 bits.
func wholeField(b []byte, f *rig.FrameField) int64 {
	var u uint64
	bytes := f.Bits / 8
	for k := range bytes {
		at := k
		if !f.Big {
			at = bytes - 1 - k
		}
		u = u<<8 | uint64(b[at])
	}
	if f.Signed && f.Name != "t" { // a stamp counts on past half its range
		shift := 64 - f.Bits
		return int64(u<<shift) >> shift
	}
	return int64(u)
}

func floatField(b []byte, f *rig.FrameField) float64 {
	var order binary.ByteOrder = binary.LittleEndian
	if f.Big {
		order = binary.BigEndian
	}
	if f.Bits == 64 {
		return math.Float64frombits(order.Uint64(b))
	}
	return float64(math.Float32frombits(order.Uint32(b)))
}

// checksumFits checks the bytes after the magic, the checksum last among them.
func checksumFits(kind string, b []byte) bool {
	switch kind {
	case "none":
		return true
	case "xor8":
		var c byte
		for _, v := range b {
			c ^= v
		}
		return c == 0
	case "sum8":
		var c byte
		n := len(b) - 1
		for _, v := range b[:n] {
			c += v
		}
		return c == b[n]
	case "crc16-ccitt-false":
		n := len(b) - 2
		return rig.CRC16(b[:n]) == binary.LittleEndian.Uint16(b[n:]) || rig.CRC16(b[:n]) == binary.BigEndian.Uint16(b[n:])
	}
	return false
}
