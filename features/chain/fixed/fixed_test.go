package fixed_test

import (
	"fmt"
	"io/fs"
	"math"
	"math/big"
	"math/rand/v2"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset/datasettest"
	"strikerose/features/chain/fixed"
)

// reference holds outside values of fixed-point arithmetic.
type reference struct {
	Atan map[string]struct {
		MaxAbsErrRad float64 `json:"max_abs_err_rad"`
		MaxAbsErrDeg float64 `json:"max_abs_err_deg"`
	} `json:"atan_approx"`
	Cordic struct {
		Table []struct {
			I    int     `json:"i"`
			Deg  float64 `json:"deg"`
			Q31  int64   `json:"q31_half_turn_round"`
			Gain float64 `json:"gain_through_i"`
		} `json:"table"`
	} `json:"cordic"`
	Vectoring []struct {
		X, Y  int32
		Exact float64 `json:"exact_angle"`
	} `json:"cordic_vectoring"`
	Q15 struct {
		Encode map[string]int16 `json:"encode"`
		Mul    []struct {
			A, B    int16
			Rounded int16 `json:"rounded"`
		} `json:"mul"`
	} `json:"q15"`
	Roots map[string]uint64 `json:"isqrt"`
	CRC   struct {
		Text  string `json:"check_string"`
		CCITT struct {
			Check, Empty string
			Zero         string `json:"single_00"`
			A            string `json:"single_A"`
		} `json:"ccitt_false"`
	} `json:"crc"`
}

func load(t *testing.T) reference {
	var r reference
	datasettest.Reference(t, "fixed_point.json", &r)
	return r
}

func TestReferenceQ15(t *testing.T) {
	ref := load(t)
	for text, want := range ref.Q15.Encode {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		if got := fixed.Sat16(fixed.Encode(v, 15)); got != want {
			t.Errorf("%s in Q15 is %d, want %d", text, got, want)
		}
	}
	for _, c := range ref.Q15.Mul {
		if got := fixed.MulQ15(c.A, c.B); got != c.Rounded {
			t.Errorf("%d x %d in Q15 is %d, want %d", c.A, c.B, got, c.Rounded)
		}
	}
}

