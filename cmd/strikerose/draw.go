package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/dataset/shell"
	"strikerose/eval/report/traces"
	"strikerose/features"
	"strikerose/features/chain"
	"strikerose/features/ringdown"
	"strikerose/label"
)

// What of a strike's surroundings is drawn, ms.
const (
	drawnPreMs  = 60
	drawnPostMs = 400
)

func newDraw(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "draw",
		Short: "Draw what the sensor felt, as SVG or PNG",
		Long: `Draw what the sensor felt: a whole session, one strike, all strikes of one face and
band, the sensor's path seen from above, or how the bag rings down. A file whose
name ends in .svg or .png is written; the samples alone are read, and labels where
there are some.`,
		Example: "strikerose draw session -C gym --session monday -o monday.svg",
	}
	cmd.AddCommand(newDrawSession(a), newDrawStrike(a), newDrawCell(a), newDrawPath(a), newDrawRingdown(a))
	return cmd
}

// drawFlags are those of every drawing.
type drawFlags struct{ session, out string }

func (f *drawFlags) flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.session, "session", "", "`NAME` of the session")
	f.outFlag(cmd)
}

func (f *drawFlags) outFlag(cmd *cobra.Command) {
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "the `FILE` to write, .svg or .png; - is SVG on standard output")
}

// pngFormat is that of pixels; the other is SVG.
const pngFormat = "png"

// pictureEndings are those of a drawing.
var pictureEndings = endings{{".svg", "svg"}, {".png", pngFormat}}

// needDrawn refuses a command line on which a flag is missing or whose output is no
// drawing.
func (f *drawFlags) needDrawn(cmd *cobra.Command, flags ...string) error {
	if err := need(cmd, append(flags, "output")...); err != nil {
		return err
	}
	return pictureEndings.check(cmd, f.out, true, "")
}

// save writes a picture in the format that the file's name tells, SVG to standard
// output.
func (a *app) save(path string, p traces.Picture) error {
	write := p.SVG
	if pictureEndings.of(path) == pngFormat {
		write = p.PNG
	}
	if err := a.writeOutput(path, func(w io.Writer) error { return write(w) }); err != nil {
		return err
	}
	if path != "-" {
		a.note("wrote %s: %s", path, p.Title)
	}
	return nil
}

func newDrawSession(a *app) *cobra.Command {
	var f drawFlags
	cmd := &cobra.Command{
		Use:   "session --session NAME -o FILE.svg",
		Short: "Draw a whole session",
		Long: `Draw a whole session: how far horizontal and vertical specific force reach at every
time, strikes found, labels with their faces, gaps, and restarts of the board.`,
		Example: `strikerose draw session -C gym --session monday -o monday.svg
strikerose draw session -C gym --session friday -o friday.png`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.needDrawn(cmd, "session"); err != nil {
				return err
			}
			return runDrawSession(cmd.Context(), a, f)
		},
	}
	f.flags(cmd)
	return cmd
}

func runDrawSession(ctx context.Context, a *app, f drawFlags) error {
	c, s, r, err := a.openOne(f.session)
	if err != nil {
		return err
	}
	sig, err := c.Signal(ctx, s.Name)
	if err != nil {
		return err
	}
	strikes, err := sessionStrikes(c, s.Name)
	if err != nil {
		return err
	}
	labels, err := standingLabels(ctx, a, c, s.Name, strikes)
	if err != nil {
		return err
	}
	drawn := traces.Recording{Session: s, Rig: r, Signal: sig, Strikes: strikes}
	for i, l := range labels {
		if l.Claim != nil && !l.Claim.Complete {
			drawn.Labels = append(drawn.Labels, traces.Label{OnsetNs: strikes[i].OnsetNs, Face: l.Claim.PlaceOn(r).Face, NotThere: l.NotStrike})
		}
	}
	return a.save(f.out, traces.Overview(drawn))
}

// standingLabels resolves the labels of found strikes, one a strike.
func standingLabels(ctx context.Context, a *app, c *corpus.Corpus, session string, strikes []dataset.Strike) ([]label.Label, error) {
	claims, err := a.journalClaims(ctx, c, session)
	if err != nil {
		return nil, err
	}
	labels, _ := label.Resolve(claims, strikes, label.Best, label.MatchNs())
	return labels, nil
}

