package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"strikerose/dataset/rig"
	"strikerose/eval"
	"strikerose/eval/bound"
	"strikerose/label"
	"strikerose/label/plan"
	"strikerose/models"
)

type planFlags struct {
	rig, out, sheet string
	kinds           []string
	perCell, pairs  int
	round           int
	rest            time.Duration
	spreadDeg       float64
	spreadM         float64
}

// Standard deviations from strike to strike by which the errors of two
// detectors are taken to differ where nothing was measured: choices without
// source.
const (
	assumedSpreadDeg = 8.0
	assumedSpreadM   = 0.05
)

func newPlan(a *app) *cobra.Command {
	var f planFlags
	cmd := &cobra.Command{
		Use:   "plan --rig FILE -o PLAN.csv",
		Short: "Make a balanced plan of strikes in random order, with a call sheet",
		Long: `Make a plan of strikes to be called out: every face, band and kind equally often,
in random order. Neighbours in the plan are never on the same or the next face in
the same or the next band where that can be avoided, and strikes a few apart
seldom are: then it shows when a strike was missed or thrown twice. The same seed
gives the same plan. --sheet writes it in large letters, one printed page a round.
A table says how many strikes tell two detectors apart; with -C the spread that
it needs is measured on the labelled sessions of a corpus.`,
		Example: `strikerose plan --rig hall.toml -o tuesday-plan.csv --sheet tuesday.html
strikerose plan --rig hall.toml --kinds straight,hook --per-cell 3 --pairs 12 --round 20 --rest 90s --seed 7 -o wednesday-plan.csv`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "rig", "output"); err != nil {
				return err
			}
			if err := f.validate(cmd); err != nil {
				return err
			}
			if f.out == "-" && a.json {
				return usagef(cmd, "-o - and --json both want standard output: give one of them")
			}
			fromCorpus := cmd.Flags().Changed("corpus") && !cmd.Flags().Changed("spread-deg") && !cmd.Flags().Changed("spread-m")
			return runPlan(cmd.Context(), a, f, fromCorpus)
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&f.rig, "rig", "", "the rig `FILE`")
	flags.StringVarP(&f.out, "output", "o", "", "the CSV `FILE` to write; - is standard output")
	flags.StringVar(&f.sheet, "sheet", "", "write a call sheet to this HTML `FILE`")
	flags.StringSliceVar(&f.kinds, "kinds", []string{"straight", "hook", "uppercut"}, "`KINDS` of strike, separated by commas: "+strings.Join(label.Kinds(), ", "))
	flags.IntVar(&f.perCell, "per-cell", 2, "strikes of each face, band and kind")
	flags.IntVar(&f.pairs, "pairs", 0, "double hits to join from these strikes")
	flags.IntVar(&f.round, "round", 20, "strikes a round, about")
	flags.DurationVar(&f.rest, "rest", time.Minute, "rest between rounds, such as 90s or 2m")
	flags.Float64Var(&f.spreadDeg, "spread-deg", assumedSpreadDeg, "standard deviation by which two detectors' bearing errors differ from strike to strike")
	flags.Float64Var(&f.spreadM, "spread-m", assumedSpreadM, "likewise of their height errors, in metres")
	return cmd
}

func (f *planFlags) validate(cmd *cobra.Command) error {
	var kinds []string
	for _, k := range f.kinds {
		kind, ok := label.ParseKind(k)
		if !ok {
			return usagef(cmd, "--kinds %q is unknown: give some of %s", k, strings.Join(label.Kinds(), ", "))
		}
		for _, before := range kinds {
			if before == kind {
				return usagef(cmd, "--kinds names %s twice", kind)
			}
		}
		kinds = append(kinds, kind)
	}
	f.kinds = kinds
	switch {
	case len(kinds) == 0:
		return usagef(cmd, "--kinds names none: leave it out to take straight, hook and uppercut")
	case f.perCell < 1:
		return usagef(cmd, "--per-cell %d: give 1 or more", f.perCell)
	case f.pairs < 0:
		return usagef(cmd, "--pairs %d: give 0 or more", f.pairs)
	case f.round < 1 || f.round > plan.LongestRound:
		return usagef(cmd, "--round %d: give 1 to %d", f.round, plan.LongestRound)
	case f.rest < 0 || f.rest > time.Hour:
		return usagef(cmd, "--rest %v: give 0s to 1h", f.rest)
	case !(f.spreadDeg > 0) || !(f.spreadM > 0) || math.IsInf(f.spreadDeg+f.spreadM, 0):
		return usagef(cmd, "--spread-deg and --spread-m must be above 0")
	}
	return nil
}

