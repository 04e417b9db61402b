package plan

import "math"

// tiny is where a probability counts as none: far below anything that could
// matter beside a row's largest, and above the range where arithmetic is slow.
const tiny = 1e-280

// chain is the forward-backward algorithm over (find, entry). Row j holds the
// probabilities of having dealt with j finds and, by column, i entries. Rows
// are scaled to a largest value of 1 and their logarithms kept apart. Its
// buffers serve every round.
type chain struct {
	m     *model
	match []float64 // likelihood ratio of find j being of class c: [j*classes+c]
	extra []float64 // of find j being an extra

	forward          []float64 // (finds+1) rows of (entries+1)
	scale            []float64 // logarithm that row j was divided by, in all
	back, backBefore []float64
	post             []float64 // probability that find j is an entry of class c
	logRatio         float64
	matches          float64 // expected numbers within plan and session
	misses           float64
	extras           float64
	visit            func(find, entry int, probability float64) // of every match that is not impossible, if not nil
}

func newChain(m *model) *chain {
	rows, width := len(m.finds)+1, len(m.class)+1
	return &chain{
		m:     m,
		match: make([]float64, len(m.finds)*len(m.classes)), extra: make([]float64, len(m.finds)),
		forward: make([]float64, rows*width), scale: make([]float64, rows),
		back: make([]float64, width), backBefore: make([]float64, width),
		post: make([]float64, len(m.finds)*len(m.classes)),
	}
}

// ends holds the logarithms of entering and leaving the chain: start[j] and
// end[j] are those of entering at (j, 0) and leaving at (j, all entries) with
// the finds outside as extras; entries is that of each entry cut off.
type ends struct {
	start, end []float64
	entries    float64
	whole      float64
}

func (fb *chain) ends() ends {
	finds, entries := len(fb.m.finds), len(fb.m.class)
	// A start or end is whole, or cut off at any one place.
	e := ends{
		start: make([]float64, finds+1), end: make([]float64, finds+1),
		entries: math.Log(endRate / 2 / float64(entries)), whole: math.Log(1 - endRate),
	}
	cut := math.Log(endRate / 2 / float64(finds))
	sum := 0.0
	e.start[0] = e.whole
	for j := range finds {
		sum += math.Log(fb.extra[j])
		e.start[j+1] = cut + sum
	}
	sum = 0.0
	e.end[finds] = e.whole
	for j := finds - 1; j >= 0; j-- {
		sum += math.Log(fb.extra[j])
		e.end[j] = cut + sum
	}
	return e
}

