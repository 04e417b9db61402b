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
	"strikerose/dataset/corpus"
	"strikerose/label"
)

func newCheck(a *app) *cobra.Command {
	var card, upgrade bool
	var out string
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Verify the corpus and name the next command to run",
		Long: `Verify every checksum, table and cross-reference of the corpus, and the kept
logs. Each finding names the command that mends it. Errors end with status 1;
warnings, such as strikes that were found by an older finder, do not. With --card
it writes a datasheet of the corpus instead: what it knows of its sessions,
strikers, labels, gaps and splits, and blanks for a person to fill in.

A corpus that an older version of the program left behind is refused by all
commands until --upgrade brings it over, session by session, and then verifies it.
One that is cut off goes on when it is started again. The logs stay as they are.`,
		Example: `strikerose check -C gym
strikerose check -C gym --upgrade
strikerose check -C gym --card -o CARD.md`,
		Args: takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			if cmd.Flags().Changed("output") && !card {
				return usagef(cmd, "-o is for --card alone")
			}
			if card && upgrade {
				return usagef(cmd, "--card and --upgrade are two jobs: run one after the other")
			}
			if upgrade {
				if err := runUpgrade(cmd.Context(), a); err != nil {
					return err
				}
			}
			if card {
				return runCard(cmd.Context(), a, out)
			}
			return runCheck(cmd.Context(), a)
		},
	}
	cmd.Flags().BoolVar(&card, "card", false, "write a datasheet of the corpus in Markdown")
	cmd.Flags().BoolVar(&upgrade, "upgrade", false, "bring a corpus of an older format to that of this version first")
	cmd.Flags().StringVarP(&out, "output", "o", "-", "the `FILE` for the datasheet; - is standard output")
	return cmd
}

func runUpgrade(ctx context.Context, a *app) error {
	from, err := corpus.Upgrade(ctx, a.dir)
	switch {
	case err != nil:
		return err
	case from == corpus.FormatVersion:
		a.note("%s: is of format %d, which this version writes: nothing to upgrade", a.dir, from)
	default:
		a.note("%s: upgraded from format %d to %d", a.dir, from, corpus.FormatVersion)
	}
	return nil
}

func runCheck(ctx context.Context, a *app) error {
	c, err := corpus.Open(a.dir)
	if err != nil {
		return err
	}
	problems, err := c.Check(ctx, corpus.CheckOptions{Finder: madeByFinder(), Features: madeByFeatures()})
	if err != nil {
		return err
	}
	damaged, err := journalProblems(ctx, c)
	if err != nil {
		return err
	}
	problems = append(problems, damaged...)
	faults, bad := 0, 0
	var rows [][]string
	for _, p := range problems {
		switch p.Severity {
		case corpus.Error:
			bad++
			faults++
		case corpus.Warning:
			faults++
		}
		rows = append(rows, []string{string(p.Severity), p.Where, p.What, p.Fix})
	}
	if len(problems) > 0 || a.json {
		if err := a.table(problems, []string{"severity", "where", "what", "to mend"}, rows); err != nil {
			return err
		}
	}
	if bad > 0 {
		return fmt.Errorf("check: %s: %s", a.dir, counted(bad, "error"))
	}
	if faults == 0 {
		sessions, err := c.Sessions()
		if err != nil {
			return err
		}
		a.note("%s: %s, no faults", a.dir, counted(len(sessions), "session"))
	}
	return nil
}

// journalProblems reads every label journal: the corpus knows their files, but
// not what a line of them must say.
func journalProblems(ctx context.Context, c *corpus.Corpus) ([]corpus.Problem, error) {
	dir := filepath.Dir(c.JournalPath("any"))
	files, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var problems []corpus.Problem
	for _, f := range files {
		if !f.Type().IsRegular() || !strings.HasSuffix(f.Name(), ".jsonl") {
			continue
		}
		log, err := label.OpenJournal(filepath.Join(dir, f.Name())).Read(ctx)
		if err != nil {
			return nil, err
		}
		for _, d := range log.Damaged {
			problems = append(problems, corpus.Problem{Severity: corpus.Error, Kind: corpus.Damaged, Where: "journal/" + log.Name,
				What: fmt.Sprintf("line %d (byte %d) does not count", d.Line, d.Byte), Fix: d.Why})
		}
	}
	return problems, nil
}
