package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/shell"
)

// Severity tells how bad a problem is.
type Severity string

const (
	Error   Severity = "error"   // something is lost or wrong
	Warning Severity = "warning" // something is stale, or does not belong here
	Note    Severity = "note"    // harmless: what an interrupted command left behind
)

// ProblemKind tells what sort of problem it is.
type ProblemKind string

const (
	Damaged    ProblemKind = "damaged"    // not the bytes that were written, or not readable
	Missing    ProblemKind = "missing"    // something refers to it and it is not there
	Mismatch   ProblemKind = "mismatch"   // whole, but does not fit where it lies or what refers to it
	Stale      ProblemKind = "stale"      // made from something that has changed since
	Orphan     ProblemKind = "orphan"     // nothing refers to it
	Unknown    ProblemKind = "unknown"    // no file of a corpus
	Leftover   ProblemKind = "leftover"   // temporary file of a killed write
	Unfinished ProblemKind = "unfinished" // change that was not carried out to its end
	Duplicate  ProblemKind = "duplicate"  // two of what there may be one of
)

// Problem is one finding of Check.
type Problem struct {
	// Severity is error for something lost or wrong, warning for something stale or
	// misplaced, note for something harmless; errors alone end with status 1.
	Severity Severity    `json:"severity"`
	Kind     ProblemKind `json:"kind"`  // sort of finding, for programs
	Where    string      `json:"where"` // path below the corpus, with slashes; the session's or rig's name where no file is meant
	What     string      `json:"what"`  // finding in words
	Fix      string      `json:"fix"`   // next command to run, or what to do
}

// CheckOptions says how derived tables would be made now; one made otherwise
// is stale. A zero Made asks nothing.
type CheckOptions struct {
	Finder, Features Made
}

// Check verifies a corpus: every checksum, every page of every table, ranges,
// cross-references, logs against their digests, and files that do not belong.
// It goes on after a fault and returns all of them, sorted by place; the error
// is only for a corpus that cannot be walked, or the end of ctx. It takes no
// locks: what a writer is doing meanwhile may show up as a problem.
func (c *Corpus) Check(ctx context.Context, o CheckOptions) ([]Problem, error) {
	k := &checker{corpus: c, options: o, raws: make(map[string]bool), broken: make(map[string]bool)}
	for _, pass := range []func(context.Context) error{k.walk, k.rigs, k.sessions, k.orphans, k.logs} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := pass(ctx); err != nil {
			return nil, err
		}
	}
	slices.SortFunc(k.problems, func(a, b Problem) int {
		if d := strings.Compare(a.Where, b.Where); d != 0 {
			return d
		}
		return strings.Compare(a.What, b.What)
	})
	return k.problems, nil
}

// checker collects what the passes of a check find and need from each other.
type checker struct {
	corpus   *Corpus
	options  CheckOptions
	problems []Problem

	parts    map[place][]string // tables that have a part, by place
	journals []string           // sessions that have a journal
	kept     []string           // digests of the logs that are kept
	rigKeys  []string
	rows     []dataset.Session
	raws     map[string]bool // digests that readable rows refer to
	broken   map[string]bool // sessions that have no readable row, though they have other files
}

func (k *checker) add(s Severity, kind ProblemKind, where, what, fix string) {
	k.problems = append(k.problems, Problem{s, kind, where, what, fix})
}

// unreadable adds a file that cannot be read as it should. The fix serves one that
// is damaged.
func (k *checker) unreadable(rel string, err error, fix string) {
	if errors.Is(err, fs.ErrPermission) {
		fix = "give yourself the right to read " + k.corpus.path(rel) + ", or ask its owner to, then check again"
	}
	k.add(Error, kindOf(err), rel, trim(err, rel), fix)
}

// command is a command line of the program on this corpus.
func (k *checker) command(verb string, words ...string) string {
	return "strikerose " + verb + " " + shell.Line(slices.Concat([]string{"-C", k.corpus.dir}, words)...)
}

// again is the command that imports a session's log once more.
func (k *checker) again(p place, log string) string {
	if log == "" {
		log = "LOG"
	}
	return k.command("import", "--rig", k.corpus.path(rigPath(p.rig)), "--session", p.session, "--force", log)
}

// walk sorts all files of the corpus by what they are.
func (k *checker) walk(ctx context.Context) error {
	k.parts = make(map[place][]string)
	err := filepath.WalkDir(k.corpus.dir, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		rel, err := filepath.Rel(k.corpus.dir, name)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		if d.IsDir() {
			// What lies beside the corpus' own folders is no business of its.
			if top := !strings.Contains(rel, "/"); rel == locksDir || top && rel != "." && !slices.Contains(folders(), rel) {
				return fs.SkipDir
			}
			return nil
		}
		if !strings.Contains(rel, "/") && rel != formatName && !isTemp(rel) {
			return nil
		}
		k.classify(rel, d.Name())
		return nil
	})
	if err != nil {
		return fmt.Errorf("corpus: %w", err)
	}
	return nil
}

