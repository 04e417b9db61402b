package firmware

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"strikerose/models"
)

// cartTable is the table of the small hand-made tree, as a value and as text.
func cartTable(t testing.TB) (Table, []byte) {
	t.Helper()
	s := handMade()["cart"]
	p, err := describe(s, bag())
	if err != nil {
		t.Fatal(err)
	}
	table := p.table(s, bag(), models.Training{Seed: 1, Sessions: []string{"monday"}, Truth: "timed", Examples: 8}, Options{}, TableVectors{})
	text, err := table.encode()
	if err != nil {
		t.Fatal(err)
	}
	return table, text
}

func TestTableRoundTrip(t *testing.T) {
	table, text := cartTable(t)
	parsed, err := ParseTable(text)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(&table, parsed, cmpopts.IgnoreUnexported(Array{})); diff != "" {
		t.Errorf("the table changed (-before +after):\n%s", diff)
	}
	again, err := parsed.encode()
	if err != nil || !bytes.Equal(again, text) {
		t.Errorf("written again it differs, %v", err)
	}
}

// The check value of CRC-32/ISO-HDLC is 0xCBF43926 for "123456789"; its first
// eight bytes, as two numbers, give 0x9AE0DAAF (zlib's crc32).
func TestChecksum(t *testing.T) {
	numbers := []Array{{Type: typeFloat32, Values: []float32{math.Float32frombits(0x34333231), math.Float32frombits(0x38373635)}}}
	if got := hexadecimal(checksum(numbers)); got != "0x9AE0DAAF" {
		t.Errorf("checksum of \"12345678\" is %s", got)
	}
	if got := hexadecimal(checksum([]Array{{Type: typeInt16, Values: []float32{-1}}})); got != "0xFFFFFFFF" {
		t.Errorf("checksum of FF FF FF FF is %s", got)
	}
}

func TestDamagedTables(t *testing.T) {
	_, text := cartTable(t)
	for _, c := range []struct{ name, old, new, want string }{
		{"another format", `"format": "strikerose coefficient table"`, `"format": "menu"`, `its format is "menu"`},
		{"newer version", `"version": 1`, `"version": 2`, "version 2: this program reads 1: export again"},
		{"changed number", `0.875`, `0.876`, "checksum is 0x"},
		{"unknown field", `"detector": "cart"`, `"detector": "cart", "colour": 3`, "colour"},
		{"lost size", `"name": "ALIGNED"`, `"name": "ALIGN"`, `runs over "ALIGNED", which is no size`},
		{"other size", `"value": 6`, `"value": 7`, "numbers, not 7"},
		{"not whole", `"type": "float32"`, `"type": "int16"`, "no whole number of 16 bits"},
		{"unknown type", `"type": "int16"`, `"type": "int8"`, `of type "int8"`},
		{"another checksum", "CRC-32/ISO-HDLC", "CRC-7", `checksum of kind "CRC-7"`},
		{"no JSON", "{", "", "no JSON"},
	} {
		changed := bytes.Replace(text, []byte(c.old), []byte(c.new), 1)
		if bytes.Equal(changed, text) {
			t.Fatalf("%s: nothing changed", c.name)
		}
		if _, err := ParseTable(changed); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if _, err := ParseTable(append(bytes.Clone(text), "{}"...)); err == nil {
		t.Error("a second value after the table is taken")
	}
}

// Whatever parses is written and parsed again without change.
func FuzzParseTable(f *testing.F) {
	_, text := cartTable(f)
	f.Add(text)
	f.Add([]byte(`{"format": "strikerose coefficient table", "version": 1}`))
	f.Add([]byte(`{"format": "strikerose coefficient table", "version": 1, "checksum": {"kind": "CRC-32/ISO-HDLC", "value": "0x00000000"}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		table, err := ParseTable(data)
		if err != nil {
			return
		}
		text, err := table.encode()
		if err != nil {
			t.Fatal(err)
		}
		again, err := ParseTable(text)
		if err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
		one, _ := json.Marshal(table)
		two, _ := json.Marshal(again)
		if !bytes.Equal(one, two) {
			t.Errorf("%s\nbecame\n%s", one, two)
		}
	})
}
