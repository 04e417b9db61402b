package corpus

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

// testRig is a rig with or without a gyroscope.
func testRig(t testing.TB, name string, gyro bool) *rig.Rig {
	t.Helper()
	r := datasettest.Rig(t)
	r.Name, r.Log.TimeUnit = name, "us"
	if !gyro {
		r.Sensor.GyroRangeDPS, r.Sensor.GyroLSBPerDPS = 0, 0
	}
	return r
}

// testSignal is n samples of noise in segments of 1000, as a session row and
// its samples.
func testSignal(name string, rg *rig.Rig, n int, seed uint64) (dataset.Session, *dataset.Signal) {
	rng := rand.New(rand.NewPCG(seed, 1))
	sig := &dataset.Signal{TNs: make([]int64, n), TRaw: make([]int64, n), Segment: make([]int32, n)}
	for k := range 3 {
		sig.A[k] = make([]float32, n)
		if rg.HasGyro() {
			sig.G[k] = make([]float32, n)
		}
	}
	const perSegment = 1000
	for i := range n {
		sig.TNs[i] = int64(i) * 1_000_000
		sig.TRaw[i] = (4_294_000_000 + int64(i)*1000) % (1 << 32)
		sig.Segment[i] = int32(i / perSegment)
		for k := range 3 {
			sig.A[k][i] = float32(math.Round(rng.NormFloat64()*20) / 2048 * dataset.StandardGravity)
			if rg.HasGyro() {
				sig.G[k][i] = float32(math.Round(rng.NormFloat64()*20) / 16.4 * math.Pi / 180)
			}
		}
	}
	s := dataset.Session{
		Name: name, Rig: rg.Key(), Striker: "anna", LogName: name + ".csv",
		LogSHA256: strings.Repeat("0", 56) + fmt.Sprintf("%08x", seed), LogBytes: 12345,
		Dialect: "counts-csv", Compression: "gzip", TimeUnit: "us", AccelUnit: "counts",
		Samples: int64(n), Segments: (n + perSegment - 1) / perSegment, DurationS: float64(n-1) / 1000,
		NominalRateHz: 1000, RateHz: 999.2, RawPerSecond: 1e6, HasGyro: rg.HasGyro(), Wraps: 1, Gaps: 1,
		Repairs:   []dataset.Repair{{Kind: "wrap", Count: 1, First: []string{"line 968: 4294967000 then 704"}}},
		NoiseMPS2: [3]float64{0.1, 0.2, 0.3}, StillMPS2: [3]float64{0, 0, 9.81}, StillS: 3.5, SlantDeg: 1.25, SlantTowardDeg: 40,
	}
	if rg.HasGyro() {
		s.GyroUnit, s.NoiseRadps = "counts", [3]float64{0.01, 0.02, 0.03}
	}
	return s, sig
}

func testStrikes(n int) []dataset.Strike {
	strikes := make([]dataset.Strike, n)
	for i := range strikes {
		strikes[i] = dataset.Strike{
			Number: i + 1, OnsetNs: int64(i+1) * 300_000_123, ReadyNs: int64(i+1)*300_000_123 + 35_000_000,
			Segment: int32(int64(i+1) * 300_000_123 / 1_000_000_000), PeakMPS2: 50 + float64(i)/7, Clipped: i%2 == 0, NearGap: i%3 == 0,
		}
	}
	return strikes
}

func testLabels(strikes []dataset.Strike) []LabelRow {
	rows := make([]LabelRow, len(strikes))
	for i, k := range strikes {
		bearing, height := float64(60*i%360), 0.2+float64(i)/100
		rows[i] = LabelRow{
			ID: fmt.Sprintf("plan-%d", i+1), OnsetNs: k.OnsetNs, Source: "plan", Author: "plan.csv", AtNs: 1,
			Face: 1 + i%6, BearingDeg: &bearing, HeightM: &height, Band: "low", Kind: "hook", Confidence: 0.9,
			BearingSDDeg: 8, HeightSDM: 0.04, PlanOrder: i + 1, Preferred: true, Strike: k.Number,
		}
		if i == 1 {
			rows[i] = LabelRow{ID: "hand-1", OnsetNs: k.OnsetNs, Source: "hand", Author: "anna", Confidence: 1, NotStrike: true, Note: "a shove"}
		}
	}
	return rows
}