// drawStrikeFlags pick a strike.
type drawStrikeFlags struct {
	drawFlags
	strike int
}

func (f *drawStrikeFlags) command(a *app, use, short, long, example string, draw func(traces.Struck, *rig.Rig) traces.Picture) *cobra.Command {
	cmd := &cobra.Command{
		Use: use, Short: short, Long: long, Example: example,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.needDrawn(cmd, "session", "strike"); err != nil {
				return err
			}
			if f.strike < 1 {
				return usagef(cmd, "--strike %d: strikes count from 1", f.strike)
			}
			struck, r, err := oneStrike(cmd.Context(), a, f.session, f.strike)
			if err != nil {
				return err
			}
			return a.save(f.out, draw(struck, r))
		},
	}
	f.flags(cmd)
	cmd.Flags().IntVar(&f.strike, "strike", 0, "`NUMBER` of the strike in the session, from 1")
	return cmd
}

func newDrawStrike(a *app) *cobra.Command {
	var f drawStrikeFlags
	return f.command(a, "strike --session NAME --strike N -o FILE.svg", "Draw one strike",
		`Draw one strike: specific force along its first push, across it and vertical, and
rotation rates about the same three, with the onset, the contact (until the push
falls to a tenth of its peak) and the stretch of time that detectors read.`,
		"strikerose draw strike -C gym --session monday --strike 3 -o strike.svg",
		func(s traces.Struck, _ *rig.Rig) traces.Picture { return traces.Strike(s) })
}

func newDrawPath(a *app) *cobra.Command {
	var f drawStrikeFlags
	return f.command(a, "path --session NAME --strike N -o FILE.svg", "Draw the sensor's path after a strike, seen from above",
		`Draw the sensor's path in the 150 ms after a strike's onset, seen from above, in a
ring with the bag's faces: the horizontal specific force, integrated twice. The
motion from before and the tilt are left out. An arrow shows where the label says
that the strike landed. The path leads away from it, but at first toward it where
the strike landed beyond the dead height (rig show).`,
		"strikerose draw path -C gym --session monday --strike 3 -o path.svg", traces.Path)
}

// oneStrike cuts the window of a strike that was found, with what its label says.
func oneStrike(ctx context.Context, a *app, session string, number int) (traces.Struck, *rig.Rig, error) {
	c, s, r, err := a.openOne(session)
	if err != nil {
		return traces.Struck{}, nil, err
	}
	windows, labels, err := drawnWindows(ctx, a, c, s)
	if err != nil {
		return traces.Struck{}, nil, err
	}
	if number < 1 || number > len(windows) {
		return traces.Struck{}, nil, fmt.Errorf("draw: session %s has no strike %d: give 1 to %d", session, number, len(windows))
	}
	_, readMs := features.Longest()
	struck := traces.Struck{Session: session, Window: windows[number-1], BearingDeg: math.NaN(), HeightM: math.NaN(), ReadMs: readMs}
	if l := labels[number-1]; l.Claim != nil && !l.NotStrike {
		place := l.Claim.PlaceOn(r)
		struck.BearingDeg, struck.HeightM = place.BearingDeg, place.HeightM
	}
	return struck, r, nil
}

// drawnWindows cuts the windows of all strikes of a session, with the label of
// each.
func drawnWindows(ctx context.Context, a *app, c *corpus.Corpus, s dataset.Session) ([]*dataset.Window, []label.Label, error) {
	windows, err := sessionWindows(ctx, c, s, chain.Options{PreMs: drawnPreMs, PostMs: drawnPostMs})
	if err != nil {
		return nil, nil, err
	}
	strikes := make([]dataset.Strike, len(windows))
	for i, w := range windows {
		strikes[i] = w.Strike
	}
	labels, err := standingLabels(ctx, a, c, s.Name, strikes)
	return windows, labels, err
}