func (k *checker) classify(rel, base string) {
	dir := path.Dir(rel)
	fields := strings.Split(rel, "/")
	switch {
	case isTemp(base):
		k.add(Note, Leftover, rel, "is what a killed write left behind", "nothing: the next command that writes here removes it; or delete it yourself while nothing runs")
		return
	case rel == formatName:
		return
	case dir == pendingDir:
		k.add(Note, Unfinished, rel, "is a change that was not carried out to its end", k.command("session list")+", which finishes it when the corpus can be written")
		return
	case dir == rigsDir && strings.HasSuffix(base, ".toml") && base[0] != '.':
		k.rigKeys = append(k.rigKeys, strings.TrimSuffix(base, ".toml"))
		return
	case dir == rawDir && strings.HasSuffix(base, ".zst") && base[0] != '.':
		k.kept = append(k.kept, strings.TrimSuffix(base, ".zst"))
		return
	case dir == journalDir && strings.HasSuffix(base, ".jsonl") && base[0] != '.':
		k.journals = append(k.journals, strings.TrimSuffix(base, ".jsonl"))
		return
	case dir == droppedDir && strings.HasSuffix(base, ".jsonl"), isCalls(dir, base):
		return
	case len(fields) == 4 && base == partName && slices.Contains(tables(), fields[0]):
		key, isRig := strings.CutPrefix(fields[1], "rig=")
		session, isSession := strings.CutPrefix(fields[2], "session=")
		if isRig && isSession {
			p := place{key, session}
			k.parts[p] = append(k.parts[p], fields[0])
			return
		}
	}
	if strings.HasSuffix(base, ".parquet") {
		k.add(Error, Unknown, rel, "is not a part of this corpus, yet engines that read the folder take it in", "move it out of the corpus")
		return
	}
	k.add(Warning, Unknown, rel, "is not a file of a corpus", "move it out of the corpus")
}

// rigs verifies the rig files.
func (k *checker) rigs(context.Context) error {
	for _, key := range k.rigKeys {
		if _, err := k.corpus.Rig(key); err != nil {
			k.add(Error, Damaged, rigPath(key), trim(err, rigPath(key)), "mend the file, or restore it from the rig file that the sessions were imported with")
		}
	}
	return nil
}

// places returns the places that hold any table, sorted.
func (k *checker) places() []place {
	out := make([]place, 0, len(k.parts))
	for p := range k.parts {
		out = append(out, p)
	}
	slices.SortFunc(out, func(a, b place) int {
		if d := strings.Compare(a.session, b.session); d != 0 {
			return d
		}
		return strings.Compare(a.rig, b.rig)
	})
	return out
}

// sessions verifies each session's row, samples and derived tables.
func (k *checker) sessions(ctx context.Context) error {
	byName := make(map[string]place)
	for _, p := range k.places() {
		if err := ctx.Err(); err != nil {
			return err
		}
		if !slices.Contains(k.parts[p], "sessions") {
			k.broken[p.session] = true
			k.add(Error, Missing, part("sessions", p.rig, p.session), "is missing, though there are "+strings.Join(k.parts[p], ", ")+" of the session", k.again(p, ""))
			continue
		}
		if other, ok := byName[folded(p.session)]; ok {
			k.add(Error, Duplicate, partition("sessions", p.rig, p.session), "bears the name of session "+other.session+" on rig "+other.rig, k.command("session rename", p.session, "NEW"))
		}
		byName[folded(p.session)] = p
		if err := k.session(ctx, p); err != nil {
			return err
		}
	}
	return nil
}

func (k *checker) session(ctx context.Context, p place) error {
	s, samplesSHA, err := k.corpus.loadRow(p)
	if err == nil {
		err = checkRow(&s)
	}
	if err != nil {
		k.broken[p.session] = true
		rel := part("sessions", p.rig, p.session)
		k.unreadable(rel, err, k.again(p, ""))
		return ctx.Err()
	}
	for _, r := range k.rows {
		if s.LogSHA256 != "" && r.LogSHA256 == s.LogSHA256 {
			k.add(Note, Duplicate, part("sessions", p.rig, p.session), "holds the log of session "+r.Name, k.command("session drop", s.Name)+", unless the log was imported twice on purpose")
			break // one of the others is enough
		}
	}
	k.rows = append(k.rows, s)
	k.raws[s.LogSHA256] = true
	if !slices.Contains(k.rigKeys, s.Rig) {
		k.add(Error, Missing, rigPath(s.Rig), "is missing, though session "+s.Name+" refers to it", "copy the rig file there that the session was imported with")
	}
	for _, verify := range []func(context.Context, place, *dataset.Session, string) error{k.samples, k.derived} {
		if err := verify(ctx, p, &s, samplesSHA); err != nil {
			return err
		}
	}
	return nil
}

