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
	"strikerose/label"
)

// labelColumns are the columns of label list, in the order that the command
// promises.
var labelColumns = [...]string{"session", "onset_s", "source", "face", "bearing_deg", "height_m", "band", "kind", "confidence"}

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
		Long: `Write the labels that stand: for each strike the preferred claim (timed truth
before hand before plan), or with --all its rivals too. A plan says face and
band; its bearing is the face's middle, its height the band's.`,
		Example: "strikerose label list -C gym -o labels.csv",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runLabelList(cmd.Context(), a, f)
		},
	}
	f.selection.flags(cmd)
	cmd.Flags().BoolVar(&f.all, "all", false, "write the rivals of the preferred claims too")
	cmd.Flags().StringVarP(&f.out, "output", "o", "-", "the CSV `FILE` to write; - is standard output")
	return cmd
}

// listed is one line of label list.
type listed struct {
	Session    string  `json:"session"`
	OnsetS     float64 `json:"onset_s"`
	onsetNs    int64
	Source     string   `json:"source"`
	Face       int      `json:"face,omitempty"`
	BearingDeg *float64 `json:"bearing_deg,omitempty"`
	HeightM    *float64 `json:"height_m,omitempty"`
	Band       string   `json:"band,omitempty"`
	Kind       string   `json:"kind,omitempty"`
	Confidence float64  `json:"confidence"`
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
		return writeLabels(w, rows)
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
		a.warn("session %s: no strikes found, so that rivals cannot be told from each other: run strikerose find -C %s --sessions %s", session, a.dir, session)
	}
	var rows []listed
	labels, orphans := label.Resolve(claims, strikes, label.Best, label.MatchNs())
	for i, l := range labels {
		if l.Claim == nil {
			continue
		}
		chosen := []label.Claim{*l.Claim}
		if all {
			chosen = append(chosen, l.Rivals...)
		}
		for _, claim := range chosen {
			if claim.AboutStrike() && !claim.NotStrike {
				rows = append(rows, newListed(session, strikes[i].OnsetNs, claim, r))
			}
		}
	}
	for _, claim := range orphans {
		rows = append(rows, newListed(session, claim.OnsetNs, claim, r))
	}
	slices.SortStableFunc(rows, func(x, y listed) int { return cmp.Compare(x.onsetNs, y.onsetNs) })
	return rows, nil
}

func newListed(session string, onsetNs int64, claim label.Claim, r *rig.Rig) listed {
	place := claim.PlaceOn(r)
	return listed{
		Session: session, OnsetS: time.Duration(onsetNs).Seconds(), onsetNs: onsetNs, Source: claim.Source,
		Face: place.Face, BearingDeg: known(place.BearingDeg), HeightM: known(place.HeightM), Band: place.Band,
		Kind: claim.Kind, Confidence: claim.Confidence,
	}
}

func writeLabels(w io.Writer, rows []listed) error {
	out := csv.NewWriter(w)
	out.Write(labelColumns[:])
	for _, row := range rows {
		face := ""
		if row.Face > 0 {
			face = strconv.Itoa(row.Face)
		}
		out.Write([]string{row.Session, secondsText(row.onsetNs), row.Source, face, optional(row.BearingDeg, bearingText),
			optional(row.HeightM, heightText), row.Band, row.Kind, fixed(row.Confidence, 4)})
	}
	out.Flush()
	return out.Error()
}
