package main

import (
	"cmp"
	"context"
	"encoding/json"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/dataset/corpus"
	"strikerose/models"
)

// Formats of apply's table.
const (
	csvFormat     = "csv"
	linesFormat   = "jsonl"
	parquetFormat = "parquet"
)

// tableEndings are those of apply's table.
var tableEndings = endings{{".csv", csvFormat}, {".jsonl", linesFormat}, {".ndjson", linesFormat}, {".parquet", parquetFormat}}

// tableFormat is the format of what apply writes: the one that was asked for, or
// the one that the file's name tells, CSV where it tells none. Events are lines of
// text and --json is one list, whatever the name, unless it is that of another
// format.
func (f *applyFlags) tableFormat(cmd *cobra.Command, json bool) (string, error) {
	if f.format != "" {
		if err := oneOf(cmd, "format", f.format, []string{csvFormat, linesFormat, parquetFormat}); err != nil {
			return "", err
		}
	} else if !json && !f.events {
		if err := tableEndings.check(cmd, f.out, false, ", or name the format by --format"); err != nil {
			return "", err
		}
	}
	format := cmp.Or(f.format, tableEndings.of(f.out), csvFormat)
	switch {
	case json && f.events:
		return "", usagef(cmd, "--events writes lines of text, not JSON: leave out --json")
	case json && (f.format != "" || format != csvFormat):
		return "", usagef(cmd, "--json writes the table as one list of JSON, not %s: leave out one of them", format)
	case f.events && format != csvFormat:
		return "", usagef(cmd, "--events writes lines of text, not %s: leave out one of them", format)
	}
	return format, nil
}

// writeTable writes apply's table in a format; --json is one list.
func (a *app) writeTable(ctx context.Context, w io.Writer, format string, rows []models.ApplyRow) error {
	switch {
	case a.json:
		return printJSON(w, applied(rows))
	case format == linesFormat:
		lines := json.NewEncoder(w)
		for _, row := range applied(rows) {
			if err := lines.Encode(row); err != nil {
				return err
			}
		}
		return nil
	case format == parquetFormat:
		answers := make([]corpus.Answer, len(rows))
		for i, r := range rows {
			answers[i] = corpus.Answer{Session: r.Session, OnsetNs: r.OnsetNs, ReadyNs: r.ReadyNs, BearingDeg: r.BearingDeg, Face: r.Face,
				HeightM: r.HeightM, BearingSDDeg: r.BearingSDDeg, HeightSDM: r.HeightSDM, BearingHalf90Deg: r.BearingHalf90Deg,
				HeightHalf90M: r.HeightHalf90M, PeakMPS2: r.PeakMPS2, Flags: strings.Join(r.Flags, "|"), FlipShare: r.FlipShare}
		}
		return corpus.WriteAnswers(ctx, w, answers)
	}
	return writeApplied(w, rows)
}
