package intake

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// writeFrame writes one frame of any layout; counts for whole-number fields,
// the values themselves for floating-point ones.
func writeFrame(l rig.FrameLayout, t int64, c [6]int, v [6]float64) []byte {
	out := make([]byte, l.Size)
	copy(out, l.Magic)
	for _, f := range l.Fields {
		b := out[f.Offset:]
		k := strings.Index("axayazgxgygz", f.Name) / 2
		if f.Float {
			bits := uint64(math.Float32bits(float32(v[k])))
			if f.Bits == 64 {
				bits = math.Float64bits(v[k])
			}
			putField(b, bits, f)
			continue
		}
		u := uint64(t)
		if f.Name != "t" {
			u = 0
			if strings.Contains("axayazgxgygz", f.Name) {
				u = uint64(int64(c[k]))
			}
		}
		putField(b, u, f)
	}
	body := out[len(l.Magic):]
	switch l.Checksum {
	case "xor8":
		for _, x := range body[:len(body)-1] {
			body[len(body)-1] ^= x
		}
	case "sum8":
		for _, x := range body[:len(body)-1] {
			body[len(body)-1] += x
		}
	case "crc16-ccitt-false":
		binary.LittleEndian.PutUint16(body[len(body)-2:], rig.CRC16(body[:len(body)-2]))
	}
	return out
}

func putField(b []byte, u uint64, f rig.FrameField) {
	n := f.Bits / 8
	for k := range n {
		shift := 8 * k
		if f.Big {
			shift = 8 * (n - 1 - k)
		}
		b[k] = byte(u >> shift)
	}
}

func TestFrameLayouts(t *testing.T) {
	sig := testSignal(3000, 1000, 4294967295-1000000, 6)
	for _, c := range []struct {
		name  string
		frame rig.Frame
		lsb   float64 // counts per g; 0: the fields are in g
		gyro  bool
		wraps int
	}{
		{"as ours", rig.Frame{Magic: "a55a", Fields: []string{"u32le t", "i16le ax", "i16le ay", "i16le az", "i16le gx", "i16le gy", "i16le gz"}, Checksum: "xor8"}, 2048, true, 1},
		{"big-endian, sum", rig.Frame{Magic: "7e", Fields: []string{"u32be t", "u8 n", "i16be ax", "i16be ay", "i16be az"}, Checksum: "sum8"}, 2048, false, 1},
		{"crc, wider fields, other order", rig.Frame{Magic: "deadbeef", Fields: []string{"i32le az", "i32be ay", "i32le ax", "i32le t"}, Checksum: "crc16-ccitt-false"}, 2048, false, 1},
		{"floating point", rig.Frame{Magic: "aa55aa55", Fields: []string{"u32le t", "f32le ax", "f32le ay", "f32le az", "f32be gx", "f32be gy", "f32be gz"}, Checksum: "none"}, 0, true, 1},
		{"short stamp", rig.Frame{Magic: "a55a", Fields: []string{"u16le t", "i16le ax", "i16le ay", "i16le az"}, Checksum: "crc16-ccitt-false"}, 2048, false, 46},
		{"coarse readings", rig.Frame{Magic: "a55a", Fields: []string{"u32le t", "i8 ax", "i8 ay", "i8 az"}, Checksum: "sum8"}, 16, false, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			rg := *testRig(t, 1000)
			rg.Log.Frame = &c.frame
			if c.lsb > 0 {
				rg.Sensor.AccelLSBPerG = c.lsb
			}
			l, err := c.frame.Parse()
			if err != nil {
				t.Fatal(err)
			}
			var log []byte
			want := *sig
			want.A = [3][]float32{}
			want.G = [3][]float32{}
			for i := range sig.Len() {
				var n [6]int
				var v [6]float64
				for k := range 3 {
					v[k] = float64(sig.A[k][i]) / dataset.StandardGravity
					v[k+3] = bearing.Deg(float64(sig.G[k][i]))
					n[k] = int(math.Round(v[k] * rg.Sensor.AccelLSBPerG))
					n[k+3] = int(math.Round(v[k+3] * 16.384))
					if c.lsb > 0 {
						v[k] = float64(n[k]) / c.lsb
					}
					want.A[k] = append(want.A[k], float32(v[k]*dataset.StandardGravity))
				}
				log = append(log, writeFrame(l, sig.TRaw[i], n, v)...)
			}
			if c.gyro {
				want.G = sig.G
			}
			o := Options{}
			if c.lsb == 0 {
				o.GyroUnit = "dps"
			}
			res := mustRead(t, log, &rg, o)
			same(t, "frames", &res.Signal, want, 1e4)
			if s := res.Session; s.Wraps != c.wraps || s.JunkBytes != 0 || s.DamagedRecords != 0 {
				t.Errorf("session %+v", s)
			}
		})
	}
}

