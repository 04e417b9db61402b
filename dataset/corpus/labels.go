package corpus

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"slices"

	"strikerose/dataset"
	"strikerose/dataset/shell"
)

// LabelRow is one standing claim about a strike, as the compacted view of a
// session's label journal shows it. The journal is the truth and belongs to
// package label; this is what SQL engines read.
type LabelRow struct {
	Session, Rig string // filled in by PutLabels; if given, they must be the session's
	ID           string
	OnsetNs      int64 // repaired clock
	Source       string
	Author       string
	AtNs         int64    // when it was claimed, since 1970 UTC; 0 unknown
	Face         int      // from 1; 0 unknown
	BearingDeg   *float64 // nil unknown
	HeightM      *float64 // nil unknown
	Band         string
	Kind         string
	Confidence   float64
	BearingSDDeg float64 // 0 or NaN unknown
	HeightSDM    float64 // 0 or NaN unknown
	NotStrike    bool
	Note         string
	PlanOrder    int  // entry of the plan, from 1; 0 none
	Preferred    bool // the claim that counts for its strike
	Strike       int  // number of the strike it was matched with; 0 none
}

// labelsTable has one row a standing claim.
func labelsTable() *table {
	return &table{name: "labels", frame: "bag", columns: append(identity(),
		column{name: "id", kind: kindString, doc: "of the claim"},
		column{name: "onset_ns", kind: kindInt64, delta: true, unit: "ns", doc: "where the claim lies, repaired clock"},
		column{name: "onset_s", kind: kindFloat64, unit: "s", doc: "onset_ns in seconds"},
		column{name: "source", kind: kindString, doc: "plan, hand or timed"},
		column{name: "author", kind: kindString, doc: "who or what claims it"},
		column{name: "at_ns", kind: kindInt64, optional: true, unit: "ns", doc: "when it was claimed, since 1970 UTC"},
		column{name: "face", kind: kindInt32, optional: true, doc: "from 1, clockwise seen from above"},
		column{name: "bearing_deg", kind: kindFloat64, optional: true, unit: "deg", doc: "clockwise seen from above, 0 at the middle of face 1"},
		column{name: "height_m", kind: kindFloat64, optional: true, unit: "m", doc: "above the bag's bottom edge"},
		column{name: "band", kind: kindString, optional: true, doc: "named range of heights"},
		column{name: "kind", kind: kindString, optional: true, doc: "straight, hook, uppercut or tap"},
		column{name: "confidence", kind: kindFloat64, doc: "from 0 to 1"},
		column{name: "bearing_sd_deg", kind: kindFloat64, optional: true, unit: "deg", doc: "standard deviation of the claimed bearing"},
		column{name: "height_sd_m", kind: kindFloat64, optional: true, unit: "m", doc: "standard deviation of the claimed height"},
		column{name: "not_strike", kind: kindBool, doc: "claims that there was no strike"},
		column{name: "note", kind: kindString, optional: true, doc: "free text"},
		column{name: "plan_order", kind: kindInt32, optional: true, doc: "entry of the plan, from 1"},
		column{name: "preferred", kind: kindBool, doc: "the claim that counts for its strike"},
		column{name: "strike", kind: kindInt64, optional: true, doc: "number in the windows table of the strike it was matched with"},
	)}
}

// journalKey is the metadata key of the checksum of the journal that a labels
// view was made from, "" where there was none.
const journalKey = "journal_sha256"

// PutLabels keeps the compacted view of a session's label journal as it is
// now. Hold the session's lock from reading the journal until this returns.
// Rows are stored in order of onset, then id.
func (c *Corpus) PutLabels(ctx context.Context, session string, rows []LabelRow) error {
	rows = slices.Clone(rows)
	slices.SortFunc(rows, compareLabels)
	return c.putDerived(ctx, session, labelsTable(), func(s *dataset.Session) ([]byte, error) {
		for i := range rows {
			if err := rows[i].check(s); err != nil {
				return nil, fmt.Errorf("row %d: %w", i, err)
			}
		}
		windowsSHA, err := c.digestAt("windows", place{s.Rig, s.Name})
		if err != nil {
			return nil, err
		}
		journalSHA, err := fileDigest(c.JournalPath(session))
		if err != nil {
			return nil, err
		}
		return encodeLabels(ctx, s, rows, keyValue{fromKey, windowsSHA}, keyValue{journalKey, journalSHA})
	})
}

func compareLabels(a, b LabelRow) int {
	if a.OnsetNs != b.OnsetNs {
		if a.OnsetNs < b.OnsetNs {
			return -1
		}
		return 1
	}
	if a.ID < b.ID {
		return -1
	} else if a.ID > b.ID {
		return 1
	}
	return 0
}

func (r *LabelRow) check(s *dataset.Session) error {
	if r.Session != "" && r.Session != s.Name || r.Rig != "" && r.Rig != s.Rig {
		return fmt.Errorf("is of session %s on rig %s", r.Session, r.Rig)
	}
	if r.ID == "" || r.Source == "" {
		return errors.New("has no id or no source")
	}
	for _, v := range []*float64{r.BearingDeg, r.HeightM, &r.Confidence} {
		if v != nil && (math.IsNaN(*v) || math.IsInf(*v, 0)) {
			return fmt.Errorf("claim %s holds %v", r.ID, *v)
		}
	}
	if r.Face < 0 || r.PlanOrder < 0 || r.Strike < 0 || r.Confidence < 0 || r.Confidence > 1 || math.IsInf(r.BearingSDDeg, 0) || math.IsInf(r.HeightSDM, 0) {
		return fmt.Errorf("claim %s: a number is out of range", r.ID)
	}
	return nil
}