func newCorpus(t testing.TB) *Corpus {
	t.Helper()
	c, err := OpenOrCreate(filepath.Join(t.TempDir(), "bag"))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// keepLog keeps a log and returns its SHA-256 and the number of its bytes.
func keepLog(ctx context.Context, c *Corpus, log io.Reader) (sha string, n int64, err error) {
	w, err := c.NewRaw(ctx)
	if err != nil {
		return "", 0, err
	}
	defer func() { err = errors.Join(err, w.Abort()) }()
	if _, err := io.Copy(w, log); err != nil {
		return "", 0, err
	}
	return w.Keep(ctx)
}

// hasLog tells whether a log is kept.
func hasLog(c *Corpus, sha string) bool {
	_, err := os.Stat(c.path(rawPath(sha)))
	return err == nil
}

// logOf is the log that keepRaw keeps for a session.
func logOf(session string) io.Reader { return strings.NewReader("t_us,ax,ay,az\n# " + session + "\n") }

// keepRaw keeps a log of its own for a session and puts its digest in the row.
func keepRaw(t testing.TB, c *Corpus, s *dataset.Session) {
	t.Helper()
	sha, n, err := keepLog(t.Context(), c, logOf(s.Name))
	if err != nil {
		t.Fatal(err)
	}
	s.LogSHA256, s.LogBytes = sha, n
}

// addSession keeps one whole session: log, samples, strikes, features, journal
// and labels view.
func addSession(t testing.TB, c *Corpus, name string, rg *rig.Rig, n int, seed uint64) {
	t.Helper()
	ctx := t.Context()
	if err := c.PutRig(rg); err != nil {
		t.Fatal(err)
	}
	s, sig := testSignal(name, rg, n, seed)
	keepRaw(t, c, &s)
	if err := c.PutSession(ctx, s, sig, false); err != nil {
		t.Fatal(err)
	}
	strikes := testStrikes(n / 400)
	if err := c.PutStrikes(ctx, name, strikes, Made{"onset 1", "noise=auto"}); err != nil {
		t.Fatal(err)
	}
	f := FeatureTable{Names: []string{"kick_x", "kick_y", "rise_ms"}, Units: []string{"m/s", "m/s", "ms"}, Made: Made{"features 1", "pre=300"}}
	for i, k := range strikes {
		f.Number, f.OnsetNs = append(f.Number, k.Number), append(f.OnsetNs, k.OnsetNs)
		f.Rows = append(f.Rows, []float64{float64(i), math.NaN(), 1 / float64(i+1)})
	}
	if err := c.PutFeatures(ctx, name, f); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Dir(c.JournalPath(name)), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(c.JournalPath(name), []byte(`{"id":"plan-1"}`+"\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := c.PutLabels(ctx, name, testLabels(strikes)); err != nil {
		t.Fatal(err)
	}
}

// fixture is a corpus of two sessions with a gyroscope and one without.
func fixture(t testing.TB) *Corpus {
	t.Helper()
	c := newCorpus(t)
	with, without := testRig(t, "garage", true), testRig(t, "attic", false)
	addSession(t, c, "monday", with, 2500, 1)
	addSession(t, c, "tuesday", with, 2500, 2)
	addSession(t, c, "friday", without, 2500, 3)
	return c
}

// encodeSamples is the samples part of a session, whether or not the samples
// are in order.
func encodeSamples(ctx context.Context, s *dataset.Session, sig *dataset.Signal) ([]byte, error) {
	var out bytes.Buffer
	_, err := samplesTable().write(ctx, &out, sampleColumns(s.Rig, s.Name, sig), samplesMeta(s.Rig, s.Name, sig.HasGyro()))
	return out.Bytes(), err
}

// stageSamples writes a samples part under its temporary name, adds the rename
// to the change and returns the checksum.
func (c *Corpus) stageSamples(ctx context.Context, ch *change, s *dataset.Session, sig *dataset.Signal) (samplesSHA string, err error) {
	file, err := encodeSamples(ctx, s, sig)
	if err == nil {
		samplesSHA, err = verifySeal(file)
	}
	if err != nil {
		return "", err
	}
	return samplesSHA, c.stagePart(ch, part("samples", s.Rig, s.Name), file)
}

// decodeSamples reads a samples part that lies in memory, as what a session's
// row tells of it, by the way of files.
func decodeSamples(ctx context.Context, file []byte) (*dataset.Signal, error) {
	f, err := openParquet(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		return nil, err
	}
	r := &samplesReader{
		corpus: &Corpus{}, rel: "samples", place: place{f.meta[rigMeta], f.meta[sessionMeta]},
		digest: strings.TrimPrefix(f.meta[sealKey], sealPrefix),
	}
	if err := r.open(bytes.NewReader(file), int64(len(file))); err != nil {
		return nil, err
	}
	sig := newStretch(r.gyro())
	err = r.verified(ctx, r.readings(), func(columns []any) error {
		appendStretch(sig, signalOf(columns))
		return nil
	}, func() error { return nil })
	return sig, err
}
