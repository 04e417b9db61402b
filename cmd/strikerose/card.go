package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/eval/report"
	"strikerose/label"
	"strikerose/label/agree"
)

// runCard writes the datasheet of the corpus.
func runCard(ctx context.Context, a *app, out string) error {
	c, err := corpus.Open(a.dir)
	if err != nil {
		return err
	}
	card, err := cardOf(ctx, a, c)
	if err != nil {
		return err
	}
	if err := a.writeOutput(out, func(w io.Writer) error { return card.Markdown(w) }); err != nil {
		return err
	}
	if out != "-" {
		a.note("wrote %s: fill in what says TO FILL IN", out)
	}
	return nil
}

func cardOf(ctx context.Context, a *app, c *corpus.Corpus) (*report.Card, error) {
	card := &report.Card{Meta: report.Meta{Corpus: a.corpusName(), Tool: thisBuild().name(), Command: "strikerose check --card"}}
	sessions, err := c.Sessions()
	if err != nil {
		return nil, err
	}
	rigs := map[string]*rig.Rig{}
	onRig := map[string]int{}
	var said []agree.Session
	for _, s := range sessions {
		if rigs[s.Rig] == nil {
			if rigs[s.Rig], err = c.Rig(s.Rig); err != nil {
				return nil, err
			}
		}
		onRig[s.Rig]++
		one, err := agreeSession(ctx, a, c, s.Name, rigs[s.Rig])
		if err != nil {
			return nil, err
		}
		said = append(said, one)
		if err := addSession(card, c, s, one); err != nil {
			return nil, err
		}
		addRecordingGaps(card, s)
		if by := simulatedBy(one.Claims); by != "" {
			card.Simulated = append(card.Simulated, report.CardSimulated{Session: s.Name, By: by})
		}
	}
	slices.Sort(card.Strikers)
	card.Strikers = slices.Compact(card.Strikers)
	for _, key := range slices.Sorted(maps.Keys(rigs)) {
		r := rigs[key]
		card.Rigs = append(card.Rigs, report.CardRig{Key: key, Sessions: onRig[key], BagM: r.Bag.LengthM, BagKg: r.Bag.MassKg,
			SensorDepthM: r.Sensor.DepthM, RateHz: r.Sensor.RateHz, Gyro: r.HasGyro(), Measured: r.Calibration != nil})
		addLabels(card, key, r, said)
		addRigGaps(card, r, said)
	}
	if err := addAgreement(ctx, a, card, said); err != nil {
		return nil, err
	}
	addGaps(card)
	addSplits(card, rigs)
	return card, nil
}

func addSession(card *report.Card, c *corpus.Corpus, s dataset.Session, one agree.Session) error {
	_, _, err := c.Strikes(s.Name)
	if err != nil && !errors.Is(err, corpus.ErrNoWindows) {
		return err
	}
	if s.Striker == "" {
		card.Unnamed++
	} else {
		card.Strikers = append(card.Strikers, s.Striker)
	}
	row := report.CardSession{Name: s.Name, Rig: s.Rig, Striker: s.Striker, DurationS: s.DurationS, RateHz: s.RateHz,
		Strikes: len(one.Strikes), Found: err == nil, LostSamples: s.LostSamples, Restarts: s.Restarts, Clipped: s.ClippedSamples}
	labels, _ := label.Resolve(one.Claims, one.Strikes, label.Best, label.MatchNs())
	for _, l := range labels {
		if l.Claim != nil && !l.NotStrike {
			row.Labelled++
		}
	}
	card.Sessions = append(card.Sessions, row)
	return nil
}

