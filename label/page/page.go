// Package page serves the local page on which a person confirms, corrects and
// adds strikes, and calls out a plan.
//
// It is a set of HTTP handlers over a corpus that it knows by an interface
// alone: who starts it opens the corpus, runs detectors and listens. What the
// browser runs is plain HTML, CSS and JavaScript, embedded; nothing is fetched
// from anywhere else, and a video that is opened beside the traces never
// leaves the browser.
//
// # What is saved
//
// Every action of the page is an action of package label: one or more lines in
// the session's journal, on disk before the page is told so. The page makes up
// an action's id and sends it again until it has an answer, also to a server
// that was started anew; the same id twice adds nothing.
//
// # What it refuses
//
// Requests under another host name than the one it listens on, posts from
// other pages or without the token of this run, bodies beyond a limit, places
// that the rig does not have. Answers carry a policy that lets no script or
// style run but its own files; names and notes are only ever shown as text.
//
// It sits above label and dataset, and knows neither features nor models.
package page

import (
	"context"
	"embed"
	"errors"
	"net/http"
	"sync"
	"time"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/label"
)

//go:embed assets
var assets embed.FS

// ErrBusy is in the error of an Append that met another writer of the session:
// the page tries again.
var ErrBusy = errors.New("another writer is at work")

// ErrUnknownSession is in the error about a session that the corpus lacks.
var ErrUnknownSession = errors.New("unknown session")

// Corpus is what the page needs of a corpus. Its methods may be called by
// several goroutines at once.
type Corpus interface {
	ID() string // tells it from others that this browser may have met
	Sessions() ([]dataset.Session, error)
	Session(name string) (dataset.Session, error)
	Rigs() ([]*rig.Rig, error)
	Rig(key string) (*rig.Rig, error)

	// Strikes returns the strikes found, none where they were not looked for.
	Strikes(session string) ([]dataset.Strike, error)
	Claims(ctx context.Context, session string) ([]label.Claim, error)
	// Append adds to a session's journal what next makes of the claims that are
	// in it, under the session's lock, and returns once that is on disk.
	Append(ctx context.Context, session string, next func(old []label.Claim) ([]label.Claim, error)) error
	Samples(session string) (Samples, error)
	// PutCalls keeps a plan with call times and says where.
	PutCalls(name string, csv []byte) (where string, err error)
}

// Samples reads a session's samples stretch by stretch, sensor frame; TRaw is
// not needed.
type Samples interface {
	List() []Stretch
	Read(ctx context.Context, i int) (*dataset.Signal, error)
	Verify(ctx context.Context) error // compares checksums
	Close() error
}

// Stretch is a run of samples that is read at once.
type Stretch struct {
	FromNs, ToNs int64 // of its first and last sample
	Samples      int
}

// Estimates is a detector that answers for whole sessions.
type Estimates interface {
	// Of returns what is known so far; done tells whether that is all.
	Of(session string) (list []Estimate, done bool, err error)
}

// Estimate is a detector's answer for one strike. Numbers must be finite.
type Estimate struct {
	OnsetNs          int64    `json:"onset_ns"`
	Detector         string   `json:"detector"`
	Face             int      `json:"face"`
	BearingDeg       float64  `json:"bearing_deg"`
	HeightM          float64  `json:"height_m"`
	BearingSDDeg     float64  `json:"bearing_sd_deg"`
	HeightSDM        float64  `json:"height_sd_m"`
	BearingHalf90Deg float64  `json:"bearing_half90_deg"`
	HeightHalf90M    float64  `json:"height_half90_m"`
	Flags            []string `json:"flags,omitempty"`
}

// Options of a page.
type Options struct {
	Corpus    Corpus
	Estimates Estimates // nil: no detector
	PlanName  string    // of a plan to call out; "" none
	Plan      []byte    // its text
	Labeller  string    // name to start with; "" asks
	Wanted    int       // labelled strikes wanted on each face in each band
	Cautions  []string  // shown before strikes are called out, one sentence each
	Token     string    // of this run; posts must carry it
	Hosts     []string  // host names with port under which requests may come
	Now       func() time.Time
}

// Page is the handler of the whole page. Close it to end what runs in the
// background.
type Page struct {
	o       Options
	handler http.Handler
	ctx     context.Context
	stop    context.CancelFunc
	working sync.WaitGroup

	mu      sync.Mutex
	tracers []*tracer // the latest used last
}

// New returns a page.
func New(o Options) *Page {
	p := &Page{o: o}
	p.ctx, p.stop = context.WithCancel(context.Background())
	mux := http.NewServeMux()
	for path, file := range map[string]string{"/{$}": "overview.html", "/session": "session.html", "/caller": "caller.html"} {
		mux.Handle("GET "+path, p.asset(file))
	}
	mux.HandleFunc("GET /assets/{file}", func(w http.ResponseWriter, r *http.Request) {
		p.asset(r.PathValue("file")).ServeHTTP(w, r)
	})
	for path, f := range map[string]func(*http.Request) (any, error){
		"GET /api/hello":    p.hello,
		"GET /api/sessions": p.sessions,
		"GET /api/session":  p.session,
		"GET /api/plan":     p.plan,
		"POST /api/plan":    p.readPlan,
		"POST /api/action":  p.action,
		"POST /api/calls":   p.calls,
	} {
		mux.Handle(path, answer(f))
	}
	mux.HandleFunc("GET /api/traces", p.traces)
	p.handler = p.guard(mux)
	return p
}

// ServeHTTP answers one request.
func (p *Page) ServeHTTP(w http.ResponseWriter, r *http.Request) { p.handler.ServeHTTP(w, r) }

// Close ends background work and closes files.
func (p *Page) Close() error {
	p.stop()
	p.working.Wait()
	p.mu.Lock()
	defer p.mu.Unlock()
	var errs []error
	for _, t := range p.tracers {
		errs = append(errs, t.samples.Close())
	}
	p.tracers = nil
	return errors.Join(errs...)
}

// hello is what a page asks first, and again when its token is refused.
type hello struct {
	Token    string   `json:"token"`
	Corpus   string   `json:"corpus"`
	Labeller string   `json:"labeller"`
	Cautions []string `json:"cautions"`
	PlanName string   `json:"plan_name"`
}

func (p *Page) hello(*http.Request) (any, error) {
	return hello{p.o.Token, p.o.Corpus.ID(), p.o.Labeller, p.o.Cautions, p.o.PlanName}, nil
}
