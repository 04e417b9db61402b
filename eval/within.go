package eval

import (
	"context"

	"strikerose/models"
)

// fitWith is a family whose fits change their options first.
func fitWith(f models.Family, change func(o *models.Options)) models.Family {
	fit := f.Fit
	f.Fit = func(ctx context.Context, ex []models.Example, o models.Options) (models.Detector, error) {
		change(&o)
		return fit(ctx, ex, o)
	}
	return f
}

// Within is a family whose answers may read no sample later than some
// milliseconds after the onset; 0 is its own wait.
func Within(f models.Family, ms float64) models.Family {
	return fitWith(f, func(o *models.Options) { o.WithinMs = ms })
}
