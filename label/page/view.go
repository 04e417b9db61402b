package page

import (
	"cmp"
	"context"
	"math"
	"net/http"
	"slices"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/label"
)

// sureConfidence is where a plan's claim no longer counts as doubtful.
const sureConfidence = 0.95

// said is a standing claim as the page shows it.
type said struct {
	ID         string   `json:"id"`
	Source     string   `json:"source"`
	Author     string   `json:"author"`
	OnsetNs    int64    `json:"onset_ns"`
	Face       int      `json:"face,omitempty"`
	BearingDeg *float64 `json:"bearing_deg,omitempty"`
	HeightM    *float64 `json:"height_m,omitempty"`
	Band       string   `json:"band,omitempty"`
	Kind       string   `json:"kind,omitempty"`
	Pair       string   `json:"pair,omitempty"`
	Order      int      `json:"order,omitempty"`
	Confidence float64  `json:"confidence,omitempty"`
	NotStrike  bool     `json:"not_strike,omitempty"`
	Note       string   `json:"note,omitempty"`
}

// mark is one strike in the page's list: found, or only claimed.
type mark struct {
	Number   int     `json:"number,omitempty"` // 0 where none was found
	OnsetNs  int64   `json:"onset_ns"`
	PeakMPS2 float64 `json:"peak_mps2,omitempty"`
	Clipped  bool    `json:"clipped,omitempty"`
	NearGap  bool    `json:"near_gap,omitempty"`

	Says     []said    `json:"says"` // timed before hand before plan
	Estimate *Estimate `json:"estimate,omitempty"`
	Doubt    string    `json:"doubt,omitempty"` // why a person should look

	claims []label.Claim // behind Says
}

// band is a range of heights.
type band struct {
	Name string  `json:"name"`
	From float64 `json:"from_m"`
	To   float64 `json:"to_m"`
}

// bag is what the page draws of a rig.
type bag struct {
	Key       string  `json:"key"`
	Faces     int     `json:"faces"`
	Bands     []band  `json:"bands"`
	LengthM   float64 `json:"length_m"`
	DiameterM float64 `json:"diameter_m"`
	SensorM   float64 `json:"sensor_m"` // height of the sensor
}

func bagOf(r *rig.Rig) bag {
	b := bag{Key: r.Key(), Faces: r.Faces, LengthM: r.Bag.LengthM, DiameterM: r.Bag.DiameterM, SensorM: r.Bag.LengthM - r.Sensor.DepthM}
	for _, one := range r.Bands {
		from, to, _ := r.BandRange(one.Name)
		b.Bands = append(b.Bands, band{one.Name, from, to})
	}
	return b
}

// sessionView is all of a session but its samples.
type sessionView struct {
	Name      string   `json:"name"`
	Striker   string   `json:"striker"`
	DurationS float64  `json:"duration_s"`
	RateHz    float64  `json:"rate_hz"`
	Gyro      bool     `json:"gyro"`
	Bag       bag      `json:"bag"`
	Kinds     []string `json:"kinds"`
	Marks     []mark   `json:"marks"`
	Actions   []done   `json:"actions"` // of the labeller, not undone, the latest last
	Estimated bool     `json:"estimated"`
	Problem   string   `json:"problem,omitempty"` // the detector's
}

// done is an action that can be undone.
type done struct {
	ID      string `json:"id"`
	OnsetNs int64  `json:"onset_ns"`
}

// session answers with one session's strikes and claims.
func (p *Page) session(r *http.Request) (any, error) {
	s, rg, err := p.sessionOf(r)
	if err != nil {
		return nil, err
	}
	return p.view(r.Context(), s, rg, r.URL.Query().Get("labeller"))
}

func (p *Page) view(ctx context.Context, s dataset.Session, rg *rig.Rig, labeller string) (sessionView, error) {
	v := sessionView{Name: s.Name, Striker: s.Striker, DurationS: s.DurationS, RateHz: s.NominalRateHz, Gyro: s.HasGyro,
		Bag: bagOf(rg), Kinds: label.Kinds(), Actions: []done{}, Estimated: true}
	claims, err := p.o.Corpus.Claims(ctx, s.Name)
	if err != nil {
		return v, err
	}
	strikes, err := p.o.Corpus.Strikes(s.Name)
	if err != nil {
		return v, err
	}
	v.Marks = marksOf(claims, strikes)
	if p.o.Estimates != nil {
		list, done, err := p.o.Estimates.Of(s.Name)
		if err != nil {
			v.Problem = err.Error()
		}
		v.Estimated = done
		attach(v.Marks, list)
	}
	for i := range v.Marks {
		v.Marks[i].Doubt = v.Marks[i].doubt(rg)
	}
	for _, a := range label.Actions(claims, labeller) {
		if !a.Undone {
			v.Actions = append(v.Actions, done{a.ID, a.OnsetNs})
		}
	}
	return v, nil
}

