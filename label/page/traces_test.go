package page_test

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"testing"
	"time"

	"pgregory.net/rapid"
)

type picture struct {
	FromNs   int64 `json:"from_ns"`
	ToNs     int64 `json:"to_ns"`
	N        int
	Channels int
	Points   bool
	Breaks   []int64
	Built    float64
	Checked  bool
	numbers  []float32
}

func traces(t testing.TB, p http.Handler, fromNs, toNs int64, columns int) picture {
	t.Helper()
	w := ask(p, http.MethodGet, fmt.Sprintf("/api/traces?session=monday&from_ns=%d&to_ns=%d&columns=%d", fromNs, toNs, columns), "", nil)
	if w.Code != 200 {
		t.Fatalf("traces: status %d: %s", w.Code, w.Body)
	}
	data := w.Body.Bytes()
	n := binary.LittleEndian.Uint32(data)
	var pic picture
	if err := json.Unmarshal(data[4:4+n], &pic); err != nil {
		t.Fatal(err)
	}
	for rest := data[4+n:]; len(rest) > 0; rest = rest[4:] {
		pic.numbers = append(pic.numbers, math.Float32frombits(binary.LittleEndian.Uint32(rest)))
	}
	return pic
}

// complete waits until the pyramid is built.
func complete(t testing.TB, p http.Handler) {
	t.Helper()
	for range 500 {
		if traces(t, p, 0, 1, 1).Checked {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatal("the pyramid is never complete")
}

// Zoomed in, every sample is there, in the bag's frame.
func TestTracePoints(t *testing.T) {
	f := newFake(t, 12)
	p := serve(t, f)
	pic := traces(t, p, 4_300_000_000, 4_350_000_000, 100) // across a segment's end at sample 4321
	if !pic.Points || pic.N != 51 || pic.Channels != 7 || len(pic.numbers) != 8*51 || len(pic.Breaks) > 1 {
		t.Fatalf("picture %+v", pic)
	}
	for i := range pic.N {
		k := 4300 + i
		if i == 21 {
			if x := pic.numbers[pic.N+i]; x == x {
				t.Errorf("no gap at the segment's end: %g", x)
			}
			continue
		}
		if i > 21 {
			k--
		}
		if got := pic.numbers[i]; got != float32(k-4300) {
			t.Fatalf("point %d at %g ms", i, got)
		}
		a := [3]float32{f.signal.A[0][k], f.signal.A[1][k], f.signal.A[2][k]}
		want := []float32{float32(math.Hypot(float64(a[0]), float64(a[1]))), a[0], a[1], a[2], f.signal.G[0][k], f.signal.G[1][k], f.signal.G[2][k]}
		for c := range 7 {
			if got := pic.numbers[(1+c)*pic.N+i]; math.Abs(float64(got-want[c])) > 1e-5 {
				t.Fatalf("point %d channel %d: %g, want %g", i, c, got, want[c])
			}
		}
	}
}

// Zoomed out, no peak is lost: the extremes over all columns are those of the
// samples, and no column holds what no sample in or near it has.
func TestTraceExtremes(t *testing.T) {
	f := newFake(t, 60)
	p := serve(t, f)
	complete(t, p)
	rapid.Check(t, func(r *rapid.T) {
		from := int64(rapid.IntRange(0, 50_000).Draw(r, "from"))
		span := int64(rapid.IntRange(1500, 60_000).Draw(r, "span"))
		to := min(from+span, 60_000)
		n := rapid.IntRange(10, 300).Draw(r, "columns")
		pic := traces(t, p, from*1e6, to*1e6, n)
		if pic.Points {
			return
		}
		const slack = 256 // a bucket of the pyramid may reach over either end
		for c := range 3 {
			low, high := math.Inf(1), math.Inf(-1)
			for i := range n {
				l, h := float64(pic.numbers[2*(1+c)*n+i]), float64(pic.numbers[2*(1+c)*n+n+i])
				if l == l {
					low, high = min(low, l), max(high, h)
				}
			}
			inner, outer := spread(f.signal.A[c], from+slack, to-slack), spread(f.signal.A[c], from-slack, to+slack)
			if low > inner[0] || high < inner[1] || low < outer[0] || high > outer[1] {
				r.Fatalf("channel %d: %g to %g, want between %v and %v", c, low, high, inner, outer)
			}
		}
	})
}

func spread(x []float32, from, to int64) [2]float64 {
	out := [2]float64{math.Inf(1), math.Inf(-1)}
	for i := max(0, from); i < min(to, int64(len(x))); i++ {
		out[0], out[1] = min(out[0], float64(x[i])), max(out[1], float64(x[i]))
	}
	return out
}

func TestTracesRefuse(t *testing.T) {
	p := serve(t, newFake(t, 5))
	for _, q := range []string{"from_ns=0&to_ns=0&columns=5", "from_ns=5&to_ns=1&columns=5", "from_ns=0&to_ns=9&columns=0", "from_ns=0&to_ns=9&columns=9999",
		"from_ns=x&to_ns=9&columns=9", "from_ns=-9223372036854775808&to_ns=9&columns=9", ""} {
		if w := ask(p, http.MethodGet, "/api/traces?session=monday&"+q, "", nil); w.Code != 400 {
			t.Errorf("%s: status %d, want 400", q, w.Code)
		}
	}
}
