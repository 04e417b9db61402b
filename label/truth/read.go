package truth

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"

	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
	"strikerose/label"
	"strikerose/label/table"
)

// Entry is one strike of a timed truth.
type Entry struct {
	TimeS        float64 // on the truth's own clock
	BearingDeg   float64 // against the bag's marks, in [0, 360)
	HeightM      float64 // above the bag's bottom edge
	Face         int     // 0 where not given
	Band, Kind   string  // "" where not given
	BearingSDDeg float64 // the truth's own uncertainty; 0 where not given
	HeightSDM    float64
}

// Read reads timed truth and returns its entries by rising time: CSV with a
// header that names time_s, bearing_deg and height_m and may name face, band,
// kind, bearing_sd_deg and height_sd_m. Comma, semicolon, tab and bar
// separate. notes say what was ignored or looks odd. Numbers that cannot be
// and faces, bands and kinds that the rig does not have are refused, every
// fault with its line and column; name is used in the messages.
func Read(r io.Reader, name string, rg *rig.Rig) (entries []Entry, notes []string, err error) {
	t, err := table.Read(r, name, "time_s", "bearing_deg", "height_m")
	if err != nil {
		return nil, nil, fmt.Errorf("truth: %w", err)
	}
	if err := t.OneSession(); err != nil {
		return nil, nil, fmt.Errorf("truth: %w", err)
	}
	time, deg, height := t.Column("time_s"), t.Column("bearing_deg"), t.Column("height_m")
	face, band, kind := t.Column("face"), t.Column("band"), t.Column("kind")
	degSD, heightSD := t.Column("bearing_sd_deg"), t.Column("height_sd_m")
	var ignored []string
	for i, column := range t.Columns {
		if !slices.Contains([]int{time, deg, height, face, band, kind, degSD, heightSD}, i) {
			ignored = append(ignored, column)
		}
	}
	if len(ignored) > 0 {
		notes = append(notes, fmt.Sprintf("%s: columns ignored: %s", name, strings.Join(ignored, ", ")))
	}

	odd := 0
	for _, row := range t.Rows {
		var e Entry
		var ok bool
		e.TimeS, _ = t.Float(row, time)
		if e.BearingDeg, ok = t.Float(row, deg); ok && (e.BearingDeg < -360 || e.BearingDeg > 360) {
			t.Fault(row, deg, "bearing_deg %g is not between -360 and 360", e.BearingDeg)
		}
		e.BearingDeg = bearing.Wrap360(e.BearingDeg)
		if e.HeightM, ok = t.Float(row, height); ok && (e.HeightM < -0.1*rg.Bag.LengthM || e.HeightM > 1.1*rg.Bag.LengthM) {
			t.Fault(row, height, "height_m %g is not on the bag of rig %s, which is %g m long: heights are metres above its bottom edge",
				e.HeightM, rg.Key(), rg.Bag.LengthM)
		}
		if row.Cell(face) != "" {
			if e.Face, ok = t.Int(row, face); ok && (e.Face < 1 || e.Face > rg.Faces) {
				t.Fault(row, face, "face %d is not on rig %s: its faces are 1 to %d", e.Face, rg.Key(), rg.Faces)
			} else if ok && e.Face != rg.FaceOf(e.BearingDeg) {
				odd++
			}
		}
		if text := row.Cell(band); text != "" {
			i := slices.IndexFunc(rg.Bands, func(b rig.Band) bool { return strings.EqualFold(b.Name, text) })
			if i < 0 {
				t.Fault(row, band, "band %q is not on rig %s", text, rg.Key())
			} else {
				e.Band = rg.Bands[i].Name
			}
		}
		if text := row.Cell(kind); text != "" {
			if e.Kind, ok = label.ParseKind(text); !ok {
				t.Fault(row, kind, "kind %q is unknown: use one of %s", text, strings.Join(label.Kinds(), ", "))
			}
		}
		e.BearingSDDeg = deviation(t, row, degSD)
		e.HeightSDM = deviation(t, row, heightSD)
		entries = append(entries, e)
	}
	if err := t.Err(); err != nil {
		return nil, notes, fmt.Errorf("truth: %w", err)
	}
	if len(entries) == 0 {
		return nil, notes, fmt.Errorf("truth: %s: it has a header but no strikes", name)
	}
	if odd > 0 {
		notes = append(notes, fmt.Sprintf("%s: %d of %d strikes name a face that their bearing does not lie on: bearings must be against the bag's own marks", name, odd, len(entries)))
	}
	slices.SortStableFunc(entries, func(a, b Entry) int { return cmp.Compare(a.TimeS, b.TimeS) })
	return entries, notes, nil
}

// deviation reads an optional standard deviation.
func deviation(t *table.Table, row table.Row, column int) float64 {
	if row.Cell(column) == "" {
		return 0
	}
	x, ok := t.Float(row, column)
	if ok && x < 0 {
		t.Fault(row, column, "%s %g is below 0", t.Columns[column], x)
	}
	return x
}