// marksOf lists what was found and what was claimed, in order of time. Claims
// without a find that lie within 50 ms of each other are one mark.
func marksOf(claims []label.Claim, strikes []dataset.Strike) []mark {
	marks := make([]mark, len(strikes))
	for i, k := range strikes {
		marks[i] = mark{Number: k.Number, OnsetNs: k.OnsetNs, PeakMPS2: k.PeakMPS2, Clipped: k.Clipped, NearGap: k.NearGap}
	}
	labels, orphans := label.Resolve(claims, strikes, label.Best, label.MatchNs())
	for i, l := range labels {
		if l.Claim == nil {
			continue
		}
		marks[i].add(*l.Claim)
		for _, c := range l.Rivals {
			marks[i].add(c)
		}
	}
	missed := []mark{}
	for _, c := range orphans {
		if n := len(missed); n == 0 || c.OnsetNs-missed[n-1].OnsetNs > label.MatchNs() {
			missed = append(missed, mark{OnsetNs: c.OnsetNs})
		}
		missed[len(missed)-1].add(c)
	}
	marks = append(marks, missed...)
	slices.SortStableFunc(marks, func(a, b mark) int { return cmp.Compare(a.OnsetNs, b.OnsetNs) })
	for i := range marks {
		if marks[i].Says == nil {
			marks[i].Says = []said{}
		}
	}
	return marks
}

func (m *mark) add(c label.Claim) {
	m.claims = append(m.claims, c)
	m.Says = append(m.Says, said{ID: c.ID, Source: c.Source, Author: c.Author, OnsetNs: c.OnsetNs, Face: c.Face, BearingDeg: c.BearingDeg,
		HeightM: c.HeightM, Band: c.Band, Kind: c.Kind, Pair: c.Pair, Order: c.PlanOrder, Confidence: c.Confidence,
		NotStrike: c.NotStrike || c.Complete, Note: c.Note})
}

// attach gives each mark the estimate that belongs to it.
func attach(marks []mark, list []Estimate) {
	a, b := make([]int64, len(marks)), make([]int64, len(list))
	for i := range marks {
		a[i] = marks[i].OnsetNs
	}
	for i := range list {
		b[i] = list[i].OnsetNs
	}
	for _, pair := range label.MatchTimes(a, b, label.MatchNs()) {
		marks[pair[0]].Estimate = &list[pair[1]]
	}
}

// doubt tells why a person should look at a mark, "" where there is no reason.
func (m *mark) doubt(rg *rig.Rig) string {
	var hands, plans []label.Claim
	for _, c := range m.claims {
		switch c.Source {
		case label.Hand, label.Timed:
			hands = append(hands, c)
		case label.Plan:
			plans = append(plans, c)
		}
	}
	for _, c := range hands {
		if !agree(c, hands[0], rg) {
			return "labels disagree"
		}
	}
	if len(hands) > 0 {
		return ""
	}
	for _, c := range plans {
		if c.Confidence > 0 && c.Confidence < sureConfidence {
			return "the plan may mean another strike"
		}
		if e := m.Estimate; e != nil {
			off := math.Abs(bearing.Diff(c.PlaceOn(rg).BearingDeg, e.BearingDeg))
			if off > 180/float64(rg.Faces)+e.BearingHalf90Deg {
				return "the detector says another face than the plan"
			}
		}
	}
	if len(plans) == 0 && m.Number == 0 {
		return "nothing was found here"
	}
	return ""
}

// agree tells whether two claims can both be right: one face apart is a matter
// of a seam only where both give a bearing.
func agree(a, b label.Claim, rg *rig.Rig) bool {
	if aNot, bNot := a.NotStrike || a.Complete, b.NotStrike || b.Complete; aNot || bNot {
		return aNot == bNot
	}
	x, y := a.PlaceOn(rg), b.PlaceOn(rg)
	if a.BearingDeg != nil && b.BearingDeg != nil {
		if math.Abs(bearing.Diff(x.BearingDeg, y.BearingDeg)) > 180/float64(rg.Faces) {
			return false
		}
	} else if x.Face != y.Face && x.Face > 0 && y.Face > 0 {
		return false
	}
	return x.Band == y.Band || x.Band == "" || y.Band == "" || a.HeightM != nil && b.HeightM != nil
}
