package kill

import (
	"slices"
	"strings"
)

// Names in a scratch directory.
const (
	gymName = "gym"    // the corpus
	outName = "output" // where commands write their outputs
	tmpName = "tmp"    // the folder for temporary files
)

// job is a command that is killed. In a command line {G}, {I} and {O} stand for
// the corpus, the folder of inputs and that of outputs.
type job struct {
	name   string
	before [][]string // command lines that prepare the corpus
	line   []string
	stdin  string // file that is piped in, if any
	served bool   // the command serves the page, and labels are sent to it

	// already is what the same command line says, with status 1, where the
	// killed one had done all its work.
	already string

	anew bool // the corpus is made by this job
}

// readsOnly tells whether the command leaves the corpus alone and writes outputs.
func (j job) readsOnly() bool {
	return slices.ContainsFunc(j.line, func(word string) bool { return strings.Contains(word, "{O}") })
}

// jobs lists the commands that are killed: most that change a corpus, and two that
// write outputs as all do. The corpus that they start
// from holds monday, labelled, with features, and thursday with strikes.
func jobs() []job {
	again := []string{"import", "-C", "{G}", "--rig", "{I}/rig.toml", "--session", "monday", "--striker", "ben", "--force", "{I}/monday.bin"}
	return []job{
		{name: "import into a new corpus", anew: true, already: "is in the corpus already",
			line: []string{"import", "-C", "{G}", "--rig", "{I}/rig.toml", "{I}/friday.bin"}},
		{name: "import of a file", already: "is in the corpus already",
			line: []string{"import", "-C", "{G}", "--rig", "{I}/rig.toml", "{I}/friday.bin"}},
		{name: "import from a pipe", already: "is in the corpus already", stdin: "friday.bin",
			line: []string{"import", "-C", "{G}", "--rig", "{I}/rig.toml", "--session", "friday", "-"}},
		{name: "import --force", line: again},
		{name: "find", before: [][]string{again}, line: []string{"find", "-C", "{G}"}},
		{name: "label plan", line: []string{"label", "plan", "-C", "{G}", "--session", "thursday", "{I}/thursday-plan.csv"}},
		{name: "label truth", line: []string{"label", "truth", "-C", "{G}", "--session", "thursday", "--complete", "{I}/thursday-truth.csv"}},
		{name: "label serve", served: true,
			line: []string{"label", "serve", "-C", "{G}", "--addr", "127.0.0.1:0", "--labeller", labeller}},
		{name: "label read", line: []string{"label", "read", "-C", "{G}", "{I}/all.csv"}},
		{name: "features", before: [][]string{again, {"find", "-C", "{G}"}}, line: []string{"features", "-C", "{G}"}},
		{name: "session rename", already: "unknown session",
			line: []string{"session", "rename", "-C", "{G}", "monday", "saturday"}},
		{name: "session drop", already: "unknown session", line: []string{"session", "drop", "-C", "{G}", "monday"}},
		{name: "session set", line: []string{"session", "set", "-C", "{G}", "monday", "--striker", "carla"}},
		{name: "train -o", before: [][]string{{"train", "-C", "{G}", "--detector", "peak-arctangent", "-o", "{O}/detector.json"}},
			line: []string{"train", "-C", "{G}", "--detector", "kick-direction", "-o", "{O}/detector.json"}},
		{name: "export", before: [][]string{{"export", "--detector", "{I}/old.json", "--rig", "{I}/rig.toml", "-o", "{O}/board"}},
			line: []string{"export", "--detector", "{I}/detector.json", "--rig", "{I}/rig.toml", "-o", "{O}/board"}},
	}
}
