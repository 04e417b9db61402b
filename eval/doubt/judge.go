package doubt

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/label"
	"strikerose/models"
)

// subject is one labelled strike.
type subject struct {
	eval.Case
	label mark // in the sense and from the face of the rig file
}

// Judge judges labels that are joined with their strikes already, all but those
// given twice.
func Judge(ctx context.Context, d *eval.Data, o Options) (*Report, error) {
	if o.Rule.Fit == nil {
		return nil, errors.New("doubt: no rule is given for the first opinion")
	}
	byRig := map[string][]subject{}
	r := &Report{Truth: d.ScoreTruth, Sessions: d.Counts}
	for _, c := range d.Cases {
		if c.Score != nil {
			byRig[c.Rig.Name] = append(byRig[c.Rig.Name], subject{Case: c, label: markOf(c.Score)})
			r.Labels++
		}
	}
	if r.Labels == 0 {
		return nil, fmt.Errorf("doubt: no strike has a %s: label sessions first, or choose another truth", label.OfTruth(d.ScoreTruth))
	}
	for _, c := range d.Counts {
		if c.Scored == 0 {
			r.Notes = append(r.Notes, fmt.Sprintf("session %s: none of its %d strikes has a %s: it is not judged", c.Session, c.Found, label.OfTruth(d.ScoreTruth)))
		}
	}
	for _, name := range slices.Sorted(maps.Keys(byRig)) {
		b := &bench{o: o, subjects: byRig[name], report: r}
		if err := b.judge(ctx); err != nil {
			return nil, fmt.Errorf("doubt: rig %s: %w", name, err)
		}
	}
	rank(r.Doubts)
	return r, nil
}

func markOf(t *eval.Target) mark {
	return mark{
		bearingDeg: t.BearingDeg, heightM: t.HeightM, band: t.Band,
		bearingSDDeg: math.Max(t.BearingSDDeg, 1), heightSDM: math.Max(t.HeightSDM, 0.01),
	}
}

// bench judges the labels of one rig, all its revisions.
type bench struct {
	o        Options
	subjects []subject // in order of session and time
	report   *Report

	opinions []opinion
	shares   shares
	verdicts []verdict
}

// opinion is what one detector says of each subject.
type opinion struct {
	name      string
	estimates []models.Estimate
	there     []bool
	readings  []reading
	weight    map[string]float64 // by rig revision
}

// verdict is what comes out for one subject.
type verdict struct {
	score   float64
	own     densities // given its own strike
	moved   []float64 // posterior of each shift
	shift   int       // the likeliest
	predict reading
}

func (b *bench) judge(ctx context.Context) error {
	first, err := b.rule(ctx)
	if err != nil {
		return err
	}
	b.turns(first)
	b.calibrate(&first)
	b.opinions = []opinion{first}
	b.weigh()
	b.weighLabels()
	if b.o.Fitted.Fit != nil {
		second, err := b.fitted(ctx)
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case err != nil:
			b.note("rig %s: judged by %s alone, as %s could not be fitted: %v", b.subjects[0].Rig.Name, b.o.Rule.Name, b.o.Fitted.Name, err)
		default:
			b.calibrate(&second)
			b.opinions = append(b.opinions, second)
			b.weigh()
			b.weighLabels()
		}
	}
	b.tell()
	b.odd()
	return nil
}

func (b *bench) note(format string, args ...any) {
	b.report.Notes = append(b.report.Notes, fmt.Sprintf(format, args...))
}

func (s subject) input() models.Input {
	return models.Input{Row: s.Row, Rig: s.Rig, Window: s.Window}
}

// rule asks the first opinion, which no label teaches anything.
func (b *bench) rule(ctx context.Context) (opinion, error) {
	op := opinion{name: b.o.Rule.Name, estimates: make([]models.Estimate, len(b.subjects)), there: make([]bool, len(b.subjects))}
	d, err := b.o.Rule.Fit(ctx, nil, models.Options{Seed: b.o.Seed})
	if err != nil {
		return op, err
	}
	for i, s := range b.subjects {
		if ctx.Err() != nil {
			return op, ctx.Err()
		}
		op.estimates[i], op.there[i] = d.Estimate(s.input()), true
	}
	return op, nil
}

// blocks is into how many stretches a single session is cut.
const blocks = 5

// splits parts the subjects: whole sessions are left out in turn, and of a
// single session, consecutive strikes.
func (b *bench) splits() ([]eval.Split, error) {
	items := make([]eval.Item, len(b.subjects))
	for i, s := range b.subjects {
		items[i] = eval.Item{Session: s.Session, Striker: s.Striker, Rig: s.Rig.Name, Revision: s.Rig.Key()}
	}
	if items[0].Session != items[len(items)-1].Session {
		return eval.Folds(items, 6)
	}
	if len(items) < 4*blocks {
		return nil, errors.New("a single session needs 20 labels or more")
	}
	splits := make([]eval.Split, blocks)
	for i := range items {
		for k := range splits {
			if i*blocks/len(items) == k {
				splits[k].Test = append(splits[k].Test, i)
			} else {
				splits[k].Train = append(splits[k].Train, i)
			}
		}
	}
	return splits, nil
}

