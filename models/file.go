package models

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"strikerose/features"
)

// FileFormat and FileVersion open every detector file. The version is raised
// whenever a file of before would be read wrongly.
const (
	FileFormat  = "strikerose detector"
	FileVersion = 1
)

// Training says how a detector was made. It is written into its file.
type Training struct {
	Seed     uint64   `json:"seed"`
	Sessions []string `json:"sessions"`
	Truth    string   `json:"truth"`          // timed, hand, plan or best
	Tool     string   `json:"tool,omitempty"` // and its version
	Why      string   `json:"why,omitempty"`  // why this detector, where it was picked
	Examples int      `json:"examples"`
	// Simulated counts strikes that it learned from besides: made by the program
	// from a rig file, not recorded.
	Simulated int `json:"simulated,omitempty"`
	// Unlabelled are the rigs that it was adapted to without a label of theirs.
	Unlabelled []string `json:"adapted_without_labels,omitempty"`
	// Seen is what the sessions looked like; a part of its own in the file.
	Seen []Seen `json:"-"`
}

// File is a detector as it was loaded, with how it was made.
type File struct {
	Detector Detector
	Training Training
	Rigs     []string // keys of the rig revisions it was trained on
}

// fileJSON is a detector file.
//
//	format, version   what it is
//	detector          the family's name
//	features          the columns that it reads and a hash of their definitions
//	training          seed, sessions, truth, number of examples
//	options           longest wait, features allowed and settings of the fit
//	rigs              yaw offset, labels and physical constants of each revision
//	certainty         what is stated beside each answer, and how it was found
//	scores            errors by cross-validation, the chosen form first
//	seen              what the sessions trained on looked like, labels apart
//	parameters        of the family, see its type's documentation
type fileJSON struct {
	Format     string          `json:"format"`
	Version    int             `json:"version"`
	Detector   string          `json:"detector"`
	Features   featuresJSON    `json:"features"`
	Training   Training        `json:"training"`
	Options    optionsJSON     `json:"options,omitzero"`
	Rigs       []RigYaw        `json:"rigs"`
	Certainty  Certainty       `json:"certainty"`
	Scores     []Score         `json:"scores,omitempty"`
	Seen       []Seen          `json:"seen,omitempty"`
	Parameters json.RawMessage `json:"parameters"`
}

type featuresJSON struct {
	Names  []string `json:"names"`
	SHA256 string   `json:"sha256"`
}

// Save writes a detector as versioned JSON. The same detector gives the same
// bytes. Only detectors of this package can be saved.
func Save(w io.Writer, d Detector, t Training) error {
	m, ok := d.(*Model)
	if !ok {
		return fmt.Errorf("detector: save: %T is not one of this program's detectors", d)
	}
	parameters, err := json.Marshal(plain(m.core))
	if err != nil {
		return fmt.Errorf("detector: save %s: %w", m.info.Name, err)
	}
	names := reads(m.core, m.options.WithinMs)
	t.Sessions = append([]string{}, t.Sessions...) // an empty list, not null
	data, err := json.MarshalIndent(fileJSON{
		Format: FileFormat, Version: FileVersion, Detector: m.info.Name,
		Features: featuresJSON{Names: names, SHA256: definitions(names)},
		Training: t, Options: m.options.file(), Rigs: append([]RigYaw{}, m.Rigs...), Certainty: m.Certainty, Scores: m.Scores, Seen: t.Seen, Parameters: parameters,
	}, "", "  ")
	if err != nil {
		return fmt.Errorf("detector: save %s: %w", m.info.Name, err)
	}
	data = append(data, '\n')
	if len(data) > longestFile {
		return fmt.Errorf("detector: save %s: %d MB, more than the %d that can be read again: train it on fewer strikes, or another detector", m.info.Name, len(data)>>20, longestFile>>20)
	}
	if err := bounded(data); err != nil {
		return fmt.Errorf("detector: save %s: too large to be read again: %w: train it on fewer strikes, or another detector", m.info.Name, err)
	}
	_, err = w.Write(data)
	return err
}

