package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"strikerose/dataset/corpus"
	"strikerose/models"
)

// Formats of apply's table.
const (
	csvFormat     = "csv"
	linesFormat   = "jsonl"
	parquetFormat = "parquet"
)

// tableFormat is the format that was asked for, or the one that a file's name
// tells, CSV where it tells none.
func tableFormat(asked, path string) (string, error) {
	switch asked {
	case csvFormat, linesFormat, parquetFormat:
		return asked, nil
	case "":
	default:
		return "", fmt.Errorf("apply: --format %s: give %s, %s or %s", asked, csvFormat, linesFormat, parquetFormat)
	}
	switch strings.ToLower(filepath.Ext(path)) {
	case ".jsonl", ".ndjson":
		return linesFormat, nil
	case ".parquet":
		return parquetFormat, nil
	}
	return csvFormat, nil
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
