package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"

	"strikerose/dataset/simulate"
	"strikerose/testdata/recordings"
)

// recording is one log and the rig that it was made on.
type recording struct {
	Log       string `json:"log"`
	Rig       string `json:"rig"`
	Dialect   string `json:"dialect"`
	Samples   int64  `json:"samples"`
	Simulated bool   `json:"simulated,omitempty"`
}

// recordingOf finds the first recording of a dialect, or simulates one where there
// is none.
func (a *app) recordingOf(ctx context.Context, w *workspace, dialect string) (recording, error) {
	if a.recordings != "" {
		rigs, err := filepath.Glob(filepath.Join(a.recordings, "*", "rig.toml"))
		if err != nil {
			return recording{}, err
		}
		for _, rig := range rigs {
			logs, err := filepath.Glob(filepath.Join(filepath.Dir(rig), "logs", "[^.]*"))
			if err != nil {
				return recording{}, err
			}
			for _, log := range logs {
				head, err := readPlain(log, headBytes)
				if err != nil {
					return recording{}, err
				}
				if dialectOf(head) != dialect {
					continue
				}
				return w.recognise(ctx, recording{Log: log, Rig: rig})
			}
		}
	}
	return a.simulated(ctx, w, dialect)
}

// simulatedStrikes are enough for about a minute of log.
const simulatedStrikes = 30

// simulated makes a log of a dialect on the rig of the committed recordings.
func (a *app) simulated(ctx context.Context, w *workspace, dialect string) (recording, error) {
	rig := w.path("hall.toml")
	text, err := recordings.Files.ReadFile("hall.toml")
	if err != nil {
		return recording{}, err
	}
	if err := os.WriteFile(rig, text, 0o644); err != nil {
		return recording{}, err
	}
	dir := w.path("simulated-" + dialect)
	if err := os.RemoveAll(dir); err != nil {
		return recording{}, err
	}
	if !slices.Contains(simulate.Dialects(), dialect) {
		return recording{}, usagef("dialect %q is not known: use one of %v", dialect, simulate.Dialects())
	}
	_, out, err := measure(command(ctx, w.program, "simulate", "--json", "--rig", rig, "--dialect", dialect, "--strikes", fmt.Sprint(simulatedStrikes), "-o", dir))
	if err != nil {
		return recording{}, err
	}
	var made struct {
		Log string `json:"log"`
	}
	if err := json.Unmarshal(out, &made); err != nil {
		return recording{}, err
	}
	r, err := w.recognise(ctx, recording{Log: made.Log, Rig: rig})
	r.Simulated = true
	return r, err
}

// recognise imports a recording to learn what it holds.
func (w *workspace) recognise(ctx context.Context, r recording) (recording, error) {
	dir := w.path("recognised")
	defer os.RemoveAll(dir)
	_, out, err := measure(command(ctx, w.program, "import", "--json", "-C", dir, "--rig", r.Rig, "--session", "recognised", r.Log))
	if err != nil {
		return r, err
	}
	var said []struct {
		Session struct {
			Dialect string `json:"dialect"`
			Samples int64  `json:"samples"`
		} `json:"session"`
	}
	if err := json.Unmarshal(out, &said); err != nil || len(said) != 1 {
		return r, fmt.Errorf("import of %s says %q: %w", r.Log, out, err)
	}
	r.Dialect, r.Samples = said[0].Session.Dialect, said[0].Session.Samples
	return r, nil
}

// tileTo repeats a recording into a file of so many records.
func (r recording) tileTo(ctx context.Context, w *workspace, path string, records int64) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	cmd := w.tile(ctx, r, "--records", fmt.Sprint(records))
	cmd.Stdout = f
	if _, _, err := measure(cmd); err != nil {
		return err
	}
	return f.Close()
}

// tile prepares a process of bench itself that writes a tiled log: so this one
// stays small, see measure.
func (w *workspace) tile(ctx context.Context, r recording, amount ...string) *exec.Cmd {
	args := append([]string{"tile", "--dialect", r.Dialect, "--rig", r.Rig}, amount...)
	return command(ctx, w.self, append(args, r.Log)...)
}

// origin says in words where a recording comes from.
func (r recording) origin() string {
	if r.Simulated {
		return "simulated log of dialect " + r.Dialect
	}
	return r.Log
}
