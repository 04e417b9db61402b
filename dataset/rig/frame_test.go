package rig_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"strikerose/dataset/datasettest"
	"strikerose/dataset/rig"
)

func TestFrameLayout(t *testing.T) {
	f := rig.Frame{Magic: "A5 5a", Fields: []string{"u32le t", "u8 status", "i16be ax", "f32le ay", "i24le az"}, Checksum: "crc16-ccitt-false"}
	got, err := f.Parse()
	if err != nil {
		t.Fatal(err)
	}
	want := rig.FrameLayout{
		Magic: []byte{0xa5, 0x5a}, Checksum: "crc16-ccitt-false", Size: 18,
		Fields: []rig.FrameField{
			{Name: "t", Offset: 2, Bits: 32},
			{Name: "status", Offset: 6, Bits: 8},
			{Name: "ax", Offset: 7, Bits: 16, Signed: true, Big: true},
			{Name: "ay", Offset: 9, Bits: 32, Float: true},
			{Name: "az", Offset: 13, Bits: 24, Signed: true},
		},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("Parse (-want +got):\n%s", diff)
	}
}

func TestFrameFieldsRefused(t *testing.T) {
	for _, field := range []string{"", "t", "u32le", "u32 ax", "u12le ax", "f16le ax", "f8 ax", "x32le ax", "u32le a x", "i16LE ax", "u-8 ax"} {
		f := rig.Frame{Magic: "00", Fields: []string{"u32le t", "i8 ax", "i8 ay", "i8 az", field}, Checksum: "none"}
		if l, err := f.Parse(); err == nil {
			t.Errorf("field %q is accepted as %+v", field, l.Fields[4])
		}
	}
}

// A frame that no board writes is refused wherever its description came from: a
// decoder would look for it among more bytes than it reads ahead.
func TestFrameTooLong(t *testing.T) {
	for size, want := range map[int]string{4096: "", 4097: "the frame is 4097 bytes long, more than 4096", 1 << 20: "the frame is 1048576 bytes long, more than 4096"} {
		f := rig.Frame{Magic: strings.Repeat("a5", size-7), Fields: []string{"u32le t", "i8 ax", "i8 ay", "i8 az"}, Checksum: "none"}
		_, err := f.Parse()
		if got := fmt.Sprint(err); want == "" && err != nil || !strings.Contains(got, want) {
			t.Errorf("%d bytes: %v, want %q", size, err, want)
		}
		r := datasettest.Rig(t)
		r.Log.Frame = &f
		if err := r.Validate(); want == "" && err != nil || !strings.Contains(fmt.Sprint(err), want) {
			t.Errorf("a rig with a frame of %d bytes: %v, want %q", size, err, want)
		}
	}
}
