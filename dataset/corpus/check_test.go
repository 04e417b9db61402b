package corpus

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"strikerose/dataset"
)

func problemsOf(t testing.TB, c *Corpus) []Problem {
	t.Helper()
	problems, err := c.Check(t.Context(), CheckOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return problems
}

func describe(problems []Problem) string {
	var b strings.Builder
	for _, p := range problems {
		fmt.Fprintf(&b, "\n  %s %s: %s: %s (%s)", p.Severity, p.Kind, p.Where, p.What, p.Fix)
	}
	return b.String()
}

// want is what a check should find, without the words.
type want struct {
	severity Severity
	kind     ProblemKind
	where    string
}

func requireProblems(t *testing.T, c *Corpus, wants ...want) {
	t.Helper()
	problems := problemsOf(t, c)
	if len(problems) != len(wants) {
		t.Fatalf("%d problems, want %d:%s", len(problems), len(wants), describe(problems))
	}
	for i, w := range wants {
		p := problems[i]
		if (want{p.Severity, p.Kind, p.Where}) != w {
			t.Errorf("problem %d: got%s, want %v", i, describe(problems[i:i+1]), w)
		}
		if p.What == "" || p.Fix == "" {
			t.Errorf("problem %d says nothing or offers nothing:%s", i, describe(problems[i:i+1]))
		}
	}
}

// copyOf is a corpus of its own with the fixture's files, so that each case
// can damage them.
func copyOf(t *testing.T, c *Corpus) *Corpus {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "bag")
	if err := os.CopyFS(dir, os.DirFS(c.Dir())); err != nil {
		t.Fatal(err)
	}
	damaged, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return damaged
}

func edit(t *testing.T, c *Corpus, rel string, change func([]byte) []byte) {
	t.Helper()
	data, err := os.ReadFile(c.path(rel))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(c.path(rel), change(data), 0o666); err != nil {
		t.Fatal(err)
	}
}

func flip(at int) func([]byte) []byte {
	return func(data []byte) []byte {
		data[at] ^= 0x10
		return data
	}
}

const mondayPlace = "rig=garage-r1/session=monday/part-0.parquet"

func rawOf(t *testing.T, c *Corpus, session string) string {
	t.Helper()
	s, err := c.Session(session)
	if err != nil {
		t.Fatal(err)
	}
	return rawPath(s.LogSHA256)
}

func TestCheckClean(t *testing.T) {
	requireProblems(t, fixture(t))
}

func TestCheckFlippedByteInEveryColumn(t *testing.T) {
	whole := fixture(t)
	for _, table := range tables() {
		rel := table + "/" + mondayPlace
		file, err := os.ReadFile(whole.path(rel))
		if err != nil {
			t.Fatal(err)
		}
		f, err := parquet.OpenFile(bytes.NewReader(file), int64(len(file)))
		if err != nil {
			t.Fatal(err)
		}
		c := copyOf(t, whole)
		for i, chunk := range f.Metadata().RowGroups[0].Columns {
			at := int(chunk.MetaData.DataPageOffset + chunk.MetaData.TotalCompressedSize/2)
			edit(t, c, rel, flip(at))
			t.Run(fmt.Sprintf("%s column %d", table, i), func(t *testing.T) {
				requireProblems(t, c, want{Error, Damaged, rel})
			})
			edit(t, c, rel, flip(at)) // back
		}
		requireProblems(t, c)
	}
}

