package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"strikerose/dataset"
	"strikerose/dataset/bearing"
	"strikerose/dataset/rig"
)

// importContest is the import of a long log of one dialect into a corpus of its own,
// against the same log read by the peer that can.
func (a *app) importContest(ctx context.Context, w *workspace, p *peers, dialect string, samples int64) (*contest, recording, error) {
	r, err := a.recordingOf(ctx, w, dialect)
	if err != nil {
		return nil, r, err
	}
	long := r
	long.Log = w.path(dialect + ".log")
	if err := r.tileTo(ctx, w, long.Log, samples); err != nil {
		return nil, r, err
	}
	size, err := sizeOf(long.Log)
	if err != nil {
		return nil, r, err
	}
	rg, err := rig.Load(r.Rig)
	if err != nil {
		return nil, r, err
	}
	var oursKept, peerKept int64
	corpusDir, out := w.path("corpus-"+dialect), w.path("peer-"+dialect)
	target := 1.0
	if strings.HasSuffix(dialect, "csv") {
		target = 2
	}
	c := &contest{
		name: "import " + dialect, samples: samples, bytes: size, target: target,
		ready: func() error { return errors.Join(os.RemoveAll(corpusDir), os.RemoveAll(out)) },
		ours: func(ctx context.Context) (usage, error) {
			u, said, err := measure(command(ctx, w.program, "import", "--json", "-C", corpusDir, "--rig", long.Rig, "--session", "long", long.Log))
			if err == nil {
				oursKept, err = samplesImported(said)
			}
			return u, err
		},
		agree: func() (string, error) {
			if off := float64(oursKept-peerKept) / float64(samples); off > 0.02 || off < -0.02 {
				return "", fmt.Errorf("%d samples kept by ours, %d by the peer, of %d", oursKept, peerKept, samples)
			}
			return fmt.Sprintf("Samples kept: ours %d, peer %d.", oursKept, peerKept), nil
		},
	}
	const common = "Ours checks units, repairs the clock, counts damage, keeps the log as it came (zstd, SHA-256) and syncs; the peer does none of it and "
	switch dialect {
	case "console", "frames":
		c.peer, c.about = "NumPy", common+"leaves damaged records out, turns units to SI and saves bare arrays with numpy.save, uncompressed."
		script, args := "console.py", []string{long.Log, out}
		if dialect == "frames" {
			if err := usualFrames(rg); err != nil {
				return nil, r, err
			}
			script = "frames.py"
			args = append(args, plainNumber(rg.Sensor.AccelLSBPerG), plainNumber(rg.Sensor.GyroLSBPerDPS))
		}
		c.theirs = func(ctx context.Context) (usage, error) {
			u, said, err := p.python(ctx, script, args...)
			if err == nil {
				peerKept, err = strconv.ParseInt(strings.TrimSpace(string(said)), 10, 64)
			}
			return u, err
		}
	default:
		c.peer, c.about = "DuckDB", common+"leaves out lines that it cannot read, turns units to SI and writes the same columns to Parquet with zstd."
		if err := os.MkdirAll(w.path("parquet"), 0o755); err != nil {
			return nil, r, err
		}
		sql := copySQL(dialect, long.Log, filepath.Join(w.path("parquet"), dialect+".parquet"), rg)
		c.theirs = func(ctx context.Context) (usage, error) {
			u, said, err := p.duckDB(ctx, sql)
			if err == nil {
				peerKept, err = rowsCopied(said)
			}
			return u, err
		}
	}
	return c, r, nil
}

// samplesImported reads what import --json said of one log.
func samplesImported(said []byte) (int64, error) {
	var logs []struct {
		Session dataset.Session `json:"session"`
	}
	if err := json.Unmarshal(said, &logs); err != nil || len(logs) != 1 {
		return 0, fmt.Errorf("import says %.200q: %w", said, err)
	}
	return logs[0].Session.Samples, nil
}

// rowsCopied reads what DuckDB answered to COPY.
func rowsCopied(said []byte) (int64, error) {
	var rows []struct{ Count json.Number }
	if err := json.Unmarshal(said, &rows); err == nil && len(rows) == 1 {
		return rows[0].Count.Int64()
	}
	var texts []struct{ Count string }
	if err := json.Unmarshal(said, &texts); err != nil || len(texts) != 1 {
		return 0, fmt.Errorf("DuckDB says %.200q: %w", said, err)
	}
	return strconv.ParseInt(texts[0].Count, 10, 64)
}

// copySQL has DuckDB read a log and write the columns of the samples table.
func copySQL(dialect, log, out string, r *rig.Rig) string {
	accel, gyro := dataset.StandardGravity, bearing.Rad(1)
	if dialect != "units-csv" {
		accel /= r.Sensor.AccelLSBPerG
		gyro /= r.Sensor.GyroLSBPerDPS
	}
	readings := []string{"ax", "ay", "az", "gx", "gy", "gz"}
	toNs := "1000"
	from := ""
	switch dialect {
	case "counts-csv":
		from = fmt.Sprintf("read_csv(%s, header=true, auto_detect=false, delim=',', ignore_errors=true, columns={'t':'BIGINT','ax':'INTEGER','ay':'INTEGER','az':'INTEGER','gx':'INTEGER','gy':'INTEGER','gz':'INTEGER'})", quoted(log))
	case "units-csv":
		toNs = "1e6"
		from = fmt.Sprintf("read_csv(%s, header=true, auto_detect=false, delim=',', ignore_errors=true, columns={'t':'DOUBLE','ax':'FLOAT','ay':'FLOAT','az':'FLOAT','gx':'FLOAT','gy':'FLOAT','gz':'FLOAT'})", quoted(log))
	case "jsonl":
		from = fmt.Sprintf("(SELECT * FROM read_json(%s, format='newline_delimited', ignore_errors=true, columns={'t':'BIGINT','a':'INTEGER[]','g':'INTEGER[]'}) WHERE a IS NOT NULL)", quoted(log))
		readings = []string{"a[1]", "a[2]", "a[3]", "g[1]", "g[2]", "g[3]"}
	}
	columns := []string{
		quoted(r.Key()) + " AS rig", "'long' AS session",
		"(t*" + toNs + ")::BIGINT AS t_ns", "t::BIGINT AS t_raw", "0::INTEGER AS segment",
	}
	for k, name := range []string{"ax_mps2", "ay_mps2", "az_mps2", "gx_radps", "gy_radps", "gz_radps"} {
		scale := accel
		if k > 2 {
			scale = gyro
		}
		columns = append(columns, fmt.Sprintf("(%s*%g::FLOAT)::FLOAT AS %s", readings[k], scale, name))
	}
	return fmt.Sprintf("COPY (SELECT %s FROM %s) TO %s (FORMAT parquet, COMPRESSION zstd)", strings.Join(columns, ", "), from, quoted(out))
}

// quoted is a text for SQL.
func quoted(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

func plainNumber(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// usualFrames refuses frames that peers/frames.py does not know.
func usualFrames(r *rig.Rig) error {
	f := r.Log.Frame
	if f == nil || f.Magic != "a55a" || f.Checksum != "xor8" || strings.Join(f.Fields, ",") != "u32le t,i16le ax,i16le ay,i16le az,i16le gx,i16le gy,i16le gz" {
		return fmt.Errorf("rig %s: the peer's script knows frames of a55a, u32le t, i16le ax to gz and xor8 only", r.Key())
	}
	return nil
}
