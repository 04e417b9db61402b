package main

import (
	"context"
	"strconv"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/eval"
	"strikerose/features"
)

func newFeatures(a *app) *cobra.Command {
	var sel selection
	cmd := &cobra.Command{
		Use:   "features",
		Short: "Compute the features of the strikes found",
		Long: `Compute the features of the strikes found and write them to the corpus, for
your own analysis: training and comparing compute them from the samples anew.
No feature sees a label.`,
		Example: "strikerose features -C gym",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runFeatures(cmd.Context(), a, sel)
		},
	}
	sel.flags(cmd)
	return cmd
}

// extracted is what features says of one session.
type extracted struct {
	Session string `json:"session"`
	Strikes int    `json:"strikes"`
	Columns int    `json:"columns"`
}

func runFeatures(ctx context.Context, a *app, sel selection) error {
	c, sessions, err := a.open(sel)
	if err != nil {
		return err
	}
	var done []extracted
	var rows [][]string
	p := a.progress("computing features", int64(len(sessions)), false)
	defer p.Done()
	for _, s := range sessions {
		var n int
		err := locked(c, s.Name, func() error {
			n, err = featureSession(ctx, c, s)
			return err
		})
		if err != nil {
			return err
		}
		p.Add(1)
		done = append(done, extracted{s.Name, n, len(features.Columns())})
		rows = append(rows, []string{s.Name, strconv.Itoa(n), strconv.Itoa(len(features.Columns()))})
	}
	p.Done()
	return a.report(done, []string{"session", "strikes", "columns"}, rows)
}

func featureSession(ctx context.Context, c *corpus.Corpus, s dataset.Session) (int, error) {
	if _, _, err := c.Strikes(s.Name); err != nil { // find comes first, so that both tables tell of the same strikes
		return 0, err
	}
	r, err := c.Rig(s.Rig)
	if err != nil {
		return 0, err
	}
	windows, err := sessionWindows(ctx, c, s, eval.WholeWindow())
	if err != nil {
		return 0, err
	}
	t := corpus.FeatureTable{Made: madeByFeatures()}
	for _, col := range features.Columns() {
		t.Names = append(t.Names, col.Name)
		t.Units = append(t.Units, col.Unit)
	}
	for _, w := range windows {
		t.OnsetNs = append(t.OnsetNs, w.Strike.OnsetNs)
		t.Number = append(t.Number, w.Strike.Number)
		t.Rows = append(t.Rows, features.Extract(w, r, nil))
	}
	return len(windows), c.PutFeatures(ctx, s.Name, t)
}
