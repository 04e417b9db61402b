package truth

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// evening makes up a session of strikes with one restart, if any.
func evening(n int, restart bool, rng *rand.Rand) []struck {
	var out []struck
	t := 5 * rng.Float64()
	for i := range n {
		boot := 1
		if restart && i >= n/2 {
			boot = 2
		}
		if restart && i == n/2 {
			t += 2
		}
		out = append(out, struck{t, boot})
		if rng.IntN(8) == 0 {
			t += 0.2 + 0.15*rng.Float64()
		} else {
			t += 0.8 + 2*rng.Float64()
		}
	}
	return out
}

func TestMatch(t *testing.T) {
	for _, c := range []struct {
		name    string
		n       int
		restart bool
		offsetS float64
		drift   float64
		jitterS float64
		drop    float64
		extras  int
		pairs   float64 // share of the onsets that are strikes, at least
	}{
		{"same clock", 40, false, 0, 0, 0, 0, 0, 1},
		{"wall clock", 40, false, 1.7e9, 30e-6, 0.001, 0, 0, 1},
		{"slow by a percent", 60, false, -50, -0.0099, 0.001, 0, 0, 1},
		{"fast by a percent", 60, false, 50, 0.0099, 0.001, 0, 0, 1},
		{"few strikes", 8, false, 12, 0.001, 0.001, 0, 0, 1},
		{"poor finder", 80, false, 12, 0.003, 0.002, 0.2, 20, 0.99},
		{"thirty frames a second", 80, false, 12, 0.001, 0.01, 0, 0, 0.99},
		{"restart", 80, true, 1.7e9, -0.004, 0.001, 0.05, 4, 0.99},
		{"a long evening", 1500, false, 3e5, 0.005, 0.002, 0.02, 30, 0.99},
	} {
		t.Run(c.name, func(t *testing.T) {
			for seed := range uint64(3) {
				if c.n > 1000 && seed > 0 {
					break
				}
				rng := rand.New(rand.NewPCG(seed, 9))
				m := makeSession(evening(c.n, c.restart, rng), c.offsetS, c.drift, c.jitterS, c.drop, c.extras, rng)
				p, err := Match(t.Context(), m.entries, m.onsets, m.epochs)
				if err != nil {
					t.Fatal(err)
				}
				if n := m.wrong(p); n > c.extras/10 {
					t.Errorf("seed %d: %d of %d pairs are wrong", seed, n, len(p.Pairs))
				}
				real := 0
				for _, f := range m.from {
					if f >= 0 {
						real++
					}
				}
				if float64(len(p.Pairs)) < c.pairs*float64(real) {
					t.Errorf("seed %d: %d pairs of %d strikes", seed, len(p.Pairs), real)
				}
				if len(p.Pairs)+len(p.Extra) != len(m.onsets) {
					t.Errorf("seed %d: %d pairs and %d extra of %d onsets", seed, len(p.Pairs), len(p.Extra), len(m.onsets))
				}
				if f := p.Fits[0]; !f.Borrowed && math.Abs(f.DriftPPM/1e6-(1/(1+c.drift)-1)) > 5*(c.jitterS+1e-4)/20 {
					t.Errorf("seed %d: drift %.0f ppm, want %.0f", seed, f.DriftPPM, 1e6*(1/(1+c.drift)-1))
				}
				if c.restart {
					pause := p.Fits[1].OffsetS - p.Fits[0].OffsetS
					at := seconds(m.epochs[1].StartNs)
					pause += (p.Fits[1].DriftPPM - p.Fits[0].DriftPPM) / 1e6 * at
					if math.Abs(pause-m.pauseS) > 0.02 {
						t.Errorf("seed %d: pause %.3f s, want %.3f", seed, pause, m.pauseS)
					}
				}
			}
		})
	}
}

