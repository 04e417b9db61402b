package page

import (
	"bytes"
	"net/http"

	"strikerose/dataset/rig"
	"strikerose/label/plan"
)

// planned is a plan as the caller page shows it.
type planned struct {
	Name    string  `json:"name"`
	Bag     bag     `json:"bag"`
	Entries []entry `json:"entries"`
}

// entry is one strike of a plan, with the time of its call once it was made.
type entry struct {
	Order int      `json:"order"`
	Face  int      `json:"face"`
	Band  string   `json:"band"`
	Kind  string   `json:"kind"`
	Pair  string   `json:"pair,omitempty"`
	CallS *float64 `json:"call_s,omitempty"`
}

// rigs is what the caller page asks for first: the bags of the corpus.
type rigs struct {
	Bags []bag `json:"bags"`
}

// plan answers with the plan that the page was started with, for one rig, or
// with the rigs where none is named.
func (p *Page) plan(r *http.Request) (any, error) {
	if key := r.URL.Query().Get("rig"); key != "" {
		rg, err := p.rigNamed(key)
		if err != nil {
			return nil, err
		}
		if p.o.PlanName == "" {
			return nil, badf("no plan was given with --plan: open one from your disk")
		}
		return parsePlan(p.o.PlanName, p.o.Plan, rg)
	}
	list, err := p.o.Corpus.Rigs()
	if err != nil {
		return nil, err
	}
	out := rigs{Bags: []bag{}}
	for _, rg := range list {
		out.Bags = append(out.Bags, bagOf(rg))
	}
	return out, nil
}

// readPlan reads a plan that the person opened in the page.
func (p *Page) readPlan(r *http.Request) (any, error) {
	var in struct {
		Name string `json:"name"`
		Rig  string `json:"rig"`
		Text string `json:"text"`
	}
	if err := decode(r, &in); err != nil {
		return nil, err
	}
	rg, err := p.rigNamed(in.Rig)
	if err != nil {
		return nil, err
	}
	return parsePlan(in.Name, []byte(in.Text), rg)
}

// rigNamed returns a rig of the corpus by its key.
func (p *Page) rigNamed(key string) (*rig.Rig, error) {
	list, err := p.o.Corpus.Rigs()
	if err != nil {
		return nil, err
	}
	for _, rg := range list {
		if rg.Key() == key {
			return rg, nil
		}
	}
	return nil, badf("rig %q is not in the corpus", key)
}

func parsePlan(name string, text []byte, rg *rig.Rig) (planned, error) {
	entries, err := plan.Read(bytes.NewReader(text), name, rg)
	if err != nil {
		return planned{}, badRequest{err}
	}
	out := planned{Name: name, Bag: bagOf(rg)}
	for _, e := range entries {
		out.Entries = append(out.Entries, entry(e))
	}
	return out, nil
}

// calls keeps a plan with the times of its calls in the corpus.
func (p *Page) calls(r *http.Request) (any, error) {
	var in struct {
		Name    string  `json:"name"`
		Rig     string  `json:"rig"`
		Entries []entry `json:"entries"`
	}
	if err := decode(r, &in); err != nil {
		return nil, err
	}
	rg, err := p.rigNamed(in.Rig)
	if err != nil {
		return nil, err
	}
	entries := make([]plan.Entry, len(in.Entries))
	for i, e := range in.Entries {
		entries[i] = plan.Entry(e)
	}
	var text bytes.Buffer
	if err := plan.WriteCalled(&text, entries); err != nil {
		return nil, badRequest{err}
	}
	if _, err := plan.Read(bytes.NewReader(text.Bytes()), in.Name, rg); err != nil {
		return nil, badRequest{err} // only what label plan can read is kept
	}
	where, err := p.o.Corpus.PutCalls(in.Name, text.Bytes())
	if err != nil {
		return nil, badRequest{err}
	}
	return struct {
		Where string `json:"where"`
	}{where}, nil
}