func TestReferenceRoots(t *testing.T) {
	for text, want := range load(t).Roots {
		x, err := strconv.ParseUint(text, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		if got := fixed.Sqrt64(x); uint64(got) != want {
			t.Errorf("root of %d is %d, want %d", x, got, want)
		}
		if x <= math.MaxUint32 {
			if got := fixed.Sqrt32(uint32(x)); uint64(got) != want {
				t.Errorf("root of %d in 32 bits is %d, want %d", x, got, want)
			}
		}
	}
}

func TestReferenceCRC(t *testing.T) {
	ref := load(t).CRC
	for _, c := range []struct {
		text string
		want string
	}{{ref.Text, ref.CCITT.Check}, {"", ref.CCITT.Empty}, {"\x00", ref.CCITT.Zero}, {"A", ref.CCITT.A}} {
		got := fixed.CRC16([]byte(c.text), int32(len(c.text)), 0xffff)
		if text := fmt.Sprintf("0x%04x", got); text != c.want {
			t.Errorf("check of %q is %s, want %s", c.text, text, c.want)
		}
	}
}

func TestCRCOfWords(t *testing.T) {
	bytes := fixed.CRC16([]byte{0x12, 0x34, 0x56, 0x78}, 4, 0xffff)
	if got := fixed.CRC16Word(0x12345678, 0xffff); got != bytes {
		t.Errorf("check of a word is %04x, of its bytes %04x", got, bytes)
	}
}

// The table of turns is that of outside, and so is the lengthening.
func TestReferenceCordic(t *testing.T) {
	ref := load(t).Cordic.Table
	gain := 1.0
	for i, turn := range fixed.Turns() {
		gain *= math.Sqrt(1 + math.Pow(4, -float64(i)))
		if want := math.Round(math.Atan(math.Pow(2, -float64(i))) / math.Pi * (1 << 31)); float64(turn) != want {
			t.Errorf("turn %d is %d, want %g", i, turn, want)
		}
		if i >= len(ref) {
			continue
		}
		if int64(turn) != ref[i].Q31 || !datasettest.Near(gain, ref[i].Gain, 1e-12) {
			t.Errorf("turn %d is %d with gain %.13g, want %d and %.13g", i, turn, gain, ref[i].Q31, ref[i].Gain)
		}
	}
}

func TestReferenceVectors(t *testing.T) {
	for _, c := range load(t).Vectoring {
		if e := angleError(c.Y, c.X, c.Exact); e > atanDeg {
			t.Errorf("angle of (%d, %d) is off by %g degrees", c.X, c.Y, e)
		}
	}
}

// The doc of Atan2 says how it compares with the cubic arctangent: as found
// outside, and here.
func TestReferenceArctangents(t *testing.T) {
	ref := load(t).Atan
	for name, f := range map[string]func(x float64) float64{
		"pi/4 x + 0.273 x (1-|x|)":            func(x float64) float64 { return math.Pi/4*x + 0.273*x*(1-x) },
		"pi/4 x - x(|x|-1)(0.2447+0.0663|x|)": func(x float64) float64 { return math.Pi/4*x - x*(x-1)*(0.2447+0.0663*x) },
	} {
		worst := 0.0
		for i := range 200001 {
			x := float64(i) / 200000
			worst = max(worst, math.Abs(f(x)-math.Atan(x)))
		}
		want, ok := ref[name]
		if !ok || math.Abs(worst-want.MaxAbsErrRad) > 1e-8 {
			t.Errorf("%s errs by %g, want %g", name, worst, want.MaxAbsErrRad)
		}
		if 100*atanDeg > want.MaxAbsErrDeg {
			t.Errorf("%s errs by %g degrees: no hundred times more than Atan2", name, want.MaxAbsErrDeg)
		}
	}
}

const atanDeg = 0.0002 // as the doc of Atan2 promises

func angleError(y, x int32, wantRad float64) float64 {
	d := float64(fixed.Atan2(y, x))/(1<<31)*180 - wantRad*180/math.Pi
	return math.Abs(math.Remainder(d, 360))
}

// Every direction to 1/100 degree at lengths from a few counts to the greatest.
func TestAtan2AllRound(t *testing.T) {
	worst := 0.0
	for _, length := range []float64{1, 2, 3, 7, 50, 1000, 32767, 1e6, 536870911, 536870912, 1073741823, 2147483647} {
		for i := range 36000 {
			sin, cos := math.Sincos(float64(i) * math.Pi / 18000)
			x, y := int32(math.Round(length*cos)), int32(math.Round(length*sin))
			if x == 0 && y == 0 {
				continue
			}
			worst = max(worst, angleError(y, x, math.Atan2(float64(y), float64(x))))
		}
	}
	if worst > atanDeg || worst < atanDeg/100 {
		t.Errorf("worst error %g degrees, promised %g", worst, atanDeg)
	}
}

// Every pair of small numbers, and the corners.
func TestAtan2Small(t *testing.T) {
	for y := int32(-150); y <= 150; y++ {
		for x := int32(-150); x <= 150; x++ {
			if e := angleError(y, x, math.Atan2(float64(y), float64(x))); e > atanDeg {
				t.Fatalf("angle of (%d, %d) is off by %g degrees", x, y, e)
			}
		}
	}
	corners := []int32{math.MinInt32, math.MinInt32 + 1, -1, 0, 1, math.MaxInt32}
	for _, y := range corners {
		for _, x := range corners {
			if e := angleError(y, x, math.Atan2(float64(y), float64(x))); e > atanDeg {
				t.Errorf("angle of (%d, %d) is off by %g degrees", x, y, e)
			}
		}
	}
}

func TestDecideg(t *testing.T) {
	for _, c := range []struct {
		deg  float64
		want int32
	}{{0, 0}, {0.04, 0}, {0.06, 1}, {90, 900}, {179.9, 1799}, {-180, 1800}, {-90, 2700}, {-0.06, 3599}, {-0.04, 0}, {359.94, 3599}, {359.96, 0}} {
		angle := int32(uint32(int64(math.Round(math.Remainder(c.deg, 360) / 360 * (1 << 32)))))
		if got := fixed.Decideg(angle); got != c.want {
			t.Errorf("%g degrees are %d tenths, want %d", c.deg, got, c.want)
		}
	}
	for tenth := range int64(3600) { // every tenth comes back
		if got := fixed.Decideg(int32(uint32(tenth << 32 / 3600))); int64(got) != tenth {
			t.Errorf("tenth %d came back as %d", tenth, got)
		}
	}
}

func TestTurn(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 200000 {
		length := math.Exp(rng.Float64() * math.Log(1<<30-1))
		from := rng.Float64() * 2 * math.Pi
		v := fixed.Vector{X: int32(length * math.Cos(from)), Y: int32(length * math.Sin(from))}
		angle := int32(rng.Uint32())
		sin, cos := math.Sincos(float64(angle) / (1 << 31) * math.Pi)
		x, y := float64(v.X), float64(v.Y)
		got := fixed.Turn(v, angle)
		e := math.Hypot(float64(got.X)-(cos*x-sin*y), float64(got.Y)-(sin*x+cos*y))
		if e > 2+4e-6*length {
			t.Fatalf("%v turned by %d is off by %g", v, angle, e)
		}
	}
}

func TestSinCos(t *testing.T) {
	for i := range 1 << 18 {
		angle := int32(uint32(i) << 14)
		sin, cos := math.Sincos(float64(angle) / (1 << 31) * math.Pi)
		got := fixed.SinCos(angle)
		if e := math.Hypot(float64(got.X)/(1<<30)-cos, float64(got.Y)/(1<<30)-sin); e > 4e-6 {
			t.Fatalf("sine and cosine of %d are off by %g", angle, e)
		}
	}
}

func TestLog2(t *testing.T) {
	if got := fixed.Log2(0); got != 0 {
		t.Errorf("of 0 it is %d", got)
	}
	check := func(x uint64) {
		if e := float64(fixed.Log2(x))/(1<<24) - math.Log2(float64(x)); math.Abs(e) > 7e-6 {
			t.Fatalf("logarithm of %d is off by %g", x, e)
		}
	}
	for x := range uint64(1 << 18) {
		check(x + 1)
	}
	for bit := range 64 {
		check(1 << bit)
		check(1<<bit | 1<<bit>>1)
		check(math.MaxUint64 >> bit)
	}
}

func TestExpAndExp2(t *testing.T) {
	for _, c := range []struct {
		name  string
		f     func(int32) uint32
		want  func(float64) float64
		share float64
	}{{"Exp2", fixed.Exp2, math.Exp2, 4e-7}, {"Exp", fixed.Exp, math.Exp, 5e-7}} {
		for _, x := range []int32{0, 1, math.MaxInt32} {
			if got := c.f(x); got != 1<<31 {
				t.Errorf("%s(%d) is %d, want as of 0", c.name, x, got)
			}
		}
		for i := range 1 << 18 {
			x := -int32(i) * 2531 // to -39
			want := math.Ldexp(c.want(float64(x)/(1<<24)), 31)
			if e := math.Abs(float64(c.f(x)) - want); e > 1+c.share*want {
				t.Fatalf("%s(%d) is %d, off by %g", c.name, x, c.f(x), e)
			}
		}
		if got := c.f(math.MinInt32); got != 0 {
			t.Errorf("%s of the least is %d", c.name, got)
		}
	}
}

func TestTanh(t *testing.T) {
	worst := 0.0
	for i := range 1 << 20 {
		x := int32(i-1<<19) * 300 // to 9.4 either side
		e := math.Abs(float64(fixed.Tanh(x))/(1<<30) - math.Tanh(float64(x)/(1<<24)))
		worst = max(worst, e)
		if fixed.Tanh(-x) != -fixed.Tanh(x) {
			t.Fatalf("tanh is not odd at %d", x)
		}
	}
	if worst > 3e-6 || worst < 3e-8 {
		t.Errorf("worst error %g, promised 3e-6", worst)
	}
	for x, want := range map[int32]int32{math.MinInt32: -1 << 30, math.MaxInt32: 1 << 30, 0: 0} {
		if got := fixed.Tanh(x); got != want {
			t.Errorf("tanh of %d is %d, want %d", x, got, want)
		}
	}
}

func TestTables(t *testing.T) {
	for i, got := range fixed.Logs() {
		if want := math.Round(math.Log2(1+float64(i)/32) * (1 << 24)); float64(got) != want {
			t.Errorf("log %d is %d, want %g", i, got, want)
		}
	}
	for i, got := range fixed.Tanhs() {
		if want := math.Round(math.Tanh(float64(i)/8) * (1 << 30)); float64(got) != want {
			t.Errorf("tanh %d is %d, want %g", i, got, want)
		}
	}
}

// clamp holds an exact result to a width.
func clamp(x *big.Int, bits uint) int64 {
	limit := new(big.Int).Lsh(big.NewInt(1), bits-1)
	if x.Cmp(limit) >= 0 {
		x = new(big.Int).Sub(limit, big.NewInt(1))
	} else if x.Cmp(new(big.Int).Neg(limit)) < 0 {
		x = new(big.Int).Neg(limit)
	}
	return x.Int64()
}

// any32 and any64 prefer limits, where sums overflow.
func any32() *rapid.Generator[int32] {
	return rapid.OneOf(rapid.Int32(), rapid.SampledFrom([]int32{math.MinInt32, math.MinInt32 + 1, -1, 0, 1, math.MaxInt32 - 1, math.MaxInt32}))
}

func any64() *rapid.Generator[int64] {
	return rapid.OneOf(rapid.Int64(), rapid.Int64Range(-1<<33, 1<<33), rapid.SampledFrom([]int64{math.MinInt64, math.MinInt64 + 1, -1, 0, 1, math.MaxInt64 - 1, math.MaxInt64}))
}

func TestSaturation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := any32().Draw(t, "a"), any32().Draw(t, "b")
		wide := func(x int64) int64 { return clamp(big.NewInt(x), 32) }
		for name, c := range map[string][2]int64{
			"AddSat32": {int64(fixed.AddSat32(a, b)), wide(int64(a) + int64(b))},
			"SubSat32": {int64(fixed.SubSat32(a, b)), wide(int64(a) - int64(b))},
			"NegSat32": {int64(fixed.NegSat32(a)), wide(-int64(a))},
			"Abs32":    {int64(fixed.Abs32(a)), wide(max(int64(a), -int64(a)))},
			"Size32":   {int64(fixed.Size32(a)), max(int64(a), -int64(a))},
			"MulQ31":   {int64(fixed.MulQ31(a, b)), wide((int64(a)*int64(b) + 1<<30) >> 31)},
		} {
			if c[0] != c[1] {
				t.Fatalf("%s of %d, %d is %d, want %d", name, a, b, c[0], c[1])
			}
		}
		n := rapid.Uint32Range(0, 31).Draw(t, "n")
		if got, want := int64(fixed.ShiftUp32(a, n)), wide(int64(a)<<n); got != want {
			t.Fatalf("ShiftUp32 of %d by %d is %d, want %d", a, n, got, want)
		}
	})
}

