package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/eval/report"
	"strikerose/label"
	"strikerose/label/agree"
)

func newLabelAgree(a *app) *cobra.Command {
	var f selection
	cmd := &cobra.Command{
		Use:   "agree",
		Short: "Measure how far those who label agree",
		Long: `Measure how far those who label the same strikes agree: people, plan, timed
truth. Alpha and kappa are 1 for agreement throughout and 0 for what chance would
give. Heights have the bias of one against the other and the limits between which
about 95 % of the differences lie; bearings the circular mean difference and its
standard deviation. A plan's bearing is its face's middle, its height its band's.
More than 30 labellers are compared all together, and not pair by pair. Agreement is
not truth: those who share a mistake agree.`,
		Example: "strikerose label agree -C gym --sessions monday",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runLabelAgree(cmd.Context(), a, f)
		},
	}
	f.flags(cmd)
	return cmd
}

// agreement is what label agree prints as JSON.
type agreement struct {
	Labellers []string        `json:"labellers"`       // who is compared: a person's ID, plan or timed
	Sessions  int             `json:"sessions"`        // how many sessions have labels of two of them or more, at least 1
	Strikes   int             `json:"strikes"`         // how many strikes two of them or more speak of, at least 0
	Level     float64         `json:"level"`           // share that the intervals should hold, in (0, 1)
	Unit      string          `json:"resampling_unit"` // what was resampled for the intervals: strikes
	Seed      uint64          `json:"seed"`            // seed of the resampling
	Rows      []agreementLine `json:"measures"`        // every measure, all labellers first, then, of at most 30, each pair of them
}

// agreementLine is one measure of agreement.
type agreementLine struct {
	What      string   `json:"what"`      // what they agree on, one of strike, face, band, kind, bearing or height
	Labellers []string `json:"labellers"` // who is compared; differences are the first less the second
	// Measure is its name, such as alpha or kappa, which are 1 for agreement
	// throughout and 0 for that by chance.
	Measure string   `json:"measure"`
	Unit    string   `json:"unit,omitempty"` // unit of value, low and high, one of deg, m or share; absent for coefficients
	Value   *float64 `json:"value"`          // the measure itself; null where there is none, as all say the same
	Low     *float64 `json:"low"`            // lower end of its interval; null where there is none
	High    *float64 `json:"high"`           // upper end of its interval; null where there is none
	Strikes int      `json:"strikes"`        // how many strikes it rests on, at least 0
}

func runLabelAgree(ctx context.Context, a *app, f selection) error {
	c, sessions, err := a.open(f)
	if err != nil {
		return err
	}
	var said []agree.Session
	rigs := map[string]*rig.Rig{}
	for _, s := range sessions {
		if rigs[s.Rig] == nil {
			if rigs[s.Rig], err = c.Rig(s.Rig); err != nil {
				return err
			}
		}
		one, err := agreeSession(ctx, a, c, s.Name, rigs[s.Rig])
		if err != nil {
			return err
		}
		said = append(said, one)
	}
	ratings, err := agree.Collect(said, label.MatchNs())
	if err != nil {
		return withHint(fmt.Errorf("label %w", err), "--rigs and --sessions choose")
	}
	if ratings.Sessions == 0 {
		return withHint(fmt.Errorf("label agree: no session has labels of two labellers: there is nothing to compare"),
			"strikerose label plan and strikerose label truth add labels; strikerose label list shows them")
	}
	if ratings.UnknownFaces > 0 {
		a.warn("label agree: %s name a face that the rig does not have: their face does not count", counted(ratings.UnknownFaces, "label"))
	}
	if ratings.UnknownBands > 0 {
		a.warn("label agree: %s name a band that the rig does not have: their band does not count", counted(ratings.UnknownBands, "label"))
	}
	if n := len(ratings.Labellers); n > agree.MostPaired {
		a.note("label agree: %d labellers are compared all together, and not each with each: of more than %d nobody would read that", n, agree.MostPaired)
	}
	p := a.progress("resampling strikes", -1, false)
	rows, err := ratings.Report(ctx, agree.Options{Seed: a.seed})
	p.Done()
	if err != nil {
		return err
	}
	return printAgreement(a, ratings, rows)
}

func agreeSession(ctx context.Context, a *app, c *corpus.Corpus, name string, r *rig.Rig) (agree.Session, error) {
	s := agree.Session{Name: name, Rig: r}
	var err error
	if s.Claims, err = a.journalClaims(ctx, c, name); err != nil {
		return s, err
	}
	s.Strikes, err = sessionStrikes(c, name)
	return s, err
}

func printAgreement(a *app, r *agree.Ratings, rows []agree.Row) error {
	out := agreement{Labellers: r.Labellers, Sessions: r.Sessions, Strikes: r.Shared, Level: agree.Level, Unit: "strike", Seed: a.seed}
	var lines [][]string
	for _, row := range rows {
		out.Rows = append(out.Rows, agreementLine{row.What, row.Labellers, row.Measure, row.Unit, known(row.Value), known(row.Low), known(row.High), row.Strikes})
		who := "all"
		if len(row.Labellers) == 2 {
			who = strings.Join(row.Labellers, " - ")
		}
		decimals, measure := 3, row.Measure
		switch row.Unit {
		case "deg":
			decimals = 1
		case "share":
			measure += ", share"
		}
		if row.Unit == "deg" || row.Unit == "m" {
			measure += ", " + row.Unit
		}
		number := func(x float64) string {
			if s := fixed(x, decimals); s != "" {
				return s
			}
			return "-"
		}
		lines = append(lines, []string{row.What, who, measure, number(row.Value), number(row.Low), number(row.High), fmt.Sprint(row.Strikes)})
	}
	if !a.json && !a.quiet {
		by := counted(len(r.Labellers), "labeller")
		if len(r.Labellers) <= agree.MostPaired {
			by = strings.Join(r.Labellers, ", ")
		}
		fmt.Fprintln(a.out, report.Wrap(fmt.Sprintf("%s by %s in %s; intervals of %g %%, strikes resampled (of height bias and limits: Student's t); - where there is none, as all say the same",
			counted(r.Shared, "strike"), by, counted(r.Sessions, "session"), 100*agree.Level), ""))
	}
	return a.table(out, []string{"what", "labellers", "measure", "value", "from", "to", "strikes"}, lines)
}