// TestMatchIgnoresTheClock: shifting and slightly stretching the truth's clock
// changes offset and drift but neither pairs nor places.
func TestMatchIgnoresTheClock(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 9))
	m := makeSession(evening(40, true, rng), 0, 0, 0.001, 0.05, 3, rng)
	before, err := Match(t.Context(), m.entries, m.onsets, m.epochs)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		shift := rapid.Float64Range(-1e9, 2e9).Draw(t, "shift")
		stretch := 1 + rapid.Float64Range(-0.009, 0.009).Draw(t, "stretch")
		entries := slices.Clone(m.entries)
		for i := range entries {
			entries[i].TimeS = entries[i].TimeS*stretch + shift
		}
		after, err := Match(context.Background(), entries, m.onsets, m.epochs)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(before.Pairs, after.Pairs) || !slices.Equal(before.Missed, after.Missed) || !slices.Equal(before.Extra, after.Extra) {
			t.Fatalf("pairs %v, missed %v, extra %v; were %v, %v, %v", after.Pairs, after.Missed, after.Extra, before.Pairs, before.Missed, before.Extra)
		}
		for i := range entries {
			if d := math.Abs(float64(after.OnsetNs[i] - before.OnsetNs[i])); d > 2e6 {
				t.Fatalf("entry %d moves by %.2f ms", i, d/1e6)
			}
		}
	})
}

func TestWrongTruthIsRefused(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 9))
	m := makeSession(evening(80, false, rng), 0, 0, 0.001, 0, 0, rng)
	other := makeSession(evening(80, false, rng), 0, 0, 0.001, 0, 0, rng)
	even := makeSession(evening(30, false, rng), 0, 0, 0, 0, 0, rng)
	for i := range even.entries {
		even.entries[i].TimeS = 2 * float64(i)
		even.onsets[i] = int64(2e9 * i)
	}
	millis := slices.Clone(m.entries)
	for i := range millis {
		millis[i].TimeS *= 1000
	}
	for name, c := range map[string]struct {
		entries []Entry
		onsets  []int64
		want    string
	}{
		"another session": {other.entries, m.onsets, "check that this truth belongs to this session"},
		"milliseconds":    {millis, m.onsets, "that time_s is in seconds"},
		"metronome":       {even.entries, even.onsets, "too regular or too few"},
		"two strikes":     {m.entries[:2], m.onsets[:2], "no stretch between restarts has 3"},
		"no entries":      {nil, m.onsets, "lists no strikes"},
		"no onsets":       {m.entries, nil, "find strikes first"},
	} {
		p, err := Match(t.Context(), c.entries, c.onsets, m.epochs)
		if !errors.Is(err, ErrNoPlace) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, %+v, want an error with %q", name, err, p.Fits, c.want)
		}
	}
	if _, err := Match(t.Context(), m.entries, m.onsets, nil); !errors.Is(err, ErrNoPlace) {
		t.Errorf("no epochs: %v", err)
	}
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Match(cancelled, m.entries, m.onsets, m.epochs); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

// TestTruthOfAPart: a camera that ran for a part of the session is enough.
func TestTruthOfAPart(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 9))
	m := makeSession(evening(300, false, rng), 77, 0.002, 0.002, 0, 0, rng)
	for _, part := range [][2]int{{0, 40}, {130, 170}, {255, 300}} {
		p, err := Match(t.Context(), m.entries[part[0]:part[1]], m.onsets, m.epochs)
		if err != nil {
			t.Errorf("strikes %d to %d: %v", part[0], part[1], err)
			continue
		}
		for i := range p.Pairs {
			p.Pairs[i].Entry += part[0]
		}
		if n := m.wrong(p); n > 0 || len(p.Pairs) != part[1]-part[0] {
			t.Errorf("strikes %d to %d: %d pairs, %d wrong", part[0], part[1], len(p.Pairs), n)
		}
	}
}

