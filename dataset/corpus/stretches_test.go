package corpus

import (
	"errors"
	"os"
	"reflect"
	"testing"

	"strikerose/dataset"
)

// Read stretch by stretch, a session is the one that Signal reads.
func TestStretches(t *testing.T) {
	for _, gyro := range []bool{true, false} {
		c := newCorpus(t)
		r := testRig(t, "garage", gyro)
		if err := c.PutRig(r); err != nil {
			t.Fatal(err)
		}
		s, sig := testSignal("s", r, rowGroupRows+5000, 3)
		if err := c.PutSession(t.Context(), s, sig, false); err != nil {
			t.Fatal(err)
		}
		st, err := c.OpenStretches("s")
		if err != nil {
			t.Fatal(err)
		}
		defer st.Close()
		if err := st.Verify(t.Context()); err != nil {
			t.Error(err)
		}
		if got := len(st.List()); got != 2 {
			t.Fatalf("%d stretches, want 2", got)
		}
		var got dataset.Signal
		for i, b := range st.List() {
			one, err := st.Read(t.Context(), i)
			if err != nil {
				t.Fatal(err)
			}
			if one.Len() != b.Samples || one.TNs[0] != b.FromNs || one.TNs[one.Len()-1] != b.ToNs {
				t.Errorf("stretch %d: %d samples from %d to %d, the list says %+v", i, one.Len(), one.TNs[0], one.TNs[one.Len()-1], b)
			}
			got.TNs, got.Segment = append(got.TNs, one.TNs...), append(got.Segment, one.Segment...)
			for k := range 3 {
				got.A[k], got.G[k] = append(got.A[k], one.A[k]...), append(got.G[k], one.G[k]...)
			}
		}
		want := *sig
		want.TRaw = nil
		if !reflect.DeepEqual(&want, &got) { // many times faster than a comparison that explains
			t.Errorf("gyro %t: stretches differ from the signal", gyro)
		}
		if _, err := st.Read(t.Context(), 2); err == nil {
			t.Error("a stretch that is not there was read")
		}
	}
}

// A byte changed anywhere is an error of opening, reading or verifying, and
// never a panic.
func TestStretchesDamaged(t *testing.T) {
	c := newCorpus(t)
	r := testRig(t, "garage", true)
	if err := c.PutRig(r); err != nil {
		t.Fatal(err)
	}
	s, sig := testSignal("s", r, 3000, 3)
	if err := c.PutSession(t.Context(), s, sig, false); err != nil {
		t.Fatal(err)
	}
	path := c.path(part("samples", s.Rig, s.Name))
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	look := func() error {
		st, err := c.OpenStretches("s")
		if err != nil {
			return err
		}
		defer st.Close()
		err = st.Verify(t.Context())
		for i := range st.List() {
			_, e := st.Read(t.Context(), i)
			err = errors.Join(err, e)
		}
		return err
	}
	for at := 0; at < len(file); at += 1 + len(file)/100 {
		bad := append([]byte(nil), file...)
		bad[at] ^= 0x55
		if err := os.WriteFile(path, bad, 0o644); err != nil {
			t.Fatal(err)
		}
		if look() == nil {
			t.Errorf("byte %d of %d changed, and nothing noticed", at, len(file))
		}
	}
	for _, n := range []int{0, 3, 11, len(file) / 2, len(file) - 1} {
		if err := os.WriteFile(path, file[:n], 0o644); err != nil {
			t.Fatal(err)
		}
		if look() == nil {
			t.Errorf("cut to %d bytes, and nothing noticed", n)
		}
	}
}

func TestPutCalls(t *testing.T) {
	c := newCorpus(t)
	rel, err := c.PutCalls("monday", []byte("order\n1\n"))
	if err != nil || rel != "calls/monday.csv" {
		t.Fatalf("PutCalls: %q, %v", rel, err)
	}
	if data, err := os.ReadFile(c.path(rel)); err != nil || string(data) != "order\n1\n" {
		t.Errorf("kept %q, %v", data, err)
	}
	if problems, err := c.Check(t.Context(), CheckOptions{}); err != nil || len(problems) > 0 {
		t.Errorf("check: %v, %v", problems, err)
	}
	if _, err := c.PutCalls("../monday", nil); err == nil {
		t.Error("a path outside was taken")
	}
}
