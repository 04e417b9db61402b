package main

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/models"
	"strikerose/models/firmware"
)

// applyColumns are the columns of apply, in the order that the command
// promises. New ones may only follow.
var applyColumns = [...]string{"session", "onset_s", "ready_s", "bearing_deg", "face", "height_m", "bearing_sd_deg", "height_sd_m",
	"bearing_half90_deg", "height_half90_m", "peak_mps2", "flags", "flip_share"}

type applyFlags struct {
	selection
	detector, out string
	format        string
	watch         bool
	differences   string
	profile       string
	events        bool
	risk          float64
}

func newApply(a *app) *cobra.Command {
	var f applyFlags
	cmd := &cobra.Command{
		Use:   "apply --detector FILE.json -o OUT.csv",
		Short: "Say where the strikes of sessions landed",
		Long: `Find the strikes of each session and say where they landed, from the samples
alone. Every strike found has a line, however unsure: bearing and height with
their standard deviations and the half-widths of their 90 % intervals. ready_s is
when the answer could have been given. Flags are clipped, unsure and near-gap,
joined by |. A strike is unsure where the stated chance that it landed on another
face is above --risk, and where the answer is a guess; flip_share is the stated
chance that it landed on the opposite side. The table is CSV, one JSON object a
line or Parquet, as the file's name ends or --format says.

Each session on which the detector was not trained is also held against those on
which it was: a bag that sags, a sensor that slips, other ways of striking. What
differs is said on standard error.

With --profile fixed or float32 the samples go through what export writes for a
board. --events gives the very lines that its replay prints for the log, early
answers too, without a header: t_raw, number, stage (0 early, 1 final), bearing in
tenths of a degree, face, height in mm (-1: not yet), flags (1 clipped, 2 unsure,
4 near-gap, 8 taken back). They are those of profile fixed, as of export, unless
--profile says otherwise; float64 gives final answers alone, of any detector.
t_raw is the board's stamp in microseconds, which wraps at 2^32; a log's
milliseconds count as a thousand.`,
		Example: `strikerose apply -C gym --detector auto.json -o strikes.csv
strikerose apply -C gym --detector auto.json -o strikes.parquet
strikerose apply -C gym --detector ridge.json --profile fixed --events -o events.csv`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "detector", "output"); err != nil {
				return err
			}
			if err := oneOf(cmd, "profile", f.profile, append([]string{float64Profile}, firmware.Profiles()...)); err != nil {
				return err
			}
			if err := validRisk(cmd, f.risk); err != nil {
				return err
			}
			if f.differences != "" && !f.watch {
				return usagef(cmd, "--differences %s needs what --watch=false leaves out: give one of them", f.differences)
			}
			format, err := f.tableFormat(cmd, a.json)
			if err != nil {
				return err
			}
			if f.events && !cmd.Flags().Changed("profile") {
				f.profile = firmware.Fixed // as export
				a.note("the events are those of profile %s, as of export; --profile takes another", f.profile)
			}
			return runApply(cmd.Context(), a, f, format)
		},
	}
	f.selection.flags(cmd)
	cmd.Flags().StringVar(&f.detector, "detector", "", "the detector `FILE` that train wrote")
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "the `FILE` to write; - is standard output")
	cmd.Flags().StringVar(&f.format, "format", "", "`NAME` of the table's format: csv, jsonl, parquet (as the file's name ends, else csv)")
	cmd.Flags().BoolVar(&f.watch, "watch", true, "tell where a session is unlike those trained on")
	cmd.Flags().StringVar(&f.profile, "profile", float64Profile, "the arithmetic `NAME`: float64, or as a board computes: float32, fixed (with --events fixed)")
	cmd.Flags().BoolVar(&f.events, "events", false, "write a board's events instead of a table")
	riskFlag(cmd, &f.risk)
	cmd.Flags().StringVar(&f.differences, "differences", "", "write every number so compared to this CSV `FILE`")
	return cmd
}

// loadDetector reads a detector's file.
func loadDetector(path string) (*models.File, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("detector: %w", err)
	}
	defer f.Close()
	d, err := models.Load(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return d, nil
}

func runApply(ctx context.Context, a *app, f applyFlags, format string) error {
	d, err := loadDetector(f.detector)
	if err != nil {
		return err
	}
	if d.Detector, err = atRisk(d.Detector, f.risk); err != nil {
		return fmt.Errorf("apply: %w", err)
	}
	c, sessions, err := a.open(f.selection)
	if err != nil {
		return err
	}
	a.warnUntrained(d, sessions)
	var rows []models.ApplyRow
	var events []string
	p := a.progress("applying", int64(len(sessions)), false)
	defer p.Done()
	var fresh []dataset.Session
	if f.watch {
		fresh = untrained(d, sessions)
	}
	var seen []models.Seen
	var unseen error
	err = inOrder(ctx, len(sessions), wholeAtOnce, func(ctx context.Context, i int) (sessionAnswers, error) {
		s := sessions[i]
		look := slices.ContainsFunc(fresh, func(o dataset.Session) bool { return o.Name == s.Name })
		return f.answer(ctx, c, s, d.Detector, look, a.seed)
	}, func(_ int, some sessionAnswers, err error) error {
		if err != nil {
			return err
		}
		rows, events = append(rows, some.rows...), append(events, some.events)
		if some.seen != nil {
			seen = append(seen, *some.seen)
		}
		if unseen == nil {
			unseen = some.unseen
		}
		p.Add(1)
		return nil
	})
	if err != nil {
		return err
	}
	p.Done()
	if err := a.writeOutput(f.out, func(w io.Writer) error {
		if f.events {
			return writeEvents(w, events)
		}
		return a.writeTable(ctx, w, format, rows)
	}); err != nil {
		return err
	}
	if f.out != "-" {
		a.note("wrote %s: %s of %s", f.out, counted(len(rows), "strike"), counted(len(sessions), "session"))
	}
	if f.watch {
		if unseen != nil {
			return unseen
		}
		all := differences(d, seen)
		if f.differences != "" {
			if err := a.writeOutput(f.differences, func(w io.Writer) error { return writeDifferences(w, all) }); err != nil {
				return err
			}
		}
		a.tellDifferences(all)
	}
	if len(d.Rigs) == 0 {
		a.note(`%s learned from no label: bearings take yaw_deg of the rig file,
and what it is off by is in their intervals as yaw_sd_deg says (3 degrees if it
does not); some labels tell (train)`, d.Detector.Info().Name)
	}
	return nil
}

