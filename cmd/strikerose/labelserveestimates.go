package main

import (
	"context"
	"slices"
	"sync"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/features/chain"
	"strikerose/label/page"
	"strikerose/models"
)

// pageEstimates runs a detector over the sessions that the page asks for, one
// after the other, stretch by stretch, and hands out what is there so far.
type pageEstimates struct {
	corpus   *corpus.Corpus
	detector models.Detector
	ctx      context.Context
	stop     context.CancelFunc
	working  sync.WaitGroup
	turn     chan struct{} // held by the session at work

	mu   sync.Mutex
	runs map[string]*estimating
}

// estimating is how far one session is.
type estimating struct {
	log  string // checksum of the session's log, which tells a new import
	list []page.Estimate
	done bool
	err  error
}

func newPageEstimates(ctx context.Context, c *corpus.Corpus, d models.Detector) *pageEstimates {
	e := &pageEstimates{corpus: c, detector: d, turn: make(chan struct{}, 1), runs: make(map[string]*estimating)}
	e.ctx, e.stop = context.WithCancel(ctx)
	return e
}

// Close ends what is at work.
func (e *pageEstimates) Close() {
	e.stop()
	e.working.Wait()
}

// Of starts on a session when it is asked for first.
func (e *pageEstimates) Of(session string) (list []page.Estimate, done bool, err error) {
	s, err := e.corpus.Session(session)
	if err != nil {
		return nil, true, err
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	run := e.runs[session]
	if run == nil || run.log != s.LogSHA256 {
		run = &estimating{log: s.LogSHA256}
		e.runs[session] = run
		e.working.Go(func() {
			err := e.run(s, run)
			e.mu.Lock()
			defer e.mu.Unlock()
			run.done, run.err = true, err
		})
	}
	return slices.Clone(run.list), run.done, run.err
}

func (e *pageEstimates) run(s dataset.Session, run *estimating) error {
	select {
	case e.turn <- struct{}{}:
		defer func() { <-e.turn }()
	case <-e.ctx.Done():
		return e.ctx.Err()
	}
	r, err := e.corpus.Rig(s.Rig)
	if err != nil {
		return err
	}
	if err := models.CheckGyro(e.detector, r.HasGyro() && s.HasGyro); err != nil {
		return err
	}
	samples, err := e.corpus.OpenStretches(s.Name)
	if err != nil {
		return err
	}
	defer samples.Close()
	c, err := chain.New(chainRig(r, s), models.WindowOptions(e.detector, r.HasGyro() && s.HasGyro))
	if err != nil {
		return err
	}
	answer := func(windows ...*dataset.Window) {
		for _, w := range windows {
			one := estimateOf(models.ApplyWindow(e.detector, r, w), e.detector.Info().Name)
			e.mu.Lock()
			run.list = append(run.list, one)
			e.mu.Unlock()
		}
	}
	for i := range samples.List() {
		sig, err := samples.Read(e.ctx, i)
		if err != nil {
			return err
		}
		for k := range sig.Len() {
			if w, ok := c.Push(sig.At(k)); ok {
				answer(w)
			}
		}
	}
	answer(c.Flush()...)
	return nil
}

// chainRig is the rig as a session recorded it: without a gyroscope where the
// log had none.
func chainRig(r *rig.Rig, s dataset.Session) *rig.Rig {
	if s.HasGyro {
		return r
	}
	bare := *r
	bare.Sensor.GyroRangeDPS = 0
	return &bare
}

func estimateOf(row models.ApplyRow, detector string) page.Estimate {
	return page.Estimate{OnsetNs: row.OnsetNs, Detector: detector, Face: row.Face, BearingDeg: row.BearingDeg, HeightM: row.HeightM,
		BearingSDDeg: row.BearingSDDeg, HeightSDM: row.HeightSDM, BearingHalf90Deg: row.BearingHalf90Deg, HeightHalf90M: row.HeightHalf90M,
		Flags: row.Flags}
}
