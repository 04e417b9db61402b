package main

import (
	"errors"
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

func newMan(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "man DIR",
		Short: "Write the manual pages of every command",
		Long: `Write a manual page (section 1) of every command into a directory, from the same
text as --help. man -l DIR/strikerose.1 shows one.`,
		Example: "strikerose man manual",
		Args:    takes(1, 1, "the directory to write"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := os.MkdirAll(args[0], 0o755); err != nil && !errors.Is(err, os.ErrExist) {
				return fmt.Errorf("man: %w", err)
			}
			root := cmd.Root()
			root.DisableAutoGenTag = true
			// The date of the commit: the same program writes the same pages.
			day, err := time.Parse(time.RFC3339, thisBuild().When)
			if err != nil {
				day = time.Unix(0, 0).UTC() // not recorded
			}
			header := doc.GenManHeader{Title: "STRIKEROSE", Section: "1", Source: "strikerose " + version(), Manual: "strikerose", Date: &day}
			if err := doc.GenManTree(root, &header, args[0]); err != nil {
				return fmt.Errorf("man: %w", err)
			}
			a.note("wrote the pages of all commands to %s", args[0])
			return nil
		},
	}
}
