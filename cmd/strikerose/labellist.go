package main

import (
	"cmp"
	"context"
	"encoding/csv"
	"io"
	"slices"
	"strconv"
	"time"

	"github.com/spf13/cobra"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/dataset/shell"
	"strikerose/label"
	"strikerose/label/sheet"
)

// labelColumns are the columns of label list, in the order that the command
// promises; movingColumns follow with --all, for label read.
var (
	labelColumns  = [...]string{"session", "onset_s", "source", "face", "bearing_deg", "height_m", "band", "kind", "confidence", "why"}
	movingColumns = [...]string{"labeller", "says", "note", "claim"}
)

type labelListFlags struct {
	selection
	all bool
	out string
}

func newLabelList(a *app) *cobra.Command {
	var f labelListFlags
	cmd := &cobra.Command{
		Use:   "list",
		Short: "Write the labels that stand",
		Long: `Write the labels that stand: for each strike the preferred claim, with why it
stands. Timed truth goes before hands that agree, those before a single hand or
the latest of hands that differ, and a plan comes last. A plan says face and
band; its bearing is the face's middle, its height the band's. --all writes all
that stands: rivals, rejected strikes and stretches labelled completely too, with
labeller, note and the claim itself, for label read to take elsewhere.`,
		Example: "strikerose label list -C gym -o labels.csv",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runLabelList(cmd.Context(), a, f)
		},
	}
	f.selection.flags(cmd)
	cmd.Flags().BoolVar(&f.all, "all", false, "write every claim that stands, as label read takes it")
	cmd.Flags().StringVarP(&f.out, "output", "o", "-", "the CSV `FILE` to write; - is standard output")
	return cmd
}

// listed is one line of label list.
type listed struct {
	Session string `json:"session"` // name of the session
	// OnsetS is the first instant of contact, seconds from the session's first sample on the
	// repaired clock: of the strike found, else of the claim.
	OnsetS  float64 `json:"onset_s"`
	onsetNs int64
	Source  string `json:"source"`         // who or what says so: one of label.Plan, label.Hand or label.Timed
	Face    int    `json:"face,omitempty"` // face from 1, clockwise, at least 1; absent where it is not said
	// BearingDeg is degrees clockwise seen from above from the middle of face 1, in the
	// bag's frame, in [0, 360); of a plan the middle of its face; absent where it is
	// not said.
	BearingDeg *float64 `json:"bearing_deg,omitempty"`
	HeightM    *float64 `json:"height_m,omitempty"` // metres above the bag's bottom edge; of a plan the middle of its band; absent where it is not said
	Band       string   `json:"band,omitempty"`     // name of the band in the rig file; absent where it is not said
	Kind       string   `json:"kind,omitempty"`     // kind of strike, one of label.Kinds; absent where it is not said
	Confidence float64  `json:"confidence"`         // probability that the claim belongs to this strike, in [0, 1]; 0 where it is not stated
	Why        string   `json:"why"`                // why it is preferred to its rivals, or not, in words
	Labeller   string   `json:"labeller,omitempty"` // who said so; absent where not stated
	// Says is what it claims: a strike, that there was none, or that what its source
	// does not list was none: one of sheet.Strike, sheet.NoStrike or sheet.Complete.
	Says  string `json:"says"`
	Note  string `json:"note,omitempty"` // what the labeller wrote beside it; absent where nothing
	claim label.Claim
}

func runLabelList(ctx context.Context, a *app, f labelListFlags) error {
	c, sessions, err := a.open(f.selection)
	if err != nil {
		return err
	}
	var rows []listed
	for _, s := range sessions {
		r, err := c.Rig(s.Rig)
		if err != nil {
			return err
		}
		some, err := listLabels(ctx, a, c, s.Name, r, f.all)
		if err != nil {
			return err
		}
		rows = append(rows, some...)
	}
	return a.writeOutput(f.out, func(w io.Writer) error {
		if a.json {
			return printJSON(w, rows)
		}
		return writeLabels(w, rows, f.all)
	})
}

// listLabels lists a session's labels in order of time. Those of a strike
// that was found bear its onset, the others their own time.
func listLabels(ctx context.Context, a *app, c *corpus.Corpus, session string, r *rig.Rig, all bool) ([]listed, error) {
	claims, err := a.journalClaims(ctx, c, session)
	if err != nil {
		return nil, err
	}
	strikes, err := sessionStrikes(c, session)
	if err != nil {
		return nil, err
	}
	if len(strikes) == 0 && len(claims) > 0 {
		a.warn("session %s: no strikes found, so that rivals cannot be told from each other: run strikerose find %s", session, shell.Line("-C", a.dir, "--sessions", session))
	}
	var rows []listed
	listedIDs := map[string]bool{}
	add := func(onsetNs int64, c label.Claim, why string) {
		if listedIDs[c.ID] || !all && sheet.Says(c) != sheet.Strike {
			return
		}
		listedIDs[c.ID] = true
		rows = append(rows, newListed(session, onsetNs, c, r, why))
	}
	labels, orphans := label.Resolve(claims, strikes, label.Best, label.MatchNs())
	for _, l := range append(labels, label.Missed(orphans, label.MatchNs())...) {
		if l.Claim == nil {
			continue
		}
		whys := append([]string{l.Why()}, l.WhyNot()...)
		for i, c := range append([]label.Claim{*l.Claim}, l.Rivals...) {
			onsetNs, why := c.OnsetNs, whys[i]
			if l.Strike >= 0 {
				onsetNs = strikes[l.Strike].OnsetNs
			}
			if !c.Complete && (i == 0 || all) {
				add(onsetNs, c, why)
			}
		}
	}
	for _, c := range label.Standing(claims) { // what speaks of no strike found
		if c.Complete {
			add(c.OnsetNs, c, "of this stretch, what it does not list was no strike")
		} else if c.NotStrike {
			add(c.OnsetNs, c, "rejects what is no longer found")
		}
	}
	slices.SortStableFunc(rows, func(x, y listed) int { return cmp.Compare(x.onsetNs, y.onsetNs) })
	return rows, nil
}

func newListed(session string, onsetNs int64, claim label.Claim, r *rig.Rig, why string) listed {
	place := claim.PlaceOn(r)
	return listed{
		Session: session, OnsetS: time.Duration(onsetNs).Seconds(), onsetNs: onsetNs, Source: claim.Source,
		Face: place.Face, BearingDeg: known(place.BearingDeg), HeightM: known(place.HeightM), Band: place.Band,
		Kind: claim.Kind, Confidence: claim.Confidence, Why: why, Labeller: claim.Author, Says: sheet.Says(claim), Note: claim.Note, claim: claim,
	}
}

// writeLabels writes the rows as CSV; moving adds what label read needs.
func writeLabels(w io.Writer, rows []listed, moving bool) error {
	out := csv.NewWriter(w)
	head := labelColumns[:]
	if moving {
		head = slices.Concat(head, movingColumns[:])
	}
	out.Write(head)
	for _, row := range rows {
		face := ""
		if row.Face > 0 {
			face = strconv.Itoa(row.Face)
		}
		cells := []string{row.Session, secondsText(row.onsetNs), row.Source, face, optional(row.BearingDeg, bearingText),
			optional(row.HeightM, heightText), row.Band, row.Kind, fixed(row.Confidence, 4), row.Why}
		if moving {
			text, err := sheet.Text(row.claim)
			if err != nil {
				return err
			}
			cells = append(cells, row.Labeller, row.Says, row.Note, text)
		}
		out.Write(cells)
	}
	out.Flush()
	return out.Error()
}
