package doubt

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"strikerose/dataset/bearing"
	"strikerose/label"
)

// rank orders doubts by falling score, those about more labels first among
// equals, then by session and time.
func rank(doubts []Doubt) {
	slices.SortStableFunc(doubts, func(a, b Doubt) int {
		return cmp.Or(cmp.Compare(b.Score, a.Score), cmp.Compare(b.Labels, a.Labels),
			cmp.Compare(a.Session, b.Session), cmp.Compare(a.OnsetNs, b.OnsetNs), cmp.Compare(a.Kind, b.Kind))
	})
}

func (b *bench) add(d Doubt) { b.report.Doubts = append(b.report.Doubts, d) }

// over starts a doubt about a stretch of subjects.
func (b *bench) over(kind Kind, first, last int) Doubt {
	f, l := b.subjects[first], b.subjects[last]
	return Doubt{Session: f.Session, Kind: kind, OnsetNs: f.Strike.OnsetNs, EndNs: l.Strike.OnsetNs,
		Number: f.Strike.Number, EndNumber: l.Strike.Number, Labels: 1, Sense: 1,
		Label: noPlace(), Predicted: noPlace()}
}

func noPlace() Place {
	nan := math.NaN()
	return Place{BearingDeg: nan, HeightM: nan, BearingSDDeg: nan, HeightSDM: nan}
}

// tellTurn tells of a session whose faces do not lie as those of others.
func (b *bench) tellTurn(of []int, t turn, steps int, restDeg float64, agreeing int) {
	rg := b.subjects[of[0]].Rig
	d := b.over(Mirrored, of[0], of[len(of)-1])
	d.Sense = t.sense
	width := 360 / float64(rg.Faces)
	d.TurnDeg = bearing.Wrap180(-float64(t.sense) * float64(steps) * width)
	d.Labels = 0
	for _, i := range of {
		l := b.subjects[i].label.bearingDeg
		if math.Abs(bearing.Diff(mended(l, t.sense, steps, rg.Faces), l)) > width/4 {
			d.Labels++
		}
	}
	session := d.Session
	renumber := "face " + strings.Join(renumbered(t.sense, steps, rg.Faces), ", ")
	switch {
	case t.sense < 0:
		d.Score = 1 / (1 + math.Exp(math.Log(99)-t.nats))
		d.Reason = fmt.Sprintf("the faces fit as numbered anticlockwise, 1e%.0f times as likely", math.Floor(t.nats/math.Ln10))
		if steps != 0 {
			d.Reason += fmt.Sprintf(", and counted from another one, %d on", steps)
		}
		if agreeing == 0 {
			d.Reason += "; from which one cannot be told, as no session of the rig counts clockwise: the rig file's yaw is taken, and its axes may be what is wrong"
		}
		d.Mend = fmt.Sprintf("renumber %s and label session %s again; where a plan did it: strikerose label plan --anticlockwise", renumber, session)
	case steps != 0:
		d.Kind, d.Score = Rotated, 0.9
		d.Reason = fmt.Sprintf("all its labels lie %.0f degrees from those of the rig's other sessions", bearing.Wrap180(float64(steps)*width+restDeg))
		if agreeing < 2 { // one against one
			d.Score = 0.5
			d.Reason += "; there is but one such, so that either may be wrong"
		}
		d.Mend = fmt.Sprintf("renumber %s and label session %s again; if the sensor was turned instead, strikerose session set --rig with a new revision", renumber, session)
	default:
		d.Kind, d.Score, d.TurnDeg, d.Labels = Turned, 0.25, restDeg, 0
		d.Reason = fmt.Sprintf("the sensor reads %.0f degrees turned against the rig's other sessions; the labels themselves may be right", restDeg)
		d.Mend = fmt.Sprintf("if the sensor was turned, give session %s a new rig revision with its yaw_deg: strikerose session set --rig", session)
	}
	b.add(d)
}

// renumbered lists what each face should be, only where it changes.
func renumbered(sense, steps, faces int) []string {
	var out []string
	for f := 1; f <= faces; f++ {
		to := bearing.FaceOf(mended(bearing.FaceCentre(f, faces), sense, steps, faces), faces)
		if to != f {
			out = append(out, fmt.Sprintf("%d to %d", f, to))
		}
	}
	return out
}

// tell turns verdicts into doubts: slips first, then single labels outside them.
func (b *bench) tell() {
	for i, v := range b.verdicts {
		s := b.subjects[i]
		b.report.Judged = append(b.report.Judged, Judged{Session: s.Session, OnsetNs: s.Strike.OnsetNs, Score: v.score})
	}
	for _, of := range b.bySession() {
		in := make([]bool, len(of)) // a slip that is told
		for from := 0; from < len(of); {
			to := from
			for to+1 < len(of) && b.verdicts[of[to+1]].shift == b.verdicts[of[from]].shift {
				to++
			}
			if b.verdicts[of[from]].shift != 0 {
				b.tellSlip(of, from, to, in)
			}
			from = to + 1
		}
		for p, i := range of {
			if in[p] || b.verdicts[i].score < least {
				continue
			}
			if p+1 < len(of) && !in[p+1] && b.swapped(i, of[p+1]) {
				d := b.over(Swapped, i, of[p+1])
				d.Labels, d.Score = 2, math.Min(b.verdicts[i].score, b.verdicts[of[p+1]].score)
				d.Label, d.Predicted = b.places(i)
				d.Reason = fmt.Sprintf("strikes %d and %d each fit the other's label", d.Number, d.EndNumber)
				d.Mend = fmt.Sprintf("exchange their labels: strikerose label serve (session %s)", d.Session)
				b.add(d)
				in[p+1] = true
				continue
			}
			b.tellOne(i)
		}
	}
}

