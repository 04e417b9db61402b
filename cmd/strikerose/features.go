package main

import (
	"context"
	"strconv"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/features"
)

func newFeatures(a *app) *cobra.Command {
	var f featuresFlags
	cmd := &cobra.Command{
		Use:   "features",
		Short: "Compute the features of the strikes found",
		Long: `Compute the features of the strikes found and write them to the corpus, for
your own analysis: training and comparing compute them from the samples anew.
No feature sees a label.

-o writes them to one table too. A FILE.csv has a row a strike, every digit of
every number, and nothing where a feature cannot be had. A FILE.npy is a matrix
for NumPy, one row a strike, nan where there is nothing; what its columns are
stands in FILE.npy.columns.csv, and which strike each row is in FILE.npy.rows.csv.
With --labels the preferred label of each strike comes along.`,
		Example: `strikerose features -C gym
strikerose features -C gym --labels -o features.csv
strikerose features -C gym --labels -o features.npy`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case f.out == "" && (f.labels || f.float32):
				return usagef(cmd, "--labels and --float32 are about the table that -o FILE writes")
			case f.float32 && !f.matrix():
				return usagef(cmd, "--float32 is for a FILE.npy alone")
			}
			if err := featureEndings.check(cmd, f.out, false, ""); err != nil {
				return err
			}
			return runFeatures(cmd.Context(), a, f)
		},
	}
	f.selection.flags(cmd)
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "the `FILE` to write: .csv or .npy; - is CSV on standard output")
	cmd.Flags().BoolVar(&f.labels, "labels", false, "write the preferred label of each strike beside its features")
	cmd.Flags().BoolVar(&f.float32, "float32", false, "write a matrix of half the size, 7 digits a number")
	return cmd
}

// extracted is what features says of one session.
type extracted struct {
	Session string `json:"session"` // name of the session
	Strikes int    `json:"strikes"` // how many strikes have features now, at least 0
	Columns int    `json:"columns"` // how many numbers each strike has, at least 0
}

func runFeatures(ctx context.Context, a *app, f featuresFlags) error {
	c, sessions, err := a.open(f.selection)
	if err != nil {
		return err
	}
	var done []extracted
	var rows [][]string
	var table []featureRow
	p := a.progress("computing features", int64(len(sessions)), false)
	defer p.Done()
	err = inOrder(ctx, len(sessions), streamedAtOnce, func(ctx context.Context, i int) (t corpus.FeatureTable, err error) {
		err = locked(c, sessions[i].Name, func() error {
			t, err = featureSession(ctx, c, sessions[i])
			return err
		})
		return t, err
	}, func(i int, t corpus.FeatureTable, err error) error {
		if err != nil {
			return err
		}
		s := sessions[i]
		if f.out != "" {
			some, err := featureRows(ctx, a, c, s, t, f.labels)
			if err != nil {
				return err
			}
			table = append(table, some...)
		}
		p.Add(1)
		done = append(done, extracted{s.Name, len(t.Rows), len(t.Names)})
		rows = append(rows, []string{s.Name, strconv.Itoa(len(t.Rows)), strconv.Itoa(len(t.Names))})
		return nil
	})
	if err != nil {
		return err
	}
	p.Done()
	if f.out != "" {
		if err := a.writeFeatures(f, table); err != nil {
			return err
		}
	}
	if f.out == "-" {
		return nil
	}
	return a.report(done, []string{"session", "strikes", "columns"}, rows)
}

func featureSession(ctx context.Context, c *corpus.Corpus, s dataset.Session) (corpus.FeatureTable, error) {
	if _, _, err := c.Strikes(s.Name); err != nil { // find comes first, so that both tables tell of the same strikes
		return corpus.FeatureTable{}, err
	}
	r, err := c.Rig(s.Rig)
	if err != nil {
		return corpus.FeatureTable{}, err
	}
	t := newFeatureTable()
	err = eachWindow(ctx, c, s, r, eval.WholeWindow(), func(w *dataset.Window) { addFeatures(&t, w, r) })
	if err != nil {
		return corpus.FeatureTable{}, err
	}
	return t, c.PutFeatures(ctx, s.Name, t)
}

func newFeatureTable() corpus.FeatureTable {
	t := corpus.FeatureTable{Made: madeByFeatures()}
	for _, col := range features.Columns() {
		t.Names = append(t.Names, col.Name)
		t.Units = append(t.Units, col.Unit)
	}
	return t
}

// addFeatures adds a strike's row.
func addFeatures(t *corpus.FeatureTable, w *dataset.Window, r *rig.Rig) {
	t.OnsetNs = append(t.OnsetNs, w.Strike.OnsetNs)
	t.Number = append(t.Number, w.Strike.Number)
	t.Rows = append(t.Rows, features.Extract(w, r, nil))
}
