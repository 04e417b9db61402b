package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

// stepsToNext are the commands after which a person at a terminal is told what to
// run next.
var stepsToNext = []string{"rig show", "plan", "import", "find", "label plan", "label truth", "label video", "compare", "train", "check"}

// fewSessions are so many that the rows of all are read after a command, in some
// hundredths of a second.
const fewSessions = 50

// tellNext names on a terminal what to run after a command. What lies beside the
// corpus counts, too: rig files, logs, plans and detectors. It takes no time that
// grows with what the sessions hold: whether they are damaged, strikerose without a
// command tells, and check.
func (a *app) tellNext(cmd *cobra.Command) {
	step := strings.TrimPrefix(cmd.CommandPath(), cmd.Root().Name()+" ")
	if !a.terminal || a.quiet || a.json || !slices.Contains(stepsToNext, step) {
		return
	}
	beside := *a
	beside.dir = filepath.Dir(filepath.Clean(a.dir))
	p, err := beside.look(filepath.Clean(a.dir))
	if err != nil || p.corpus == "" || filepath.Clean(p.corpus) != filepath.Clean(a.dir) {
		if p, err = a.look(""); err != nil {
			return // the command is done, and check tells what is wrong
		}
	}
	out := ""
	if f := cmd.Flags().Lookup("output"); f != nil {
		out = f.Value.String()
	}
	switch {
	case len(p.logs) == 0 || p.held == nil:
	case len(p.sessions) > fewSessions:
		p.logs = nil // they may have been imported under another name
	default:
		if p.leaveOutImported() != nil {
			return
		}
	}
	p.did(step, out)
	a.sayNext(p)
}

// did adds what a step has just done, wherever its output went.
func (p *place) did(step, out string) {
	switch {
	case step == "compare":
		p.compared = true
	case out == "" || out == "-":
	case step == "train":
		p.detector, p.board = out, forBoard(out)
	case step == "plan" && !slices.Contains(p.plans, out):
		p.plans = append(p.plans, out)
	}
}

// sayNext names the next step and why it is that.
func (a *app) sayNext(p place) {
	command, why := p.next()
	fmt.Fprintf(a.err, "Next: %s\n  %s\n", command, why)
}
