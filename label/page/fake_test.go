package page_test

import (
	"bytes"
	"context"
	"encoding/json"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"strikerose/dataset"
	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
	"strikerose/label"
	"strikerose/label/page"
)

const host = "127.0.0.1:7420"

// fake is a corpus of one session in memory.
type fake struct {
	rig     *rig.Rig
	session dataset.Session
	signal  *dataset.Signal
	stretch int // samples in one
	strikes []dataset.Strike
	busy    bool
	calls   string

	mu     sync.Mutex
	claims []label.Claim
}

func (f *fake) ID() string                           { return "c0ffee" }
func (f *fake) Sessions() ([]dataset.Session, error) { return []dataset.Session{f.session}, nil }
func (f *fake) Session(name string) (dataset.Session, error) {
	if name != f.session.Name {
		return dataset.Session{}, page.ErrUnknownSession
	}
	return f.session, nil
}
func (f *fake) Rigs() ([]*rig.Rig, error)                { return []*rig.Rig{f.rig}, nil }
func (f *fake) Rig(string) (*rig.Rig, error)             { return f.rig, nil }
func (f *fake) Strikes(string) ([]dataset.Strike, error) { return f.strikes, nil }
func (f *fake) Claims(context.Context, string) ([]label.Claim, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.claims, nil
}
func (f *fake) Append(_ context.Context, _ string, next func([]label.Claim) ([]label.Claim, error)) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.busy {
		return page.ErrBusy
	}
	fresh, err := next(f.claims)
	f.claims = append(f.claims, fresh...)
	return err
}
func (f *fake) Samples(string) (page.Samples, error) { return f, nil }
func (f *fake) PutCalls(name string, csv []byte) (string, error) {
	f.calls = string(csv)
	return "calls/" + name + ".csv", nil
}

func (f *fake) List() []page.Stretch {
	var out []page.Stretch
	for i := 0; i < f.signal.Len(); i += f.stretch {
		end := min(i+f.stretch, f.signal.Len())
		out = append(out, page.Stretch{FromNs: f.signal.TNs[i], ToNs: f.signal.TNs[end-1], Samples: end - i})
	}
	return out
}

func (f *fake) Read(_ context.Context, i int) (*dataset.Signal, error) {
	s := f.signal.Slice(i*f.stretch, min((i+1)*f.stretch, f.signal.Len()))
	return &s, nil
}
func (f *fake) Verify(context.Context) error { return nil }
func (f *fake) Close() error                 { return nil }

// newFake is a session of noise at 1000 Hz in segments, with a strike every
// half second.
func newFake(t testing.TB, seconds int) *fake {
	t.Helper()
	r := datasettest.Rig(t)
	n := 1000 * seconds
	f := &fake{rig: r, stretch: 3000, session: dataset.Session{Name: "monday", Rig: r.Key(), DurationS: float64(n-1) / 1000,
		NominalRateHz: 1000, HasGyro: true, Samples: int64(n)}}
	rng := rand.New(rand.NewPCG(1, 1))
	sig := &dataset.Signal{TNs: make([]int64, n), TRaw: make([]int64, n), Segment: make([]int32, n)}
	for k := range 3 {
		sig.A[k], sig.G[k] = make([]float32, n), make([]float32, n)
	}
	for i := range n {
		sig.TNs[i], sig.Segment[i] = int64(i)*1_000_000, int32(i/4321)
		for k := range 3 {
			sig.A[k][i], sig.G[k][i] = float32(rng.NormFloat64()), float32(rng.NormFloat64())
		}
	}
	f.signal = sig
	for i := 1; i < 2*seconds; i++ {
		f.strikes = append(f.strikes, dataset.Strike{Number: i, OnsetNs: int64(i) * 500_000_000, ReadyNs: int64(i)*500_000_000 + 1, PeakMPS2: 30})
	}
	return f
}

func serve(t testing.TB, f *fake) *page.Page {
	t.Helper()
	p := page.New(page.Options{Corpus: f, Wanted: 2, Token: "secret", Hosts: []string{host, "localhost:7420"},
		Cautions: []string{"Wraps on."}, Now: func() time.Time { return time.Date(2026, 3, 1, 18, 0, 0, 0, time.UTC) }})
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Error(err)
		}
	})
	return p
}

// ask sends a request as the page itself would; header entries override.
func ask(p http.Handler, method, path, body string, header map[string]string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, path, strings.NewReader(body))
	r.Host = host
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Origin", "http://"+host)
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		r.Header.Set("X-Strikerose-Token", "secret")
	}
	for k, v := range header {
		if k == "Host" {
			r.Host = v
			continue
		}
		r.Header.Set(k, v)
	}
	w := httptest.NewRecorder()
	p.ServeHTTP(w, r)
	return w
}

// answer asks and reads the JSON that comes back.
func answer[T any](t testing.TB, p http.Handler, method, path, body string) T {
	t.Helper()
	w := ask(p, method, path, body, nil)
	if w.Code != http.StatusOK {
		t.Fatalf("%s %s: status %d: %s", method, path, w.Code, w.Body)
	}
	var out T
	if err := json.NewDecoder(bytes.NewReader(w.Body.Bytes())).Decode(&out); err != nil {
		t.Fatal(err)
	}
	return out
}
