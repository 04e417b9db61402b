//go:build ignore

// Cut makes the recordings in this folder from the full ones:
//
//	go run testdata/recordings/cut.go SOURCE testdata/recordings
//
// SOURCE holds the logs, plans and truth of the rig near whose top the sensor
// sits. Bytes of a log are copied as they are; nothing is decoded but the
// stamps, which say where to cut.
package main

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"encoding/csv"
	"fmt"
	"io"
	"log"
	"os"
	"path/filepath"
	"strconv"

	"github.com/klauspost/compress/zstd"
)

// cuts says which stretch of which session becomes which recording. Bounds
// are seconds on the truth's clock and lie in quiet moments.
var cuts = []struct {
	log, session string
	fromS, toS   float64
	out          string
	stamp        func(log []byte, from int) (pos int, us uint32, next int)
}{
	{"session02.csv.gz", "session02", 98.5, 179.2, "monday.csv.zst", lineStamp},
	{"session04.bin", "session04", 0.5, 116.7, "friday.bin.zst", frameStamp},
}

func main() {
	if len(os.Args) != 3 {
		log.Fatal("usage: go run cut.go SOURCE TARGET")
	}
	source, target := os.Args[1], os.Args[2]
	for _, c := range cuts {
		truth := table(filepath.Join(source, "truth", c.session+"_truth.csv"))
		all := content(filepath.Join(source, "logs", c.log))
		from := find(all, 0, c.stamp, stampAt(truth, c.fromS))
		to := find(all, from, c.stamp, stampAt(truth, c.toS))
		part := all[from:to]
		if c.out == "monday.csv.zst" {
			part = append(append([]byte{}, all[:bytes.IndexByte(all, '\n')+1]...), part...) // the header
		}
		enc, err := zstd.NewWriter(nil, zstd.WithEncoderLevel(zstd.SpeedBestCompression), zstd.WithEncoderConcurrency(1))
		check(err)
		check(os.WriteFile(filepath.Join(target, c.out), enc.EncodeAll(part, nil), 0o644))

		name := c.out[:len("monday")]
		first, last := writeTruth(filepath.Join(target, name+"-truth.csv"), truth, c.fromS, c.toS)
		writePlan(filepath.Join(target, name+"-plan.csv"),
			table(filepath.Join(source, "plans", c.session+"_plan.csv")), first, last)
	}
}

// writeTruth writes the strikes of a stretch, against the bag's own marks, on
// a clock that starts with it, and returns the first and last plan entry that
// they carry out. Strikes that fell into a power gap are not in the log and
// are left out.
func writeTruth(path string, truth []map[string]string, fromS, toS float64) (first, last int) {
	rows := [][]string{{"time_s", "bearing_deg", "height_m", "face", "band", "kind"}}
	for _, r := range truth {
		t := number(r["t_s"])
		if t < fromS || t > toS {
			continue
		}
		if order, err := strconv.Atoi(r["plan_order"]); err == nil {
			if first == 0 {
				first = order
			}
			last = order
		}
		if r["in_gap"] != "0" {
			continue
		}
		kind := r["kind"]
		if kind == "upward" {
			kind = "uppercut"
		}
		rows = append(rows, []string{strconv.FormatFloat(t-fromS, 'f', 4, 64),
			r["bearing_on_bag_deg"], r["height_m"], r["face_on_bag"], r["band"], kind})
	}
	writeCSV(path, rows)
	return first, last
}

// writePlan writes the plan's entries from first to last, numbered from 1.
func writePlan(path string, plan []map[string]string, first, last int) {
	rows := [][]string{{"order", "face", "band", "kind", "pair"}}
	for _, r := range plan {
		if order := int(number(r["order"])); order >= first && order <= last {
			kind := r["kind"]
			if kind == "upward" {
				kind = "uppercut"
			}
			rows = append(rows, []string{strconv.Itoa(len(rows)), r["face"], r["band"], kind, r["pair"]})
		}
	}
	writeCSV(path, rows)
}

// stampAt returns the board's counter at a moment of the truth's clock, from
// the nearest strike that has both.
func stampAt(truth []map[string]string, tS float64) uint32 {
	best, stamp := 1e9, 0.0
	for _, r := range truth {
		if r["t_log"] == "" {
			continue
		}
		if d := number(r["t_s"]) - tS; d*d < best*best {
			best, stamp = d, number(r["t_log"])-d*1e6
		}
	}
	return uint32(int64(stamp))
}

// find returns the position of the first record at or up to 10 ms after a
// stamp.
func find(all []byte, from int, next func([]byte, int) (int, uint32, int), stamp uint32) int {
	for from < len(all) {
		pos, us, after := next(all, from)
		if pos >= 0 && us-stamp < 10_000 {
			return pos
		}
		from = after
	}
	log.Fatalf("no record at stamp %d", stamp)
	return 0
}

// lineStamp reads the first column of the line that starts at from.
func lineStamp(all []byte, from int) (int, uint32, int) {
	end := bytes.IndexByte(all[from:], '\n')
	if end < 0 {
		return -1, 0, len(all)
	}
	field, _, _ := bytes.Cut(all[from:from+end], []byte(","))
	us, err := strconv.ParseUint(string(field), 10, 32)
	if err != nil {
		return -1, 0, from + end + 1
	}
	return from, uint32(us), from + end + 1
}

// frameStamp reads the stamp of the next frame with a good checksum.
func frameStamp(all []byte, from int) (int, uint32, int) {
	const size = 19
	for i := from; i+size <= len(all); i++ {
		if all[i] != 0xa5 || all[i+1] != 0x5a {
			continue
		}
		sum := byte(0)
		for _, b := range all[i+2 : i+size] {
			sum ^= b
		}
		if sum == 0 {
			return i, binary.LittleEndian.Uint32(all[i+2:]), i + size
		}
	}
	return -1, 0, len(all)
}

func content(path string) []byte {
	f, err := os.Open(path)
	check(err)
	defer f.Close()
	var r io.Reader = f
	if filepath.Ext(path) == ".gz" {
		r, err = gzip.NewReader(f)
		check(err)
	}
	all, err := io.ReadAll(r)
	check(err)
	return all
}

func table(path string) []map[string]string {
	f, err := os.Open(path)
	check(err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	check(err)
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = row[i]
		}
		out = append(out, m)
	}
	return out
}

func writeCSV(path string, rows [][]string) {
	f, err := os.Create(path)
	check(err)
	check(csv.NewWriter(f).WriteAll(rows))
	check(f.Close())
	fmt.Println(path, len(rows)-1, "rows")
}

func number(s string) float64 {
	v, err := strconv.ParseFloat(s, 64)
	check(err)
	return v
}

func check(err error) {
	if err != nil {
		log.Fatal(err)
	}
}
