package plan

import "math"

// tiny is where a probability counts as none beside a row's largest: a way
// there is given up for lost, 138 nats behind.
const tiny = 1e-60

// chain is the forward-backward algorithm over (find, entry). Row j holds the
// probabilities of having dealt with j finds and, by column, i entries. Rows
// are scaled to a largest value of 1 and their logarithms kept apart. Its
// buffers serve every round.
type chain struct {
	m     *model
	match []float64 // likelihood ratio of find j being of class c: [j*classes+c]
	extra []float64 // of find j being an extra

	straight, turned []float64 // of its push alone, by aim: see pushRatios

	forward          []float64 // (finds+1) rows of (entries+1)
	low, high        []int     // of each row: the columns that are not zero
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
		straight: make([]float64, len(m.finds)*len(m.aims)), turned: make([]float64, len(m.finds)*len(m.aims)),
		forward: make([]float64, rows*width), low: make([]int, rows), high: make([]int, rows), scale: make([]float64, rows),
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
	e := fb.ends()
	fb.runForward(miss, extra, e)
	finds, entries := len(fb.m.finds), len(fb.m.class)
	width := entries + 1
	var logs []float64 // of all ways to leave
	for j := 0; j <= finds; j++ {
		logs = append(logs, math.Log(fb.forward[j*width+entries])+fb.scale[j]+e.end[j])
	}
	for i := 0; i < entries; i++ {
		logs = append(logs, math.Log(fb.forward[finds*width+i])+fb.scale[finds]+e.entries)
	}
	fb.logRatio = logSum(logs)
	fb.runBackward(miss, extra, e)
}

func (fb *chain) runForward(miss, extra float64, e ends) {
	finds, entries, classes := len(fb.m.finds), len(fb.m.class), len(fb.m.classes)
	width := entries + 1
	hit := 1 - miss - extra
	scale := 0.0
	for j := 0; j <= finds; j++ {
		row := fb.forward[j*width : (j+1)*width]
		low, high := 0, width
		if j == 0 {
			row[0] = math.Exp(e.whole)
			cut := math.Exp(e.entries)
			for i := 1; i < width; i++ {
				row[i] = cut + row[i-1]*miss
			}
		} else {
			last := fb.forward[(j-1)*width : j*width]
			ratios := fb.match[(j-1)*classes : j*classes]
			stay := extra * fb.extra[j-1]
			clear(row)
			low, high = fb.low[j-1], fb.high[j-1]
			hit := hit
			enter := e.start[j] - scale
			if enter > 0 { // entering here outweighs all that went before
				shrink := math.Exp(-enter)
				hit, stay, scale, enter = shrink*hit, shrink*stay, scale+enter, 0
			}
			if enter = math.Exp(enter); low == 0 || enter > tiny {
				row[0] = last[0]*stay + enter
				low = 0
			}
			for i := max(1, low); i < width; i++ {
				v := last[i-1]*hit*ratios[fb.m.class[i-1]]*fb.m.callRatio(j-1, i-1) + last[i]*stay + row[i-1]*miss
				if i > high && v == 0 {
					break
				}
				row[i] = v
			}
			high = width
		}
		top := 0.0
		for _, v := range row {
			top = max(top, v)
		}
		for i, v := range row {
			if v < top*tiny {
				row[i] = 0
			} else {
				row[i] = v / top
			}
		}
		for row[low] == 0 {
			low++
		}
		for row[high-1] == 0 {
			high--
		}
		scale += math.Log(top)
		fb.scale[j], fb.low[j], fb.high[j] = scale, low, high
	}
}

// runBackward works out posteriors on the way. Columns that the forward pass
// gave up count as zero here too.
func (fb *chain) runBackward(miss, extra float64, e ends) {
	finds, entries, classes := len(fb.m.finds), len(fb.m.class), len(fb.m.classes)
	width := entries + 1
	hit := 1 - miss - extra
	clear(fb.post)
	fb.matches, fb.misses, fb.extras = 0, 0, 0
	scale := 0.0
	for j := finds; j >= 0; j-- {
		row, after := fb.back, fb.backBefore
		clear(row)
		low, high := fb.low[j], fb.high[j]
		ahead := fb.forward[j*width : (j+1)*width]
		shrink := 1.0 // leaving here may outweigh going on beyond all range
		if leave := e.end[j] - scale; j < finds && high == width && leave > 0 {
			shrink = math.Exp(-leave)
			scale += leave
		}
		weight := math.Exp(min(700, fb.scale[j]+scale-fb.logRatio))
		if j == finds {
			cut := math.Exp(e.entries)
			for i := low; i < high; i++ {
				row[i] = cut
			}
			if high == width {
				row[entries] = math.Exp(e.whole)
			}
		} else {
			ratios := fb.match[j*classes : (j+1)*classes]
			hit, stay := shrink*hit, shrink*extra*fb.extra[j]
			post := fb.post[j*classes : (j+1)*classes]
			for i := low; i < min(high, entries); i++ {
				c := fb.m.class[i]
				onward := hit * ratios[c] * fb.m.callRatio(j, i) * after[i+1]
				row[i] = onward + after[i]*stay
				f := ahead[i] * weight
				fb.extras += f * stay * after[i]
				if p := f * onward; p > 0 {
					post[c] += p
					fb.matches += p
					if fb.visit != nil {
						fb.visit(j, i, p)
					}
				}
			}
			if high == width {
				fb.extras += ahead[entries] * weight * stay * after[entries]
				row[entries] = after[entries]*stay + math.Exp(e.end[j]-scale)
			}
		}
		top := 0.0
		for i := high - 1; i >= low; i-- {
			if i < entries {
				missed := row[i+1] * miss
				row[i] += missed
				fb.misses += ahead[i] * weight * missed
			}
			top = max(top, row[i])
		}
		if top > 0 {
			for i := low; i < high; i++ {
				row[i] /= top
			}
			scale += math.Log(top)
		}
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
	m.likelihood(p, fb)
	fb.run(p.miss, p.extra)
	return out
}