// tellSlip tells of labels that belong to other strikes, and marks them. Labels
// at the ends that suit their own strike as well are left out.
func (b *bench) tellSlip(of []int, from, to int, in []bool) {
	shift := b.verdicts[of[from]].shift
	wrong := func(p int) bool { return b.verdicts[of[p]].score >= 0.5 }
	for from <= to && !wrong(from) {
		from++
	}
	for to >= from && !wrong(to) {
		to--
	}
	k := slices.Index(shifts(), shift)
	n, sum := 0, 0.0
	for p := from; p <= to; p++ {
		sum += b.verdicts[of[p]].moved[k]
		if wrong(p) {
			n++
		}
	}
	if n < leastSlip {
		return
	}
	for p := from; p <= to; p++ {
		in[p] = true
	}
	d := b.over(Slip, of[from], of[to])
	d.Labels, d.By, d.Score = n, shift, sum/float64(to-from+1)
	way, back, size := "later", "later", shift
	if shift < 0 {
		way, back, size = "earlier", "earlier", -shift
	}
	what := "one"
	if size == 2 {
		what = "two"
	}
	d.Reason = fmt.Sprintf("strikes %d to %d carry the labels of the strikes %s %s", d.Number, d.EndNumber, what, way)
	d.Mend = fmt.Sprintf("move these labels %s strike%s %s", what, map[bool]string{true: "s"}[size > 1], back)
	if b.subjects[of[from]].Score.Source == label.Plan {
		d.Mend += fmt.Sprintf(": correct the plan there and give it again, strikerose label plan --session %s", d.Session)
	} else {
		d.Mend += fmt.Sprintf(": strikerose label serve (session %s)", d.Session)
	}
	b.add(d)
}

// swapped tells whether two neighbours are both doubted and each would suit the
// other's label.
func (b *bench) swapped(i, j int) bool {
	if b.verdicts[i].score < 0.5 || b.verdicts[j].score < 0.5 {
		return false
	}
	suits := func(i, j int) bool {
		d := b.densities(i, j)
		return b.shares[right]*d[right] > 0.5*d.total(b.shares)
	}
	return suits(i, j) && suits(j, i)
}

// places are the label and the prediction of a subject.
func (b *bench) places(i int) (said, predicted Place) {
	s := b.subjects[i]
	said = Place{Band: s.label.band, BearingDeg: s.label.bearingDeg, HeightM: s.label.heightM,
		BearingSDDeg: s.Score.BearingSDDeg, HeightSDM: s.Score.HeightSDM}
	if !math.IsNaN(said.BearingDeg) {
		said.Face = s.Rig.FaceOf(said.BearingDeg)
	}
	return said, b.verdicts[i].predict.place(s.Rig)
}

// tellOne tells of a single label.
func (b *bench) tellOne(i int) {
	v := b.verdicts[i]
	fault := face
	for f := face; f < faults; f++ {
		if b.shares[f]*v.own[f] > b.shares[fault]*v.own[fault] {
			fault = f
		}
	}
	kinds := [faults]Kind{face: WrongFace, opposite: Opposite, band: WrongBand, both: WrongBoth, anything: WrongBoth}
	said, predicted := b.places(i)
	d := b.over(kinds[fault], i, i)
	d.Score, d.Label, d.Predicted = v.score, said, predicted
	if d.Kind == WrongBoth && said.Band == "" {
		d.Kind = WrongFace
	}
	if d.Kind == WrongBoth && said.Face == 0 {
		d.Kind = WrongBand
	}
	where := fmt.Sprintf("face %d (%.0f deg, sd %.0f)", predicted.Face, predicted.BearingDeg, predicted.BearingSDDeg)
	high := fmt.Sprintf("%s (%.2f m, sd %.2f)", predicted.Band, predicted.HeightM, predicted.HeightSDM)
	switch d.Kind {
	case WrongFace:
		d.Reason = fmt.Sprintf("labelled face %d, but it reads as %s", said.Face, where)
	case Opposite:
		d.Reason = fmt.Sprintf("labelled face %d, but it reads as the opposite side, %s", said.Face, where)
	case WrongBand:
		d.Reason = fmt.Sprintf("labelled %s, but it reads as %s", said.Band, high)
	default:
		d.Reason = fmt.Sprintf("labelled face %d %s, but it reads as %s, %s", said.Face, said.Band, where, high)
	}
	d.Mend = fmt.Sprintf("look at strike %d: strikerose label serve (session %s)", d.Number, d.Session)
	b.add(d)
}
