package intake

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"strikerose/dataset"
)

// Records holds what a decoder found, by column, in the log's own units.
type Records struct {
	Whole    []int64      // stamps, whole part
	Micro    []int32      // stamps, millionths; nil while none has a fraction
	Readings [6][]float32 // ax, ay, az, gx, gy, gz; rotation rates are NaN where missing
	Decimals []uint32     // four bits a column (stamp first): how many decimals were written; nil for frames
	Line     []int64      // line of each record, from 1; nil for frames
	At       []int64      // offset of its first byte
}

// row is one record on its way into Records.
type row struct {
	whole    int64
	micro    int32
	v        [6]float64
	has      uint8 // bit 0 the stamp, bits 1 to 6 the readings
	decimals uint32
}

const (
	hasAccel = 0b0001111 // stamp and three axes
	hasGyro  = 0b1110000
)

// setStamp and set fill a column, 0 to 5, and refuse a second value for it.
func (r *row) setStamp(whole int64, micro int32, decimals int) bool {
	if r.has&1 != 0 {
		return false
	}
	r.whole, r.micro = whole, micro
	r.has |= 1
	r.decimals |= uint32(min(decimals, 15))
	return true
}

func (r *row) set(column int, v float64, decimals int) bool {
	bit := uint8(2) << column
	if r.has&bit != 0 {
		return false
	}
	r.v[column] = v
	r.has |= bit
	r.decimals |= uint32(min(decimals, 15)) << (4 * (column + 1))
	return true
}

// Len is the number of records.
func (r *Records) Len() int { return len(r.Whole) }

func (r *Records) add(x *row, lineNumber, at int64) {
	if x.micro != 0 && r.Micro == nil {
		r.Micro = make([]int32, len(r.Whole), cap(r.Whole))
	}
	r.Whole = append(r.Whole, x.whole)
	if r.Micro != nil {
		r.Micro = append(r.Micro, x.micro)
	}
	for k := range 3 {
		r.Readings[k] = append(r.Readings[k], float32(x.v[k]))
	}
	for k := 3; k < 6; k++ {
		v := float32(math.NaN())
		if x.has&hasGyro == hasGyro {
			v = float32(x.v[k])
		}
		r.Readings[k] = append(r.Readings[k], v)
	}
	if lineNumber > 0 {
		r.Line = append(r.Line, lineNumber)
		r.Decimals = append(r.Decimals, x.decimals)
	}
	r.At = append(r.At, at)
}

// accelDecimals is the largest number of decimals of any acceleration. Boards
// that cut trailing zeros write some with fewer.
func (r *Records) accelDecimals() (most uint32) {
	for _, d := range r.Decimals {
		most = max(most, d>>4&15, d>>8&15, d>>12&15)
	}
	return most
}

// keep drops the records that the given function does not approve of, and
// counts them as damaged.
func (r *Records) keep(a *Account, keep func(i int) (ok bool, kind, detail string)) {
	to := 0
	for i := range r.Whole {
		ok, kind, detail := keep(i)
		if !ok {
			a.damaged(kind, r.where(i), detail)
			continue
		}
		if to != i {
			r.move(to, i)
		}
		to++
	}
	r.truncate(to)
}

// append adds all records of b.
func (r *Records) append(b *Records) {
	if b.Micro != nil && r.Micro == nil {
		r.Micro = make([]int32, len(r.Whole), cap(r.Whole))
	}
	if r.Micro != nil {
		r.Micro = append(r.Micro, b.Micro...)
		r.Micro = append(r.Micro, make([]int32, b.Len()-len(b.Micro))...)
	}
	r.Decimals = append(r.Decimals, b.Decimals...)
	r.appendScaled(b)
}

// appendScaled adds all records of b, whose stamps are on one scale: without
// their fractions and decimals.
func (r *Records) appendScaled(b *Records) {
	r.Whole = append(r.Whole, b.Whole...)
	for k := range r.Readings {
		r.Readings[k] = append(r.Readings[k], b.Readings[k]...)
	}
	r.Line = append(r.Line, b.Line...)
	r.At = append(r.At, b.At...)
}

// reset drops all records and keeps their memory.
func (r *Records) reset() { r.truncate(0) }

