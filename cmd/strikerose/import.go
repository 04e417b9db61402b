package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/intake"
	"strikerose/dataset/rig"
)

type importFlags struct {
	rig, session, striker string
	force, yes            bool
	reading               reading
}

func newImport(a *app) *cobra.Command {
	var f importFlags
	cmd := &cobra.Command{
		Use:   "import --rig FILE LOG...",
		Short: "Read logs of the board into the corpus",
		Long: `Read logs of the board into the corpus: one session a log, named after the file
unless --session names it. A LOG is a file, a directory (every file below it) or
- for standard input, which needs --session. Compressed logs (gzip, zstd) are
read as they are. How a log is written is recognised; flags override it. What
was recognised, guessed and repaired is printed for each log, and the log itself
is kept as it came. On a terminal you are asked whether that is right before
anything is kept.

A log that is refused leaves the corpus as it was; the others are imported. Of a
directory, hidden files, corpora and what people keep beside logs (plans, truths,
notes from videos, tables of strikes, rig files, detectors) are passed over. A
session of the same name is refused unless --force replaces it, which keeps the
labels; so is a log that another session holds, which --force imports a second
time.`,
		Example: `strikerose import -C gym --rig hall.toml --striker anna monday.csv.zst
strikerose import -C gym --rig hall.toml --striker ben friday.bin.zst`,
		Args: takes(1, -1, "a log to import"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := need(cmd, "rig"); err != nil {
				return err
			}
			o, err := f.reading.options(cmd)
			if err != nil {
				return err
			}
			if f.session != "" && len(args) > 1 {
				return usagef(cmd, "--session names one session, but there are %d logs: import them one by one", len(args))
			}
			for _, arg := range args {
				if arg == "-" && f.session == "" {
					return usagef(cmd, "standard input has no name: give --session NAME")
				}
			}
			return runImport(cmd.Context(), a, f, o, args)
		},
	}
	cmd.Flags().StringVar(&f.rig, "rig", "", "the rig `FILE` (strikerose rig new writes one to fill in)")
	cmd.Flags().StringVar(&f.session, "session", "", "`NAME` of the session; then one log")
	cmd.Flags().StringVar(&f.striker, "striker", "", "`ID` of who struck")
	cmd.Flags().BoolVar(&f.force, "force", false, "replace a session of that name, or import a log again that another holds")
	cmd.Flags().BoolVar(&f.yes, "yes", false, "on a terminal: do not ask whether a log was understood")
	f.reading.flags(cmd)
	return cmd
}

// imported is what import says of one log.
type imported struct {
	Log     string           `json:"log"`               // path or name of the log
	Session *dataset.Session `json:"session,omitempty"` // what it became; absent where it was passed over or failed
	Guessed []string         `json:"guessed,omitempty"` // what was guessed since neither log, rig file nor flags say it, in words; absent where nothing was
	Notes   []string         `json:"notes,omitempty"`   // what to beware of, in words; absent where there is nothing
	Skipped string           `json:"skipped,omitempty"` // why it was passed over; absent where it was not
	Error   string           `json:"error,omitempty"`   // why it failed; absent where it did not
}

// importMemory is from where on memory is tidied up more often: logs may be larger
// than all memory, and other programs run beside.
const importMemory = 200 << 20

func runImport(ctx context.Context, a *app, f importFlags, o intake.Options, args []string) (err error) {
	if before := debug.SetMemoryLimit(-1); before > importMemory {
		debug.SetMemoryLimit(importMemory)
		defer debug.SetMemoryLimit(before)
	}
	rg, err := rig.Load(f.rig)
	if err != nil {
		return err
	}
	var done []imported
	skip := func(path, why string) {
		a.note("skipped %s: %s", path, why)
		done = append(done, imported{Log: path, Skipped: why})
	}
	files, err := gatherLogs(args, skip)
	if err != nil {
		return err
	}
	logs, others := apart(files)
	for i, path := range others.paths {
		done = append(done, imported{Log: path, Skipped: others.kinds[i].why()})
	}
	if len(others.paths) > 0 && len(logs) > 0 {
		a.note("not logs, passed over: %s", others.words())
	}
	if len(logs) == 0 {
		if len(done) == 0 {
			return fmt.Errorf("import: %s: holds no files", strings.Join(args, ", "))
		}
		if a.json {
			if err := printJSON(a.out, done); err != nil {
				return err
			}
		}
		if len(others.paths) > 0 {
			return fmt.Errorf("import: %s: holds no log, but %s", strings.Join(args, ", "), others.words())
		}
		return nil // hidden files alone, named above
	}
	if f.session != "" && len(logs) > 1 {
		return fmt.Errorf("import: --session %s: there are %d logs in %s: import them one by one, or without --session", f.session, len(logs), args[0])
	}
	c, err := corpus.OpenOrCreate(a.dir)
	if err != nil {
		return err
	}
	var failed []string
	kept := 0
	defer func() {
		if kept == 0 {
			err = errors.Join(err, c.Unmake(context.WithoutCancel(ctx)))
		}
	}()
	q := a.asker()
	if slices.ContainsFunc(logs, func(l logFile) bool { return l.path == "-" }) {
		q = nil // standard input is the log
	}
	for _, log := range logs {
		name := f.session
		if name == "" {
			name = sessionName(log.path)
		}
		im := importer{a: a, corpus: c, rig: rg, options: o, striker: f.striker, force: f.force}
		if !f.yes {
			im.asker = q
		}
		res, err := im.one(ctx, log, name)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err != nil {
			if log.walked && errors.Is(err, intake.ErrUnknown) {
				a.warn("import: %s: passed over: %s", log.name, strings.TrimPrefix(err.Error(), log.name+": "))
				done = append(done, imported{Log: log.name, Skipped: err.Error()})
				continue
			}
			printError(a.err, fmt.Errorf("import: %w", err))
			failed = append(failed, log.name)
			done = append(done, imported{Log: log.name, Error: err.Error()})
			continue
		}
		kept++
		done = append(done, imported{Log: log.name, Session: &res.Session, Guessed: res.Guessed, Notes: res.Notes})
		if !a.quiet && !a.json && im.asker == nil {
			printImported(a.out, log.name, res)
		}
	}
	if a.json {
		if err := printJSON(a.out, done); err != nil {
			return err
		}
	}
	switch {
	case len(failed) > 0:
		return fmt.Errorf("import: %d of %s failed, see above: %s", len(failed), counted(len(logs), "log"), strings.Join(failed, ", "))
	case kept == 0:
		return fmt.Errorf("import: %s: holds no log of a known dialect: see the warnings above", strings.Join(args, ", "))
	}
	return nil
}

