package firmware

import (
	"strikerose/dataset/rig"
	"strikerose/models"
)

// align adds the steps that find the first direction u_x and u_y and leave the
// features along it, standardised, in aligned. It returns false where the
// inputs are at fault.
func (b *builder) align(a *models.Aligner, r *rig.Rig) bool {
	own := a.OwnRatio(r)
	names := concat(a.Vectors, a.Odd, a.Even)
	if own != nil {
		// Vectors first, so that the ratio's are the first inputs.
		names = concat(own.Vectors, a.Vectors, own.Odd, a.Odd, own.Even, a.Even)
	}
	b.clean(names...)
	if len(b.faults) > 0 {
		return false
	}
	if own != nil {
		b.ratio(own)
	}
	vectors := b.size("ALIGNED_VECTORS", len(a.Vectors), "vectors that are aligned")
	list := []string{vectors.name}
	inverse := make([]float64, len(a.Size))
	first := make([]float64, len(a.Size))
	for k, s := range a.Size {
		inverse[k] = 1 / s
		if own == nil {
			first[k] = a.First[k] / s
		}
	}
	at := b.vectorsAt("ALIGNED_VECTOR", vectors.name, a.Vectors)
	b.floats("SIZE_INVERSE", "1 per unit of the vector", list, inverse, "one over the usual size of each vector")
	x, y, k := vectorX("value", at), vectorY("value", at), named("k")
	if own != nil {
		b.add(
			remark("First direction u from here on: that of the rig's own weights."),
			setVar("u_x", named("ratio_x")), setVar("u_y", named("ratio_y")),
		)
	} else {
		b.floats("FIRST", "1 per unit of the vector", list, first, "weights of the first direction u")
		b.add(
			remark("First direction u: a weighted sum of the vectors, x toward bearing 90 and y toward bearing 0."),
			variable("u_x", number(0)), variable("u_y", number(0)),
			loop{"k", vectors, []step{
				addTo(named("u_x"), mul(element("FIRST", k), x)),
				addTo(named("u_y"), mul(element("FIRST", k), y)),
			}},
		)
	}
	b.unit("u_x", "u_y", "first_length")
	over := b.size("ALIGNED", a.Columns(), "aligned features")
	b.floats("MEAN", "1", []string{over.name}, a.Mean, "what an aligned feature usually is")
	spread := make([]float64, len(a.Spread))
	for i, s := range a.Spread {
		spread[i] = 1 / s
	}
	b.floats("SPREAD_INVERSE", "1", []string{over.name}, spread, "one over its standard deviation")
	b.scalar("HELD_SD", "1", models.HeldSD, "aligned features are held to so many standard deviations")
	b.add(
		remark("The strike's size: root mean square of the vectors, each over its usual size."),
		variable("square", number(0)),
		loop{"k", vectors, []step{
			fixed("part_x", mul(x, element("SIZE_INVERSE", k))),
			fixed("part_y", mul(y, element("SIZE_INVERSE", k))),
			addTo(named("square"), add(mul(named("part_x"), named("part_x")), mul(named("part_y"), named("part_y")))),
		}},
		variable("size", root(div(named("square"), number(float64(len(a.Vectors)))))),
		when{is: not(more(named("size"), number(0))), then: []step{setVar("size", number(1)), setVar("whole", whole(0))}},
		remark("Features in the frame along u: of each vector the part along it and the part clockwise of it, then the scalars, all over the strike's size."),
		room{"aligned", over.name},
		loop{"k", vectors, []step{
			fixed("part_x", mul(x, element("SIZE_INVERSE", k))),
			fixed("part_y", mul(y, element("SIZE_INVERSE", k))),
			set(vectorX("aligned", k), div(add(mul(named("part_y"), named("u_y")), mul(named("part_x"), named("u_x"))), named("size"))),
			set(vectorY("aligned", k), div(sub(mul(named("part_x"), named("u_y")), mul(named("part_y"), named("u_x"))), named("size"))),
		}},
	)
	to := 2 * len(a.Vectors)
	for _, group := range [][]string{a.Odd, a.Even} {
		for _, n := range group {
			b.add(set(element("aligned", whole(to)), div(b.s(n), named("size"))))
			to++
		}
	}
	b.add(
		remark("Standardised, and held to a few standard deviations."),
		loop{"k", over, []step{
			fixed("standard", mul(sub(element("aligned", k), element("MEAN", k)), element("SPREAD_INVERSE", k))),
			set(element("aligned", k), between(negative(named("HELD_SD")), named("standard"), named("HELD_SD"))),
		}},
	)
	return true
}