func TestPlacesOfEntries(t *testing.T) {
	// 20 strikes, a pause of 3 s with one strike in it, 20 more, on a clock that
	// starts at 100; the truth goes on before and after the recording.
	rng := rand.New(rand.NewPCG(6, 9))
	var entries []Entry
	var onsets []int64
	add := func(truthS float64, sessionS float64) {
		entries = append(entries, Entry{TimeS: truthS, HeightM: 0.5})
		if sessionS >= 0 {
			onsets = append(onsets, int64(sessionS*1e9))
		}
	}
	add(95, -1)
	t1 := 2.0
	for range 20 {
		add(100+t1, t1)
		t1 += 1 + rng.Float64()
	}
	restart := t1
	add(100+restart+1.5, -1)
	add(100+restart-0.5, -1) // just before the pause, not found
	t1 += 0.7
	for range 20 {
		add(103+t1, t1)
		t1 += 1 + rng.Float64()
	}
	add(103+t1+5, -1)
	epochs := []Epoch{{0, int64(restart*1e9) - 1}, {int64(restart * 1e9), int64(t1 * 1e9)}}
	p, err := Match(t.Context(), entries, onsets, epochs)
	if err != nil {
		t.Fatal(err)
	}
	count := make(map[string]int)
	for _, w := range p.Where {
		count[w]++
	}
	if p.Where[0] != Outside || p.Where[21] != InPause || p.Where[22] != InEpoch || p.Where[len(entries)-1] != Outside || count[InEpoch] != 41 {
		t.Errorf("places: %v", p.Where)
	}
	if !slices.Equal(p.Missed, []int{22}) || len(p.Extra) != 0 {
		t.Errorf("missed %v, extra %v, want the one before the pause alone", p.Missed, p.Extra)
	}
	claims := p.Claims(entries, true)
	complete := 0
	for _, c := range claims {
		if c.Complete {
			complete++
			continue
		}
		if c.BearingDeg == nil || c.HeightM == nil || *c.HeightM != 0.5 {
			t.Errorf("claim %+v lacks its place", c)
		}
	}
	if complete != 2 || len(claims) != 43 {
		t.Errorf("%d claims, %d of them complete, want 43 and 2", len(claims), complete)
	}
}

// TestFewStrikesAfterARestart: three strikes are placed by a short pause and
// the other stretch's drift, one is not placed and does not become a denial.
func TestFewStrikesAfterARestart(t *testing.T) {
	for seed := range uint64(5) {
		rng := rand.New(rand.NewPCG(seed, 10))
		s := evening(60, false, rng)
		for keep := 1; keep <= 3; keep++ {
			for i := range s {
				s[i].boot = 1
				if i >= len(s)-keep {
					s[i].boot = 2
				}
			}
			spaced := slices.Clone(s)
			for i := len(s) - keep; i < len(s); i++ {
				spaced[i].timeS += 1.2
			}
			m := makeSession(spaced, 40, 0.002, 0.001, 0, 0, rng)
			p, err := Match(t.Context(), m.entries, m.onsets, m.epochs)
			if err != nil {
				t.Fatal(err)
			}
			if n := m.wrong(p); n > 0 {
				t.Errorf("seed %d, %d strikes: %d pairs are wrong", seed, keep, n)
			}
			switch f := p.Fits[1]; {
			case keep == 3 && (!f.Placed || !f.Borrowed || f.Pairs != 3):
				t.Errorf("seed %d: three strikes are not placed: %+v, %v", seed, f, p.Notes)
			case keep == 1 && (f.Placed || len(p.Notes) != 1):
				t.Errorf("seed %d: one strike is placed: %+v, %v", seed, f, p.Notes)
			}
			if !p.Fits[1].Placed {
				for _, c := range p.Claims(m.entries, true) {
					if c.Complete && c.EndNs > m.epochs[0].EndNs {
						t.Errorf("seed %d: a stretch that is not placed is called complete", seed)
					}
				}
			}
		}
	}
}

// A strike that a restart without a pause divides is matched once.
func TestEntryAtRestartIsMatchedOnce(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	var entries []Entry
	var onsets []int64
	for at := 2.0; at < 198; at += 1 + 3*rng.Float64() {
		if math.Abs(at-100) > 1 {
			entries, onsets = append(entries, Entry{TimeS: at}), append(onsets, int64(at*1e9))
		}
	}
	entries = append(entries, Entry{TimeS: 100})
	onsets = append(onsets, 99_980_000_000, 100_020_000_000)
	p, err := Match(t.Context(), entries, onsets, []Epoch{{0, 99_999_000_000}, {100_000_000_000, 200_000_000_000}})
	if err != nil {
		t.Fatal(err)
	}
	matched := map[int]int{}
	for _, pair := range p.Pairs {
		matched[pair.Entry]++
	}
	if last := len(entries) - 1; matched[last] != 1 || len(p.Pairs) != len(entries) || p.Fits[0].Pairs+p.Fits[1].Pairs != len(p.Pairs) {
		t.Errorf("the entry at the restart has %d onsets; %d pairs for %d entries, fits %+v", matched[last], len(p.Pairs), len(entries), p.Fits)
	}
}
