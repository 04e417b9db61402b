package drift

import (
	"context"
	"fmt"
	"runtime"

	"golang.org/x/sync/errgroup"

	"strikerose/dataset"
	"strikerose/eval"
	"strikerose/models"
)

// LookAll looks at sessions, as many at once as there are processors; the result
// is in their order. Progress may be nil.
func LookAll(ctx context.Context, src eval.Source, sessions []dataset.Session, seed uint64, progress eval.Progress) ([]models.Seen, error) {
	out := make([]models.Seen, len(sessions))
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i, s := range sessions {
		g.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			r, err := src.Rig(s.Rig)
			if err != nil {
				return fmt.Errorf("session %s: rig %s: %w", s.Name, s.Rig, err)
			}
			sig, err := src.Signal(ctx, s.Name)
			if err != nil {
				return fmt.Errorf("session %s: %w", s.Name, err)
			}
			seen, err := Look(ctx, r, sig, seed)
			if err != nil {
				return fmt.Errorf("session %s: %w", s.Name, err)
			}
			seen.Session = s.Name
			out[i] = seen
			if progress != nil {
				progress.Add(1)
			}
			return nil
		})
	}
	return out, g.Wait()
}
