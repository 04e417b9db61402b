package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/features/chain/board"
	"strikerose/models/firmware"
)

type exportFlags struct {
	detector, rig, out, profile, check string
	budget                             budget
}

func newExport(a *app) *cobra.Command {
	var f exportFlags
	cmd := &cobra.Command{
		Use:   "export --detector FILE.json --rig FILE -o DIR",
		Short: "Write a detector as a table and C code for the board",
		Long: `Write a detector as C99 code and a table of numbers for the board, with golden
streams and a program that checks the code against them, one that replays logs,
and an example to start from. It can write
` + strings.Join(firmware.Detectors(), ", ") + `.
The code takes raw samples and gives events, without heap: the very ones that
apply --profile --events gives. Profile fixed computes in integers alone. With -C
the golden streams are of that corpus's sessions on this rig.

--flash, --ram and --cycles say what the board has to spare: what does not fit is
refused, measured with a cross compiler and an emulator. --check reads an exported
directory again and verifies it against the detector, writing nothing.`,
		Example: `strikerose export -C gym --detector ridge.json --rig hall.toml -o firmware
strikerose export --detector ridge.json --rig hall.toml --check firmware`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := oneOf(cmd, "profile", f.profile, firmware.Profiles()); err != nil {
				return err
			}
			if err := oneOf(cmd, "target", f.budget.target, boardNames()); err != nil {
				return err
			}
			if err := f.budget.read(cmd); err != nil {
				return err
			}
			if f.check != "" {
				if err := need(cmd, "detector", "rig"); err != nil {
					return err
				}
				for _, other := range []string{"output", "flash", "ram", "cycles"} {
					if cmd.Flags().Changed(other) {
						return usagef(cmd, "--check writes and measures nothing: leave out %s", asTyped(cmd.Flags().Lookup(other)))
					}
				}
				return runExportCheck(cmd.Context(), a, f)
			}
			if err := need(cmd, "detector", "rig", "output"); err != nil {
				return err
			}
			return runExport(cmd.Context(), a, f, cmd.Flags().Changed("corpus"))
		},
	}
	cmd.Flags().StringVar(&f.detector, "detector", "", "the detector `FILE` that train wrote")
	cmd.Flags().StringVar(&f.rig, "rig", "", "the rig `FILE` of the bag that the board hangs in")
	cmd.Flags().StringVar(&f.profile, "profile", firmware.Fixed, "the arithmetic `NAME`: fixed or float32")
	cmd.Flags().StringVar(&f.check, "check", "", "verify this exported `DIR`ectory instead of writing one")
	cmd.Flags().StringVar(&f.budget.flash, "flash", "", "most `BYTES` of flash, such as 16k")
	cmd.Flags().StringVar(&f.budget.ram, "ram", "", "most `BYTES` of memory, stack and sample buffer included, such as 4k")
	cmd.Flags().StringVar(&f.budget.cycles, "cycles", "", "most `WORK` for one sample, such as 200k: what the board does between samples it can queue")
	cmd.Flags().StringVar(&f.budget.target, "target", "cortex-m0", "the `BOARD` that budgets are measured on")
	cmd.Flags().StringVarP(&f.out, "output", "o", "", "the `DIR`ectory to write to")
	return cmd
}

// exported is what export says.
type exported struct {
	Detector string   `json:"detector"`        // name of the detector
	Rig      string   `json:"rig"`             // key of the rig it was exported for, NAME-rREV
	Files    []string `json:"files"`           // paths of the files that were written
	Notes    []string `json:"notes,omitempty"` // what to beware of, in words; absent where there is nothing
}

// slowMHz is the clock of a slow board.
const slowMHz = 16

func runExport(ctx context.Context, a *app, f exportFlags, ofCorpus bool) error {
	d, err := loadDetector(f.detector)
	if err != nil {
		return err
	}
	r, err := rig.Load(f.rig)
	if err != nil {
		return err
	}
	o := firmware.Options{Tool: "strikerose " + version(), Profile: f.profile}
	if ofCorpus {
		if o.Recorded, err = recordedOn(ctx, a, r); err != nil {
			return err
		}
	}
	bundle, err := firmware.Export(ctx, d, r, o)
	if err != nil {
		return fmt.Errorf("%s: %w", f.detector, err)
	}
	if f.budget.set() {
		c, err := f.budget.fits(ctx, r, d.Detector.Info().Name, f.profile, bundle)
		if err != nil {
			return err
		}
		bundle.Notes = append(bundle.Notes, fmt.Sprintf("on %s: %d bytes of flash, %d of memory of which %d are the sample buffer, %d of stack; %d %s for the hardest sample: at %d MHz, one each cycle, %.0f samples must wait meanwhile",
			c.Target, c.FlashBytes, c.RAMBytes, c.RingBytes, c.StackBytes, c.Worst(), c.Unit, slowMHz, math.Ceil(c.Late(slowMHz*1e6, r.Sensor.RateHz))))
	}
	if err := os.MkdirAll(f.out, 0o777); err != nil {
		return fmt.Errorf("export: %w", mendable(err))
	}
	done := exported{Detector: d.Detector.Info().Name, Rig: r.Key(), Notes: bundle.Notes}
	for _, file := range bundle.Files {
		path := filepath.Join(f.out, file.Name)
		if err := a.writeOutput(path, func(w io.Writer) error {
			_, err := w.Write(file.Data)
			return err
		}); err != nil {
			return err
		}
		done.Files = append(done.Files, path)
	}
	if a.json {
		return printJSON(a.out, done)
	}
	for _, path := range done.Files {
		a.note("wrote %s", path)
	}
	for _, note := range done.Notes {
		a.note("%s", note)
	}
	return nil
}

// maxExported is the longest file of an exported directory that is read, in bytes:
// many times the largest, which has a stream of samples as text.
const maxExported = 16 << 20

// runExportCheck verifies an exported directory.
func runExportCheck(ctx context.Context, a *app, f exportFlags) error {
	d, err := loadDetector(f.detector)
	if err != nil {
		return err
	}
	r, err := rig.Load(f.rig)
	if err != nil {
		return err
	}
	if err := firmware.Check(ctx, d, r, func(name string) ([]byte, error) { return readAtMost(filepath.Join(f.check, name), maxExported) }); err != nil {
		return fmt.Errorf("%s: %w", f.check, err)
	}
	a.note("%s holds %s for rig %s, undamaged", f.check, d.Detector.Info().Name, r.Key())
	return nil
}

// mostRecorded bounds the sessions that golden streams are taken from.
const mostRecorded = 2

// recordedOn returns samples of the corpus's first sessions on a rig.
func recordedOn(ctx context.Context, a *app, r *rig.Rig) ([][]board.Sample, error) {
	c, err := corpus.Open(a.dir)
	if err != nil {
		return nil, err
	}
	sessions, err := c.Select([]string{r.Key()}, nil)
	if err != nil {
		return nil, err
	}
	var out [][]board.Sample
	for _, s := range sessions[:min(len(sessions), mostRecorded)] {
		_, sig, err := recording(ctx, c, s)
		if err != nil {
			return nil, err
		}
		out = append(out, firmware.Samples(r, sig, s.RawPerSecond))
	}
	return out, nil
}
