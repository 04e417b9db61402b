package kill

import (
	"fmt"
	"io"
	"text/tabwriter"
)

// Print writes the report: kills by command and by point, then what they broke.
func (r *Report) Print(w io.Writer) error {
	byJob := make(map[string]int)
	for _, c := range r.Counts {
		byJob[c.Job] += c.Kills
	}
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "command\tkilled after\tin\tkills")
	last := ""
	for _, c := range r.Counts {
		if c.Job != last {
			fmt.Fprintf(tw, "%s\t\t\t%d\n", c.Job, byJob[c.Job])
			last = c.Job
		}
		fmt.Fprintf(tw, "\t%s\t%s\t%d\n", c.Call, c.Where, c.Kills)
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(w, "%d kills at %d points of %d commands (simulated recordings): %d mended by the command that check names, %d faults\n",
		r.Kills, r.Points, len(byJob), r.Mended, len(r.Faults))
	for _, f := range r.Faults {
		fmt.Fprintf(w, "FAULT %s, killed at point %s: %s\n", f.Job, f.Point, f.What)
	}
	return nil
}