// TestFrameDamage holds that every whole frame of a damaged stream arrives and
// that hardly anything else does.
func TestFrameDamage(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(20000, 1002.3, 5000000, 6)
	rnd := rand.New(rand.NewPCG(4, 4))
	var log []byte
	good := map[int64]int{} // by stamp
	damage := 0
	for i := range sig.Len() {
		f := encodeOne("frames", sig, i)
		if rnd.IntN(40) != 0 {
			good[sig.TRaw[i]] = i
			log = append(log, f...)
			if rnd.IntN(200) == 0 {
				log = append(log, "boot ok, all is well\r\n"...)
			}
			continue
		}
		damage++
		switch rnd.IntN(4) {
		case 0:
			f[rnd.IntN(len(f))] ^= 1 << rnd.IntN(8)
		case 1:
			f = f[:rnd.IntN(len(f))]
		case 2:
			k := 1 + rnd.IntN(len(f)-1)
			f = append(f[:k:k], f[k+1:]...)
		case 3:
			k := 1 + rnd.IntN(len(f)-1)
			f = append(append(f[:k:k], byte(rnd.Uint32())), f[k:]...)
		}
		log = append(log, f...)
	}
	res := mustRead(t, log, rg, Options{})
	found := 0
	for i, raw := range res.Signal.TRaw {
		k, ok := good[raw]
		if !ok {
			continue
		}
		found++
		one, want := res.Signal.Slice(i, i+1), sig.Slice(k, k+1)
		for axis := range 3 {
			if d := one.A[axis][0] - want.A[axis][0]; d > 1e-4 || d < -1e-4 {
				t.Fatalf("frame %d axis %d reads %g, want %g", k, axis, one.A[axis][0], want.A[axis][0])
			}
		}
		if d := res.Signal.TNs[i] - sig.TNs[k]; d > 20000 || d < -20000 {
			t.Fatalf("frame %d at %d ns, want %d", k, res.Signal.TNs[i], sig.TNs[k])
		}
	}
	extra := res.Signal.Len() - found
	s := res.Session
	t.Logf("%d of %d whole frames, %d others; %d damaged, %d counted, %d bytes of junk, %d lost", found, len(good), extra, damage, s.DamagedRecords, s.JunkBytes, s.LostSamples)
	if found != len(good) {
		t.Errorf("%d of %d whole frames arrived", found, len(good))
	}
	// A flipped bit never passes the checksum; a lost or added byte does once in
	// 256, and half of those have an impossible stamp.
	if extra > damage/50 {
		t.Errorf("%d of %d damaged frames passed", extra, damage)
	}
	if want := int64(sig.Len() - res.Signal.Len()); s.LostSamples != want {
		t.Errorf("%d samples lost, want %d", s.LostSamples, want)
	}
}

// TestFrameChance holds that a frame that passes its checksum by chance with an
// impossible stamp is dropped.
func TestFrameChance(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(5000, 1002.3, 5000000, 6)
	var log []byte
	for i := range sig.Len() {
		f := encodeOne("frames", sig, i)
		if i == 2000 {
			f[4] ^= 0x40 // the stamp
			f[9] ^= 0x40 // a reading: the checksum agrees again
		}
		log = append(log, f...)
	}
	res := mustRead(t, log, rg, Options{})
	if s := res.Session; s.Samples != 4999 || s.DamagedRecords != 1 || s.LostSamples != 1 || s.Repairs[len(s.Repairs)-1].Kind != "damaged: record whose time stamp fits nowhere" {
		t.Errorf("session %+v", s)
	}
}

// TestChecksumReference checks CRC-16/CCITT-FALSE against its published check
// value.
func TestChecksumReference(t *testing.T) {
	if got := rig.CRC16([]byte("123456789")); got != 0x29b1 {
		t.Errorf("crc16 = %#x, want 0x29b1", got)
	}
	b, _ := hex.DecodeString("0102030004")
	if !checksumFits("xor8", append(b, 4)) || checksumFits("xor8", append(b, 5)) || !checksumFits("sum8", append(b, 10)) || checksumFits("sum8", append(b, 11)) {
		t.Error("a wrong checksum passes or a right one fails")
	}
}

func TestFramesWithoutDescription(t *testing.T) {
	rg := *testRig(t, 1000)
	log := encode("frames", testSignal(2000, 1000, 5000000, 6))
	rg.Log.Frame = nil
	refused(t, log, &rg, Options{}, "[log.frame]")
	wrong := *testRig(t, 1000)
	wrong.Log.Frame = &rig.Frame{Magic: "a55b", Fields: wrong.Log.Frame.Fields, Checksum: "xor8"}
	refused(t, log, &wrong, Options{Dialect: "frames"}, "[log.frame]", "board's program")
	res := mustRead(t, append(bytes.Repeat([]byte{0x11}, 300<<10), log...), testRig(t, 1000), Options{Dialect: "frames"})
	if s := res.Session; s.Samples != 2000 || s.JunkBytes != 300<<10 {
		t.Errorf("%d samples after %d bytes of junk", s.Samples, s.JunkBytes)
	}
}
