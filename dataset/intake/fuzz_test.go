package intake

import (
	"bytes"
	"context"
	"testing"
)

// decodeAlone runs recognition and decoding without what follows them.
func decodeAlone(log []byte, o Options, t testing.TB) (*recorder, decoder) {
	s, err := openSource(context.Background(), bytes.NewReader(log), nil)
	if err != nil {
		return nil, nil
	}
	rec := &recorder{rec: &Records{}}
	_, dec, err := prepare(s, rec, testRig(t, 1000), o)
	if err != nil {
		return nil, nil
	}
	if err := dec.decode(context.Background(), s, rec); err != nil {
		t.Fatal(err)
	}
	return rec, dec
}

// fuzzDialect holds that any bytes are decoded without panic and that the
// account comes out even; and that Read survives them.
func fuzzDialect(f *testing.F, dialect string, seeds ...string) {
	sig := testSignal(40, 1000, 4294960000, 9)
	f.Add(encode(dialect, sig))
	f.Add(encode(dialect, withoutGyro(sig)))
	for _, s := range seeds {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, log []byte) {
		Read(context.Background(), bytes.NewReader(log), "x", testRig(t, 1000), Options{Dialect: dialect, MaxDamagedShare: 1}, nil)
		if bytes.HasPrefix(log, []byte{0x1f, 0x8b}) || bytes.HasPrefix(log, []byte{0x28, 0xb5, 0x2f, 0xfd}) {
			return // the account is of the plain bytes
		}
		rec, dec := decodeAlone(log, Options{Dialect: dialect}, t)
		if rec == nil {
			return
		}
		log = bytes.TrimPrefix(log, []byte("\ufeff"))
		a := &rec.Account
		if _, ok := dec.(*frameDecoder); ok {
			if a.Frames+a.Junk != int64(len(log)) {
				t.Fatalf("%d bytes of frames and %d of junk in %d", a.Frames, a.Junk, len(log))
			}
			return
		}
		lines := int64(bytes.Count(log, []byte{'\n'}))
		if len(log) > 0 && log[len(log)-1] != '\n' {
			lines++
		}
		if a.Lines != lines || int64(rec.rec.Len())+a.Damaged+a.Other != lines {
			t.Fatalf("%d lines read, %d records, %d damaged, %d other of %d lines", a.Lines, rec.rec.Len(), a.Damaged, a.Other, lines)
		}
	})
}

func FuzzCountsCSV(f *testing.F) {
	fuzzDialect(f, "counts-csv", "t;ax;ay;az\n1;2;3;4\n1;2\n", "\ufefft_us ax ay az\n1 2 3 4\n\"5\" 6 7 8\n", "1,2,3,4\nt,ax,ay,az\n# x\n")
}

func FuzzUnitsCSV(f *testing.F) {
	fuzzDialect(f, "units-csv", "t_s;ax_g;ay_g;az_g\n1,5;0,1;-0,2;1e0\n", "time_ms\tax_mg\tay_mg\taz_mg\tgx_dps\n1\t2\t3\t4\t5\n")
}

func FuzzConsole(f *testing.F) {
	fuzzDialect(f, "console", "t=1 ax=2 ay=3 az=4\nboot\nt:2 ax:\n", "time_ms:5 ax_g:1 ay_g:2 az_g:3 n:7\n")
}

func FuzzJSONL(f *testing.F) {
	fuzzDialect(f, "jsonl", `{"t":1.5e3,"a":[1,2,3],"g":[]}`, `{"t":1,"ax":-0,"ay":01,"az":3}`, "{\"t\":1,\"a\":[1,2,3],\"x\":{\"y\":[{}]}}\n{}\n[]\n")
}

func FuzzFrames(f *testing.F) { fuzzDialect(f, "frames", "\xa5\x5a\xa5\x5a\xa5") }
