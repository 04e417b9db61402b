package kill

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// strikes are those of each simulated recording: few, so that many kills take
// little time.
const strikes = 18

// gym is the scratch directory with what the jobs start from.
type gym struct {
	program  func(args ...string) *exec.Cmd
	dir      string
	kills    int
	random   bool
	progress func(done, of int)
}

// byTime tells whether processes are killed after random times.
func (g *gym) byTime() bool { return g.random || !canTrace }

// newGym simulates three recordings and makes the corpus that jobs start from.
func newGym(ctx context.Context, o Options) (*gym, error) {
	if err := os.MkdirAll(o.Dir, 0o777); err != nil {
		return nil, err
	}
	dir, err := filepath.Abs(o.Dir)
	if err != nil {
		return nil, err
	}
	if dir, err = filepath.EvalSymlinks(dir); err != nil {
		return nil, err
	}
	g := &gym{program: o.Program, dir: dir, kills: o.Kills, random: o.Random, progress: o.Progress}
	if err := os.MkdirAll(g.inputs(), 0o777); err != nil {
		return nil, err
	}
	if err := os.WriteFile(filepath.Join(g.inputs(), "rig.toml"), o.Rig, 0o666); err != nil {
		return nil, err
	}
	base := filepath.Join(dir, "base")
	if err := makeWork(base); err != nil {
		return nil, err
	}
	for i, name := range []string{"monday", "thursday", "friday"} {
		made := filepath.Join(dir, "simulated")
		if _, err := g.must(ctx, base, "simulate", "--rig", "{I}/rig.toml", "--strikes", fmt.Sprint(strikes), "--seed", fmt.Sprint(i+1), "--dialect", "frames", "-o", made); err != nil {
			return nil, err
		}
		for from, to := range map[string]string{fmt.Sprintf("simulated-%d.bin", i+1): ".bin", "plan.csv": "-plan.csv", "truth.csv": "-truth.csv"} {
			if err := os.Rename(filepath.Join(made, from), filepath.Join(g.inputs(), name+to)); err != nil {
				return nil, err
			}
		}
	}
	for _, line := range []string{
		"import -C {G} --rig {I}/rig.toml --striker anna {I}/monday.bin {I}/thursday.bin",
		"find -C {G}",
		"label plan -C {G} --session thursday {I}/thursday-plan.csv",
		"label truth -C {G} --session monday {I}/monday-truth.csv",
		"label list -C {G} --all -o {I}/all.csv",
		"session drop -C {G} thursday",
		"import -C {G} --rig {I}/rig.toml --striker anna {I}/thursday.bin",
		"label plan -C {G} --session monday {I}/monday-plan.csv",
		"find -C {G}",
		"features -C {G}",
		"train -C {G} --detector peak-arctangent -o {I}/old.json",
		"train -C {G} --detector kick-direction -o {I}/detector.json",
	} {
		if _, err := g.must(ctx, base, strings.Fields(line)...); err != nil {
			return nil, err
		}
	}
	return g, nil
}

func (g *gym) inputs() string { return filepath.Join(g.dir, "inputs") }

// makeWork makes a directory to work in: an empty corpus, and no outputs.
func makeWork(w string) error {
	for _, name := range []string{gymName, outName, tmpName} {
		if err := os.MkdirAll(filepath.Join(w, name), 0o777); err != nil {
			return err
		}
	}
	return nil
}

// copyWork makes w a copy of a directory to work in.
func copyWork(w, from string) error {
	return errors.Join(os.RemoveAll(w), os.CopyFS(w, os.DirFS(from)), makeWork(w))
}

// command is the program with a command line, to work in w.
func (g *gym) command(w string, line []string) *exec.Cmd {
	args := make([]string, len(line))
	fill := strings.NewReplacer("{G}", filepath.Join(w, gymName), "{O}", filepath.Join(w, outName), "{I}", g.inputs())
	for i := range line {
		args[i] = fill.Replace(line[i])
	}
	cmd := g.program(args...)
	if cmd.Env == nil {
		cmd.Env = os.Environ()
	}
	cmd.Env = append(cmd.Env, "TMPDIR="+filepath.Join(w, tmpName))
	cmd.Dir = w
	return cmd
}