// planMade is what plan says.
type planMade struct {
	Rig     string   `json:"rig"`      // key of the rig, NAME-rREV
	Strikes int      `json:"strikes"`  // how many strikes are planned, at least 0
	Faces   int      `json:"faces"`    // how many faces take part, at least 1
	Bands   []string `json:"bands"`    // names of the bands, as in the rig file
	Kinds   []string `json:"kinds"`    // kinds of strike, each one of label.Kinds
	PerCell int      `json:"per_cell"` // how many strikes each face, band and kind gets, at least 1
	Pairs   int      `json:"pairs"`    // how many double hits there are, at least 0
	Rounds  int      `json:"rounds"`   // into how many rounds the plan is parted, at least 1
	Seed    uint64   `json:"seed"`     // seed of the order
	// Confusable is how many neighbours are easily confused: on the same or the next
	// face in the same or the next band, at least 0.
	Confusable int         `json:"confusable_neighbours"`
	Slips      []planSlip  `json:"slips"`  // how well it shows that a strike was missed or thrown twice
	Spread     planSpread  `json:"spread"` // by how much the errors of two detectors differ from strike to strike
	Worth      []planWorth `json:"worth"`  // how many strikes tell two detectors apart, by the difference of their errors
}

// planSlip is how well it shows that plan and session slipped against each other.
type planSlip struct {
	By      int     `json:"by"`             // by how many strikes plan and session slip, at least 1
	Shows   float64 `json:"shows_share"`    // share of the strikes at which it shows, in [0, 1]
	Longest int     `json:"longest_hidden"` // longest run of strikes that hides it, at least 0
}

// planSpread is by how much the errors of two detectors differ from strike to
// strike, as a standard deviation.
type planSpread struct {
	BearingDeg float64  `json:"bearing_deg"`         // standard deviation of the difference of the bearing errors, degrees, at least 0
	HeightM    *float64 `json:"height_m"`            // likewise of the height errors, metres, at least 0; null where one of the two gives no height
	Strikes    int      `json:"strikes"`             // how many strikes it was measured on, at least 0; 0 where it is assumed
	Detectors  []string `json:"detectors,omitempty"` // names of the two detectors it was measured between; absent where it is assumed
}

// planWorth is how many strikes tell two detectors apart.
type planWorth struct {
	What       string  `json:"what"`       // error that differs, one of bearing or height
	Difference float64 `json:"difference"` // by how much the mean errors differ, above 0
	Unit       string  `json:"unit"`       // unit of the difference, one of deg or m
	Strikes    int     `json:"strikes"`    // how many strikes show it four times in five at a level of 5 %, at least 1
	PerCell    int     `json:"per_cell"`   // how many of each face, band and kind those are, at least 1
}

func runPlan(ctx context.Context, a *app, f planFlags, fromCorpus bool) error {
	r, err := rig.Load(f.rig)
	if err != nil {
		return err
	}
	d := plan.Design{Faces: r.Faces, Kinds: f.kinds, PerCell: f.perCell, Pairs: f.pairs, Seed: a.seed}
	for _, b := range r.Bands {
		d.Bands = append(d.Bands, b.Name)
	}
	entries, err := plan.Order(d)
	if err != nil {
		return err
	}
	spread := planSpread{BearingDeg: f.spreadDeg, HeightM: known(f.spreadM)}
	if fromCorpus {
		if spread, err = a.measureSpread(ctx); err != nil {
			return err
		}
	}
	made, err := describePlan(r, d, entries, spread)
	if err != nil {
		return err
	}
	rounds := plan.Rounds(entries, f.round)
	made.Rounds = len(rounds)
	if err := a.writeOutput(f.out, func(w io.Writer) error { return plan.Write(w, entries) }); err != nil {
		return err
	}
	if f.sheet != "" {
		sheet := plan.Sheet{Title: "Plan for rig " + r.Key(), Rounds: rounds, RestS: int(f.rest.Seconds()), Cautions: cautions}
		if err := a.writeOutput(f.sheet, func(w io.Writer) error { return plan.WriteSheet(w, sheet) }); err != nil {
			return err
		}
		a.note("wrote %s: print it, a page a round", f.sheet)
	}
	if err := a.warnOfBands(r); err != nil {
		return err
	}
	if f.out != "-" {
		if err := a.printPlan(made, f.out); err != nil {
			return err
		}
	}
	a.note("\n%s", cautions)
	return nil
}

// describePlan judges a plan.
func describePlan(r *rig.Rig, d plan.Design, entries []plan.Entry, spread planSpread) (planMade, error) {
	made := planMade{Rig: r.Key(), Strikes: len(entries), Faces: d.Faces, Bands: d.Bands, Kinds: d.Kinds, PerCell: d.PerCell, Pairs: d.Pairs,
		Seed: d.Seed, Confusable: d.ConfusableNeighbours(entries), Spread: spread}
	for _, s := range d.Slips(entries, 3) {
		made.Slips = append(made.Slips, planSlip{s.By, s.Shows, s.Longest})
	}
	for _, w := range []struct {
		what, unit  string
		differences []float64
		spread      *float64
	}{
		{"bearing", "deg", []float64{0.5, 1, 2, 5}, &spread.BearingDeg},
		{"height", "m", []float64{0.005, 0.01, 0.02, 0.05}, spread.HeightM},
	} {
		if w.spread == nil {
			continue
		}
		for _, difference := range w.differences {
			n, err := plan.Worth(difference, *w.spread, plan.WorthLevel, plan.WorthPower)
			if err != nil {
				return made, err
			}
			made.Worth = append(made.Worth, planWorth{w.what, difference, w.unit, n, d.PerCellFor(n)})
		}
	}
	return made, nil
}

