package intake

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// whole makes any log one chunk.
var whole = chunking{records: math.MaxInt}

// pieces is what the importer makes of stamps alone.
type pieces struct {
	joined
	tNs     []int64
	segment []int32
	record  []int // of each sample
	account Account
	ends    []int // of the chunks, in samples
}

// inChunks repairs stamps as the importer does, settled before.
func inChunks(t rapid.TB, rg *rig.Rig, s Stamps, unit string, c chunking) pieces {
	var p pieces
	im := &importer{rig: rg, chunk: c, rec: &Records{}, settled: true, accelStep: 1, rawPerSecond: s.PerSecond, timeUnit: unit, strict: s.Strict}
	im.screens.scale = 1
	im.sink = func(sig *dataset.Signal) error {
		p.tNs, p.segment = append(p.tNs, sig.TNs...), append(p.segment, sig.Segment...)
		for _, x := range sig.A[0] {
			p.record = append(p.record, int(x))
		}
		p.ends = append(p.ends, len(p.tNs))
		return nil
	}
	size := max(1, min(len(s.Raw), c.records)/batchShare)
	for at := 0; at < len(s.Raw); at += size {
		b := &Records{}
		for i := at; i < min(len(s.Raw), at+size); i++ {
			x := row{whole: s.Raw[i], v: [6]float64{float64(i)}}
			b.add(&x, int64(i+1), int64(i))
		}
		if err := im.take(batch{Records: b}); err != nil {
			t.Fatal(err)
		}
	}
	if err := im.join(true); err != nil {
		t.Fatal(err)
	}
	p.joined, p.account = im.joined, im.own
	return p
}

// agree fails where chunks say anything else than the whole, or times that
// differ by more than so many nanoseconds.
func agree(t rapid.TB, got, want pieces, tolNs float64) {
	if !reflect.DeepEqual(got.record, want.record) {
		for i := range min(len(got.record), len(want.record)) {
			if got.record[i] != want.record[i] {
				t.Fatalf("sample %d is record %d, want %d (chunks end at %v)", i, got.record[i], want.record[i], got.ends)
			}
		}
		t.Fatalf("%d samples, want %d", len(got.record), len(want.record))
	}
	for i := range got.tNs {
		if got.segment[i] != want.segment[i] {
			t.Fatalf("sample %d in segment %d, want %d (chunks end at %v)", i, got.segment[i], want.segment[i], got.ends)
		}
		if i > 0 && got.tNs[i] <= got.tNs[i-1] {
			t.Fatalf("sample %d at %d ns after %d", i, got.tNs[i], got.tNs[i-1])
		}
		if d := math.Abs(float64(got.tNs[i] - want.tNs[i])); d > tolNs {
			t.Fatalf("sample %d at %d ns, want %d: %g ns off, more than %g (chunks end at %v)", i, got.tNs[i], want.tNs[i], d, tolNs, got.ends)
		}
	}
	if got.wraps != want.wraps || got.restarts != want.restarts || got.gaps != want.gaps || got.lost != want.lost || got.mended != want.mended || got.doubts != want.doubts || got.firstDoubt != want.firstDoubt || got.records != want.records {
		t.Fatalf("chunks say %+v, want %+v", got.joined, want.joined)
	}
	counts := func(a Account) map[string]int64 {
		m := map[string]int64{}
		for _, r := range a.Repairs {
			m[r.Kind] = r.Count
		}
		return m
	}
	if g, w := counts(got.account), counts(want.account); !reflect.DeepEqual(g, w) {
		t.Fatalf("chunks count %v, want %v", g, w)
	}
}