// fitted asks detectors that were trained on other sessions, without the labels
// that are doubted so far.
func (b *bench) fitted(ctx context.Context) (opinion, error) {
	op := opinion{name: b.o.Fitted.Name, estimates: make([]models.Estimate, len(b.subjects)), there: make([]bool, len(b.subjects))}
	splits, err := b.splits()
	if err != nil {
		return op, err
	}
	for _, split := range splits {
		var training []models.Example
		for _, i := range split.Train {
			s := b.subjects[i]
			if b.verdicts[i].score >= 0.5 || math.IsNaN(s.label.bearingDeg) || math.IsNaN(s.label.heightM) {
				continue
			}
			training = append(training, models.Example{
				Input: s.input(), Session: s.Session, Striker: s.Striker,
				BearingDeg: s.label.bearingDeg, HeightM: s.label.heightM,
				BearingSDDeg: s.Score.BearingSDDeg, HeightSDM: s.Score.HeightSDM,
			})
		}
		d, err := b.o.Fitted.Fit(ctx, training, models.Options{Seed: b.o.Seed})
		if err != nil {
			return op, err
		}
		for _, i := range split.Test {
			op.estimates[i], op.there[i] = d.Estimate(b.subjects[i].input()), true
		}
	}
	return op, nil
}

// bySession returns the positions of each session's subjects, in order.
func (b *bench) bySession() [][]int {
	var out [][]int
	for i, s := range b.subjects {
		if i == 0 || b.subjects[i-1].Session != s.Session {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], i)
	}
	return out
}

// byRevision returns the positions of each rig revision's subjects.
func (b *bench) byRevision() map[string][]int {
	out := map[string][]int{}
	for i, s := range b.subjects {
		out[s.Rig.Key()] = append(out[s.Rig.Key()], i)
	}
	return out
}

// pairs are the bearings of a session's labels and of the estimates of the
// strikes so many later.
func (b *bench) pairs(op *opinion, of []int, shift int) []pair {
	var out []pair
	for p, i := range of {
		if p+shift < 0 || p+shift >= len(of) {
			continue
		}
		j, l := of[p+shift], b.subjects[i].label
		if e := op.estimates[j]; op.there[j] && !math.IsNaN(l.bearingDeg) {
			out = append(out, pair{l.bearingDeg, e.BearingDeg, math.Min(math.Hypot(l.bearingSDDeg, e.BearingSDDeg), mostSpreadDeg)})
		}
	}
	return out
}

// shiftNats is by how much the labels of a session must fit better as those of
// other strikes before the whole session is taken to have slipped.
const shiftNats = 10

// lie tells how a session's labels lie against an opinion, and which strikes
// they belong to, if most of them have slipped.
func (b *bench) lie(op *opinion, of []int, fit func([]pair) turn) (t turn, shift int) {
	for _, by := range shifts() {
		p := b.pairs(op, of, by)
		if by != 0 && len(p) < fewForTurn {
			continue
		}
		if u := fit(p); by == 0 || u.fit > t.fit+shiftNats {
			t, shift = u, by
		}
	}
	return t, shift
}

// turns looks for sessions whose faces are numbered the other way round or from
// another face, tells of them, and mends their labels for what follows.
func (b *bench) turns(op opinion) {
	sessions := b.bySession()
	found, shift := make([]turn, len(sessions)), make([]int, len(sessions))
	ofRevision := map[string][]turn{}
	for k, of := range sessions {
		found[k], shift[k] = b.lie(&op, of, turnOf)
		key := b.subjects[of[0]].Rig.Key()
		ofRevision[key] = append(ofRevision[key], found[k])
	}
	told := map[string]bool{}
	for k, of := range sessions {
		rg := b.subjects[of[0]].Rig
		shared := common(ofRevision[rg.Key()])
		t := found[k]
		if t.labels < fewForTurn {
			continue
		}
		if width := 360 / float64(rg.Faces); math.Abs(shared) > width/2 && !told[rg.Key()] {
			told[rg.Key()] = true
			b.note("rig %s: all labels lie %.0f degrees from the estimates: either the sensor sits turned so, which yaw_deg in the rig file may say, or all sessions count their faces from another one", rg.Key(), shared)
		}
		steps, rest := t.judge(shared, rg.Faces)
		if t.sense > 0 && (steps == 0 && math.Abs(rest) <= togetherDeg || t.fit-support(b.pairs(&op, of, shift[k]), +1, shared) < mirrorNats) {
			continue
		}
		b.tellTurn(of, t, steps, rest, votes(ofRevision[rg.Key()], shared))
		for _, i := range of {
			s := &b.subjects[i]
			s.label.bearingDeg = mended(s.label.bearingDeg, t.sense, steps, rg.Faces)
		}
	}
}

