package answer

import (
	"strikerose/features/chain/board"
	"strikerose/features/chain/fixed"
)

// Flags of an event.
const (
	Clipped   uint8 = 1 // the accelerometer was at its limit during contact
	Unsure    uint8 = 2 // the stated interval is wider than a face, or the strike is near the noise
	NearGap   uint8 = 4 // lost samples or an edge of the segment in or near the window
	Retracted uint8 = 8 // the early answer of this number was no strike
)

// Stages of an answer.
const (
	Early uint8 = 0
	Final uint8 = 1
)

// How certain an answer is; table.json says what that means in degrees and
// metres.
const (
	Usual uint8 = 0
	Weak  uint8 = 1 // hardly more than sway and noise
	Guess uint8 = 2 // nothing was measured
)

// Event is one answer.
//
//c:whole
type Event struct {
	TRaw        uint32 // stamp of the onset's sample, microseconds
	Number      uint32 // of the strike; an early answer has the number of its final one
	BearingDdeg uint16 // tenths of a degree clockwise from the middle of face 1, 0 to 3599
	HeightMM    int16  // above the bag's bottom edge; -1 where not given yet
	Peak        uint16 // largest push across the bag, 1/100 m/s2
	Stage       uint8  // 0 early, 1 final
	Face        uint8  // from 1, clockwise
	Certainty   uint8  // 0 as usual, 1 weak, 2 a guess
	Flags       uint8  // sum of 1 clipped, 2 unsure, 4 near a gap, 8 retracted
}

// mostWaiting events can wait to be fetched: a segment's end gives no more.
const mostWaiting = 4

// Detector is all that a board keeps.
type Detector struct {
	table *Table `c:"const"`

	count   uint32 // strikes so far, and early answers that were none
	given   bool   // the event under way has an early answer
	waiting int32
	early   Event // that answer
	queue   [mostWaiting]Event
	work    frame
	workF   floatFrame
	chain   board.Chain // last: what lies behind its ring is far to reach
}

// Start makes the detector as new.
func (d *Detector) Start() {
	d.chain.Start()
	d.count = 0
	d.given = false
	d.waiting = 0
}

// Push takes one sample. It is true where an event is ready, which it then
// copies; Next gives what may follow.
func (d *Detector) Push(s *board.Sample, e *Event) bool {
	var x board.Sample
	d.chain.Sort(s, &x)
	lost := d.chain.Lost(&x)
	if lost < 0 {
		d.end()
	}
	if lost > 0 {
		var from board.Sample
		d.chain.Newest(&from)
		for j := range lost {
			d.chain.Fill(&x, &from, j+1, lost+1)
			d.step()
		}
	}
	d.chain.Take(&x)
	d.step()
	return d.Next(e)
}

// Flush ends the recording: what is under way is decided with what is there. It is
// true where an event is ready. The detector can take samples again.
func (d *Detector) Flush(e *Event) bool {
	d.end()
	return d.Next(e)
}

// Next fetches an event that waits, the oldest first.
func (d *Detector) Next(e *Event) bool {
	if d.waiting == 0 {
		return false
	}
	*e = d.queue[0]
	d.waiting--
	for i := range d.waiting {
		d.queue[i] = d.queue[i+1]
	}
	return true
}

// end closes a segment.
func (d *Detector) end() {
	if d.chain.Begun() {
		for i := int32(0); i < board.Lookahead || d.chain.Busy(); i++ {
			d.chain.Pad()
			d.step()
		}
	}
	d.chain.Restart()
}

// step takes the newest reading through the chain and answers.
func (d *Detector) step() {
	told := d.chain.Step()
	if told&board.ToldEarly != 0 {
		d.count++
		d.given = true
		d.early = Event{Number: d.count, HeightMM: -1, Stage: Early}
		d.soon(&d.early)
		d.place(&d.early, d.table.Chain.Soon)
		d.put(&d.early)
	}
	if told&board.ToldRetract != 0 && d.given {
		d.given = false
		d.early.Stage = Final
		d.early.Flags = Retracted
		d.put(&d.early)
	}
	if told&board.ToldFinal != 0 {
		if !d.given {
			d.count++
		}
		d.given = false
		e := Event{Number: d.count, Stage: Final}
		d.answer(&e)
		d.place(&e, d.table.Chain.Post)
		d.put(&e)
	}
}