// TestChunksAgreeWithWhole holds that a log done in chunks gives the same
// records, segments and counts as done at once, and times within a fiftieth of a
// sample: also where things happen just where chunks end, overlap and are joined.
func TestChunksAgreeWithWhole(t *testing.T) {
	rg := testRig(t, 1000)
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.SampledFrom([]float64{401.3, 803.77, 1002.1, 1603.1}).Draw(t, "rate")
		size := rapid.SampledFrom([]int{3000, 4096}).Draw(t, "records")
		c := chunking{records: size, overlapS: 3}
		n := size + rapid.IntRange(1, size+size/2).Draw(t, "more")
		strict := rapid.Bool().Draw(t, "strict")
		start := int64(1 << 20)
		if rapid.Bool().Draw(t, "wrap") {
			start = 1<<32 - int64(rapid.IntRange(1, n).Draw(t, "before the wrap"))*int64(1e6/rate)
		}
		k := makeClock(n, rate, 0, 1e6, 6e-6, 0.002, start, rapid.Uint64().Draw(t, "seed"))
		raw := k.raw
		lap := min(size/4, max(512, int(c.overlapS*rate)))
		places := []int{size, size - lap, size - lap/2, 2*size - lap, 2*size - 2*lap, 2*size - lap - lap/2}
		for range rapid.IntRange(0, 4).Draw(t, "happenings") {
			at := rapid.SampledFrom(places).Draw(t, "place") + rapid.IntRange(-12, 12).Draw(t, "off")
			if at < 100 || at > len(raw)-100 {
				continue
			}
			switch rapid.IntRange(0, 4).Draw(t, "what") {
			case 0: // wrong stamps
				for i := range rapid.IntRange(1, 3).Draw(t, "wrong") {
					raw[at+2*i] ^= 1 << 27
				}
			case 1: // lost samples that stay in a segment
				raw = append(raw[:at:at], raw[at+rapid.IntRange(1, 5).Draw(t, "lost"):]...)
			case 2: // a gap
				raw = append(raw[:at:at], raw[at+rapid.IntRange(6, 40).Draw(t, "missing"):]...)
			case 3: // a pause
				for i := at; i < len(raw); i++ {
					raw[i] += 20e6
				}
			case 4: // a restart
				from := raw[at]
				for i := at; i < len(raw); i++ {
					raw[i] += 7777 - from
				}
			}
		}
		for i := range raw {
			raw[i] &= 1<<32 - 1
		}
		s := Stamps{Raw: raw, PerSecond: 1e6, Moduli: []float64{1 << 32}, Strict: strict}
		agree(t, inChunks(t, rg, s, "us", c), inChunks(t, rg, s, "us", whole), 0.02*1e9/rate)
	})
}

