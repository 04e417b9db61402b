package main

import "github.com/spf13/cobra"

func newLabel(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "label",
		Short: "Say where strikes landed, and list what was said",
		Long: `Say where strikes landed, and list what was said. Every label is a claim with
its source (a plan, a hand or timed truth), its author and its own uncertainty.
Claims are only added to the session's journal: a new one supersedes the old.`,
		Example: "strikerose label list -C gym",
	}
	cmd.AddCommand(newLabelPlan(a), newLabelTruth(a), newLabelVideo(a), newLabelList(a), newLabelRead(a), newLabelAgree(a), newLabelDoubt(a), newLabelServe(a))
	return cmd
}