// importer imports logs with the same flags.
type importer struct {
	a       *app
	corpus  *corpus.Corpus
	rig     *rig.Rig
	options intake.Options
	striker string
	force   bool
	asker   *asker // nil: nobody is asked
}

// errDeclined says that a person found a log misunderstood.
var errDeclined = errors.New("not imported: say what is otherwise by a flag (--dialect, --accel-unit, --time-unit, ...) or in the rig file")

// confirm shows what was understood of a log and asks whether it is right.
func (im *importer) confirm(ctx context.Context, log logFile, res *intake.Result) error {
	if im.asker == nil {
		return nil
	}
	printImported(im.a.out, log.name, res)
	yes, err := im.asker.yes(ctx, "Is that right?")
	switch {
	case err != nil:
		return fmt.Errorf("%s: %w", log.name, err)
	case !yes:
		return fmt.Errorf("%s: %w", log.name, errDeclined)
	}
	return nil
}

// one imports a log. The session's lock is held throughout. The log is read
// once: while it is decoded, it and its samples are written to temporary files.
// The corpus is touched only after the whole log has been decoded: first the log is
// kept as it came, then the session with its rig, so that what is cut off in between
// leaves the old session in place.
func (im *importer) one(ctx context.Context, log logFile, name string) (res *intake.Result, err error) {
	if kind, ok := log.beside(); ok {
		return nil, fmt.Errorf("%s: %s", log.name, kind.why())
	}
	if err := corpus.ValidName(name); err != nil {
		return nil, withHint(fmt.Errorf("%s: %w", log.name, err), "--session NAME gives it another name")
	}
	err = locked(im.corpus, name, func() (err error) {
		if _, err := im.corpus.Session(name); err == nil && !im.force {
			return withHint(fmt.Errorf("%s: session %s is in the corpus already", log.name, name),
				"--force replaces it, --session NAME imports under another name")
		}
		raw, err := im.corpus.NewRaw(ctx)
		if err != nil {
			return err
		}
		samples := &samplesSink{ctx: ctx, corpus: im.corpus, rig: im.rig.Key(), session: name}
		defer func() { err = errors.Join(err, raw.Abort(), samples.abort()) }()
		if res, err = im.decode(ctx, log, raw, samples); err != nil {
			return err
		}
		res.Session.Name, res.Session.Rig, res.Session.Striker = name, im.rig.Key(), im.striker
		if err := im.confirm(ctx, log, res); err != nil {
			return err
		}
		return im.store(ctx, raw, samples, res)
	})
	return res, err
}

// decode reads a log to its end.
func (im *importer) decode(ctx context.Context, log logFile, raw *corpus.RawWriter, samples *samplesSink) (*intake.Result, error) {
	p := im.a.progress("reading "+log.name, log.size, true)
	defer p.Done()
	in := readOnce(ctx, log, im.a.in, raw)
	defer in.close()
	return intake.Stream(ctx, in, log.name, im.rig, im.options, p, func(sig *dataset.Signal) error {
		err := samples.append(sig)
		if err != nil {
			in.cancel(err) // a read from a pipe may wait for ever
		}
		return err
	})
}

// samplesSink writes the samples of a log. Whether there are rotation rates shows
// when the first ones come.
type samplesSink struct {
	ctx          context.Context
	corpus       *corpus.Corpus
	rig, session string
	writer       *corpus.SessionWriter
}

func (s *samplesSink) append(sig *dataset.Signal) (err error) {
	if s.writer == nil {
		if s.writer, err = s.corpus.NewSession(s.ctx, s.rig, s.session, sig.HasGyro()); err != nil {
			return err
		}
	}
	return s.writer.Append(s.ctx, sig)
}

func (s *samplesSink) abort() error {
	if s.writer == nil {
		return nil
	}
	return s.writer.Abort()
}

func (im *importer) store(ctx context.Context, raw *corpus.RawWriter, samples *samplesSink, res *intake.Result) error {
	if _, _, err := raw.Keep(ctx); err != nil {
		return err
	}
	samples.writer.WithRig(im.rig)
	err := samples.writer.Commit(ctx, res.Session, im.force)
	if err != nil && !errors.Is(err, corpus.ErrNoted) { // else the session will be there
		err = errors.Join(err, raw.Drop(context.WithoutCancel(ctx)))
	}
	return err
}

func printImported(w io.Writer, path string, res *intake.Result) {
	fmt.Fprintf(w, "%s: session %s on rig %s\n", path, res.Session.Name, res.Session.Rig)
	for _, line := range describeSession(res.Session) {
		printKeyed(w, line[0], line[1])
	}
	for _, guess := range res.Guessed {
		printKeyed(w, "guessed", guess)
	}
	for _, note := range res.Notes {
		printKeyed(w, "note", note)
	}
}