func TestSaturation64(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := any64().Draw(t, "a"), any64().Draw(t, "b")
		x, y := big.NewInt(a), big.NewInt(b)
		for name, c := range map[string]struct {
			got  int64
			want *big.Int
		}{
			"AddSat64": {fixed.AddSat64(a, b), new(big.Int).Add(x, y)},
			"SubSat64": {fixed.SubSat64(a, b), new(big.Int).Sub(x, y)},
			"MulSat64": {fixed.MulSat64(a, b), new(big.Int).Mul(x, y)},
			"Abs64":    {fixed.Abs64(a), new(big.Int).Abs(x)},
		} {
			if want := clamp(c.want, 64); c.got != want {
				t.Fatalf("%s of %d, %d is %d, want %d", name, a, b, c.got, want)
			}
		}
		if got, want := fixed.Size64(a), new(big.Int).Abs(x).Uint64(); got != want {
			t.Fatalf("size of %d is %d, want %d", a, got, want)
		}
	})
}

// halfUp is x / 2^n to the nearest, half up, exactly.
func halfUp(x *big.Int, n uint) *big.Int {
	if n == 0 {
		return x
	}
	return new(big.Int).Rsh(new(big.Int).Add(x, new(big.Int).Lsh(big.NewInt(1), n-1)), n)
}