// run runs a command line to its end.
func (g *gym) run(ctx context.Context, w string, stdin io.Reader, line ...string) (out, errs string, status int, err error) {
	cmd := g.command(w, line)
	var o, e bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = stdin, &o, &e
	if err := cmd.Start(); err != nil {
		return "", "", 0, err
	}
	defer context.AfterFunc(ctx, func() { _ = cmd.Process.Kill() })()
	err = cmd.Wait()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		return "", "", 0, err
	}
	return o.String(), e.String(), cmd.ProcessState.ExitCode(), ctx.Err()
}

// must runs a command line that has to succeed.
func (g *gym) must(ctx context.Context, w string, line ...string) (out string, err error) {
	out, errs, status, err := g.run(ctx, w, nil, line...)
	if err == nil && status != 0 {
		err = fmt.Errorf("strikerose %s: exit status %d: %s", strings.Join(line, " "), status, errs)
	}
	return out, err
}

// cut says when a process is to be killed: right after its at-th change of a
// file, or after a time; zero never.
type cut struct {
	at    int
	torn  bool
	after time.Duration
}

// play runs a job in w until it ends or is killed. Acks are what it
// acknowledged: the actions that the page called saved, or its standard output.
func (g *gym) play(ctx context.Context, j job, w string, c cut) (e ended, acks []string, err error) {
	cmd := g.command(w, j.line)
	out, err := os.Create(filepath.Join(g.dir, "said"))
	if err != nil {
		return e, nil, err
	}
	defer out.Close()
	cmd.Stdout, cmd.Stderr = out, out
	if j.stdin != "" {
		r, stop, err := pipeIn(filepath.Join(g.inputs(), j.stdin))
		if err != nil {
			return e, nil, err
		}
		defer stop()
		cmd.Stdin = r
	}
	serving, stop := context.WithCancel(ctx)
	defer stop()
	saved := make(chan []string, 1)
	started := func(p *os.Process) {
		if !j.served {
			saved <- nil
			return
		}
		go func() {
			saved <- label(ctx, serving, out.Name())
			_ = p.Signal(os.Interrupt) // unless it was killed
		}()
	}
	if c.after > 0 {
		e, err = timed(cmd, c.after, started)
	} else {
		cmd.Env = append(cmd.Env, "GOMAXPROCS=1") // fewer calls between threads to stop at
		e, err = traced(cmd, w, c, started)
	}
	if err != nil {
		return e, nil, err
	}
	stop()
	if acks := <-saved; j.served {
		return e, acks, nil
	}
	said, err := os.ReadFile(out.Name())
	return e, []string{string(said)}, err
}

// timed runs a process to its end, or kills it after a time.
func timed(cmd *exec.Cmd, after time.Duration, started func(*os.Process)) (ended, error) {
	if err := cmd.Start(); err != nil {
		return ended{}, err
	}
	started(cmd.Process)
	killed := make(chan bool, 1)
	t := time.AfterFunc(after, func() { killed <- cmd.Process.Kill() == nil })
	err := cmd.Wait()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		return ended{}, err
	}
	return ended{killed: !t.Stop() && <-killed && cmd.ProcessState.ExitCode() == -1, status: cmd.ProcessState.ExitCode()}, nil
}

// pipeIn is a pipe that a file is written to, in pieces. Stop ends the writing.
func pipeIn(path string) (r *os.File, stop func(), err error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, nil, err
	}
	r, w, err := os.Pipe()
	if err != nil {
		return nil, nil, err
	}
	go func() {
		_, _ = w.Write(data) // a killed reader ends it early
		_ = w.Close()
	}()
	return r, func() { _ = r.Close() }, nil
}