func TestCheckDamage(t *testing.T) {
	whole := fixture(t)
	raw, journal := rawOf(t, whole, "monday"), journalPath("monday")
	leftover := "samples/rig=garage-r1/session=monday/.part-0.parquet" + tempMark + "0123456789abcdef"
	swap := func(a, b string) func(*testing.T, *Corpus) {
		return func(t *testing.T, c *Corpus) {
			for _, move := range [][2]string{{a, "swap"}, {b, a}, {"swap", b}} {
				if err := os.Rename(c.path(move[0]), c.path(move[1])); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	put := func(rel, text string) func(*testing.T, *Corpus) {
		return func(t *testing.T, c *Corpus) {
			if err := os.MkdirAll(filepath.Dir(c.path(rel)), 0o777); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(c.path(rel), []byte(text), 0o666); err != nil {
				t.Fatal(err)
			}
		}
	}
	remove := func(rel string) func(*testing.T, *Corpus) {
		return func(t *testing.T, c *Corpus) {
			if err := os.Remove(c.path(rel)); err != nil {
				t.Fatal(err)
			}
		}
	}
	truncate := func(rel string) func(*testing.T, *Corpus) {
		return func(t *testing.T, c *Corpus) {
			edit(t, c, rel, func(data []byte) []byte { return data[:len(data)*2/3] })
		}
	}
	const tuesday = "rig=garage-r1/session=tuesday/part-0.parquet"
	cases := []struct {
		name   string
		damage func(*testing.T, *Corpus)
		wants  []want
	}{
		{"samples truncated", truncate("samples/" + mondayPlace), []want{{Error, Damaged, "samples/" + mondayPlace}}},
		{"row truncated", truncate("sessions/" + mondayPlace), []want{{Error, Damaged, "sessions/" + mondayPlace}}},
		{"windows truncated", truncate("windows/" + mondayPlace), []want{{Error, Damaged, "windows/" + mondayPlace}}},
		{"features truncated", truncate("features/" + mondayPlace), []want{{Error, Damaged, "features/" + mondayPlace}}},
		{"labels truncated", truncate("labels/" + mondayPlace), []want{{Error, Damaged, "labels/" + mondayPlace}}},
		{"log truncated", truncate(raw), []want{{Error, Damaged, raw}}},
		{"rig truncated", truncate(rigPath("garage-r1")), []want{{Error, Damaged, rigPath("garage-r1")}}},
		{"samples emptied", put("samples/"+mondayPlace, ""), []want{{Error, Damaged, "samples/" + mondayPlace}}},

		{"samples deleted", remove("samples/" + mondayPlace), []want{{Error, Missing, "samples/" + mondayPlace}}},
		{"row deleted", remove("sessions/" + mondayPlace), []want{{Error, Missing, "sessions/" + mondayPlace}}},
		{"windows deleted", remove("windows/" + mondayPlace), []want{{Error, Missing, "windows/" + mondayPlace}}},
		// A table that nothing refers to is as if it had not been made yet.
		{"features deleted", remove("features/" + mondayPlace), nil},
		{"labels deleted", remove("labels/" + mondayPlace), []want{{Warning, Missing, "labels/" + mondayPlace}}},
		{"log deleted", remove(raw), []want{{Error, Missing, raw}}},
		{"rig deleted", remove(rigPath("attic-r1")), []want{{Error, Missing, rigPath("attic-r1")}}},
		{"journal deleted", remove(journal), []want{{Error, Missing, journal}}},

		{"samples swapped", swap("samples/"+mondayPlace, "samples/"+tuesday), []want{{Error, Mismatch, "samples/" + mondayPlace}, {Error, Mismatch, "samples/" + tuesday}}},
		{"rows swapped", swap("sessions/"+mondayPlace, "sessions/"+tuesday), []want{{Error, Mismatch, "sessions/" + mondayPlace}, {Error, Mismatch, "sessions/" + tuesday}}},
		{"windows swapped", swap("windows/"+mondayPlace, "windows/"+tuesday), []want{{Error, Mismatch, "windows/" + mondayPlace}, {Error, Mismatch, "windows/" + tuesday}}},
		{"features swapped", swap("features/"+mondayPlace, "features/"+tuesday), []want{{Error, Mismatch, "features/" + mondayPlace}, {Error, Mismatch, "features/" + tuesday}}},
		{"labels swapped", swap("labels/"+mondayPlace, "labels/"+tuesday), []want{{Error, Mismatch, "labels/" + mondayPlace}, {Error, Mismatch, "labels/" + tuesday}}},
		{"logs swapped", swap(raw, rawOf(t, whole, "tuesday")), []want{{Error, Damaged, raw}, {Error, Damaged, rawOf(t, whole, "tuesday")}}},
		{"windows in the samples' place", func(t *testing.T, c *Corpus) {
			file, err := os.ReadFile(c.path("windows/" + mondayPlace))
			if err != nil {
				t.Fatal(err)
			}
			put("samples/"+mondayPlace, string(file))(t, c)
		}, []want{{Error, Damaged, "samples/" + mondayPlace}}},

		{"leftover", put(leftover, "PAR1"), []want{{Note, Leftover, leftover}}},
		{"journal without session", put(journalPath("sunday"), "{}\n"), []want{{Warning, Orphan, journalPath("sunday")}}},
		{"journal grown", put(journal, "{}\n{}\n"), []want{{Warning, Stale, "labels/" + mondayPlace}}},
		{"foreign file", put("samples/notes.txt", "hello"), []want{{Warning, Unknown, "samples/notes.txt"}}},
		{"foreign parquet", put("samples/rig=garage-r1/session=monday/part-1.parquet", "PAR1"), []want{{Error, Unknown, "samples/rig=garage-r1/session=monday/part-1.parquet"}}},
		{"log of nobody", func(t *testing.T, c *Corpus) {
			if _, _, err := keepLog(t.Context(), c, strings.NewReader("")); err != nil {
				t.Fatal(err)
			}
		}, []want{{Note, Orphan, rawPath("e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855")}}}, // SHA-256 of nothing (FIPS 180-4)
		{"change under way", put(pendingDir+"/1.json", `{"about":"nothing","steps":[]}`), []want{{Note, Unfinished, pendingDir + "/1.json"}}},
		{"windows made anew", func(t *testing.T, c *Corpus) {
			if err := c.PutStrikes(t.Context(), "monday", testStrikes(3), Made{"onset 2", ""}); err != nil {
				t.Fatal(err)
			}
		}, []want{{Warning, Stale, "features/" + mondayPlace}, {Warning, Stale, "labels/" + mondayPlace}}},
		{"rig renamed", func(t *testing.T, c *Corpus) {
			if err := os.Rename(c.path(rigPath("attic-r1")), c.path(rigPath("attic-r2"))); err != nil {
				t.Fatal(err)
			}
		}, []want{{Error, Missing, rigPath("attic-r1")}, {Error, Damaged, rigPath("attic-r2")}}},
	}
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			c := copyOf(t, whole)
			tc.damage(t, c)
			requireProblems(t, c, tc.wants...)
		})
	}
}