func TestRounding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := any32().Draw(t, "a"), any32().Draw(t, "b")
		x := any64().Draw(t, "x")
		n := rapid.Uint32Range(0, 63).Draw(t, "n")
		if got, want := fixed.Round64(x, n), halfUp(big.NewInt(x), uint(n)).Int64(); got != want {
			t.Fatalf("%d over 2^%d is %d, want %d", x, n, got, want)
		}
		if got, want := int64(fixed.Round32(a, n&31)), halfUp(big.NewInt(int64(a)), uint(n&31)).Int64(); got != want {
			t.Fatalf("%d over 2^%d is %d, want %d", a, n&31, got, want)
		}
		product := big.NewInt(int64(a) * int64(b))
		if got, want := int64(fixed.Mul(a, b, n)), clamp(halfUp(product, uint(n)), 32); got != want {
			t.Fatalf("%d x %d over 2^%d is %d, want %d", a, b, n, got, want)
		}
	})
}

// awayFrom0 is a / b to the nearest, half away from 0, exactly.
func awayFrom0(a, b int64) *big.Int {
	x, y := new(big.Int).Abs(big.NewInt(a)), new(big.Int).Abs(big.NewInt(b))
	q := new(big.Int).Add(new(big.Int).Lsh(x, 1), y)
	q.Quo(q, new(big.Int).Lsh(y, 1))
	if (a < 0) != (b < 0) {
		q.Neg(q)
	}
	return q
}

