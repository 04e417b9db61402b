package corpus

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"strikerose/dataset"
)

// derived verifies windows, features and labels of a session, and what they
// were made from.
func (k *checker) derived(ctx context.Context, p place, s *dataset.Session, samplesSHA string) error {
	on := []string{"--sessions", s.Name}
	windows := &derivedCheck{table: "windows", fix: k.command("find", on...), want: k.options.Finder}
	features := &derivedCheck{table: "features", fix: k.command("features", on...), want: k.options.Features}
	labels := &derivedCheck{table: "labels", fix: k.command("find", on...)}

	var strikes []dataset.Strike
	err := k.table(p, windows, func(file []byte) (d *decoded, err error) {
		strikes, d, err = decodeStrikes(ctx, file)
		return d, err
	}, func() error { return strikesInside(strikes, s) })
	if err != nil {
		return err
	}
	var t FeatureTable
	err = k.table(p, features, func(file []byte) (d *decoded, err error) {
		t, d, err = decodeFeatures(ctx, file)
		return d, err
	}, func() error {
		if features.from(windows) {
			return featuresMatch(&t, strikes)
		}
		return nil
	})
	if err != nil {
		return err
	}
	var rows []LabelRow
	err = k.table(p, labels, func(file []byte) (d *decoded, err error) {
		rows, d, err = decodeLabels(ctx, file)
		return d, err
	}, func() error {
		for i := range rows {
			if err := rows[i].check(s); err != nil {
				return err
			}
			if labels.from(windows) && rows[i].Strike > len(strikes) {
				return fmt.Errorf("claim %s is matched with strike %d of %d", rows[i].ID, rows[i].Strike, len(strikes))
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	k.links(p, windows, features, labels, samplesSHA)
	return k.journal(p, labels)
}

// derivedCheck is what is known of one derived table while it is checked.
type derivedCheck struct {
	table   string
	fix     string
	want    Made
	present bool
	d       *decoded // nil if absent or damaged
}

// from tells whether a table was made from another as that is now.
func (t *derivedCheck) from(source *derivedCheck) bool {
	return t.d != nil && source.d != nil && t.d.meta[fromKey] == source.d.seal
}

// table reads one derived table and verifies it by itself.
func (k *checker) table(p place, t *derivedCheck, read func([]byte) (*decoded, error), verify func() error) error {
	rel := part(t.table, p.rig, p.session)
	file, err := k.corpus.read(rel, mostPart)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("corpus: %w", err)
	}
	t.present = true
	d, err := read(file)
	if err == nil {
		err = d.ownedBy(p)
	}
	if err == nil {
		t.d = d
		err = verify()
	}
	if err != nil {
		t.d = nil
		k.unreadable(rel, err, t.fix)
		return nil
	}
	if made := madeOf(d); t.want != (Made{}) && made != t.want {
		k.add(Warning, Stale, rel, fmt.Sprintf("was made by %s with %q; it would be %s with %q now", made.Tool, made.Params, t.want.Tool, t.want.Params), t.fix)
	}
	return nil
}

// links verifies that each table was made from the others as they are now.
func (k *checker) links(p place, windows, features, labels *derivedCheck, samplesSHA string) {
	if windows.d != nil && windows.d.meta[fromKey] != samplesSHA {
		k.add(Warning, Stale, part("windows", p.rig, p.session), "was made from other samples than the session has now", windows.fix)
	}
	var without []string
	for _, t := range []*derivedCheck{features, labels} {
		switch {
		case t.d == nil:
		case !windows.present && t.d.meta[fromKey] != "":
			without = append(without, t.table)
		case windows.d != nil && !t.from(windows):
			k.add(Warning, Stale, part(t.table, p.rig, p.session), "was made from other windows than the session has now", t.fix)
		}
	}
	if len(without) > 0 {
		k.add(Error, Missing, part("windows", p.rig, p.session), "is missing, though "+strings.Join(without, " and ")+" were made from it", windows.fix)
	}
}

// journal verifies that the labels view shows the label journal as it is now.
func (k *checker) journal(p place, labels *derivedCheck) error {
	if !labels.present && slices.Contains(k.journals, p.session) {
		k.add(Warning, Missing, part("labels", p.rig, p.session), "is missing, though the session has a label journal", labels.fix)
	}
	if labels.d == nil {
		return nil
	}
	digest, err := fileDigest(k.corpus.JournalPath(p.session))
	if err != nil {
		return err
	}
	stated := labels.d.meta[journalKey]
	switch {
	case stated != "" && !slices.Contains(k.journals, p.session):
		k.add(Error, Missing, journalPath(p.session), "is missing: the labels view was made from it and holds the only copy of what stood then", "restore the file from a backup, or label the session again")
	case stated != digest:
		k.add(Warning, Stale, part("labels", p.rig, p.session), "does not show the label journal as it is now", labels.fix)
	}
	return nil
}

// strikesInside verifies strikes against the session they were found in.
func strikesInside(strikes []dataset.Strike, s *dataset.Session) error {
	endNs := s.DurationS*1e9 + 1e9/max(s.NominalRateHz, 1)
	for _, k := range strikes {
		if k.OnsetNs < 0 || float64(k.OnsetNs) > endNs || k.Segment < 0 || int(k.Segment) >= s.Segments {
			return fmt.Errorf("strike %d lies at %.3f s in segment %d, outside the session", k.Number, float64(k.OnsetNs)/1e9, k.Segment)
		}
	}
	return nil
}

// featuresMatch verifies that features are those of the strikes.
func featuresMatch(t *FeatureTable, strikes []dataset.Strike) error {
	if len(t.Rows) != len(strikes) {
		return fmt.Errorf("has %d rows for %d strikes", len(t.Rows), len(strikes))
	}
	for i, k := range strikes {
		if t.OnsetNs[i] != k.OnsetNs || t.Number[i] != k.Number {
			return fmt.Errorf("row %d is of another strike", i)
		}
	}
	return nil
}
