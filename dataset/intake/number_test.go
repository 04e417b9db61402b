package intake

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

func TestParseNumber(t *testing.T) {
	for _, c := range []struct {
		in       string
		mark     byte
		want     float64
		decimals int
		n        int
	}{
		{"12", '.', 12, 0, 2},
		{"-0.013,5", '.', -0.013, 3, 6},
		{"-0,013;5", ',', -0.013, 3, 6},
		{"+7.50 ", '.', 7.5, 2, 5},
		{".5", '.', 0.5, 1, 2},
		{"5.", '.', 5, 0, 2},
		{"1.5e-3,", '.', 0.0015, 1, 6},
		{"12345678901234567890", '.', 12345678901234567890, 0, 20},
		{"0.1234567890123456789", '.', 0.1234567890123456789, 19, 21},
		{"1e999", '.', 0, 0, 0},
		{"", '.', 0, 0, 0},
		{"-", '.', 0, 0, 0},
		{".", '.', 0, 0, 0},
		{"nan", '.', 0, 0, 0},
		{"Inf", '.', 0, 0, 0},
		{"--5", '.', 0, 0, 0},
		{"0x10", '.', 0, 0, 1},
	} {
		v, d, n := parseNumber([]byte(c.in), c.mark)
		if v != c.want || d != c.decimals || n != c.n {
			t.Errorf("parseNumber(%q) = %v, %d decimals, %d bytes; want %v, %d, %d", c.in, v, d, n, c.want, c.decimals, c.n)
		}
	}
}

func TestParseStamp(t *testing.T) {
	for _, c := range []struct {
		in       string
		whole    int64
		micro    int32
		decimals int
		n        int
	}{
		{"4294967295,", 4294967295, 0, 0, 10},
		{"5402.03,", 5402, 30000, 2, 7},
		{"-1.25", -2, 750000, 2, 5},
		{"1.1234567", 1, 123456, 7, 9},
		{"1.27e8", 127000000, 0, 0, 6},
		{"-1.25e0", -2, 750000, 0, 7},
		{"-1e-60", 0, 0, 0, 6},
		{"9999999999999999999999", 0, 0, 0, 0},
		{"1e300", 0, 0, 0, 0},
		{"x", 0, 0, 0, 0},
	} {
		w, m, d, n := parseStamp([]byte(c.in), '.')
		if w != c.whole || m != c.micro || d != c.decimals || n != c.n {
			t.Errorf("parseStamp(%q) = %d, %d millionths, %d decimals, %d bytes", c.in, w, m, d, n)
		}
	}
}

// FuzzParseNumber compares with strconv.
func FuzzParseNumber(f *testing.F) {
	for _, s := range []string{"1", "-0.5", "3e5", "12345678901234567", "0.00001", "1_0", "0x1p-2", "1e-400", "5e"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		v, _, n := parseNumber([]byte(s), '.')
		if n < 0 || n > len(s) {
			t.Fatalf("parseNumber(%q) took %d bytes", s, n)
		}
		if n > 0 {
			want, err := strconv.ParseFloat(s[:n], 64)
			if err != nil || math.Abs(v-want) > 1e-15*math.Abs(want) {
				t.Fatalf("parseNumber(%q) = %v, strconv says %v, %v", s, v, want, err)
			}
		}
		if strings.ContainsAny(s, "xXpP_iInN") {
			return // hexadecimal, infinities
		}
		if want, err := strconv.ParseFloat(s, 64); err == nil && n != len(s) && len(s) < 60 {
			t.Fatalf("parseNumber(%q) took %d bytes, strconv reads it as %v", s, n, want)
		}
		whole, micro, _, n := parseStamp([]byte(s), '.')
		if n > 0 && (micro < 0 || micro >= 1000000) {
			t.Fatalf("parseStamp(%q) = %d and %d millionths", s, whole, micro)
		}
	})
}

func TestNames(t *testing.T) {
	n := newNamer()
	for _, c := range []struct {
		in   string
		role role
		unit string
	}{
		{"t_us", roleTime, "us"}, {"time_ms", roleTime, "ms"}, {"Timestamp [s]", roleTime, "s"}, {"millis", roleTime, "ms"}, {"t", roleTime, ""},
		{"ax", roleAX, ""}, {"AY_G", roleAX + 1, "g"}, {"acc_z (m/s^2)", roleAX + 2, "m/s2"}, {"accel_x_mg", roleAX, "mg"}, {"ax_m_s2", roleAX, "m/s2"}, {"ax_raw", roleAX, "counts"},
		{"gx", roleGX, ""}, {"gz_dps", roleGX + 2, "dps"}, {"gyro_y_rad/s", roleGX + 1, "rad/s"}, {"gx_rad_s", roleGX, "rad/s"}, {`"gx"`, roleGX, ""},
		{"time_us", roleTime, "us"}, {"acc_x [g]", roleAX, "g"}, {"gyro_z (deg/s)", roleGX + 2, "dps"}, {"time_ns", roleNone, ""}, // of the README
		{"a", roleAccel, ""}, {"gyro", roleGyro, ""}, {"a_g", roleAccel, "g"},
		{"temp", roleNone, ""}, {"ax_filtered", roleNone, ""}, {"time_utc", roleNone, ""}, {"ax_dps", roleNone, ""}, {"", roleNone, ""}, {"mx", roleNone, ""},
	} {
		f, ok := n.field(c.in)
		if f.role != c.role || f.unit != c.unit || ok != (c.role != roleNone) {
			t.Errorf("field(%q) = %v, %v; want role %d, unit %q", c.in, f, ok, c.role, c.unit)
		}
	}
}
