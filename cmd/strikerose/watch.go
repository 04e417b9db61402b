package main

import (
	"context"
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/eval/drift"
	"strikerose/models"
)

// looked takes the numbers of sessions by which later ones are held against them.
func (a *app) looked(ctx context.Context, c *corpus.Corpus, sessions []dataset.Session) ([]models.Seen, error) {
	p := a.progress("looking at sessions", int64(len(sessions)), false)
	defer p.Done()
	return drift.LookAll(ctx, source{c}, sessions, a.seed, p)
}

// named returns the sessions of these names.
func named(sessions []dataset.Session, names []string) []dataset.Session {
	var out []dataset.Session
	for _, s := range sessions {
		if slices.Contains(names, s.Name) {
			out = append(out, s)
		}
	}
	return out
}

// difference is what is said of one session held against those trained on.
type difference struct {
	session  string
	sessions int // trained on, of the same rig revision
	findings []drift.Finding
}

// untrained returns the sessions that a detector was not trained on, on rigs that
// it was trained on: those that can be held against what it saw.
func untrained(d *models.File, sessions []dataset.Session) []dataset.Session {
	count := seenOn(d)
	var fresh []dataset.Session
	for _, s := range sessions {
		if count[s.Rig] > 0 && !slices.Contains(d.Training.Sessions, s.Name) {
			fresh = append(fresh, s)
		}
	}
	return fresh
}

// seenOn counts the sessions trained on by rig.
func seenOn(d *models.File) map[string]int {
	count := map[string]int{}
	for _, s := range d.Training.Seen {
		count[s.Rig]++
	}
	return count
}

// differences holds what was seen of sessions against those trained on.
func differences(d *models.File, seen []models.Seen) []difference {
	count := seenOn(d)
	var out []difference
	for _, s := range seen {
		findings, _ := drift.Compare(d.Training.Seen, s)
		out = append(out, difference{session: s.Session, sessions: count[s.Rig], findings: findings})
	}
	return out
}

// tellDifferences puts what differs into words: the bag as warnings, the way of
// striking as notes.
func (a *app) tellDifferences(all []difference) {
	alike := 0
	for _, d := range all {
		said := false
		for _, f := range d.findings {
			if !f.Marked {
				continue
			}
			said = true
			tell := a.note
			if f.Of == drift.OfBag {
				tell = a.warn
			}
			tell("session %s: unlike training: %s", d.session, f.Words)
		}
		if said && d.sessions == 1 {
			a.note("session %s: a single session was trained on: how much evenings differ is not known", d.session)
		}
		if !said {
			alike++
		}
	}
	if alike > 0 {
		a.note("%s of %s not trained on: bag, sensor and strikes as in training", counted(alike, "session"), strconv.Itoa(len(all)))
	}
}

// writeDifferences writes every number compared as CSV.
func writeDifferences(w io.Writer, all []difference) error {
	out := csv.NewWriter(w)
	out.Write(strings.Split("session,name,unit,of,trained,now,distance,usual,p,p_holm,marked,words", ","))
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
	for _, d := range all {
		for _, f := range d.findings {
			out.Write([]string{d.session, f.Name, f.Unit, f.Of, number(f.Trained), number(f.Now), number(f.Distance), number(f.Usual),
				number(f.P), number(f.PHolm), strconv.FormatBool(f.Marked), f.Words})
		}
	}
	out.Flush()
	return out.Error()
}
