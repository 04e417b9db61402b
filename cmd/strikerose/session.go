package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
)

func newSession(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:     "session",
		Short:   "List, show and correct the sessions of a corpus",
		Example: "strikerose session list -C gym",
	}
	cmd.AddCommand(newSessionList(a), newSessionShow(a), newSessionSet(a), newSessionRename(a), newSessionDrop(a))
	return cmd
}

func newSessionList(a *app) *cobra.Command {
	var sel selection
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the sessions of the corpus",
		Example: "strikerose session list -C gym",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			_, sessions, err := a.open(sel)
			if err != nil {
				return err
			}
			var rows [][]string
			for _, s := range sessions {
				rows = append(rows, []string{s.Name, s.Rig, s.Striker,
					fmt.Sprintf("%.1f", s.DurationS), fmt.Sprintf("%.2f", s.RateHz), strconv.Itoa(s.Restarts), strconv.FormatInt(s.LostSamples, 10),
					strconv.FormatInt(s.DamagedRecords, 10), strconv.FormatInt(s.ClippedSamples, 10)})
			}
			return a.table(sessions, []string{"session", "rig", "striker", "seconds", "rate_hz", "restarts", "lost", "damaged", "clipped"}, rows)
		},
	}
	sel.flags(cmd)
	return cmd
}

func newSessionShow(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "show NAME",
		Short:   "Show all that is known of a session",
		Example: "strikerose session show -C gym monday",
		Args:    takes(1, 1, "the session"),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := corpus.Open(a.dir)
			if err != nil {
				return err
			}
			s, err := c.Session(args[0])
			if err != nil {
				return err
			}
			if a.json {
				return printJSON(a.out, s)
			}
			fmt.Fprintf(a.out, "session %s on rig %s\n", s.Name, s.Rig)
			printKeyed(a.out, "log", fmt.Sprintf("%s, %d bytes, sha256 %s", s.LogName, s.LogBytes, s.LogSHA256))
			for _, line := range describeSession(s) {
				printKeyed(a.out, line[0], line[1])
			}
			return nil
		},
	}
}

type sessionSetFlags struct {
	rig, striker string
	reading      reading
}

func newSessionSet(a *app) *cobra.Command {
	var f sessionSetFlags
	cmd := &cobra.Command{
		Use:   "set NAME [--striker ID] [--rig FILE]",
		Short: "Correct a session's striker or rig",
		Long: `Correct a session that was imported under the wrong striker or rig. With another
rig the kept log is read anew, as import would; the flags of import that say how
a log is to be read count here too. Labels are kept; what must be computed again
is named.`,
		Example: "strikerose session set -C gym monday --striker carla",
		Args:    takes(1, 1, "the session"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if !cmd.Flags().Changed("striker") && f.rig == "" {
				return usagef(cmd, "nothing to set: give --striker or --rig")
			}
			o, err := f.reading.options(cmd)
			if err != nil {
				return err
			}
			var striker *string
			if cmd.Flags().Changed("striker") {
				striker = &f.striker
			}
			return runSessionSet(cmd.Context(), a, args[0], striker, f.rig, o)
		},
	}
	cmd.Flags().StringVar(&f.striker, "striker", "", "`ID` of who struck; empty: not known")
	_ = cmd.Flags().SetAnnotation("striker", mayBeEmpty, nil) // it exists
	cmd.Flags().StringVar(&f.rig, "rig", "", "the rig `FILE` that the session was recorded on")
	f.reading.flags(cmd)
	return cmd
}

func runSessionSet(ctx context.Context, a *app, name string, striker *string, rigFile string, o intake.Options) error {
	c, err := corpus.Open(a.dir)
	if err != nil {
		return err
	}
	s, err := c.Session(name)
	if err != nil {
		return err
	}
	return locked(c, name, func() error {
		if rigFile != "" {
			if err := rereadSession(ctx, a, c, s, rigFile, o); err != nil {
				return err
			}
		}
		if striker != nil {
			stale, err := c.SetSession(name, func(s *dataset.Session) error {
				s.Striker = *striker
				return nil
			})
			if err != nil {
				return err
			}
			a.stale(stale)
		}
		a.note("session %s: set", name)
		return nil
	})
}

// rereadSession reads a session's kept log with another rig.
func rereadSession(ctx context.Context, a *app, c *corpus.Corpus, s dataset.Session, rigFile string, o intake.Options) (err error) {
	rg, err := rig.Load(rigFile)
	if err != nil {
		return err
	}
	raw, err := c.OpenRaw(s.LogSHA256)
	if err != nil {
		return err
	}
	defer raw.Close()
	p := a.progress("reading "+s.LogName, s.LogBytes, true)
	defer p.Done()
	samples := &samplesSink{ctx: ctx, corpus: c, rig: rg.Key(), session: s.Name}
	defer func() { err = errors.Join(err, samples.abort()) }()
	res, err := intake.Stream(ctx, raw, s.LogName, rg, o, p, samples.append)
	if err != nil {
		return err
	}
	res.Session.Name, res.Session.Rig, res.Session.Striker = s.Name, rg.Key(), s.Striker
	samples.writer.WithRig(rg)
	if err := samples.writer.Commit(ctx, res.Session, true); err != nil {
		return err
	}
	if !a.quiet {
		printImported(a.out, s.LogName, res)
	}
	a.stale([]string{fmt.Sprintf("strikerose find -C %s --sessions %s", a.dir, s.Name)})
	return nil
}

// stale names what must be computed again after a correction.
func (a *app) stale(commands []string) {
	for _, command := range commands {
		a.note("to compute again: %s", command)
	}
}

func newSessionRename(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "rename OLD NEW",
		Short:   "Give a session another name",
		Long:    "Give a session another name. Its samples, labels and log move with it.",
		Example: "strikerose session rename -C gym monday monday-evening",
		Args:    takes(2, 2, "the old or the new name"),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := corpus.Open(a.dir)
			if err != nil {
				return err
			}
			stale, err := c.Rename(args[0], args[1])
			if err != nil {
				return err
			}
			a.note("session %s: now %s", args[0], args[1])
			a.stale(stale)
			return nil
		},
	}
}

func newSessionDrop(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "drop NAME",
		Short:   "Take a session out of the corpus",
		Long:    "Take a session out of the corpus, with its samples, strikes, features and labels.",
		Example: "strikerose session drop -C gym monday-evening",
		Args:    takes(1, 1, "the session"),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := corpus.Open(a.dir)
			if err != nil {
				return err
			}
			kept, err := c.Drop(args[0])
			if err != nil {
				return err
			}
			a.note("session %s: dropped", args[0])
			for _, what := range kept {
				a.note("%s", what)
			}
			return nil
		},
	}
}
