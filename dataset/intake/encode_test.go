package intake

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// testRig is a valid rig for logs of a given rate.
func testRig(t testing.TB, rateHz float64) *rig.Rig {
	t.Helper()
	r := datasettest.Rig(t)
	r.Name, r.Sensor.RateHz, r.Sensor.GyroLSBPerDPS = "bench", rateHz, 16.384
	r.Log.Frame = &rig.Frame{
		Magic:    "a55a",
		Fields:   []string{"u32le t", "i16le ax", "i16le ay", "i16le az", "i16le gx", "i16le gy", "i16le gz"},
		Checksum: "xor8",
	}
	return r
}

// testSignal makes a simulated recording: a bag at rest for three seconds, then
// knocked about, in whole counts of the test rig. TRaw is in microseconds,
// starting at startUs.
func testSignal(n int, rateHz float64, startUs int64, seed uint64) *dataset.Signal {
	rnd := rand.New(rand.NewPCG(seed, 1))
	s := &dataset.Signal{}
	for k := range 3 {
		s.A[k] = make([]float32, n)
		s.G[k] = make([]float32, n)
	}
	for i := range n {
		t := float64(i) / rateHz
		s.TNs = append(s.TNs, int64(math.Round(t*1e9)))
		s.TRaw = append(s.TRaw, startUs+int64(math.Round(t*1e6)))
		s.Segment = append(s.Segment, 0)
		move := 0.0
		if t > 3 {
			move = 3 * math.Sin(40*t) * math.Exp(-math.Mod(t, 1)*6)
		}
		a := [3]float64{20 + 900*move, -35 - 500*move, 2048 + 200*move}
		for k := range 3 {
			s.A[k][i] = float32(math.Round(a[k]+8*rnd.NormFloat64()) / 2048 * dataset.StandardGravity)
			s.G[k][i] = float32(math.Round(5+600*move+2*rnd.NormFloat64()) / 16.384 * bearing.Rad(1))
		}
	}
	return s
}

// counts returns the whole counts of sample i.
func counts(s *dataset.Signal, i int) (c [6]int) {
	for k := range 3 {
		c[k] = int(math.Round(float64(s.A[k][i]) / dataset.StandardGravity * 2048))
		if s.HasGyro() {
			c[k+3] = int(math.Round(bearing.Deg(float64(s.G[k][i])) * 16.384))
		}
	}
	return c
}

// encode writes a signal as a board would in one of the dialects.
func encode(dialect string, s *dataset.Signal) []byte {
	var b bytes.Buffer
	gyro := s.HasGyro()
	switch dialect {
	case "counts-csv":
		b.WriteString("t_us,ax,ay,az" + map[bool]string{true: ",gx,gy,gz"}[gyro] + "\n")
	case "units-csv":
		b.WriteString("time_ms,ax_g,ay_g,az_g" + map[bool]string{true: ",gx_dps,gy_dps,gz_dps"}[gyro] + "\r\n")
	case "console":
		b.WriteString("\n*** boot\nimu ok odr=1000 afs=16\n")
	case "jsonl":
		b.WriteString(`{"boot":1,"odr":1000}` + "\n")
	}
	for i := range s.Len() {
		b.Write(encodeOne(dialect, s, i))
	}
	return b.Bytes()
}

