package page

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/json"
	"math"
	"net/http"
	"slices"
	"sort"
	"strconv"
	"sync"

	"strikerose/dataset"
)

const (
	maxColumns  = 4000
	maxBreaks   = 500 // ends of segments named in one answer
	heldTracers = 3   // sessions whose samples stay open
	heldReads   = 4   // stretches of a session that stay decoded
	exactReads  = 3   // stretches that are read for one picture; longer ones use the pyramid
)

// tracer draws the samples of one session.
type tracer struct {
	session  dataset.Session
	samples  Samples
	list     []Stretch
	turn     turner
	channels int

	mu      sync.Mutex
	held    []heldStretch // the latest used last
	pyramid extremes
	breaks  []int64 // onsets of segments after the first
	built   int     // stretches in the pyramid
	checked bool    // the checksum was compared
	problem error   // of the background work
}

type heldStretch struct {
	index int
	sig   *dataset.Signal
}

// tracer returns the tracer of a session, opening it where needed.
func (p *Page) tracer(r *http.Request) (*tracer, error) {
	s, rg, err := p.sessionOf(r)
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := p.ctx.Err(); err != nil {
		return nil, err
	}
	for i, t := range p.tracers {
		if t.session.Name != s.Name {
			continue
		}
		p.tracers = slices.Delete(p.tracers, i, i+1)
		if t.session.Rig == s.Rig && t.session.LogSHA256 == s.LogSHA256 && t.session.Samples == s.Samples {
			p.tracers = append(p.tracers, t)
			return t, nil
		}
		break // imported anew
	}
	samples, err := p.o.Corpus.Samples(s.Name)
	if err != nil {
		return nil, err
	}
	t := &tracer{session: s, samples: samples, list: samples.List(), turn: rg.SensorToBag(), channels: withoutGyro}
	if s.HasGyro {
		t.channels = allChannels
	}
	// A tracer that falls out of the list is closed by the collector of the
	// file behind it once the answers that still use it are through.
	p.tracers = append(p.tracers, t)
	if len(p.tracers) > heldTracers {
		p.tracers = slices.Delete(p.tracers, 0, 1)
	}
	p.working.Go(func() { t.build(p.ctx) })
	return t, nil
}

// build fills the pyramid and compares the checksum.
func (t *tracer) build(ctx context.Context) {
	fail := func(err error) {
		t.mu.Lock()
		defer t.mu.Unlock()
		t.problem = err
	}
	segment := int32(0)
	for i := range t.list {
		sig, err := t.samples.Read(ctx, i)
		if err != nil {
			fail(err)
			return
		}
		var part extremes
		part.add(sig, &t.turn, t.channels)
		t.mu.Lock()
		t.pyramid.fromNs = append(t.pyramid.fromNs, part.fromNs...)
		for c := range t.channels {
			t.pyramid.low[c] = append(t.pyramid.low[c], part.low[c]...)
			t.pyramid.high[c] = append(t.pyramid.high[c], part.high[c]...)
		}
		for j, s := range sig.Segment {
			if s != segment {
				t.breaks, segment = append(t.breaks, sig.TNs[j]), s
			}
		}
		t.built = i + 1
		t.mu.Unlock()
	}
	if err := t.samples.Verify(ctx); err != nil {
		fail(err)
		return
	}
	t.mu.Lock()
	t.checked = true
	t.mu.Unlock()
}