func TestCheckRanges(t *testing.T) {
	whole := fixture(t)
	ctx := t.Context()
	strikes := testStrikes(6)
	strikes[5].OnsetNs, strikes[5].ReadyNs = 99e9, 99.1e9
	c := copyOf(t, whole)
	if err := c.PutStrikes(ctx, "tuesday", strikes, Made{}); err != nil {
		t.Fatal(err)
	}
	os.Remove(c.path("features/rig=garage-r1/session=tuesday/" + partName))
	os.Remove(c.path("labels/rig=garage-r1/session=tuesday/" + partName))
	os.Remove(c.JournalPath("tuesday"))
	requireProblems(t, c, want{Error, Damaged, "windows/rig=garage-r1/session=tuesday/" + partName})

}

// TestRangesRefusedAndFound: what PutSession refuses, Check finds in a corpus
// that was written by other means, seals and all.
func TestRangesRefusedAndFound(t *testing.T) {
	whole := fixture(t)
	const place = "rig=garage-r1/session=wednesday/" + partName
	cases := []struct {
		name, where, says string
		spoil             func(*dataset.Session, *dataset.Signal)
	}{
		{"time stands", "samples/", "t_ns", func(s *dataset.Session, sig *dataset.Signal) { sig.TNs[50] = sig.TNs[49] }},
		{"time goes back at a new segment", "samples/", "t_ns", func(s *dataset.Session, sig *dataset.Signal) { sig.TNs[1000] = 5 }},
		{"infinite", "samples/", "ay_mps2", func(s *dataset.Session, sig *dataset.Signal) { sig.A[1][3] = float32(math.Inf(1)) }},
		{"not a number", "samples/", "gz_radps", func(s *dataset.Session, sig *dataset.Signal) { sig.G[2][3] = float32(math.NaN()) }},
		{"count", "samples/", "1200 samples", func(s *dataset.Session, sig *dataset.Signal) { s.Samples++ }},
		{"segments", "samples/", "2 segments", func(s *dataset.Session, sig *dataset.Signal) { s.Segments++ }},
		{"segment skipped", "samples/", "segment 2 follows 0", func(s *dataset.Session, sig *dataset.Signal) { sig.Segment[999] = 2 }},
		{"first segment", "samples/", "first segment", func(s *dataset.Session, sig *dataset.Signal) { sig.Segment[0] = 1 }},
		{"gyroscope", "samples/", "gyroscope", func(s *dataset.Session, sig *dataset.Signal) { s.HasGyro = false }},
		{"row not a number", "sessions/", "rate_hz", func(s *dataset.Session, sig *dataset.Signal) { s.RateHz = math.NaN() }},
		{"row negative", "sessions/", "gaps", func(s *dataset.Session, sig *dataset.Signal) { s.Gaps = -1 }},
	}
	for _, tc := range cases {
		t.Run(tc.name, func(t *testing.T) {
			c, ctx := copyOf(t, whole), t.Context()
			s, sig := testSignal("wednesday", testRig(t, "garage", true), 1200, 9)
			keepRaw(t, c, &s)
			tc.spoil(&s, sig)
			err := c.PutSession(ctx, s, sig, false)
			if err == nil || !strings.Contains(err.Error(), tc.says) {
				t.Errorf("PutSession: got %v, want an error about %s", err, tc.says)
			}
			samples, err := encodeSamples(ctx, &s, sig)
			if err != nil {
				t.Fatal(err)
			}
			digest, err := verifySeal(samples)
			if err != nil {
				t.Fatal(err)
			}
			row, err := encodeSession(ctx, &s, digest)
			if err != nil {
				t.Fatal(err)
			}
			for rel, file := range map[string][]byte{"samples/" + place: samples, "sessions/" + place: row} {
				if err := writeFile(c.path(rel), file); err != nil {
					t.Fatal(err)
				}
			}
			requireProblems(t, c, want{Error, Damaged, tc.where + place})
		})
	}
}

