package kill

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// uncut is what a job does where it is not killed.
type uncut struct {
	base    string // the directory that it starts from
	points  []Point
	took    time.Duration
	before  map[string]string // digests of the files that it starts from
	after   map[string]string // digests of the files that it leaves
	named   bool              // check names a command to run after it
	labels  string            // the labels that it leaves, as a table
	journal map[string][]byte // journals that it starts from, by path
}

// uncut prepares a job's corpus and runs it to its end.
func (g *gym) uncut(ctx context.Context, j job) (*uncut, error) {
	u := &uncut{base: filepath.Join(g.dir, "from")}
	if err := copyWork(u.base, filepath.Join(g.dir, "base")); err != nil {
		return nil, err
	}
	if j.anew {
		if err := os.RemoveAll(filepath.Join(u.base, gymName)); err != nil {
			return nil, err
		}
	}
	for _, line := range j.before {
		if _, err := g.must(ctx, u.base, line...); err != nil {
			return nil, err
		}
	}
	var err error
	if u.before, err = digests(u.base); err != nil {
		return nil, err
	}
	if u.journal, err = journals(u.base); err != nil {
		return nil, err
	}
	w := filepath.Join(g.dir, "work")
	if err := g.fresh(u, w); err != nil {
		return nil, err
	}
	start := time.Now()
	c := cut{}
	if g.byTime() {
		c.after = time.Hour
	}
	e, _, err := g.play(ctx, j, w, c)
	u.took, u.points = time.Since(start), e.seen
	if err == nil && e.status != 0 {
		said, _ := os.ReadFile(filepath.Join(g.dir, "said"))
		err = fmt.Errorf("exit status %d: %s", e.status, said)
	}
	if err != nil {
		return nil, err
	}
	if u.after, err = digests(w); err != nil {
		return nil, err
	}
	if u.labels, err = g.labels(ctx, w); err != nil {
		return nil, err
	}
	u.named, err = g.checked(ctx, w)
	return u, err
}

// fresh makes w what a job starts from.
func (g *gym) fresh(u *uncut, w string) error { return copyWork(w, u.base) }

// labels is the table of all labels of a corpus, in words that do not tell
// when they were made. A corpus without sessions or labels has none.
func (g *gym) labels(ctx context.Context, w string) (string, error) {
	out, _, _, err := g.run(ctx, w, nil, "label", "list", "-C", "{G}", "-o", "-")
	return out, err
}

// kept tells whether a path is followed by its digest: lock files say who held
// them last, and labels when they were made.
func kept(rel string) bool {
	in := strings.TrimPrefix(rel, gymName+"/")
	return !strings.HasPrefix(in, ".locks/") && !strings.HasPrefix(in, "journal/") && !strings.HasPrefix(in, "labels/")
}

// digests returns the SHA-256 of every file below w that is followed.
func digests(w string) (map[string]string, error) {
	out := make(map[string]string)
	err := eachFile(w, func(rel string) error {
		if !kept(rel) {
			return nil
		}
		data, err := os.ReadFile(filepath.Join(w, rel))
		sum := sha256.Sum256(data)
		out[rel] = hex.EncodeToString(sum[:])
		return err
	})
	return out, err
}

// journals returns every label journal below w, also of dropped sessions.
func journals(w string) (map[string][]byte, error) {
	out := make(map[string][]byte)
	err := eachFile(w, func(rel string) error {
		if path.Ext(rel) != ".jsonl" {
			return nil
		}
		data, err := os.ReadFile(filepath.Join(w, rel))
		out[rel] = data
		return err
	})
	return out, err
}

func eachFile(w string, visit func(rel string) error) error {
	return filepath.WalkDir(w, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(w, p)
		if err != nil {
			return err
		}
		return visit(filepath.ToSlash(rel))
	})
}

// verify says what a kill broke. Mended tells that check named a command that
// mended something.
func (g *gym) verify(ctx context.Context, j job, u *uncut, w string, acks []string) (mended bool, faults []string) {
	fault := func(format string, args ...any) { faults = append(faults, fmt.Sprintf(format, args...)) }
	broken := func(err error) (bool, []string) { return mended, append(faults, err.Error()) }

	// A corpus that was not there may not be there yet.
	_, err := os.Stat(filepath.Join(w, gymName, "corpus.toml"))
	if !j.anew || err == nil {
		if mended, err = g.checked(ctx, w); err != nil {
			fault("%v", err)
		}
	}
	faults = append(faults, j.oldOrNew(u, w)...)
	js, err := journals(w)
	if err != nil {
		return broken(err)
	}
	faults = append(faults, lostLines(u.journal, js)...)
	if j.served {
		for _, id := range acks {
			if !slices.ContainsFunc(slices.Collect(maps.Values(js)), func(text []byte) bool { return bytes.Contains(text, []byte(id)) }) {
				fault("the page called %s saved, and it is not in the journal", id)
			}
		}
	}
	said := strings.Join(acks, "")
	errs, status, err := g.again(ctx, j, w)
	switch {
	case err != nil:
		return broken(err)
	case status == 0 && j.already != "" && strings.Contains(said, "session friday on rig"):
		fault("import said that it had kept the session, yet does so again")
	case status != 0 && (j.already == "" || !strings.Contains(errs, j.already)):
		fault("the next command fails with status %d: %s", status, errs)
	}
	faults = append(faults, j.finished(u, w)...)
	if j.readsOnly() {
		return mended, faults
	}
	if named, err := g.checked(ctx, w); err != nil {
		fault("after the next command: %v", err)
	} else if named && !u.named {
		fault("after the next command check still names something to mend")
	}
	labels, err := g.labels(ctx, w)
	if err != nil {
		return broken(err)
	}
	if labels != u.labels {
		fault("after the next command the labels are\n%swhere they should be\n%s", labels, u.labels)
	}
	return mended, faults
}

