// Package kill kills the program again and again while it changes a corpus or
// writes an output, and verifies each time that nothing is lost: the next
// command works, check finds no fault that its own advice does not mend, every
// label and session that was there before or was acknowledged is there with
// the same bytes, no file is half written, and no temporary files pile up. It
// also verifies that everything is synced before a command says that it is done.
//
// Where system calls can be stopped (Linux), a process is killed right after one
// of the calls by which it changes a file, and of some writes only the first
// half reaches the file. Elsewhere, or if asked for, it is killed after random
// times. The recordings are simulated.
package kill

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"slices"
	"time"
)

// Options says what to kill, and how often.
type Options struct {
	Program func(args ...string) *exec.Cmd // the program with a command line, not started
	Rig     []byte                         // what is in the rig file of all recordings
	Dir     string                         // a directory to work in, made where it is not there
	Kills   int
	Seed    uint64
	Random  bool     // kill after random times, even where calls can be stopped
	Jobs    []string // names of the jobs to kill; all where empty

	// Progress, unless nil, is told after each kill.
	Progress func(done, of int)
}

// Count is how often a job was killed at one kind of point.
type Count struct {
	Job   string `json:"job"`
	Call  string `json:"call"`
	Where string `json:"where"`
	Kills int    `json:"kills"`
}

// Fault is something that a kill broke.
type Fault struct {
	Job   string `json:"job"`
	Point string `json:"point"`
	What  string `json:"what"`
}

// Report is what came of the kills.
type Report struct {
	Kills  int     `json:"kills"`
	Points int     `json:"points"` // different calls that could be killed at, over all jobs
	Mended int     `json:"mended"` // kills after which check named a command, which mended it
	Counts []Count `json:"counts"`
	Faults []Fault `json:"faults"`
}

// Run kills each job its share of times. The error is one of the test itself;
// what kills broke is in the report.
func Run(ctx context.Context, o Options) (*Report, error) {
	g, err := newGym(ctx, o)
	if err != nil {
		return nil, err
	}
	jobs := slices.DeleteFunc(jobs(), func(j job) bool {
		return len(o.Jobs) > 0 && !slices.Contains(o.Jobs, j.name)
	})
	if len(jobs) == 0 {
		return nil, fmt.Errorf("kill: no job is named %q", o.Jobs)
	}
	r := &Report{}
	for i, j := range jobs {
		share := o.Kills*(i+1)/len(jobs) - o.Kills*i/len(jobs)
		if err := g.killAll(ctx, j, share, rand.New(rand.NewPCG(o.Seed, uint64(i))), r); err != nil {
			return nil, fmt.Errorf("%s: %w", j.name, err)
		}
	}
	return r, nil
}

// killAll kills one job a number of times, spread over its whole run.
func (g *gym) killAll(ctx context.Context, j job, kills int, rng *rand.Rand, r *Report) error {
	u, err := g.uncut(ctx, j)
	if err != nil {
		return err
	}
	r.Points += len(u.points)
	for _, what := range Unsynced(u.points) {
		r.Faults = append(r.Faults, Fault{j.name, "none, not killed", what})
	}
	const patience = 4 // tries for each kill: a process may end before its time
	done := 0
	for try := 0; done < kills; try++ {
		if err := ctx.Err(); err != nil {
			return err
		}
		if try >= patience*kills+patience {
			return fmt.Errorf("only %d of %d kills came in time", done, kills)
		}
		spread := (float64(done) + rng.Float64()) / float64(kills)
		w := filepath.Join(g.dir, "work")
		if err := g.fresh(u, w); err != nil {
			return err
		}
		var where Point
		var e ended
		var acks []string
		if g.byTime() {
			delay := time.Duration(spread * float64(u.took))
			e, acks, err = g.play(ctx, j, w, cut{after: delay})
			where = Point{Call: "any", Where: fmt.Sprintf("%.0f-%.0f %% of the run", 25*float64(int(4*spread)), 25*float64(int(4*spread)+1))}
		} else {
			c := cut{at: 1 + int(spread*float64(len(u.points))), torn: rng.IntN(2) == 0}
			e, acks, err = g.play(ctx, j, w, c)
			if e.killed && len(e.seen) > 0 {
				where = e.seen[len(e.seen)-1]
			}
		}
		if err != nil {
			return err
		}
		if !e.killed {
			continue
		}
		done++
		r.Kills++
		r.count(j.name, where)
		mended, faults := g.verify(ctx, j, u, w, acks)
		if mended {
			r.Mended++
		}
		for _, what := range faults {
			r.Faults = append(r.Faults, Fault{j.name, fmt.Sprintf("%d of %d, %s %s %s", len(e.seen), len(u.points), where.Call, where.Where, filepath.Base(where.Path)), what})
		}
		if g.progress != nil {
			g.progress(r.Kills, g.kills)
		}
	}
	return nil
}

func (r *Report) count(name string, p Point) {
	for i := range r.Counts {
		if c := &r.Counts[i]; c.Job == name && c.Call == p.Call && c.Where == p.Where {
			c.Kills++
			return
		}
	}
	r.Counts = append(r.Counts, Count{name, p.Call, p.Where, 1})
}
