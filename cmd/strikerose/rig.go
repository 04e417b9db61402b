package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/dataset/rig"
	"strikerose/dataset/shell"
)

func newRig(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:     "rig",
		Short:   "Describe a bag, its hanging and its sensor",
		Example: "strikerose rig new garage.toml",
	}
	cmd.AddCommand(newRigNew(a), newRigShow(a), newRigCalibrate(a), newRigTune(a))
	return cmd
}

func newRigNew(a *app) *cobra.Command {
	var yes bool
	cmd := &cobra.Command{
		Use:   "new FILE.toml",
		Short: "Write a commented description of a rig to fill in",
		Long: `Write a commented description of a rig to fill in: one bag, how it hangs, what
fills it, and where and how the sensor sits in it. The rig is named after the
file. A file that is there already is left alone. On a terminal it asks for the
sizes that matter most, with usual ones to take by return; --yes takes them all.`,
		Example: "strikerose rig new garage.toml",
		Args:    takes(1, 1, "the file to write"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runRigNew(cmd.Context(), a, args[0], yes)
		},
	}
	cmd.Flags().BoolVar(&yes, "yes", false, "ask nothing")
	return cmd
}

// readRig reads a rig file with its text, for commands that write a changed copy.
func readRig(path string) (*rig.Rig, []byte, error) {
	text, err := rig.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, withHint(err, "strikerose rig new %s writes one to fill in", shell.Word(path))
	}
	if err != nil {
		return nil, nil, err
	}
	r, err := rig.Parse(text, path)
	return r, text, err
}

func runRigNew(ctx context.Context, a *app, path string, yes bool) error {
	name := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	data := rig.Template(name)
	if _, err := rig.Parse(data, path); err != nil {
		return withHint(err, "a rig is named after its file: letters, digits and dashes, like garage.toml")
	}
	q := a.asker()
	if _, err := os.Lstat(path); err != nil && q != nil && !yes {
		sizes, err := askSizes(ctx, q, name)
		if err != nil {
			return fmt.Errorf("rig new: %w", err)
		}
		if data, err = rig.Filled(name, sizes); err != nil {
			return err
		}
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("rig new: %s: is there already: name another file or remove it first", path)
	}
	if err != nil {
		return fmt.Errorf("rig new: %w", err)
	}
	defer f.Close()
	if _, err := f.Write(data); err != nil {
		return fmt.Errorf("rig new: %w", err)
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("rig new: %w", err)
	}
	if q == nil || yes {
		a.note("wrote %s: fill in your own sizes, then look at it with strikerose rig show %s", path, shell.Word(path))
		return nil
	}
	a.note("wrote %s: look at it with strikerose rig show %s", path, shell.Word(path))
	return nil
}
