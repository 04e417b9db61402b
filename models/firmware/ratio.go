package firmware

import (
	"slices"

	"strikerose/models"
)

// ratio adds the steps of a ratio of linear forms that leave its direction, of
// any length, in ratio_x and ratio_y.
func (b *builder) ratio(r *models.Ratio) {
	vectors := b.size("VECTORS", len(r.Vectors), "horizontal vectors in the sums")
	list := []string{vectors.name}
	k := named("k")
	x, y := vectorX("value", k), vectorY("value", k)
	b.floats("PUSH", "1 per unit of the vector", list, r.Push, "weights of the direction")
	b.add(
		remark("Direction (ratio_x, ratio_y): a weighted sum of the horizontal vectors, x toward bearing 90 and y toward bearing 0."),
		variable("ratio_x", number(0)), variable("ratio_y", number(0)),
		loop{"k", vectors, []step{
			addTo(named("ratio_x"), mul(element("PUSH", k), x)),
			addTo(named("ratio_y"), mul(element("PUSH", k), y)),
		}},
	)
	if slices.Equal(r.First, r.Push) {
		b.add(remark("First direction u: the same."), variable("u_x", named("ratio_x")), variable("u_y", named("ratio_y")))
	} else {
		b.floats("FIRST", "1 per unit of the vector", list, r.First, "weights of the first direction u")
		b.add(
			remark("First direction u: likewise, with weights of its own."),
			variable("u_x", number(0)), variable("u_y", number(0)),
			loop{"k", vectors, []step{
				addTo(named("u_x"), mul(element("FIRST", k), x)),
				addTo(named("u_y"), mul(element("FIRST", k), y)),
			}},
		)
	}
	b.unit("u_x", "u_y", "u_length")
	if len(r.Odd) > 0 {
		odd := b.size("ODD", len(r.Odd), "scalars that change their sign in a mirror")
		b.floats("PUSH_ODD", "1 per unit of the scalar", []string{odd.name}, r.PushOdd, "weights of what turns the direction away from u")
		b.add(
			remark("What changes its sign in a mirror turns the direction clockwise from u."),
			variable("odd", number(0)),
			loop{"k", odd, []step{addTo(named("odd"), mul(element("PUSH_ODD", k), element("value", b.scalarsAt(r.Odd))))}},
			addTo(named("ratio_x"), mul(named("u_y"), named("odd"))),
			addTo(named("ratio_y"), mul(negative(named("u_x")), named("odd"))),
		)
	}
	if len(r.Even) > 0 {
		even := b.size("EVEN", len(r.Even), "scalars that stay in a mirror")
		b.floats("PUSH_EVEN", "1 per unit of the scalar", []string{even.name}, r.PushEven, "weights of what makes the direction longer along u")
		b.add(
			remark("What stays in a mirror makes the direction longer along u."),
			variable("even", number(0)),
			loop{"k", even, []step{addTo(named("even"), mul(element("PUSH_EVEN", k), element("value", b.scalarsAt(r.Even))))}},
			addTo(named("ratio_x"), mul(named("u_x"), named("even"))),
			addTo(named("ratio_y"), mul(named("u_y"), named("even"))),
		)
	}
	b.add(
		fixed("ratio_length", hypotn(named("ratio_x"), named("ratio_y"))),
		when{is: not(more(named("ratio_length"), number(0))), then: []step{
			setVar("ratio_x", number(0)), setVar("ratio_y", number(1)), setVar("whole", whole(0)),
		}},
	)
}

// ratioHeight adds the height: two linear forms of the parts along the direction.
func (b *builder) ratioHeight(r *models.Ratio) {
	k, list := named("k"), []string{"VECTORS"}
	b.floats("TOP", "m per unit of the vector", list, r.Top, "weights of the height's numerator")
	b.floats("BOTTOM", "1 per unit of the vector", list, r.Bottom, "weights of the height's denominator")
	b.scalar("FLOOR_SHARE", "1", r.FloorShare, "least denominator, as a share of the length of the direction")
	b.scalar("CENTRE_M", "m", r.CentreM, "height of a strike through the centre of mass, above the bag's bottom")
	body := []step{
		fixed("along_x", div(named("ratio_x"), named("ratio_length"))),
		fixed("along_y", div(named("ratio_y"), named("ratio_length"))),
		variable("top", number(0)), variable("bottom", number(0)),
		loop{"k", named("VECTORS"), []step{
			fixed("along", add(mul(vectorX("value", k), named("along_x")), mul(vectorY("value", k), named("along_y")))),
			addTo(named("top"), mul(element("TOP", k), named("along"))),
			addTo(named("bottom"), mul(element("BOTTOM", k), named("along"))),
		}},
	}
	if len(r.Even) > 0 {
		b.floats("TOP_EVEN", "m per unit of the scalar", []string{"EVEN"}, r.TopEven, "likewise of the scalars")
		b.floats("BOTTOM_EVEN", "1 per unit of the scalar", []string{"EVEN"}, r.BottomEven, "likewise of the scalars")
		x := element("value", b.scalarsAt(r.Even))
		body = append(body, loop{"k", named("EVEN"), []step{
			addTo(named("top"), mul(element("TOP_EVEN", k), x)),
			addTo(named("bottom"), mul(element("BOTTOM_EVEN", k), x)),
		}})
	}
	body = append(body,
		fixed("least", mul(named("FLOOR_SHARE"), named("ratio_length"))),
		setVar("height_m", add(named("CENTRE_M"), div(named("top"), larger(named("bottom"), named("least"))))),
		setVar("height_m", between(number(0), named("height_m"), named("LENGTH_M"))),
	)
	b.add(
		remark("Height: two weighted sums of the parts along the direction, one over the other."),
		variable("height_m", named("CENTRE_M")),
		when{is: more(named("ratio_length"), number(0)), then: body},
	)
}

// unit divides a vector by its length; one without length points to bearing 0.
func (b *builder) unit(x, y, length string) {
	b.add(
		fixed(length, hypotn(named(x), named(y))),
		when{more(named(length), number(0)),
			[]step{setVar(x, div(named(x), named(length))), setVar(y, div(named(y), named(length)))},
			[]step{setVar(x, number(0)), setVar(y, number(1))}},
	)
}