// behead drops the first n records, whose stamps are on one scale.
func (r *Records) behead(n int) {
	r.Whole = behead(r.Whole, n)
	for k := range r.Readings {
		r.Readings[k] = behead(r.Readings[k], n)
	}
	if r.Line != nil {
		r.Line = behead(r.Line, n)
	}
	r.At = behead(r.At, n)
}

// behead moves the elements from n on to the start.
func behead[T any](s []T, n int) []T { return s[:copy(s, s[n:])] }

func (r *Records) move(to, from int) {
	r.Whole[to] = r.Whole[from]
	if r.Micro != nil {
		r.Micro[to] = r.Micro[from]
	}
	for k := range r.Readings {
		r.Readings[k][to] = r.Readings[k][from]
	}
	if r.Line != nil {
		r.Line[to] = r.Line[from]
		r.Decimals[to] = r.Decimals[from]
	}
	r.At[to] = r.At[from]
}

func (r *Records) truncate(n int) {
	r.Whole = r.Whole[:n]
	if r.Micro != nil {
		r.Micro = r.Micro[:n]
	}
	for k := range r.Readings {
		r.Readings[k] = r.Readings[k][:n]
	}
	if r.Line != nil {
		r.Line = r.Line[:n]
		r.Decimals = r.Decimals[:n]
	}
	r.At = r.At[:n]
}

// where names the place of record i in the log.
func (r *Records) where(i int) string {
	if r.Line == nil {
		return place(0, r.At[i])
	}
	return place(r.Line[i], r.At[i])
}

func place(lineNumber, at int64) string {
	if lineNumber == 0 {
		return "byte " + strconv.FormatInt(at, 10)
	}
	return fmt.Sprintf("line %d, byte %d", lineNumber, at)
}

// firstPlaces is how many places of each kind of damage are named.
const firstPlaces = 3

// Account counts what in a log was not a good record, and what was mended.
type Account struct {
	Lines   int64 // read, of text dialects
	Damaged int64 // records refused
	Other   int64 // lines that carry no record: headers, banners, comments, blank
	Junk    int64 // bytes between frames
	Frames  int64 // bytes of frames, good and damaged
	Repairs []dataset.Repair
}

func (a *Account) damaged(kind, where, detail string) {
	a.Damaged++
	a.note("damaged: "+kind, where, detail)
}

// note counts one repair of a kind and keeps its place if it is among the
// first.
func (a *Account) note(kind, where, detail string) {
	for i := range a.Repairs {
		if a.Repairs[i].Kind == kind {
			a.Repairs[i].Count++
			if len(a.Repairs[i].First) < firstPlaces {
				a.Repairs[i].First = append(a.Repairs[i].First, where+detail)
			}
			return
		}
	}
	a.Repairs = append(a.Repairs, dataset.Repair{Kind: kind, Count: 1, First: []string{where + detail}})
}

// add takes over what another account counted after this one.
func (a *Account) add(b *Account) {
	a.Lines += b.Lines
	a.Damaged += b.Damaged
	a.Other += b.Other
	a.Junk += b.Junk
	a.Frames += b.Frames
	for _, r := range b.Repairs {
		k := slices.IndexFunc(a.Repairs, func(have dataset.Repair) bool { return have.Kind == r.Kind })
		if k < 0 {
			a.Repairs = append(a.Repairs, dataset.Repair{Kind: r.Kind, Count: r.Count, First: slices.Clone(r.First)})
			continue
		}
		a.Repairs[k].Count += r.Count
		a.Repairs[k].First = append(a.Repairs[k].First, r.First[:min(len(r.First), firstPlaces-len(a.Repairs[k].First))]...)
	}
}

// recorder takes what a decoder finds.
type recorder struct {
	Account
	rec *Records
	// full is given the records when there are batch of them, and returns others
	// to fill, empty ones. Without it all go into one.
	full  func(*Records) (*Records, error)
	batch int
}

// add takes one record. An error ends the decoding.
func (r *recorder) add(x *row, lineNumber, at int64) (err error) {
	r.rec.add(x, lineNumber, at)
	if r.full != nil && r.rec.Len() >= r.batch {
		r.rec, err = r.full(r.rec)
	}
	return err
}

// excerpt quotes the start of a line for a message.
func excerpt(b []byte) string {
	const most = 60
	if len(b) > most {
		return fmt.Sprintf(": %.*q...", most, b[:most])
	}
	return fmt.Sprintf(": %q", b)
}