// run works out the likelihood ratio and the posteriors under the rates.
func (fb *chain) run(miss, extra float64) {
	finds, entries, classes := len(fb.m.finds), len(fb.m.class), len(fb.m.classes)
	width := entries + 1
	hit := 1 - miss - extra
	e := fb.ends()

	// Forward.
	scale := 0.0
	for j := 0; j <= finds; j++ {
		row := fb.forward[j*width : (j+1)*width]
		if j == 0 {
			for i := range row {
				row[i] = math.Exp(e.entries)
			}
			row[0] = math.Exp(e.whole)
			for i := 1; i < width; i++ {
				row[i] += row[i-1] * miss
			}
		} else {
			last := fb.forward[(j-1)*width : j*width]
			ratios := fb.match[(j-1)*classes : j*classes]
			stay := extra * fb.extra[j-1]
			row[0] = last[0]*stay + math.Exp(e.start[j]-scale)
			for i := 1; i < width; i++ {
				v := last[i-1]*hit*ratios[fb.m.class[i-1]] + last[i]*stay + row[i-1]*miss
				if v < tiny {
					v = 0
				}
				row[i] = v
			}
		}
		top := 0.0
		for _, v := range row {
			top = max(top, v)
		}
		for i := range row {
			row[i] /= top
		}
		scale += math.Log(top)
		fb.scale[j] = scale
	}

	// All ways of leaving.
	logs := make([]float64, 0, finds+1+entries)
	for j := 0; j <= finds; j++ {
		logs = append(logs, math.Log(fb.forward[j*width+entries])+fb.scale[j]+e.end[j])
	}
	for i := 0; i < entries; i++ {
		logs = append(logs, math.Log(fb.forward[finds*width+i])+fb.scale[finds]+e.entries)
	}
	fb.logRatio = logSum(logs)

	// Backward, with posteriors on the way.
	clear(fb.post)
	fb.matches, fb.misses, fb.extras = 0, 0, 0
	backScale := 0.0
	for j := finds; j >= 0; j-- {
		row, after := fb.back, fb.backBefore
		if j == finds {
			for i := range row {
				row[i] = math.Exp(e.entries)
			}
			row[entries] = math.Exp(e.whole)
		} else {
			ratios := fb.match[j*classes : (j+1)*classes]
			stay := extra * fb.extra[j]
			row[entries] = after[entries]*stay + math.Exp(e.end[j]-backScale)
			for i := 0; i < entries; i++ {
				row[i] = after[i+1]*hit*ratios[fb.m.class[i]] + after[i]*stay
			}
			// Posteriors of the steps from row j to row j+1.
			ahead := fb.forward[j*width : (j+1)*width]
			w := math.Exp(min(700, fb.scale[j]+backScale-fb.logRatio))
			post := fb.post[j*classes : (j+1)*classes]
			for i := 0; i <= entries; i++ {
				f := ahead[i] * w
				if f == 0 {
					continue
				}
				fb.extras += f * stay * after[i]
				if i == entries {
					continue
				}
				c := fb.m.class[i]
				p := f * hit * ratios[c] * after[i+1]
				post[c] += p
				fb.matches += p
				if fb.visit != nil && p > 0 {
					fb.visit(j, i, p)
				}
			}
		}
		for i := entries - 1; i >= 0; i-- {
			v := row[i] + row[i+1]*miss
			if v < tiny {
				v = 0
			}
			row[i] = v
		}
		w := math.Exp(min(700, fb.scale[j]+backScale-fb.logRatio))
		ahead := fb.forward[j*width : (j+1)*width]
		for i := 0; i < entries; i++ {
			fb.misses += ahead[i] * miss * row[i+1] * w
		}
		top := 0.0
		for _, v := range row {
			top = max(top, v)
		}
		for i := range row {
			row[i] /= top
		}
		backScale += math.Log(top)
		fb.back, fb.backBefore = after, row
	}
}

func logSum(logs []float64) float64 {
	top := math.Inf(-1)
	for _, l := range logs {
		top = max(top, l)
	}
	sum := 0.0
	for _, l := range logs {
		sum += math.Exp(l - top)
	}
	return top + math.Log(sum)
}

// matchOf is what the posterior says of one find.
type matchOf struct {
	entry     int // likeliest, -1 if none is possible
	posterior float64
	extra     float64
}

type posteriors struct {
	finds   []matchOf
	matched []float64 // by entry: probability that it has a find
	band    []float64 // by band: expected matches
}

// posteriors works out the posterior of each find under fitted parameters.
func (m *model) posteriors(p params) posteriors {
	out := posteriors{
		finds: make([]matchOf, len(m.finds)), matched: make([]float64, len(m.class)), band: make([]float64, len(m.bands)),
	}
	for j := range out.finds {
		out.finds[j] = matchOf{entry: -1, extra: 1}
	}
	fb := newChain(m)
	fb.visit = func(j, i int, probability float64) {
		f := &out.finds[j]
		f.extra -= probability
		if probability > f.posterior {
			f.entry, f.posterior = i, probability
		}
		out.matched[i] += probability
		out.band[m.classes[m.class[i]].band] += probability
	}
	m.likelihood(p, fb.match, fb.extra)
	fb.run(p.miss, p.extra)
	return out
}