// votes counts the sessions that share the common turn.
func votes(turns []turn, commonDeg float64) int {
	n := 0
	for _, t := range turns {
		if t.sense > 0 && t.labels >= fewForTurn && math.Abs(bearing.Diff(t.deg, commonDeg)) <= togetherDeg {
			n++
		}
	}
	return n
}

// weigh finds the weights under which the mixture of the opinions fits the
// labels of each rig revision best.
func (b *bench) weigh() {
	for k := range b.opinions {
		b.opinions[k].weight = map[string]float64{}
	}
	for key, of := range b.byRevision() {
		w := make([]float64, len(b.opinions))
		for k := range w {
			w[k] = 1 / float64(len(w))
		}
		for range 30 {
			sum := make([]float64, len(w))
			for _, i := range of {
				total := 0.0
				part := make([]float64, len(w))
				for k := range b.opinions {
					if b.opinions[k].there[i] {
						part[k] = w[k] * math.Exp(b.opinions[k].readings[i].agree(b.subjects[i].label))
						total += part[k]
					}
				}
				for k := range part {
					if total > 0 {
						sum[k] += part[k] / total
					}
				}
			}
			n := 0.0
			for _, s := range sum {
				n += s
			}
			for k := range w {
				w[k] = (sum[k] + 1) / (n + float64(len(w)))
			}
		}
		for k := range b.opinions {
			b.opinions[k].weight[key] = w[k]
			for j, op := range b.report.Opinions {
				if op.Rig == key && op.Detector == b.opinions[k].name {
					b.report.Opinions[j].Weight = w[k]
				}
			}
		}
	}
}

// label i judged as if it were that of strike j.
func (b *bench) densities(i, j int) densities {
	s := b.subjects[i]
	of := make([]densities, 0, len(b.opinions))
	weights := make([]float64, 0, len(b.opinions))
	for _, op := range b.opinions {
		if op.there[j] {
			of = append(of, op.readings[j].against(s.label, s.Rig))
			weights = append(weights, op.weight[s.Rig.Key()])
		}
	}
	return mix(of, weights)
}

// weighLabels works out every subject's verdict.
func (b *bench) weighLabels() {
	n := len(b.subjects)
	steps := shifts()
	b.verdicts = make([]verdict, n)
	at := make([][]densities, n)
	sessions := b.bySession()
	for _, of := range sessions {
		for p, i := range of {
			at[i] = make([]densities, len(steps))
			for k, by := range steps {
				if q := p + by; q >= 0 && q < len(of) {
					at[i][k] = b.densities(i, of[q])
				} else { // of a strike that was not found: it may be anywhere
					d := at[i][0][anything]
					at[i][k] = densities{d, d, d, d, d, d}
				}
			}
			b.verdicts[i].own = at[i][0]
		}
	}
	b.shares = usual().normal()
	for range 12 {
		count := usual()
		for _, of := range sessions {
			emission := table(len(of), len(steps))
			for p, i := range of {
				for k := range steps {
					emission[p][k] = math.Log(at[i][k].total(b.shares))
				}
			}
			posterior, path := sequence(emission)
			for p, i := range of {
				v := &b.verdicts[i]
				v.moved, v.shift = posterior[p], steps[path[p]]
				for f := range count {
					count[f] += posterior[p][0] * b.shares[f] * v.own[f] / v.own.total(b.shares)
				}
			}
		}
		b.shares = count.normal()
	}
	for i := range b.verdicts {
		v := &b.verdicts[i]
		luck := foreign(b.subjects[i].Rig)
		in := b.shares[right] * v.own[right] / v.own.total(b.shares)
		out := luck[right] * v.own[right] / v.own.total(luck)
		v.score = 1 - v.moved[0]*in - (1-v.moved[0])*out
		v.predict = b.prediction(i)
	}
}

// prediction is the reading of the opinion that weighs most on the revision.
func (b *bench) prediction(i int) reading {
	best := reading{bearingDeg: math.NaN(), heightM: math.NaN()}
	most := -1.0
	key := b.subjects[i].Rig.Key()
	for _, op := range b.opinions {
		if op.there[i] && op.weight[key] > most {
			best, most = op.readings[i], op.weight[key]
		}
	}
	return best
}

// place is a reading as people read it.
func (p reading) place(r *rig.Rig) Place {
	return Place{
		Face: r.FaceOf(p.bearingDeg), Band: r.BandOf(p.heightM), BearingDeg: p.bearingDeg, HeightM: p.heightM,
		BearingSDDeg: math.Min(p.factorB*p.bearingSDDeg, mostSpreadDeg), HeightSDM: p.factorH * p.heightSDM,
	}
}
