package plan

import (
	"math/cmplx"
	"slices"

	"strikerose/dataset/bearing"
)

// round is one round of expectation maximisation.
func (m *model) round(fb *chain, p params) params {
	m.likelihood(p, fb)
	fb.run(p.miss, p.extra)
	p.logRatio = fb.logRatio
	next := p
	next.flip = slices.Clone(p.flip)
	m.learnPush(fb, p, &next)
	m.learnHeight(fb, &next)
	steps := fb.matches + fb.misses + fb.extras
	next.miss = min(maxRate, (fb.misses+1)/(steps+1/startRate))
	next.extra = min(maxRate, (fb.extras+1)/(steps+1/startRate))
	return next
}

// learnPush fits offset, concentrations and flip shares.
func (m *model) learnPush(fb *chain, p params, next *params) {
	n := len(m.classes)
	toward := make([]complex128, len(m.aims)) // conjugates, to turn pushes onto
	for k, a := range m.aims {
		toward[k] = cmplx.Conj(bearing.Unit(p.offsetDeg + m.faceDeg(p.sense, a.face)))
	}
	var sum [2]complex128 // of pushes turned onto their expected bearing, by hook
	var weight [2]float64
	flipped, all := make([]float64, len(m.bands)), make([]float64, len(m.bands))
	for j, push := range m.push {
		if push == 0 {
			continue
		}
		for c, cl := range m.classes {
			post := fb.post[j*n+c]
			if post < 1e-9 {
				continue
			}
			k := j*len(m.aims) + cl.aim
			straight := (1 - anywhere) * (1 - p.flip[cl.band]) * fb.straight[k]
			turned := (1 - anywhere) * p.flip[cl.band] * fb.turned[k]
			total := straight + turned + anywhere
			straight, turned = post*straight/total, post*turned/total
			h := index(cl.hook)
			sum[h] += complex(straight-turned, 0) * push * toward[cl.aim]
			weight[h] += straight + turned
			flipped[cl.band] += turned
			all[cl.band] += straight + turned
		}
	}
	z := complex(p.kappa[0], 0)*sum[0] + complex(p.kappa[1], 0)*sum[1]
	if z == 0 {
		return
	}
	turn := z / complex(cmplx.Abs(z), 0)
	next.offsetDeg = bearing.Wrap360(p.offsetDeg + bearing.Of(turn))
	for h := range sum {
		// Two strikes' worth of the start keeps few hooks from being certain.
		const prior = 2.0
		r := (real(sum[h]*cmplx.Conj(turn)) + prior*bearing.A1(startKappa(h))) / (weight[h] + prior)
		next.kappa[h] = max(minKappa, min(maxKappa, bearing.A1Inv(max(0, min(r, 1-1e-9)))))
	}
	for b := range all {
		next.flip[b] = (flipped[b] + 0.5) / (all[b] + 1)
	}
}

// learnHeight fits the height features of each group, drawn toward those of
// all finds by the worth of three strikes.
func (m *model) learnHeight(fb *chain, next *params) {
	if len(m.mean) == 0 {
		return
	}
	const prior = 3.0
	n, dims := len(m.classes), len(m.mean)
	next.height = make([][2][]gauss, len(m.bands))
	for b := range m.bands {
		for tap := range 2 {
			weight := make([]float64, len(m.finds))
			for c, cl := range m.classes {
				if cl.band == b && index(cl.tap) == tap {
					for j := range weight {
						weight[j] += fb.post[j*n+c]
					}
				}
			}
			group := make([]gauss, dims)
			for d := range group {
				sw, sx := prior, prior*m.mean[d]
				for j, f := range m.finds {
					if x := f.Height[d]; finite(x) {
						sw += weight[j]
						sx += weight[j] * x
					}
				}
				mean, sxx := sx/sw, prior*m.variance[d]
				for j, f := range m.finds {
					if x := f.Height[d]; finite(x) {
						sxx += weight[j] * (x - mean) * (x - mean)
					}
				}
				group[d] = gauss{mean, max(sxx/sw, 1e-6*m.variance[d])}
			}
			next.height[b][tap] = group
		}
	}
}
