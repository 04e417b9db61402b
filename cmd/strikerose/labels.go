package main

import (
	"context"
	"errors"
	"os"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/label"
)

// journalClaims reads the journal of a session; damage in it is an error.
func (a *app) journalClaims(ctx context.Context, c *corpus.Corpus, session string) ([]label.Claim, error) {
	log, err := label.OpenJournal(c.JournalPath(session)).Read(ctx)
	if err != nil {
		return nil, err
	}
	for _, t := range log.Torn {
		a.warn("%s:%d: %s", log.Name, t.Line, t.Why)
	}
	return log.Claims, log.Err()
}

// revise writes to the journal what makes the standing claims of an origin
// become next, and brings the label table in line. It returns how many lines
// were written; none when next stood already.
func (a *app) revise(ctx context.Context, c *corpus.Corpus, s dataset.Session, o label.Origin, next []label.Claim) (int, error) {
	old, err := a.journalClaims(ctx, c, s.Name)
	if err != nil {
		return 0, err
	}
	fresh := label.Revise(old, o, next)
	if len(fresh) > 0 {
		if err := label.OpenJournal(c.JournalPath(s.Name)).Append(ctx, fresh...); err != nil {
			return 0, err
		}
	}
	return len(fresh), putLabels(ctx, c, s)
}

// sessionStrikes returns the strikes found in a session, none where find has
// not run.
func sessionStrikes(c *corpus.Corpus, session string) ([]dataset.Strike, error) {
	strikes, _, err := c.Strikes(session)
	if errors.Is(err, corpus.ErrNoWindows) {
		return nil, nil
	}
	return strikes, err
}

// putLabels writes the standing claims of a session as the label table.
func putLabels(ctx context.Context, c *corpus.Corpus, s dataset.Session) error {
	claims, err := source{c}.Claims(s.Name)
	if err != nil {
		return err
	}
	strikes, err := sessionStrikes(c, s.Name)
	if err != nil {
		return err
	}
	if _, err := os.Stat(c.JournalPath(s.Name)); len(claims) == 0 && err != nil {
		return nil // never labelled
	}
	labels, orphans := label.Resolve(claims, strikes, label.Best, label.MatchNs())
	var rows []corpus.LabelRow
	for i, l := range labels {
		if l.Claim == nil {
			continue
		}
		for rank, claim := range append([]label.Claim{*l.Claim}, l.Rivals...) {
			if claim.Complete { // says something of the session, not of this moment
				continue
			}
			row := labelRow(s, claim)
			row.Strike, row.Preferred = strikes[i].Number, rank == 0
			rows = append(rows, row)
		}
	}
	for _, claim := range orphans {
		rows = append(rows, labelRow(s, claim))
	}
	return c.PutLabels(ctx, s.Name, rows)
}

func labelRow(s dataset.Session, claim label.Claim) corpus.LabelRow {
	return corpus.LabelRow{
		Session: s.Name, Rig: s.Rig,
		ID: claim.ID, OnsetNs: claim.OnsetNs, Source: claim.Source, Author: claim.Author, AtNs: claim.At.UnixNano(),
		Face: claim.Face, BearingDeg: claim.BearingDeg, HeightM: claim.HeightM, Band: claim.Band, Kind: claim.Kind,
		Confidence: claim.Confidence, BearingSDDeg: claim.BearingSDDeg, HeightSDM: claim.HeightSDM,
		NotStrike: claim.NotStrike, Note: claim.Note, PlanOrder: claim.PlanOrder,
	}
}

// author is who makes claims about a session: the one that was named, else
// the striker.
func author(named string, s dataset.Session) string {
	switch {
	case named != "":
		return named
	case s.Striker != "":
		return s.Striker
	}
	return "unknown"
}
