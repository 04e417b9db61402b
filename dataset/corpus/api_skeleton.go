package corpus

import (
	"context"
	"errors"
	"io"

	"strikerose/dataset"
	"strikerose/dataset/rig"
)

var errNotYet = errors.New("corpus: not built yet")

type Corpus struct{ dir, id string }

type Made struct {
	Tool   string `json:"tool"`   // program part and version, such as "onset 1"
	Params string `json:"params"` // its parameters, in a fixed order
}

type FeatureTable struct {
	Names, Units []string
	OnsetNs      []int64
	Number       []int
	Rows         [][]float64
	Made         Made
}

type LabelRow struct {
	Session, Rig string
	ID           string
	OnsetNs      int64
	Source       string
	Author       string
	AtNs         int64
	Face         int
	BearingDeg   *float64
	HeightM      *float64
	Band         string
	Kind         string
	Confidence   float64
	BearingSDDeg float64
	HeightSDM    float64
	NotStrike    bool
	Note         string
	PlanOrder    int
	Preferred    bool
	Strike       int
}

type Problem struct {
	Severity, Kind, Where, What, Fix string
}

type CheckOptions struct {
	FinderTool, FinderParams     string
	FeaturesTool, FeaturesParams string
}

type NotFoundError struct{}

var ErrNoWindows = errors.New("no windows")
var ErrNoFeatures = errors.New("no features")
var ErrNoLabels = errors.New("no labels")

func Open(dir string) (*Corpus, error)                         { return nil, errNotYet }
func OpenOrCreate(dir string) (*Corpus, error)                 { return nil, errNotYet }
func (c *Corpus) Dir() string                                  { return c.dir }
func (c *Corpus) PutRig(r *rig.Rig) error                      { return errNotYet }
func (c *Corpus) Rig(key string) (*rig.Rig, error)             { return nil, errNotYet }
func (c *Corpus) Rigs() ([]*rig.Rig, error)                    { return nil, errNotYet }
func (c *Corpus) Sessions() ([]dataset.Session, error)         { return nil, errNotYet }
func (c *Corpus) Session(name string) (dataset.Session, error) { return dataset.Session{}, errNotYet }
func (c *Corpus) Select(rigs, sessions []string) ([]dataset.Session, error) {
	return nil, errNotYet
}
func (c *Corpus) SessionOfLog(sha256 string) (dataset.Session, bool, error) {
	return dataset.Session{}, false, errNotYet
}
func (c *Corpus) Lock(session string) (release func() error, err error) { return nil, errNotYet }
func (c *Corpus) KeepRaw(ctx context.Context, r io.Reader) (sha string, n int64, err error) {
	return "", 0, errNotYet
}
func (c *Corpus) OpenRaw(sha string) (io.ReadCloser, error) { return nil, errNotYet }
func (c *Corpus) PutSession(ctx context.Context, s dataset.Session, sig *dataset.Signal, replace bool) error {
	return errNotYet
}
func (c *Corpus) Signal(ctx context.Context, session string) (*dataset.Signal, error) {
	return nil, errNotYet
}
func (c *Corpus) PutStrikes(ctx context.Context, session string, strikes []dataset.Strike, made Made) error {
	return errNotYet
}
func (c *Corpus) Strikes(session string) ([]dataset.Strike, Made, error) {
	return nil, Made{}, errNotYet
}
func (c *Corpus) PutFeatures(ctx context.Context, session string, t FeatureTable) error {
	return errNotYet
}
func (c *Corpus) Features(session string) (FeatureTable, error) { return FeatureTable{}, errNotYet }
func (c *Corpus) PutLabels(ctx context.Context, session string, rows []LabelRow) error {
	return errNotYet
}
func (c *Corpus) Labels(session string) ([]LabelRow, error)          { return nil, errNotYet }
func (c *Corpus) JournalPath(session string) string                  { return "" }
func (c *Corpus) Rename(old, new string) (stale []string, err error) { return nil, errNotYet }
func (c *Corpus) Drop(session string) (stale []string, err error)    { return nil, errNotYet }
func (c *Corpus) SetSession(session string, f func(*dataset.Session) error) (stale []string, err error) {
	return nil, errNotYet
}
func (c *Corpus) Check(ctx context.Context, o CheckOptions) ([]Problem, error) { return nil, errNotYet }
func ValidName(name string) error                                              { return errNotYet }