func encodeOne(dialect string, s *dataset.Signal, i int) []byte {
	c := counts(s, i)
	t := uint32(s.TRaw[i])
	gyro := s.HasGyro()
	var v [6]float64
	for k := range 3 {
		v[k], v[k+3] = float64(c[k])/2048, float64(c[k+3])/16.384
	}
	switch dialect {
	case "counts-csv":
		out := fmt.Appendf(nil, "%d,%d,%d,%d", t, c[0], c[1], c[2])
		if gyro {
			out = fmt.Appendf(out, ",%d,%d,%d", c[3], c[4], c[5])
		}
		return append(out, '\n')
	case "units-csv":
		out := fmt.Appendf(nil, "%.2f,%.3f,%.3f,%.3f", float64(t)/1000, v[0], v[1], v[2])
		if gyro {
			out = fmt.Appendf(out, ",%.1f,%.1f,%.1f", v[3], v[4], v[5])
		}
		return append(out, '\r', '\n')
	case "console":
		out := fmt.Appendf(nil, "t:%d ax:%.3f ay:%.3f az:%.3f", t/1000, v[0], v[1], v[2])
		if gyro {
			out = fmt.Appendf(out, " gx:%.1f gy:%.1f gz:%.1f", v[3], v[4], v[5])
		}
		return append(out, '\n')
	case "jsonl":
		out := fmt.Appendf(nil, `{"t":%d,"a":[%d,%d,%d]`, t, c[0], c[1], c[2])
		if gyro {
			out = fmt.Appendf(out, `,"g":[%d,%d,%d]`, c[3], c[4], c[5])
		}
		return append(out, '}', '\n')
	case "frames":
		out := binary.LittleEndian.AppendUint32([]byte{0xa5, 0x5a}, t)
		for _, x := range c {
			out = binary.LittleEndian.AppendUint16(out, uint16(int16(x)))
		}
		var sum byte
		for _, x := range out[2:] {
			sum ^= x
		}
		return append(out, sum)
	}
	panic("intake: no dialect " + dialect)
}

// tolerances of what the encoders print, in SI.
func printed(dialect string) (accel, gyro float64) {
	if dialect == "units-csv" || dialect == "console" {
		return 0.0005*dataset.StandardGravity + 1e-5, bearing.Rad(0.05) + 1e-6
	}
	return 1e-5, 1e-6
}

func allDialects() []string {
	return []string{"counts-csv", "units-csv", "console", "jsonl", "frames"}
}

// mustRead reads a log that has to be readable.
func mustRead(t testing.TB, log []byte, rg *rig.Rig, o Options) *Result {
	t.Helper()
	res, err := Read(context.Background(), bytes.NewReader(log), "dir/log.x", rg, o, nil)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// refused reads a log that has to be refused with a message holding all of the
// given words.
func refused(t *testing.T, log []byte, rg *rig.Rig, o Options, words ...string) {
	t.Helper()
	_, err := Read(context.Background(), bytes.NewReader(log), "dir/log.x", rg, o, nil)
	if err == nil {
		t.Fatalf("log was read, want a refusal that says %q", words)
	}
	for _, w := range append(words, "dir/log.x: ") {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("message lacks %q: %v", w, err)
		}
	}
}

// same compares what was read with samples from to end of the signal that was
// written.
func same(t *testing.T, dialect string, got *dataset.Signal, want dataset.Signal, timeTolNs float64) {
	t.Helper()
	if got.Len() != want.Len() {
		t.Fatalf("%s: %d samples, want %d", dialect, got.Len(), want.Len())
	}
	if got.HasGyro() != want.HasGyro() {
		t.Fatalf("%s: gyroscope %v, want %v", dialect, got.HasGyro(), want.HasGyro())
	}
	ta, tg := printed(dialect)
	for i := range got.Len() {
		for k := range 3 {
			if d := math.Abs(float64(got.A[k][i] - want.A[k][i])); d > ta {
				t.Fatalf("%s: sample %d axis %d: acceleration %g, want %g", dialect, i, k, got.A[k][i], want.A[k][i])
			}
			if want.HasGyro() {
				if d := math.Abs(float64(got.G[k][i] - want.G[k][i])); d > tg {
					t.Fatalf("%s: sample %d axis %d: rotation rate %g, want %g", dialect, i, k, got.G[k][i], want.G[k][i])
				}
			}
		}
		if d := math.Abs(float64(got.TNs[i] - (want.TNs[i] - want.TNs[0]))); d > timeTolNs {
			t.Fatalf("%s: sample %d at %d ns, want %d", dialect, i, got.TNs[i], want.TNs[i]-want.TNs[0])
		}
	}
}
