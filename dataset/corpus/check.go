package corpus

import (
	"context"
	"errors"
)

var errNotYet = errors.New("corpus: not built yet")

type Problem struct {
	Severity, Kind, Where, What, Fix string
}

type CheckOptions struct {
	FinderTool, FinderParams     string
	FeaturesTool, FeaturesParams string
}

func (c *Corpus) Check(ctx context.Context, o CheckOptions) ([]Problem, error) { return nil, errNotYet }