func (a *app) printPlan(made planMade, path string) error {
	if a.json {
		return printJSON(a.out, made)
	}
	if a.quiet {
		return nil
	}
	fmt.Fprintf(a.out, "%s: %s in %s\n%d faces x %d bands x %d kinds, %d each; %s; seed %d\n", path, counted(made.Strikes, "strike"),
		counted(made.Rounds, "round"), made.Faces, len(made.Bands), len(made.Kinds), made.PerCell, counted(made.Pairs, "double hit"), made.Seed)
	fmt.Fprintf(a.out, "%s easily confused: on the same or the next face,\nin the same or the next band\n\n", counted(made.Confusable, "pair")+" of neighbours")
	var rows [][]string
	for _, s := range made.Slips {
		rows = append(rows, []string{fmt.Sprint(s.By), fixed(100*s.Shows, 0) + " %", fmt.Sprint(s.Longest)})
	}
	if err := printTable(a.out, []string{"slip by", "shows in", "longest stretch that hides it"}, rows); err != nil {
		return err
	}
	from := "assumed (-C measures it, --spread-deg and --spread-m set it)"
	if n := made.Spread.Strikes; n > 0 {
		from = fmt.Sprintf("measured between %s on %s", strings.Join(made.Spread.Detectors, " and "), counted(n, "strike"))
	}
	height := "not known"
	if m := made.Spread.HeightM; m != nil {
		height = fixed(*m, 3) + " m"
	}
	fmt.Fprintf(a.out, "\nStrikes that tell two detectors apart, four times in five at a level of 5 %%, if\nboth are judged on the same ones (paired t test); a floor, as strikes of one\nsession are alike. Spread of the difference: bearing %s deg, height\n%s: %s.\n\n",
		fixed(made.Spread.BearingDeg, 1), height, from)
	rows = nil
	for _, w := range made.Worth {
		rows = append(rows, []string{w.What, fmt.Sprintf("%g %s", w.Difference, w.Unit), fmt.Sprint(w.Strikes), fmt.Sprint(w.PerCell)})
	}
	return printTable(a.out, []string{"error", "difference", "strikes", "each cell"}, rows)
}

// measureSpread compares two fitted detectors, which differ as close rivals do,
// on the corpus.
func (a *app) measureSpread(ctx context.Context) (planSpread, error) {
	out := planSpread{Detectors: []string{"complex-ridge", "k-nearest"}}
	c, sessions, err := a.open(selection{})
	if err != nil {
		return out, err
	}
	data, err := a.examples(ctx, c, sessions, label.Best, label.Best)
	if err != nil {
		return out, err
	}
	var families []models.Family
	if families, err = familiesNamed(out.Detectors); err != nil {
		return out, err
	}
	p := a.progress("comparing two detectors", -1, false)
	comparison, err := eval.Compare(ctx, data, families, eval.Options{Leave: eval.LeaveSession, Seed: a.seed, Progress: p})
	p.Done()
	if err != nil {
		return out, withHint(fmt.Errorf("plan: the spread of errors cannot be measured on this corpus: %w", err), "--spread-deg and --spread-m take its place")
	}
	var heightM float64
	out.BearingDeg, heightM, out.Strikes = comparison.PairedSpread(0, 1)
	if heightM > 0 {
		out.HeightM = &heightM
	}
	if !(out.BearingDeg > 0) {
		return out, withHint(fmt.Errorf("plan: the corpus has too few labelled strikes to measure the spread of errors"), "--spread-deg and --spread-m take its place")
	}
	return out, nil
}

// warnOfBands warns of bands that no detector could tell on this rig, and of
// faces.
func (a *app) warnOfBands(r *rig.Rig) error {
	faceDeg := 180 / float64(r.Faces)
	for _, b := range r.Bands {
		from, to, _ := r.BandRange(b.Name)
		least, err := bound.At(bound.Setting{Rig: r, Gyro: r.HasGyro(), Model: bound.UsualModelNoise()}, (from+to)/2)
		if err != nil {
			return err
		}
		if half := (to - from) / 2; least.HeightSDM > half {
			a.warn("plan: no detector could tell band %s of rig %s strike by strike: the least error in height is %.0f cm, the band reaches %.0f cm to either side; a gyroscope or another depth of the sensor may help", b.Name, r.Key(), 100*least.HeightSDM, 100*half)
		}
		if least.BearingSDDeg > faceDeg {
			a.warn("plan: no detector could tell the faces in band %s of rig %s strike by strike: the least error in bearing is %.0f degrees, a face reaches %.0f to either side", b.Name, r.Key(), least.BearingSDDeg, faceDeg)
		}
	}
	return nil
}