// TestReadInChunks holds that logs of each dialect, damaged ones too, are read in
// chunks as they are at once.
func TestReadInChunks(t *testing.T) {
	rg := testRig(t, 1000)
	for _, dialect := range allDialects() {
		n, damage, c := 18000, 60, chunking{records: 8192, overlapS: 2}
		if dialect == "console" { // whole milliseconds take longer to tell their phase, and hardly tell losses
			n, damage, c = 36000, 2, chunking{records: 16384, overlapS: 4}
		}
		sig := testSignal(n, 1000.7, 4280000000, 4)
		log := encode(dialect, sig)
		rnd := rand.New(rand.NewPCG(3, 1))
		for range damage {
			i := 300 + rnd.IntN(len(log)-300)
			log[i] ^= 1 << rnd.IntN(8)
		}
		agreeRead(t, dialect, log, rg, c)
	}
	dir := filepath.Join(datasettest.Root(t), "testdata", "recordings")
	hall, err := rig.Load(filepath.Join(dir, "hall.toml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"monday.csv.zst", "friday.bin.zst"} {
		log, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		agreeRead(t, name, log, hall, chunking{records: 1 << 14, overlapS: 4})
	}
}

func agreeRead(t *testing.T, name string, log []byte, rg *rig.Rig, c chunking) {
	t.Helper()
	read := func(c chunking) *Result {
		res, err := readAll(context.Background(), bytes.NewReader(log), name, rg, Options{}, nil, c)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		return res
	}
	want, got := read(whole), read(c)
	if !reflect.DeepEqual(got.Signal.A, want.Signal.A) || !reflect.DeepEqual(got.Signal.G, want.Signal.G) || !reflect.DeepEqual(got.Signal.TRaw, want.Signal.TRaw) || !reflect.DeepEqual(got.Signal.Segment, want.Signal.Segment) {
		t.Errorf("%s: samples in chunks differ", name)
	}
	worst := 0.0
	for i, ns := range got.Signal.TNs {
		worst = max(worst, math.Abs(float64(ns-want.Signal.TNs[i])))
	}
	g, w := got.Session, want.Session
	t.Logf("%s: times differ by at most %.0f ns, noise %v, %v, still %v, %v", name, worst, g.NoiseMPS2, w.NoiseMPS2, g.StillMPS2, w.StillMPS2)
	if tol := max(0.02*1e9/w.RateHz, 0.1*1e9/w.RawPerSecond); worst > tol { // coarse stamps tell less
		t.Errorf("%s: times differ by %g ns, more than %g", name, worst, tol)
	}
	if math.Abs(g.RateHz/w.RateHz-1) > max(1e-7, 0.01/w.RawPerSecond) || math.Abs(g.DurationS-w.DurationS) > 1e-4 || math.Abs(g.StillS-w.StillS) > 0.1*w.StillS {
		t.Errorf("%s: session %+v, want %+v", name, g, w)
	}
	for k := range 3 {
		if math.Abs(g.NoiseMPS2[k]/w.NoiseMPS2[k]-1) > 0.03 || math.Abs(g.StillMPS2[k]-w.StillMPS2[k]) > 0.02 {
			t.Errorf("%s: noise %v, want %v; still %v, want %v", name, g.NoiseMPS2, w.NoiseMPS2, g.StillMPS2, w.StillMPS2)
		}
	}
	// What is measured may differ a little, what is counted may not; the order of
	// kinds of repair is that of their first places.
	blank := func(s dataset.Session) string {
		s.RateHz, s.DurationS, s.StillS, s.SlantDeg, s.SlantTowardDeg = 0, 0, 0, 0, 0
		s.NoiseMPS2, s.NoiseRadps, s.StillMPS2 = [3]float64{}, [3]float64{}, [3]float64{}
		slices.SortFunc(s.Repairs, func(a, b dataset.Repair) int { return strings.Compare(a.Kind, b.Kind) })
		b, err := json.Marshal(s)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if blank(g) != blank(w) {
		t.Errorf("%s: session in chunks\n%s\nwant\n%s", name, blank(g), blank(w))
	}
}

// TestStreamSink holds that an error of the sink comes back as it is.
func TestStreamSink(t *testing.T) {
	log := encode("counts-csv", testSignal(9000, 1000, 0, 3))
	full := errors.New("the disk is full")
	for _, c := range []chunking{whole, {records: 2048, overlapS: 0.5}} {
		_, err := streamIn(context.Background(), bytes.NewReader(log), "x", testRig(t, 1000), Options{}, nil, c, func(*dataset.Signal) error { return full })
		if err != full {
			t.Errorf("error %v, want the sink's", err)
		}
	}
}

// TestLaterChunks holds that what comes later and contradicts a log's start is
// counted, and that what is judged on the whole is not judged on its start.
func TestLaterChunks(t *testing.T) {
	rg := testRig(t, 1000)
	sig := testSignal(12000, 1000, 5000, 6)
	c := chunking{records: 4096, overlapS: 1}
	jsonl := func(line func(i int) string) []byte {
		var b bytes.Buffer
		for i := range sig.Len() {
			b.WriteString(line(i) + "\n")
		}
		return b.Bytes()
	}
	at := func(i int, stamp string, gyro bool) string {
		n := counts(sig, i)
		s := fmt.Sprintf(`{"t":%s,"a":[%d,%d,%d]`, stamp, n[0], n[1], n[2])
		if gyro {
			s += fmt.Sprintf(`,"g":[%d,%d,%d]`, n[3], n[4], n[5])
		}
		return s + "}"
	}
	whole := func(i int) string { return strconv.FormatInt(sig.TRaw[i], 10) }
	for _, x := range []struct {
		name    string
		log     []byte
		o       Options
		kind    string // of repair
		count   int64
		samples int64
		words   string // of the refusal; "": it is read
	}{
		{name: "rotation rates begin", log: jsonl(func(i int) string { return at(i, whole(i), i >= 6000) }),
			kind: "rotation rates left out: the log's start holds none", count: 6000, samples: 12000},
		{name: "rotation rates end", log: jsonl(func(i int) string { return at(i, whole(i), i < 11000) }),
			kind: "damaged: rotation rates missing", count: 1000, samples: 11000},
		{name: "rotation rates end early", log: jsonl(func(i int) string { return at(i, whole(i), i < 5000) }),
			words: "58 % of the records are damaged"},
		{name: "decimals begin", log: jsonl(func(i int) string { return at(i, whole(i)+map[bool]string{true: ".25"}[i >= 11000], true) }),
			kind: "damaged: decimals unlike the other records'", count: 1000, samples: 11000},
		{name: "fractions begin", log: jsonl(func(i int) string {
			return at(i, whole(i)+map[bool]string{true: ".25", false: ".0"[:2*(i%2)]}[i >= 11000], true)
		}),
			kind: "fraction of a time stamp left out: the stamps at the log's start have none", count: 1000, samples: 12000},
		{name: "damaged at the start", log: jsonl(func(i int) string {
			if i < 2000 && i%2 > 0 {
				return `{"t":`
			}
			return at(i, whole(i), true)
		}),
			kind: "damaged: broken object", count: 1000, samples: 11000},
		{name: "another unit than stated", log: encode("counts-csv", sig), o: Options{AccelUnit: "g"}, words: "which is not near 1 g"},
	} {
		res, err := readAll(context.Background(), bytes.NewReader(x.log), "x", rg, x.o, nil, c)
		if x.words != "" {
			if err == nil || !strings.Contains(err.Error(), x.words) {
				t.Errorf("%s: error %v lacks %q", x.name, err, x.words)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", x.name, err)
			continue
		}
		k := slices.IndexFunc(res.Session.Repairs, func(r dataset.Repair) bool { return r.Kind == x.kind })
		if k < 0 || res.Session.Repairs[k].Count != x.count || res.Session.Samples != x.samples {
			t.Errorf("%s: %d samples, want %d; repairs %+v, want %d %s", x.name, res.Session.Samples, x.samples, res.Session.Repairs, x.count, x.kind)
		}
	}
}

// TestPoseIsJudgedAtTheEnd holds that a sensor may lie on its side while the first
// chunk is logged, but not all the time.
func TestPoseIsJudgedAtTheEnd(t *testing.T) {
	rg := testRig(t, 1000)
	for _, x := range []struct {
		onItsSide int
		words     string
	}{{5000, ""}, {30000, "points 90 degrees away from up"}} {
		sig := testSignal(30000, 1000, 5000, 6)
		for i := range sig.Len() {
			for k := range 3 {
				sig.A[k][i] = float32(math.Mod(float64(i*(7+k)), 11)-5) / 2048 * dataset.StandardGravity
			}
			axis := 2
			if i < x.onItsSide {
				axis = 0
			}
			sig.A[axis][i] += dataset.StandardGravity
		}
		_, err := readAll(context.Background(), bytes.NewReader(encode("counts-csv", sig)), "x", rg, Options{}, nil, chunking{records: 4096, overlapS: 1})
		if x.words == "" && err != nil || x.words != "" && (err == nil || !strings.Contains(err.Error(), x.words)) {
			t.Errorf("%d records on its side: error %v, want %q", x.onItsSide, err, x.words)
		}
	}
}

// TestChunkWithoutRhythm holds that a stretch whose stamps stand still does not
// upset the chunks around it.
func TestChunkWithoutRhythm(t *testing.T) {
	rg := testRig(t, 1000)
	for _, strict := range []bool{false, true} {
		k := makeClock(40000, 1000, 0, 1e6, 6e-6, 0, 4000, 5)
		for i := 9000; i < 15000; i++ {
			k.raw[i] = k.raw[9000]
		}
		s := Stamps{Raw: k.raw, PerSecond: 1e6, Strict: strict}
		got := inChunks(t, rg, s, "us", chunking{records: 4096, overlapS: 1})
		for i := range got.tNs {
			if i > 0 && (got.tNs[i] <= got.tNs[i-1] || got.segment[i] < got.segment[i-1] || got.segment[i] > got.segment[i-1]+1) {
				t.Fatalf("strict %v: sample %d at %d ns in segment %d after %d ns in segment %d", strict, i, got.tNs[i], got.segment[i], got.tNs[i-1], got.segment[i-1])
			}
		}
		if int(got.lastSegment) != got.restarts+got.gaps {
			t.Errorf("strict %v: %d segments after %d restarts and %d gaps", strict, got.lastSegment+1, got.restarts, got.gaps)
		}
		// Before and after, all is as it was.
		n := len(got.tNs)
		if got.record[8000] != 8000 || math.Abs(float64(got.tNs[8000])-8e9) > 1e4 || got.segment[8000] != 0 {
			t.Errorf("strict %v: sample 8000 is record %d at %d ns in segment %d", strict, got.record[8000], got.tNs[8000], got.segment[8000])
		}
		if took := got.tNs[n-1] - got.tNs[n-20000]; got.record[n-1] != 39999 || got.record[n-20000] != 20000 || math.Abs(float64(took)-19999e6) > 1e4 || got.segment[n-20000] != got.segment[n-1] {
			t.Errorf("strict %v: the last 20000 samples begin with record %d, end with %d and take %d ns", strict, got.record[n-20000], got.record[n-1], took)
		}
	}
}