// put queues an event.
func (d *Detector) put(e *Event) {
	if d.waiting < mostWaiting {
		d.queue[d.waiting] = *e
		d.waiting++
	}
}

// place says when a strike was, and what its window lacks.
func (d *Detector) place(e *Event, post int32) {
	e.TRaw = d.chain.Stamp(d.chain.Onset())
	if d.chain.Clipped() {
		e.Flags |= Clipped
	}
	if d.chain.NearGap(post) {
		e.Flags |= NearGap
	}
}

// answer says where the strike at hand landed.
func (d *Detector) answer(e *Event) {
	t := d.table
	push := d.pulse(e)
	if t.Floats != 0 {
		d.answerF(e, &push)
		return
	}
	switch t.Kind {
	case KindPeak:
		d.peak(e, &push)
	case KindRatio:
		d.ratio(e)
	case KindNet, KindTree:
		d.aligned(e)
	}
}

// pulse finds the largest push and states its size.
func (d *Detector) pulse(e *Event) board.Vector {
	push := d.chain.Peak(&d.table.Pulse, &d.table.Quiet)
	// Both have 16 bits once the push is in counts, but for clipped ones.
	size := min(uint32(push.Across())>>4, 0x1ffff)
	e.Peak = uint16(min(size*uint32(d.table.PeakScale)>>12, 65535))
	return push
}

// soon says early where it seems to have landed.
func (d *Detector) soon(e *Event) {
	t := d.table
	push := d.pulse(e)
	if t.Floats != 0 {
		d.soonF(e, &push)
		return
	}
	if t.Sooner == EarlyPeak {
		d.bearing(e, -push.X, -push.Y)
	} else {
		var f sums
		d.add(&f, t.Chain.Soon)
		form := int32(formKick)
		if t.Sooner == EarlyCentre {
			form = formCentre
		}
		q := direction{x: -d.form(f.x[form]), y: -d.form(f.y[form])}
		if t.Sooner == EarlyCentre {
			q = q.turned(d.form(f.odd[1]))
		}
		d.bearing(e, q.x, q.y)
	}
}

// bearing states the bearing of a direction, x toward bearing 90 and y toward
// bearing 0, both below 2^31 in size. One without length is a guess.
func (d *Detector) bearing(e *Event, x, y int32) {
	d.angle(e, fixed.Atan2(x, y))
	if x == 0 && y == 0 {
		e.Certainty = Guess
		e.Flags |= Unsure
	}
}

// angle states a bearing by its binary angle, before yaw.
func (d *Detector) angle(e *Event, angle int32) {
	d.ddeg(e, fixed.Decideg(int32(uint32(angle)+uint32(d.table.Yaw))))
}

// ddeg states a bearing in tenths of a degree, 0 to 3599.
func (d *Detector) ddeg(e *Event, ddeg int32) {
	e.BearingDdeg = uint16(ddeg)
	faces := d.table.Faces
	if faces <= 0 {
		faces = 1
	}
	e.Face = uint8((ddeg*faces+1800)/3600%faces + 1)
	if d.table.Wide != 0 {
		e.Flags |= Unsure
	}
}

// height states a height, Q4 mm, held to the bag.
func (d *Detector) height(e *Event, q4 int32) {
	e.HeightMM = int16((min(max(q4, 0), d.table.Length) + 8) >> 4)
}

// weak marks an answer whose velocity changes are hardly more than noise.
func (d *Detector) weak(e *Event, kick uint32) {
	if kick < uint32(d.table.Weak) {
		e.Flags |= Unsure
		if e.Certainty == Usual {
			e.Certainty = Weak
		}
	}
}

// peak answers against the largest push.
func (d *Detector) peak(e *Event, push *board.Vector) {
	d.bearing(e, -push.X, -push.Y)
	d.height(e, d.table.Middle)
	d.weak(e, uint32(e.Peak))
}
