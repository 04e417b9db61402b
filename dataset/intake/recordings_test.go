package intake

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// recording is one log of the full recordings with what is known of it.
type recording struct {
	path, folder, session string
	rig                   *rig.Rig
	log                   []byte
}

func recordings(t *testing.T) []recording {
	dir := datasettest.Recordings(t)
	paths, _ := filepath.Glob(filepath.Join(dir, "*", "logs", "session*"))
	if len(paths) == 0 {
		t.Fatalf("no logs in %s", dir)
	}
	var out []recording
	for _, path := range paths {
		folder := filepath.Dir(filepath.Dir(path))
		rg, err := rig.Load(filepath.Join(folder, "rig.toml"))
		if err != nil {
			t.Fatal(err)
		}
		log, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		session, _, _ := strings.Cut(filepath.Base(path), ".")
		out = append(out, recording{path, folder, session, rg, log})
	}
	return out
}

func (r recording) json(t *testing.T, name string, v any) {
	b, err := os.ReadFile(filepath.Join(r.folder, name))
	if err == nil {
		err = json.Unmarshal(b, v)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// TestRecordings measures the import of the full recordings against what is
// known of them. The rate of samples by the board's clock is the nominal one,
// times the sensor's error, over the clock's; one sample miscounted in 200,000
// would show as 5 parts per million. Each log is read at once and in chunks.
func TestRecordings(t *testing.T) {
	for _, rec := range recordings(t) {
		rec.measure(t, "", usualChunks)
		rec.measure(t, " in chunks", chunking{records: 1 << 15, overlapS: usualChunks.overlapS})
	}
}

// measure reads a log in chunks and holds it against what is known.
func (rec recording) measure(t *testing.T, how string, c chunking) {
	name := filepath.Base(rec.folder) + "/" + filepath.Base(rec.path) + how
	res, err := readAll(context.Background(), bytes.NewReader(rec.log), name, rec.rig, Options{}, nil, c)
	if err != nil {
		t.Error(err)
		return
	}
	var known struct {
		IMU struct {
			Rate float64 `json:"sample_rate_error"`
		} `json:"imu_true"`
	}
	var clock struct {
		PPM float64 `json:"clock_error_ppm"`
	}
	rec.json(t, "truth_rig.json", &known)
	rec.json(t, filepath.Join("truth", rec.session+"_imu.json"), &clock)
	s := res.Session
	want := rec.rig.Sensor.RateHz * (1 + known.IMU.Rate) / (1 + clock.PPM*1e-6)
	off := 1e6 * (s.RateHz/want - 1)
	gaps, pairs, worst, rms := rec.truth(t, res)
	t.Logf("%-32s %-10s %6d samples, rate %.4f Hz (off by %+.3f ppm), %d lost, %d wraps, %d restarts (%d power gaps), %d damaged, %d stamps mended, %d other lines, %d junk bytes, %d clipped; %d true times: rms %.4f ms, most %.4f ms; notes %q",
		name, s.Dialect, s.Samples, s.RateHz, off, s.LostSamples, s.Wraps, s.Restarts, gaps, s.DamagedRecords, s.DamagedStamps, s.OtherLines, s.JunkBytes, s.ClippedSamples, pairs, rms, worst, res.Notes)
	if math.Abs(off) > 0.1 {
		t.Errorf("%s: rate %v Hz, want %v: samples miscounted", name, s.RateHz, want)
	}
	if s.Restarts != gaps || s.Gaps != 0 {
		t.Errorf("%s: %d restarts and %d gaps for %d power gaps", name, s.Restarts, s.Gaps, gaps)
	}
	if worst > 0.05 && s.RawPerSecond > 1e3 || worst > 1 {
		t.Errorf("%s: a true time is off by %g ms", name, worst)
	}
}

// truth compares the repaired clock with the true times of strikes, which are
// given on the board's clock too: after a line is fitted in each stretch
// between restarts, what is left is the error of the repair and of the truth.
func (r recording) truth(t *testing.T, res *Result) (powerGaps, pairs int, worstMs, rmsMs float64) {
	read := func(name string) []datasettest.Row {
		return datasettest.Rows(t, filepath.Join(r.folder, "truth", r.session+name))
	}
	for _, o := range read("_other.csv") {
		if o["what"] == "power_gap" {
			powerGaps++
		}
	}
	sig := &res.Signal
	boots := map[string][][2]float64{}
	for _, row := range read("_truth.csv") {
		trueS, err1 := strconv.ParseFloat(row["t_s"], 64)
		raw, err2 := strconv.ParseFloat(row["t_log"], 64)
		if err1 != nil || err2 != nil {
			continue
		}
		if res.Session.TimeUnit == "ms" && res.Session.RawPerSecond == 1e6 {
			raw *= 1000
		}
		boot := row["boot"]
		if at, ok := timeOfRaw(sig, raw, boot == "2", res.Session.RawPerSecond); ok {
			boots[boot] = append(boots[boot], [2]float64{trueS, at})
		}
	}
	sum := 0.0
	for _, xy := range boots {
		for _, r := range residuals(xy) {
			pairs++
			sum += r * r
			worstMs = max(worstMs, 1000*math.Abs(r))
		}
	}
	return powerGaps, pairs, worstMs, 1000 * math.Sqrt(sum/float64(pairs))
}

// timeOfRaw places a moment of the board's clock on the repaired one, by the
// mean difference of the two over the hundred samples around it.
func timeOfRaw(sig *dataset.Signal, raw float64, second bool, perSecond float64) (s float64, ok bool) {
	from, to := 0, sig.Len()
	for i := 1; i < sig.Len(); i++ {
		if sig.Segment[i] != sig.Segment[i-1] {
			if second {
				from = i
			} else {
				to = i
			}
			break
		}
	}
	at, best := -1, math.Inf(1)
	for i := from; i < to; i++ {
		if d := math.Abs(float64(sig.TRaw[i]) - raw); d < best {
			at, best = i, d
		}
	}
	if best > 0.05*perSecond || at-50 < from || at+50 >= to {
		return 0, false
	}
	sum, n := 0.0, 0.0
	for i := at - 50; i < at+50; i++ {
		if d := float64(sig.TRaw[i]) - raw; math.Abs(d) < perSecond { // not across a wrap
			sum += float64(sig.TNs[i])/1e9 - d/perSecond
			n++
		}
	}
	return sum / n, n > 50
}

// residuals of a straight line through points.
func residuals(xy [][2]float64) []float64 {
	var n, mx, my, sxx, sxy float64
	for _, p := range xy {
		n++
		mx += p[0]
		my += p[1]
	}
	mx, my = mx/n, my/n
	for _, p := range xy {
		sxx += (p[0] - mx) * (p[0] - mx)
		sxy += (p[0] - mx) * (p[1] - my)
	}
	out := make([]float64, len(xy))
	for i, p := range xy {
		out[i] = p[1] - my - sxy/sxx*(p[0]-mx)
	}
	return out
}

// TestRecordingsPrefix measures how far the times of samples move when a log
// is cut short.
func TestRecordingsPrefix(t *testing.T) {
	for _, rec := range recordings(t) {
		if strings.HasSuffix(rec.path, ".gz") && testing.Short() {
			continue
		}
		full := mustRead(t, rec.log, rec.rig, Options{})
		for _, share := range []float64{0.1, 0.37, 0.9} {
			cut := mustRead(t, rec.log[:int(share*float64(len(rec.log)))], rec.rig, Options{})
			worst := int64(0)
			for i := range cut.Signal.Len() - 1 { // the last record may be cut itself
				d := full.Signal.TNs[i] - cut.Signal.TNs[i]
				worst = max(worst, d, -d)
			}
			t.Logf("%s cut to %.0f %%: times move by at most %.4f ms", rec.path, 100*share, float64(worst)/1e6)
			if worst > 100000 {
				t.Errorf("%s cut to %.0f %%: times move by %d ns", rec.path, 100*share, worst)
			}
		}
	}
}

// BenchmarkRead reads logs of a minute at 1000 Hz.
func BenchmarkRead(b *testing.B) {
	sig := testSignal(60000, 1000.7, 5000, 8)
	rg := testRig(b, 1000)
	for _, d := range allDialects() {
		log := encode(d, sig)
		b.Run("dialect="+d, func(b *testing.B) {
			b.SetBytes(int64(len(log)))
			for b.Loop() {
				mustRead(b, log, rg, Options{})
			}
			b.ReportMetric(float64(sig.Len())*float64(b.N)/b.Elapsed().Seconds(), "samples/s")
		})
	}
}

// BenchmarkRepairClock repairs the stamps of ten minutes at 1000 Hz.
func BenchmarkRepairClock(b *testing.B) {
	k := makeClock(600000, 1002.1, 1e-7, 1e6, 6e-6, 0.004, 4000, 5)
	for b.Loop() {
		if _, err := RepairClock(k.stamps(1e6)); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(600000*float64(b.N)/b.Elapsed().Seconds(), "samples/s")
}