// read returns one stretch, decoded lately or now.
func (t *tracer) read(ctx context.Context, i int) (*dataset.Signal, error) {
	t.mu.Lock()
	if k := slices.IndexFunc(t.held, func(h heldStretch) bool { return h.index == i }); k >= 0 {
		h := t.held[k]
		t.held = append(slices.Delete(t.held, k, k+1), h)
		t.mu.Unlock()
		return h.sig, nil
	}
	t.mu.Unlock()
	sig, err := t.samples.Read(ctx, i)
	if err != nil {
		return nil, err
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	t.held = append(t.held, heldStretch{i, sig})
	if len(t.held) > heldReads {
		t.held = slices.Delete(t.held, 0, 1)
	}
	return sig, nil
}

// picture is what is known between two times: every sample where there are few
// (times set), else the extremes in equal columns.
type picture struct {
	timesMs []float32 // after the picture's start
	points  [allChannels][]float32
	columns *columns
}

// draw makes the picture of [fromNs, toNs) in n columns.
func (t *tracer) draw(ctx context.Context, fromNs, toNs int64, n int) (picture, error) {
	first := sort.Search(len(t.list), func(i int) bool { return t.list[i].ToNs >= fromNs })
	end := sort.Search(len(t.list), func(i int) bool { return t.list[i].FromNs >= toNs })
	if end-first > exactReads {
		t.mu.Lock()
		defer t.mu.Unlock()
		return picture{columns: t.pyramid.columns(fromNs, toNs, n, t.channels)}, nil
	}
	var sigs []*dataset.Signal
	var spans []dataset.Span
	total := 0
	for i := first; i < end; i++ {
		sig, err := t.read(ctx, i)
		if err != nil {
			return picture{}, err
		}
		s := dataset.Span{
			Start: sort.Search(sig.Len(), func(k int) bool { return sig.TNs[k] >= fromNs }),
			End:   sort.Search(sig.Len(), func(k int) bool { return sig.TNs[k] >= toNs }),
		}
		sigs, spans, total = append(sigs, sig), append(spans, s), total+s.End-s.Start
	}
	if total <= 2*n {
		return t.points(sigs, spans, fromNs), nil
	}
	c := newColumns(fromNs, toNs, n, t.channels)
	var now [allChannels]float32
	for k, sig := range sigs {
		for i := spans[k].Start; i < spans[k].End; i++ {
			t.turn.at(sig, i, &now)
			if at, ok := c.index(sig.TNs[i]); ok {
				for ch := range t.channels {
					c.widen(ch, at, now[ch], now[ch])
				}
			}
		}
	}
	return picture{columns: c}, nil
}

// points gives every sample, with a gap (NaN) between segments.
func (t *tracer) points(sigs []*dataset.Signal, spans []dataset.Span, fromNs int64) picture {
	p := picture{timesMs: []float32{}}
	var now [allChannels]float32
	segment, any := int32(0), false
	for k, sig := range sigs {
		for i := spans[k].Start; i < spans[k].End; i++ {
			at := float32(float64(sig.TNs[i]-fromNs) / 1e6)
			if any && sig.Segment[i] != segment {
				p.timesMs = append(p.timesMs, at)
				for ch := range t.channels {
					p.points[ch] = append(p.points[ch], float32(math.NaN()))
				}
			}
			segment, any = sig.Segment[i], true
			t.turn.at(sig, i, &now)
			p.timesMs = append(p.timesMs, at)
			for ch := range t.channels {
				p.points[ch] = append(p.points[ch], now[ch])
			}
		}
	}
	return p
}

// columns sums the pyramid's buckets up into a picture.
func (e *extremes) columns(fromNs, toNs int64, n, channels int) *columns {
	c := newColumns(fromNs, toNs, n, channels)
	first := sort.Search(len(e.fromNs), func(i int) bool { return e.fromNs[i] >= fromNs })
	for i := first; i < len(e.fromNs) && e.fromNs[i] < toNs; i++ {
		at, _ := c.index(e.fromNs[i])
		for ch := range channels {
			c.widen(ch, at, e.low[ch][i], e.high[ch][i])
		}
	}
	return c
}

// pictureHead stands before the numbers of a picture.
type pictureHead struct {
	FromNs   int64   `json:"from_ns"`
	ToNs     int64   `json:"to_ns"`
	N        int     `json:"n"`
	Channels int     `json:"channels"`
	Points   bool    `json:"points"` // times, then values by channel; else low and high by channel
	Breaks   []int64 `json:"breaks"`
	Built    float64 `json:"built"` // share of the session that a whole view knows
	Checked  bool    `json:"checked"`
	Problem  string  `json:"problem,omitempty"`
}

// traces answers with a picture as bytes: the length of the head (uint32), the
// head in JSON, padded to four bytes, then float32 numbers, all little-endian.
func (p *Page) traces(w http.ResponseWriter, r *http.Request) {
	data, err := p.drawTraces(r)
	if err != nil {
		refuse(w, statusOf(err), err)
		return
	}
	w.Header().Set("Content-Type", "application/octet-stream")
	_, _ = w.Write(data)
}

func (p *Page) drawTraces(r *http.Request) ([]byte, error) {
	q := r.URL.Query()
	from, err1 := strconv.ParseInt(q.Get("from_ns"), 10, 64)
	to, err2 := strconv.ParseInt(q.Get("to_ns"), 10, 64)
	n, err3 := strconv.Atoi(q.Get("columns"))
	const farthest = int64(1) << 60
	if err1 != nil || err2 != nil || err3 != nil || n < 1 || n > maxColumns || from >= to || from < -farthest || to > farthest {
		return nil, badf("traces: want from_ns before to_ns, and columns from 1 to %d", maxColumns)
	}
	t, err := p.tracer(r)
	if err != nil {
		return nil, err
	}
	pic, err := t.draw(r.Context(), from, to, n)
	if err != nil {
		return nil, err
	}
	return pic.encode(t.head(from, to), t.channels)
}

func (t *tracer) head(from, to int64) pictureHead {
	t.mu.Lock()
	defer t.mu.Unlock()
	h := pictureHead{FromNs: from, ToNs: to, Channels: t.channels, Breaks: []int64{}, Built: 1, Checked: t.checked}
	if len(t.list) > 0 {
		h.Built = float64(t.built) / float64(len(t.list))
	}
	if t.problem != nil {
		h.Problem = t.problem.Error()
	}
	for _, ns := range t.breaks {
		if ns >= from && ns < to && len(h.Breaks) < maxBreaks {
			h.Breaks = append(h.Breaks, ns)
		}
	}
	return h
}

func (pic picture) encode(h pictureHead, channels int) ([]byte, error) {
	var numbers [][]float32
	if h.Points = pic.columns == nil; h.Points {
		h.N = len(pic.timesMs)
		numbers = append(numbers, pic.timesMs)
		numbers = append(numbers, pic.points[:channels]...)
	} else {
		h.N = len(pic.columns.low[0])
		for c := range channels {
			numbers = append(numbers, pic.columns.low[c], pic.columns.high[c])
		}
	}
	head, err := json.Marshal(h)
	if err != nil {
		return nil, err
	}
	for len(head)%4 != 0 {
		head = append(head, ' ')
	}
	var out bytes.Buffer
	out.Grow(4 + len(head) + 4*len(numbers)*h.N)
	_ = binary.Write(&out, binary.LittleEndian, uint32(len(head))) // a buffer takes all
	out.Write(head)
	for _, list := range numbers {
		_ = binary.Write(&out, binary.LittleEndian, list)
	}
	return out.Bytes(), nil
}
