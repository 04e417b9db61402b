package page

import (
	"net/http"
	"slices"

	"strikerose/dataset"
	"strikerose/dataset/rig"
	"strikerose/label"
)

// progress is one session in the overview.
type progress struct {
	Name      string  `json:"name"`
	Rig       string  `json:"rig"`
	Striker   string  `json:"striker"`
	DurationS float64 `json:"duration_s"`
	Found     int     `json:"found"`
	Labelled  int     `json:"labelled"` // by hand or timed truth, as a strike
	Rejected  int     `json:"rejected"`
	Planned   int     `json:"planned"` // by a plan alone
	Doubtful  int     `json:"doubtful"`
	Missed    int     `json:"missed"` // added where nothing was found
	Problem   string  `json:"problem,omitempty"`
}

// rose counts labelled strikes of a rig by face and band.
type rose struct {
	Bag    bag     `json:"bag"`
	Count  [][]int `json:"count"` // by face, then band
	Wanted int     `json:"wanted"`
}

// overview is the first thing that the page shows.
type overview struct {
	Sessions []progress `json:"sessions"`
	Roses    []rose     `json:"roses"`
}

// sessions answers with the progress of every session and the coverage of
// every rig.
func (p *Page) sessions(r *http.Request) (any, error) {
	sessions, err := p.o.Corpus.Sessions()
	if err != nil {
		return nil, err
	}
	out := overview{Sessions: []progress{}, Roses: []rose{}}
	for _, s := range sessions {
		row := progress{Name: s.Name, Rig: s.Rig, Striker: s.Striker, DurationS: s.DurationS}
		if err := p.count(r, s, &row, &out); err != nil {
			if r.Context().Err() != nil {
				return nil, err
			}
			row.Problem = err.Error() // one damaged session does not hide the others
		}
		out.Sessions = append(out.Sessions, row)
	}
	return out, nil
}

func (p *Page) count(r *http.Request, s dataset.Session, row *progress, out *overview) error {
	rg, err := p.o.Corpus.Rig(s.Rig)
	if err != nil {
		return err
	}
	k := slices.IndexFunc(out.Roses, func(one rose) bool { return one.Bag.Key == s.Rig })
	if k < 0 {
		k = len(out.Roses)
		one := rose{Bag: bagOf(rg), Wanted: p.o.Wanted}
		for range rg.Faces {
			one.Count = append(one.Count, make([]int, len(rg.Bands)))
		}
		out.Roses = append(out.Roses, one)
	}
	claims, err := p.o.Corpus.Claims(r.Context(), s.Name)
	if err != nil {
		return err
	}
	strikes, err := p.o.Corpus.Strikes(s.Name)
	if err != nil {
		return err
	}
	for _, m := range marksOf(claims, strikes) {
		if m.Number > 0 {
			row.Found++
		}
		if m.doubt(rg) != "" {
			row.Doubtful++
		}
		if len(m.claims) == 0 {
			continue
		}
		best := m.claims[0]
		switch {
		case best.NotStrike || best.Complete:
			row.Rejected++
		case best.Source == label.Plan:
			row.Planned++
		default:
			row.Labelled++
			if m.Number == 0 {
				row.Missed++
			}
			place := best.PlaceOn(rg)
			b := slices.IndexFunc(rg.Bands, func(b rig.Band) bool { return b.Name == place.Band })
			if f := place.Face; f >= 1 && f <= rg.Faces && b >= 0 {
				out.Roses[k].Count[f-1][b]++
			}
		}
	}
	return nil
}