func encodeLabels(ctx context.Context, s *dataset.Session, rows []LabelRow, meta ...keyValue) ([]byte, error) {
	n := len(rows)
	text := func(at func(*LabelRow) string) []string {
		out := make([]string, n)
		for i := range rows {
			out[i] = at(&rows[i])
		}
		return out
	}
	number := func(at func(*LabelRow) float64) []float64 {
		out := make([]float64, n)
		for i := range rows {
			out[i] = at(&rows[i])
		}
		return out
	}
	whole := func(at func(*LabelRow) int64) []int64 {
		out := make([]int64, n)
		for i := range rows {
			out[i] = at(&rows[i])
		}
		return out
	}
	small := func(at func(*LabelRow) int) []int32 {
		out := make([]int32, n)
		for i := range rows {
			out[i] = int32(at(&rows[i]))
		}
		return out
	}
	truth := func(at func(*LabelRow) bool) []bool {
		out := make([]bool, n)
		for i := range rows {
			out[i] = at(&rows[i])
		}
		return out
	}
	return labelsTable().encode(ctx, s, []any{
		text(func(r *LabelRow) string { return r.ID }),
		whole(func(r *LabelRow) int64 { return r.OnsetNs }),
		number(func(r *LabelRow) float64 { return float64(r.OnsetNs) / 1e9 }),
		text(func(r *LabelRow) string { return r.Source }),
		text(func(r *LabelRow) string { return r.Author }),
		whole(func(r *LabelRow) int64 { return r.AtNs }),
		small(func(r *LabelRow) int { return r.Face }),
		number(func(r *LabelRow) float64 { return orNaN(r.BearingDeg) }),
		number(func(r *LabelRow) float64 { return orNaN(r.HeightM) }),
		text(func(r *LabelRow) string { return r.Band }),
		text(func(r *LabelRow) string { return r.Kind }),
		number(func(r *LabelRow) float64 { return r.Confidence }),
		number(func(r *LabelRow) float64 { return positiveOrNaN(r.BearingSDDeg) }),
		number(func(r *LabelRow) float64 { return positiveOrNaN(r.HeightSDM) }),
		truth(func(r *LabelRow) bool { return r.NotStrike }),
		text(func(r *LabelRow) string { return r.Note }),
		small(func(r *LabelRow) int { return r.PlanOrder }),
		truth(func(r *LabelRow) bool { return r.Preferred }),
		whole(func(r *LabelRow) int64 { return int64(r.Strike) }),
	}, meta...)
}

func orNaN(v *float64) float64 {
	if v == nil {
		return math.NaN()
	}
	return *v
}

func positiveOrNaN(v float64) float64 {
	if v > 0 {
		return v
	}
	return math.NaN()
}

// Labels returns what PutLabels kept. The error about a session without a view
// holds ErrNoLabels.
func (c *Corpus) Labels(session string) ([]LabelRow, error) {
	var rows []LabelRow
	err := c.readDerived(session, "labels", ErrNoLabels, "label plan "+shell.Line("-C", c.dir, "--session", session, "PLAN.csv"), func(file []byte) (d *decoded, err error) {
		rows, d, err = decodeLabels(context.Background(), file)
		return d, err
	})
	if err != nil {
		return nil, err
	}
	return rows, nil
}

func decodeLabels(ctx context.Context, file []byte) ([]LabelRow, *decoded, error) {
	t := labelsTable()
	d, err := t.decode(ctx, file)
	if err != nil {
		return nil, nil, err
	}
	text := func(name string, i int) string { return d.columns[t.index(name)].([]string)[i] }
	number := func(name string, i int) float64 { return d.columns[t.index(name)].([]float64)[i] }
	whole := func(name string, i int) int64 { return d.columns[t.index(name)].([]int64)[i] }
	small := func(name string, i int) int { return int(d.columns[t.index(name)].([]int32)[i]) }
	truth := func(name string, i int) bool { return d.columns[t.index(name)].([]bool)[i] }
	known := func(v float64) *float64 {
		if math.IsNaN(v) {
			return nil
		}
		return &v
	}
	orZero := func(v float64) float64 {
		if math.IsNaN(v) {
			return 0
		}
		return v
	}
	rows := make([]LabelRow, d.rows)
	for i := range rows {
		rows[i] = LabelRow{
			Rig: text("rig", i), Session: text("session", i), ID: text("id", i), OnsetNs: whole("onset_ns", i),
			Source: text("source", i), Author: text("author", i), AtNs: whole("at_ns", i), Face: small("face", i),
			BearingDeg: known(number("bearing_deg", i)), HeightM: known(number("height_m", i)),
			Band: text("band", i), Kind: text("kind", i), Confidence: number("confidence", i),
			BearingSDDeg: orZero(number("bearing_sd_deg", i)), HeightSDM: orZero(number("height_sd_m", i)),
			NotStrike: truth("not_strike", i), Note: text("note", i), PlanOrder: small("plan_order", i),
			Preferred: truth("preferred", i), Strike: int(whole("strike", i)),
		}
	}
	return rows, d, nil
}

// fileDigest returns the SHA-256 of a file, "" where there is none.
func fileDigest(path string) (string, error) {
	if info, err := os.Lstat(path); err == nil && !info.Mode().IsRegular() {
		return "", fmt.Errorf("corpus: %s: is a link or a device: put the file itself there", path)
	}
	data, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("corpus: %w", err)
	}
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:]), nil
}