func TestCheckStaleMade(t *testing.T) {
	c := fixture(t)
	problems, err := c.Check(t.Context(), CheckOptions{Finder: Made{"onset 1", "noise=auto"}, Features: Made{"features 2", "pre=300"}})
	if err != nil {
		t.Fatal(err)
	}
	if len(problems) != 3 {
		t.Fatalf("%d problems, want one a session:%s", len(problems), describe(problems))
	}
	for _, p := range problems {
		if p.Kind != Stale || !strings.HasPrefix(p.Where, "features/") || !strings.Contains(p.Fix, "strikerose features -C "+c.Dir()+" --sessions ") {
			t.Errorf("got%s", describe([]Problem{p}))
		}
	}
}

func TestCheckEndsWithContext(t *testing.T) {
	c := fixture(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := c.Check(ctx, CheckOptions{}); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want %v", err, context.Canceled)
	}
}

// TestDamageNeverDeceives flips single bytes all over every file: reading
// either gives an error or what was written, never other values.
func TestDamageNeverDeceives(t *testing.T) {
	c := copyOf(t, fixture(t))
	err := fs.WalkDir(os.DirFS(c.Dir()), ".", func(rel string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(rel, mondayPlace) {
			return err
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		read := map[string]func() error{
			"samples":  func() error { _, err := c.Signal(t.Context(), "monday"); return err },
			"sessions": func() error { _, err := c.Session("monday"); return err },
			"windows":  func() error { _, _, err := c.Strikes("monday"); return err },
			"features": func() error { _, err := c.Features("monday"); return err },
			"labels":   func() error { _, err := c.Labels("monday"); return err },
		}[strings.Split(rel, "/")[0]]
		for at := 0; at < int(info.Size()); at += 1 + int(info.Size())/60 {
			edit(t, c, rel, flip(at))
			if err := read(); err == nil {
				t.Errorf("%s: byte %d flipped: no error", rel, at)
			} else if !strings.Contains(err.Error(), rel) || !strings.Contains(err.Error(), "strikerose check") {
				t.Errorf("%s: byte %d flipped: the error does not name the file and the next command: %v", rel, at, err)
			}
			edit(t, c, rel, flip(at))
		}
		return read()
	})
	if err != nil {
		t.Fatal(err)
	}
}

// A file that one may not read is not damaged for all that is known.
func TestCheckNamesMissingRights(t *testing.T) {
	k := &checker{corpus: newCorpus(t)}
	k.unreadable("samples/x", &fs.PathError{Op: "open", Path: "x", Err: fs.ErrPermission}, "import again")
	k.unreadable("samples/y", io.ErrUnexpectedEOF, "import again")
	if len(k.problems) != 2 || !strings.Contains(k.problems[0].Fix, "the right to read "+k.corpus.path("samples/x")) || k.problems[1].Fix != "import again" {
		t.Errorf("problems:%s", describe(k.problems))
	}
}