func TestDivision(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := any64().Draw(t, "a"), any64().Draw(t, "b")
		c, d := any32().Draw(t, "c"), any32().Draw(t, "d")
		if b != 0 {
			if got, want := fixed.Div64(a, b), clamp(awayFrom0(a, b), 64); got != want {
				t.Fatalf("%d / %d is %d, want %d", a, b, got, want)
			}
		}
		if d != 0 {
			if got, want := int64(fixed.Div(a, d)), clamp(awayFrom0(a, int64(d)), 32); got != want {
				t.Fatalf("%d / %d is %d, want %d", a, d, got, want)
			}
			if got, want := int64(fixed.Div32(c, d)), clamp(awayFrom0(int64(c), int64(d)), 32); got != want {
				t.Fatalf("%d / %d in 32 bits is %d, want %d", c, d, got, want)
			}
		}
	})
	for a, want := range map[int64]int64{-5: math.MinInt64, 0: 0, 5: math.MaxInt64} {
		if got := fixed.Div64(a, 0); got != want {
			t.Errorf("%d / 0 is %d, want %d", a, got, want)
		}
		if got, want := int64(fixed.Div32(int32(a), 0)), clamp(big.NewInt(want), 32); got != want {
			t.Errorf("%d / 0 in 32 bits is %d, want %d", a, got, want)
		}
	}
}

func TestRootsAndLengths(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Uint64().Draw(t, "x") >> rapid.IntRange(0, 63).Draw(t, "down")
		if r := uint64(fixed.Sqrt64(x)); r*r > x || r < math.MaxUint32 && (r+1)*(r+1) <= x {
			t.Fatalf("root of %d is %d", x, r)
		}
		y := uint32(x)
		if got := fixed.Sqrt32(y); got != fixed.Sqrt64(uint64(y)) {
			t.Fatalf("root of %d in 32 bits is %d", y, got)
		}
		if got, want := fixed.Bits64(x), uint32(new(big.Int).SetUint64(x).BitLen()); got != want {
			t.Fatalf("%d has %d bits, want %d", x, got, want)
		}
		a, b := any32().Draw(t, "a"), any32().Draw(t, "b")
		length := new(big.Float).SetPrec(200).SetInt(new(big.Int).Add(new(big.Int).Mul(big.NewInt(int64(a)), big.NewInt(int64(a))), new(big.Int).Mul(big.NewInt(int64(b)), big.NewInt(int64(b)))))
		want, _ := new(big.Float).Add(length.Sqrt(length), big.NewFloat(0.5)).Int(nil)
		if got := fixed.Hypot(a, b); uint64(got) != want.Uint64() {
			t.Fatalf("length of (%d, %d) is %d, want %d", a, b, got, want)
		}
	})
}

func TestRoundF(t *testing.T) {
	for _, c := range []struct {
		x    float32
		want int32
	}{{0, 0}, {0.4, 0}, {0.5, 1}, {1.5, 2}, {-0.5, -1}, {-1.4, -1}, {99.6, 99}, {1e30, 99}, {-1e30, -50}, {float32(math.NaN()), -50}, {float32(math.Inf(1)), 99}, {-49.9, -50}} {
		if got := fixed.RoundF(c.x, -50, 99); got != c.want {
			t.Errorf("%g is rounded to %d, want %d", c.x, got, c.want)
		}
	}
}

// What is translated is named, file for file.
func TestSource(t *testing.T) {
	all, err := fs.Glob(fixed.Source(), "*.go")
	if err != nil || len(all) < 9 {
		t.Errorf("%d files, %v", len(all), err)
	}
}