// samples verifies the samples part row group by row group, the columns that
// plain reading skips too.
func (k *checker) samples(ctx context.Context, p place, s *dataset.Session, samplesSHA string) error {
	rel := part("samples", p.rig, p.session)
	if _, err := os.Stat(k.corpus.path(rel)); errors.Is(err, fs.ErrNotExist) {
		k.add(Error, Missing, rel, "is missing, though the session row refers to it", k.again(p, s.LogName))
		return nil
	} else if err != nil {
		return fmt.Errorf("corpus: %w", err)
	}
	r, err := k.corpus.openSamplesOf(p, *s, samplesSHA)
	if err == nil {
		err = errors.Join(r.checkWhole(ctx), r.Close())
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		k.unreadable(rel, err, k.again(p, s.LogName))
	}
	return nil
}

// checkWhole verifies all columns, also those that reading a signal skips: rig,
// session, and rotation rates that must be null.
func (r *samplesReader) checkWhole(ctx context.Context) error {
	var all []int
	for i := range r.table.columns {
		all = append(all, i)
	}
	check := signalCheck{gyro: r.gyro()}
	return r.verified(ctx, all, func(columns []any) error {
		sig, err := r.wholeStretch(columns)
		if err == nil {
			err = check.add(sig)
		}
		if err != nil {
			return r.corpus.damaged(r.rel, err)
		}
		return nil
	}, func() error { return check.finish(&r.row) })
}

func (r *samplesReader) wholeStretch(columns []any) (*dataset.Signal, error) {
	if err := requireIdentity(columns, r.place); err != nil {
		return nil, err
	}
	sig := signalOf(columns)
	if r.gyro() {
		return sig, nil
	}
	for k := range sig.G {
		for i, v := range sig.G[k] {
			if v == v {
				return nil, fmt.Errorf("sample %d of a row group has a rotation rate, though the session has no gyroscope", i)
			}
		}
	}
	sig.G = [3][]float32{}
	return sig, nil
}

// orphans reports journals and dropped parts that belong to no session.
func (k *checker) orphans(context.Context) error {
	for _, name := range k.journals {
		known := slices.ContainsFunc(k.rows, func(s dataset.Session) bool { return s.Name == name })
		if !known && !k.broken[name] {
			k.add(Warning, Orphan, journalPath(name), "is the label journal of a session that is not there", "import the session under this name, or move the file out of the corpus")
		}
	}
	return nil
}

// logs verifies the logs as they came.
func (k *checker) logs(ctx context.Context) error {
	for _, s := range k.rows {
		if s.LogSHA256 != "" && !slices.Contains(k.kept, s.LogSHA256) {
			k.add(Error, Missing, rawPath(s.LogSHA256), "is missing: the log "+s.LogName+" of session "+s.Name, k.again(place{s.Rig, s.Name}, s.LogName))
		}
	}
	for _, sha := range k.kept {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := k.corpus.verifyRaw(ctx, sha); err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			k.unreadable(rawPath(sha), err, k.rawFix(sha))
			continue
		}
		// A row that cannot be read may be the one that refers to it.
		if !k.raws[sha] && len(k.broken) == 0 {
			k.add(Note, Orphan, rawPath(sha), "is a log that no session refers to", "nothing, or delete the file if the log is not needed")
		}
	}
	return nil
}

func (k *checker) rawFix(sha string) string {
	for _, s := range k.rows {
		if s.LogSHA256 == sha {
			return k.again(place{s.Rig, s.Name}, s.LogName)
		}
	}
	return "delete the file: no session refers to it"
}

// verifyRaw reads a kept log to its end and compares its digest with its name.
func (c *Corpus) verifyRaw(ctx context.Context, sha string) error {
	r, err := c.OpenRaw(sha)
	if err != nil {
		return err
	}
	found, _, err := digestOf(&contextReader{ctx, r})
	if err = errors.Join(err, r.Close()); err != nil {
		return err
	}
	if found != sha {
		return fmt.Errorf("%w: %.12s where its name says %.12s", errBadDigest, found, sha)
	}
	return nil
}

// kindOf tells damage from a whole file in the wrong place.
func kindOf(err error) ProblemKind {
	if errors.Is(err, errMisplaced) {
		return Mismatch
	}
	return Damaged
}

// trim takes the parts of a message that a problem states elsewhere.
func trim(err error, rel string) string {
	text := strings.TrimPrefix(err.Error(), "corpus: ")
	text = strings.TrimPrefix(text, rel+": ")
	if i := strings.Index(text, ": run strikerose check"); i >= 0 {
		text = text[:i]
	}
	return text
}