// turned adds the last steps of a detector that turns the first direction by an
// angle, given by sine and cosine up to a common factor in the variables sine
// and cosine, and finds the height above the centre of mass in above_m.
func (b *builder) turned(r *rig.Rig) {
	b.scalar("CENTRE_M", "m", models.ConstantsOf(r).CentreHeightM(), "height of the centre of mass above the bag's bottom")
	b.add(remark("The direction q: the first direction turned clockwise."))
	b.unit("sine", "cosine", "turn_length")
	b.add(
		fixed("q_x", add(mul(named("u_x"), named("cosine")), mul(named("u_y"), named("sine")))),
		fixed("q_y", sub(mul(named("u_y"), named("cosine")), mul(named("u_x"), named("sine")))),
		fixed("height_m", between(number(0), add(named("CENTRE_M"), named("above_m")), named("LENGTH_M"))),
	)
}

func (b *builder) cart(c *models.Cart, r *rig.Rig) {
	if !b.align(&c.Aligner, r) {
		return
	}
	b.tree("SIN", "1", "sine of the turn", c.Sin)
	b.tree("COS", "1", "cosine of the turn", c.Cos)
	b.tree("HEIGHT", "m", "height above the centre of mass", c.Height)
	b.add(
		remark("Three trees: each node asks one aligned feature, a leaf answers."),
		walk{"float", "sine", "SIN", "aligned"},
		walk{"float", "cosine", "COS", "aligned"},
		walk{"const float", "above_m", "HEIGHT", "aligned"},
	)
	b.turned(r)
}

// accelerometer describes the form without a gyroscope: nets on aligned
// features, asked twice, for the strike and for its mirror image. The units of
// all nets stand in one list. What is the same for every strike is added up
// here: the biases, and the input that follows from the rig.
func (b *builder) accelerometer(a *models.Accelerometer, r *rig.Rig) {
	if !b.align(&a.Aligner, r) {
		return
	}
	columns, geometry := a.Columns(), a.Geometry(r)
	perNet := a.ScaleM / float64(2*len(a.Nets))
	var hidden, bias, sine, cosine, height []float64
	var cosineBias, heightBias float64
	for _, n := range a.Nets {
		for u, row := range n.Hidden {
			hidden = append(hidden, row[:columns]...)
			bias = append(bias, n.HiddenBias[u]+row[columns]*geometry)
			sine, cosine = append(sine, n.Out[0][u]), append(cosine, n.Out[1][u])
			height = append(height, n.Out[2][u]*perNet)
		}
		cosineBias += 2 * n.OutBias[1]
		heightBias += 2 * n.OutBias[2] * perNet
	}
	units := b.size("UNITS", len(bias), "hidden units of the nets")
	list := []string{units.name}
	b.floats("HIDDEN", "1", []string{units.name, "ALIGNED"}, hidden, "weights of a hidden unit on the aligned features, unit by unit")
	b.floats("HIDDEN_BIAS", "1", list, bias, "bias of a hidden unit")
	b.floats("OUT_SIN", "1", list, sine, "weight of a unit in the sine of the turn, up to a common factor with the cosine")
	b.floats("OUT_COS", "1", list, cosine, "weight of a unit in the cosine of the turn")
	b.floats("OUT_HEIGHT", "m", list, height, "weight of a unit in the height")
	b.scalar("COS_BIAS", "1", cosineBias, "bias of the cosine")
	b.scalar("HEIGHT_BIAS_M", "m", heightBias, "bias of the height")
	unit, k := named("unit"), named("k")
	loopOver := func(name string, n expr, body ...step) step { return loop{name, n, body} }
	negate := func(at expr) step { return set(element("aligned", at), negative(element("aligned", at))) }
	mirror := []step{loopOver("k", named("ALIGNED_VECTORS"), negate(add(mul(whole(2), k), whole(1))))}
	for i := range a.Odd {
		mirror = append(mirror, negate(whole(2*len(a.Vectors)+i)))
	}
	b.add(
		remark("Nets of one hidden layer, asked twice: for the strike and for its mirror image, whose turn is the opposite."),
		variable("sine", number(0)), variable("cosine", named("COS_BIAS")), variable("above_m", named("HEIGHT_BIAS_M")),
		variable("side", number(1)),
		loopOver("image", whole(2), append([]step{
			loopOver("unit", units,
				variable("sum", element("HIDDEN_BIAS", unit)),
				loopOver("k", named("ALIGNED"), addTo(named("sum"), mul(element("HIDDEN", add(mul(unit, named("ALIGNED")), k)), element("aligned", k)))),
				setVar("sum", tanhn(named("sum"))),
				addTo(named("sine"), mul(mul(named("side"), element("OUT_SIN", unit)), named("sum"))),
				addTo(named("cosine"), mul(element("OUT_COS", unit), named("sum"))),
				addTo(named("above_m"), mul(element("OUT_HEIGHT", unit), named("sum"))),
			),
			setVar("side", negative(named("side"))),
		}, mirror...)...),
	)
	b.turned(r)
}