func newDrawCell(a *app) *cobra.Command {
	var f drawFlags
	var sel selection
	var face int
	var band string
	cmd := &cobra.Command{
		Use:   "cell --face N --band NAME -o FILE.svg",
		Short: "Draw all strikes of one face and band over each other",
		Long: `Draw all strikes that are labelled as of one face and band over each other, with
their median: specific force inward from the face's middle, across it and vertical.
What does not look like the others is worth a look: label doubt ranks such labels.`,
		Example: "strikerose draw cell -C gym --face 4 --band low -o cell.svg",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.needDrawn(cmd, "face", "band"); err != nil {
				return err
			}
			if face < 1 {
				return usagef(cmd, "--face %d: faces count from 1", face)
			}
			return runDrawCell(cmd.Context(), a, f.out, sel, face, band)
		},
	}
	sel.flags(cmd)
	f.outFlag(cmd)
	cmd.Flags().IntVar(&face, "face", 0, "`NUMBER` of the face, from 1")
	cmd.Flags().StringVar(&band, "band", "", "`NAME` of the band")
	return cmd
}

func runDrawCell(ctx context.Context, a *app, out string, sel selection, face int, band string) error {
	c, sessions, err := a.open(sel)
	if err != nil {
		return err
	}
	var in []*dataset.Window
	var on *rig.Rig
	p := a.progress("reading sessions", int64(len(sessions)), false)
	defer p.Done()
	for _, s := range sessions {
		r, err := c.Rig(s.Rig)
		if err != nil {
			return err
		}
		if on != nil && on.Key() != r.Key() {
			return fmt.Errorf("draw: there are sessions on %s and %s: choose with --rigs, since strikes of two rigs do not lie over each other", on.Key(), r.Key())
		}
		on = r
		if _, _, ok := r.BandRange(band); !ok || face < 1 || face > r.Faces {
			return fmt.Errorf("draw: rig %s has no face %d with a band %q: its faces are 1 to %d, its bands %s", r.Key(), face, band, r.Faces, bandNames(r))
		}
		windows, labels, err := drawnWindows(ctx, a, c, s)
		if err != nil {
			return err
		}
		for i, l := range labels {
			if l.Claim == nil || l.NotStrike {
				continue
			}
			if place := l.Claim.PlaceOn(r); place.Face == face && strings.EqualFold(place.Band, band) {
				in = append(in, windows[i])
			}
		}
		p.Add(1)
	}
	p.Done()
	if len(in) == 0 {
		return withHint(fmt.Errorf("draw: no strike is labelled as of face %d, band %s", face, band), "strikerose label list -C %s", shell.Word(a.dir))
	}
	name := fmt.Sprintf("Rig %s, face %d, band %s", on.Key(), face, band)
	return a.save(out, traces.Cell(name, bearing.FaceCentre(face, on.Faces), in))
}

func bandNames(r *rig.Rig) string {
	var names []string
	for _, b := range r.Bands {
		names = append(names, b.Name)
	}
	return strings.Join(names, ", ")
}

func newDrawRingdown(a *app) *cobra.Command {
	var f drawFlags
	cmd := &cobra.Command{
		Use:   "ringdown --session NAME -o FILE.svg",
		Short: "Draw how the bag rings down after a strike",
		Long: `Draw a typical stretch between strikes of a session, with what swing, rocking and
twist explain of it: damped sinusoids of the frequencies that all stretches share,
as rig tune finds them. Typical is, of the stretches of two seconds and more, the
one of which they explain the middle share.`,
		Example: "strikerose draw ringdown -C gym --session monday -o ringdown.svg",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := f.needDrawn(cmd, "session"); err != nil {
				return err
			}
			return runDrawRingdown(cmd.Context(), a, f)
		},
	}
	f.flags(cmd)
	return cmd
}

func runDrawRingdown(ctx context.Context, a *app, f drawFlags) error {
	c, s, r, err := a.openOne(f.session)
	if err != nil {
		return err
	}
	stretches, err := stretchesOf(ctx, c, s, r)
	if err != nil {
		return err
	}
	found, err := ringdown.Measure(ctx, stretches, r.Mechanics(), a.seed)
	if err != nil {
		return fmt.Errorf("draw: session %s: %w", s.Name, err)
	}
	return a.save(f.out, traces.Ringdown(r.Key(), stretches, found))
}