// Load reads what Save wrote. It refuses what is no detector file, a file of a
// newer version, an unknown detector, and features that this program defines
// otherwise, and says what to do about it.
func Load(r io.Reader) (*File, error) {
	data, err := io.ReadAll(io.LimitReader(r, longestFile+1))
	if err != nil {
		return nil, fmt.Errorf("detector: read: %w", err)
	}
	if len(data) > longestFile {
		return nil, fmt.Errorf("detector: longer than %d MB: this is no detector file", longestFile>>20)
	}
	if err := bounded(data); err != nil {
		return nil, fmt.Errorf("detector: %w: give a file that `strikerose train` wrote", err)
	}
	var head struct {
		Format  string `json:"format"`
		Version int    `json:"version"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, fmt.Errorf("detector: not a detector file: %w: give a file that `strikerose train` wrote", err)
	}
	if head.Format != FileFormat {
		return nil, fmt.Errorf("detector: not a detector file: its format is %.40q, not %q: give a file that `strikerose train` wrote", head.Format, FileFormat)
	}
	if head.Version > FileVersion {
		return nil, fmt.Errorf("detector: file of version %d: this program reads up to %d: use a newer strikerose, or train again with this one", head.Version, FileVersion)
	}
	if head.Version < 1 {
		return nil, fmt.Errorf("detector: version %d: there is none before 1: the file is damaged, train again", head.Version)
	}
	var f fileJSON
	if err := strict(data, &f); err != nil {
		return nil, fmt.Errorf("detector: damaged file: %w: train again", err)
	}
	return f.open()
}

func (f *fileJSON) open() (*File, error) {
	recipe, ok := recipeByName(f.Detector)
	if !ok {
		return nil, fmt.Errorf("detector: %q is unknown: this program has %s: use the strikerose that trained it, or train again", f.Detector, strings.Join(Names(), ", "))
	}
	for _, n := range f.Features.Names {
		if !features.Known(n) {
			return nil, fmt.Errorf("detector: %s: reads the feature %q, which this program does not have: use the strikerose that trained it, or train again", f.Detector, n)
		}
	}
	if have := definitions(f.Features.Names); have != f.Features.SHA256 {
		return nil, fmt.Errorf("detector: %s: its features are defined otherwise in this program (sha256 %.12s there, %.12s here): train again", f.Detector, f.Features.SHA256, have)
	}
	if len(f.Parameters) == 0 {
		return nil, fmt.Errorf("detector: %s: damaged file: no parameters: train again", f.Detector)
	}
	c, err := recipe.decode(f.Parameters)
	if err != nil {
		return nil, fmt.Errorf("detector: %s: damaged file: parameters: %w: train again", f.Detector, err)
	}
	c = correctedBy(c, f.Rigs)
	if have := strings.Join(reads(c, f.Options.WithinMs), " "); have != strings.Join(f.Features.Names, " ") {
		return nil, fmt.Errorf("detector: %s: damaged file: its parameters read other features than it lists: train again", f.Detector)
	}
	if err := f.Certainty.check(); err != nil {
		return nil, fmt.Errorf("detector: %s: damaged file: certainty: %w: train again", f.Detector, err)
	}
	if err := checkSeen(f.Seen); err != nil {
		return nil, fmt.Errorf("detector: %s: damaged file: seen: %w: train again", f.Detector, err)
	}
	options, err := f.Options.options(f.Training.Seed).settled(recipe.settings)
	if err != nil {
		return nil, fmt.Errorf("detector: %s: damaged file: options: %w: train again", f.Detector, err)
	}
	out := &File{Training: f.Training}
	out.Training.Seen = f.Seen
	for _, y := range f.Rigs {
		if err := y.check(); err != nil {
			return nil, fmt.Errorf("detector: %s: damaged file: rig %s: %w: train again", f.Detector, y.Rig, err)
		}
		out.Rigs = append(out.Rigs, y.Rig)
	}
	out.Detector = &Model{options: options, core: c, prior: recipe.prior, blind: recipe.blind, Rigs: f.Rigs, Certainty: f.Certainty, Scores: f.Scores, info: recipe.describe(c, f.Options.WithinMs, f.Certainty)}
	return out, nil
}

// definitions hashes what the named features mean.
func definitions(names []string) string {
	all := map[string]features.Def{}
	for _, d := range features.All() {
		all[d.Name] = d
	}
	h := sha256.New()
	for _, n := range names {
		d := all[n]
		fmt.Fprintf(h, "%s|%s|%v|%v|%g|%g|%s\n", d.Name, d.Unit, d.Vector, d.Odd, d.FromMs, d.ToMs, d.Doc)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// strict decodes JSON and refuses unknown fields and anything after it.
func strict(data []byte, to any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(to); err != nil {
		return err
	}
	if d.More() {
		return errors.New("more than one JSON value")
	}
	return nil
}