// again gives the command line once more, unharmed.
func (g *gym) again(ctx context.Context, j job, w string) (errs string, status int, err error) {
	e, _, err := g.play(ctx, j, w, cut{after: time.Hour})
	if err != nil {
		return "", 0, err
	}
	said, err := os.ReadFile(filepath.Join(g.dir, "said"))
	return string(said), e.status, err
}

// problem is what check says of a fault.
type problem struct{ Severity, Where, What, Fix string }

// checked runs check. Where it names a command, that is run on a copy of the
// corpus, in which check must find no fault then. What the next command removes
// of itself may stay.
func (g *gym) checked(ctx context.Context, w string) (named bool, err error) {
	problems, err := g.check(ctx, w)
	if err != nil || len(problems) == 0 {
		return false, err
	}
	mended := filepath.Join(g.dir, "mended")
	if err := copyWork(mended, w); err != nil {
		return false, err
	}
	for _, p := range problems {
		line, ours := strings.CutPrefix(p.Fix, "strikerose ")
		if !ours {
			return true, fmt.Errorf("check: %s: %s: %s", p.Where, p.What, p.Fix)
		}
		if _, err := g.must(ctx, mended, strings.Fields(strings.ReplaceAll(line, filepath.Join(w, gymName), "{G}"))...); err != nil {
			return true, err
		}
		if problems, err = g.check(ctx, mended); err != nil || len(problems) == 0 {
			return true, err
		}
	}
	return true, fmt.Errorf("check: %s: %s, even after what it names was run", problems[0].Where, problems[0].What)
}

// check returns the faults that check finds; notes are none.
func (g *gym) check(ctx context.Context, w string) ([]problem, error) {
	out, errs, status, err := g.run(ctx, w, nil, "check", "-C", "{G}", "--json")
	if err != nil {
		return nil, err
	}
	var problems []problem
	if err := json.Unmarshal([]byte(out), &problems); err != nil {
		return nil, fmt.Errorf("check fails with status %d: %s", status, errs)
	}
	return slices.DeleteFunc(problems, func(p problem) bool { return p.Severity == "note" }), nil
}

// oldOrNew: every file is as it was or as the job leaves it, and none is gone
// that the job would not remove.
func (j job) oldOrNew(u *uncut, w string) (faults []string) {
	now, err := digests(w)
	if err != nil {
		return []string{err.Error()}
	}
	for rel, digest := range now {
		if temporary(rel) {
			continue
		}
		if digest != u.before[rel] && digest != u.after[rel] {
			faults = append(faults, rel+" is neither what it was nor what it should become")
		}
	}
	for rel := range u.before {
		if _, there := now[rel]; !there && u.after[rel] != "" {
			faults = append(faults, rel+" is gone")
		}
	}
	return faults
}

// finished: the next command left what one that was not killed leaves, and no
// temporary files.
func (j job) finished(u *uncut, w string) (faults []string) {
	now, err := digests(w)
	if err != nil {
		return []string{err.Error()}
	}
	if err := eachFile(w, func(rel string) error {
		if temporary(rel) {
			faults = append(faults, rel+" is left over")
			delete(now, rel)
		}
		return nil
	}); err != nil {
		return []string{err.Error()}
	}
	for rel, digest := range now {
		if want := u.after[rel]; digest != want {
			faults = append(faults, rel+" is not what it would be without the kill")
		}
	}
	for rel := range u.after {
		if _, there := now[rel]; !there && !temporary(rel) {
			faults = append(faults, rel+" is missing after the next command")
		}
	}
	return faults
}

// temporary tells the names of files that are being written.
func temporary(rel string) bool {
	base := path.Base(rel)
	return strings.HasPrefix(rel, tmpName+"/") || strings.HasPrefix(base, ".") && (strings.Contains(base, ".tmp-") || strings.HasSuffix(base, ".tmp"))
}

// lostLines: what was in a journal is the start of one still.
func lostLines(before, now map[string][]byte) (faults []string) {
	for rel, text := range before {
		if !slices.ContainsFunc(slices.Collect(maps.Values(now)), func(t []byte) bool { return bytes.HasPrefix(t, text) }) {
			faults = append(faults, rel+" has lost lines")
		}
	}
	return faults
}