// addLabels counts what each source says of the strikes on one rig revision.
func addLabels(card *report.Card, key string, r *rig.Rig, said []agree.Session) {
	for _, source := range []string{label.Timed, label.Hand, label.Plan} {
		row := report.CardLabels{Rig: key, Source: source, Faces: make([]int, r.Faces), InBand: make([]int, len(r.Bands))}
		for _, b := range r.Bands {
			row.Bands = append(row.Bands, b.Name)
		}
		for _, s := range said {
			if s.Rig != r {
				continue
			}
			labels, _ := label.Resolve(s.Claims, s.Strikes, source, label.MatchNs())
			for _, l := range labels {
				if l.Claim == nil || l.NotStrike {
					continue
				}
				row.Strikes++
				p := l.Claim.PlaceOn(r)
				if p.Face >= 1 && p.Face <= r.Faces {
					row.Faces[p.Face-1]++
				}
				if k := slices.Index(row.Bands, p.Band); k >= 0 {
					row.InBand[k]++
				}
			}
		}
		if row.Strikes > 0 {
			card.Labels = append(card.Labels, row)
		}
	}
}

// addAgreement measures how far labellers agree, where two spoke of the same
// strikes and the rigs let them be pooled.
func addAgreement(ctx context.Context, a *app, card *report.Card, said []agree.Session) error {
	ratings, err := agree.Collect(said, label.MatchNs())
	if err != nil {
		card.Gaps = append(card.Gaps, "Agreement is not given, as its rigs differ in faces or bands: `strikerose label agree --rigs` gives it for one.")
		return nil
	}
	if ratings.Sessions == 0 {
		return nil
	}
	rows, err := ratings.Report(ctx, agree.Options{Seed: a.seed})
	if err != nil {
		return err
	}
	for _, r := range rows {
		who := "all"
		if len(r.Labellers) == 2 {
			who = strings.Join(r.Labellers, " - ")
		}
		card.Agreement = append(card.Agreement, report.CardAgreement{What: r.What, Labellers: who, Measure: r.Measure, Unit: r.Unit,
			Value: r.Value, Low: r.Low, High: r.High, Strikes: r.Strikes})
	}
	return nil
}

// addGaps says what the corpus can see to be missing.
func addGaps(card *report.Card) {
	add := func(format string, args ...any) { card.Gaps = append(card.Gaps, fmt.Sprintf(format, args...)) }
	for _, s := range card.Sessions {
		switch {
		case !s.Found:
			add("Session %s: strikes were not looked for.", s.Name)
		case s.Labelled == 0:
			add("Session %s: no strike is labelled.", s.Name)
		case s.Labelled < s.Strikes:
			add("Session %s: %s of %d without a label.", s.Name, counted(s.Strikes-s.Labelled, "strike"), s.Strikes)
		}
		if s.Striker == "" {
			add("Session %s: its striker is not named.", s.Name)
		}
	}
	if len(card.Strikers) == 1 {
		add("One striker alone: nothing tells how far it carries to others.")
	}
	for _, l := range card.Labels {
		for i, n := range l.Faces {
			if n == 0 {
				add("Rig %s, %s: no strike on face %d.", l.Rig, l.Source, i+1)
			}
		}
		for i, n := range l.InBand {
			if n == 0 {
				add("Rig %s, %s: no strike in band %s.", l.Rig, l.Source, l.Bands[i])
			}
		}
	}
}

// addSplits recommends the splits that the labelled sessions allow.
func addSplits(card *report.Card, rigs map[string]*rig.Rig) {
	sessions, strikers, names := map[string]int{}, map[string]bool{}, map[string]bool{}
	most := 0
	named := true
	for _, s := range card.Sessions {
		if s.Labelled == 0 {
			continue
		}
		name := rigs[s.Rig].Name
		sessions[name]++
		most = max(most, sessions[name])
		strikers[s.Striker], names[name] = true, true
		named = named && s.Striker != ""
	}
	add := func(leave, why string) {
		card.Splits = append(card.Splits, report.CardSplit{Leave: leave, Why: why, Command: "strikerose compare --leave " + leave})
	}
	if most >= 2 {
		add(eval.LeaveSession, "the usual one, for a bag and people that are known")
	}
	if named && len(strikers) >= 2 {
		add(eval.LeaveStriker, "how far it carries to a new striker")
	}
	if len(names) >= 2 {
		add(eval.LeaveRig, "how far it carries to a new bag")
	}
}