// warnUntrained warns of rigs that no label taught a fitted detector of.
func (a *app) warnUntrained(d *models.File, sessions []dataset.Session) {
	if d.Detector.Info().Kind != models.Fitted {
		return
	}
	unlabelled := func(rig string) bool { return slices.Contains(d.Training.Unlabelled, rig) }
	taught := slices.DeleteFunc(slices.Clone(d.Rigs), unlabelled)
	name, from := d.Detector.Info().Name, strings.Join(taught, ", ")
	var warned []string
	for _, s := range sessions {
		if slices.Contains(taught, s.Rig) || slices.Contains(warned, s.Rig) {
			continue
		}
		warned = append(warned, s.Rig)
		if unlabelled(s.Rig) {
			a.warn("apply: rig %s: %s was adapted to it without labels from %s: how far it errs there was not measured: label strikes of this rig and adapt again, for bearings and heights set right",
				s.Rig, name, from)
			continue
		}
		a.warn("apply: rig %s: %s was not trained on it but on %s: bearings and heights may be wrong: train on labelled sessions of this rig, carry it over with strikerose adapt, or use a rule",
			s.Rig, name, from)
	}
}

func writeApplied(w io.Writer, rows []models.ApplyRow) error {
	out := csv.NewWriter(w)
	out.Write(applyColumns[:])
	for _, r := range rows {
		out.Write([]string{r.Session, secondsText(r.OnsetNs), readyText(r.ReadyNs),
			bearingText(r.BearingDeg), strconv.Itoa(r.Face), heightText(r.HeightM),
			fixed(r.BearingSDDeg, 2), fixed(r.HeightSDM, 4), fixed(r.BearingHalf90Deg, 2), fixed(r.HeightHalf90M, 4),
			fixed(r.PeakMPS2, 2), strings.Join(r.Flags, "|"), fixed(r.FlipShare, 4)})
	}
	out.Flush()
	return out.Error()
}

// appliedRow is one strike in JSON, under the names of the columns.
type appliedRow struct {
	Session string `json:"session"` // name of the session
	// OnsetS is the first instant of contact, seconds from the session's first sample on the
	// repaired clock, on which a restart of unknown length counts as zero.
	OnsetS float64 `json:"onset_s"`
	ReadyS float64 `json:"ready_s"` // when the answer could have been given, seconds on the same clock
	// BearingDeg is where around the strike landed, degrees clockwise seen from above
	// from the middle of face 1, in the bag's frame, in [0, 360); null where the
	// detector gives none.
	BearingDeg    *float64 `json:"bearing_deg"`
	Face          int      `json:"face"`               // face of that bearing, from 1 clockwise, at least 0; 0 where there is no bearing
	HeightM       *float64 `json:"height_m"`           // metres above the bag's bottom edge; null where the detector gives none
	BearingSDDeg  *float64 `json:"bearing_sd_deg"`     // stated circular standard deviation of the bearing, degrees, at least 0; null where none is stated
	HeightSDM     *float64 `json:"height_sd_m"`        // stated standard deviation of the height, metres, at least 0; null where none is stated
	BearingHalf90 *float64 `json:"bearing_half90_deg"` // stated half-width of the bearing's 90 % interval, degrees, in [0, 180]; null where none is stated
	HeightHalf90  *float64 `json:"height_half90_m"`    // stated half-width of the height's 90 % interval, metres, at least 0; null where none is stated
	// PeakMPS2 is the largest size of the horizontal specific force during contact, m/s², as
	// read, at least 0; null where not known.
	PeakMPS2 *float64 `json:"peak_mps2"`
	// Flags are what to beware of, any of them, each one of models.FlagClipped,
	// models.FlagUnsure or models.FlagNearGap.
	Flags []string `json:"flags"`
	// FlipShare is the stated probability that the bearing is a flip, more than 120 degrees
	// off, in [0, 1]; null where none is stated.
	FlipShare *float64 `json:"flip_share"`
}

func applied(rows []models.ApplyRow) []appliedRow {
	out := make([]appliedRow, len(rows))
	for i, r := range rows {
		out[i] = appliedRow{r.Session, time.Duration(r.OnsetNs).Seconds(), time.Duration(r.ReadyNs).Seconds(), known(r.BearingDeg), r.Face,
			known(r.HeightM), known(r.BearingSDDeg), known(r.HeightSDM), known(r.BearingHalf90Deg), known(r.HeightHalf90M),
			known(r.PeakMPS2), append([]string{}, r.Flags...), known(r.FlipShare)}
	}
	return out
}
