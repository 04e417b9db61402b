package asjson_test

import (
	"math"
	"strings"
	"testing"

	"strikerose/dataset/asjson"
)

type inner struct {
	Names []string `json:"names"`
}

type hidden struct {
	Notes []string `json:"notes"`
}

type odd struct{}

func (odd) MarshalJSON() ([]byte, error) { return []byte(`"odd"`), nil }

type outer struct {
	hidden
	One     inner            `json:"one"`
	Several []inner          `json:"several"`
	Far     *inner           `json:"far"`
	None    *inner           `json:"none"`
	ByName  map[string]inner `json:"by_name"`
	NoMap   map[string]inner `json:"no_map"`
	Left    []string         `json:"left,omitempty"`
	Three   [1]inner         `json:"three"`
	Any     any              `json:"any"`
	Odd     odd              `json:"odd"`
}

func TestWrite(t *testing.T) {
	for _, c := range []struct {
		value any
		want  string
	}{
		{[]string(nil), `[]`},
		{[][]int{nil, {1}}, `[[],[1]]`},
		{nil, `null`},
		{"<&>", `"<&>"`},
		{outer{Several: []inner{{}}, Far: &inner{}, ByName: map[string]inner{"a": {}}, Any: inner{}},
			`{"notes":[],"one":{"names":[]},"several":[{"names":[]}],"far":{"names":[]},"none":null,"by_name":{"a":{"names":[]}},` +
				`"no_map":null,"three":[{"names":[]}],"any":{"names":[]},"odd":"odd"}`},
		{&outer{}, `{"notes":[],"one":{"names":[]},"several":[],"far":null,"none":null,"by_name":null,"no_map":null,"three":[{"names":[]}],"any":null,"odd":"odd"}`},
	} {
		var b strings.Builder
		if err := asjson.Write(&b, c.value); err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(strings.Fields(b.String()), ""); got != c.want {
			t.Errorf("%#v:\n got %s\nwant %s", c.value, got, c.want)
		}
	}
	if err := asjson.Write(new(strings.Builder), []float64{math.NaN()}); err == nil {
		t.Error("not a number is written")
	}
}

func TestWithListsLeavesItsValue(t *testing.T) {
	value := outer{Several: []inner{{}}, Far: &inner{}, ByName: map[string]inner{"a": {}}}
	asjson.WithLists(value)
	if value.Several[0].Names != nil || value.Far.Names != nil || value.ByName["a"].Names != nil {
		t.Error("the value was changed")
	}
}
