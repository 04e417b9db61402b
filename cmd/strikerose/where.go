package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"strikerose/dataset"
	"strikerose/dataset/corpus"
	"strikerose/dataset/rig"
	"strikerose/dataset/shell"
	"strikerose/models"
)

// place is what lies in a directory, as far as strikerose knows it.
type place struct {
	corpus   string         // its directory; "" none
	held     *corpus.Corpus // what list opened there
	others   []string       // directories of more corpora
	sessions []string       // of the corpus
	unfound  []string       // of those, without a look for strikes
	bare     []string       // of those, without any label
	rigs     []string       // rig files
	logs     []string       // what may be logs that are not in the corpus
	plans    []string       // plans of strikes
	onRigs   []string       // keys of the rigs of the corpus's sessions
	detector string         // a file that train wrote; "" none
	board    bool           // whether export can write that detector for a board
	compared bool           // a report of compare is there
}

// logEndings are those of files that boards write, plain or compressed.
var logEndings = []string{".csv", ".bin", ".jsonl", ".log", ".txt"}

// look finds out what lies in the corpus's directory or, where it is none, in
// the directory below that is the corpus meant, else the first that is one; others
// are named. It goes by the names in the corpus and opens no session: it is quick,
// and sees no damage.
func (a *app) look(meant string) (place, error) {
	var p place
	entries, err := os.ReadDir(a.dir)
	if errors.Is(err, fs.ErrNotExist) {
		return p, nil
	}
	if err != nil {
		return p, err
	}
	isCorpus := func(dir string) bool {
		_, err := os.Stat(filepath.Join(dir, "corpus.toml"))
		return err == nil
	}
	if isCorpus(a.dir) {
		p.corpus = a.dir
	}
	var files []string
	keys := map[string]string{}
	for _, e := range entries {
		path := filepath.Join(a.dir, e.Name())
		switch {
		case hidden(e.Name()):
		case e.IsDir():
			switch {
			case !isCorpus(path):
			case p.corpus == "":
				p.corpus = path
			case path == meant:
				p.corpus, p.others = path, append(p.others, p.corpus)
			default:
				p.others = append(p.others, path)
			}
		case filepath.Ext(path) == ".toml":
			if r, err := rig.Load(path); err == nil {
				p.rigs = append(p.rigs, path)
				keys[path] = r.Key()
			}
		case filepath.Ext(path) == ".json":
			if isDetector(path) && !p.board {
				if board := forBoard(path); board || p.detector == "" {
					p.detector, p.board = path, board
				}
			}
		case filepath.Ext(path) == ".html" && strings.Contains(e.Name(), "compare"):
			p.compared = true
		default:
			files = append(files, path)
		}
	}
	if p.corpus != "" {
		if err := p.list(); err != nil {
			return p, err
		}
	}
	known := func(path string) bool { return slices.Contains(p.onRigs, keys[path]) }
	slices.SortStableFunc(p.rigs, func(a, b string) int { // the corpus's own first
		switch {
		case known(a) == known(b):
			return 0
		case known(a):
			return -1
		}
		return 1
	})
	for _, path := range files {
		switch kind, ok := besideLogs(path); {
		case ok && kind.is(planBeside):
			p.plans = append(p.plans, path)
		case !ok && looksLikeLog(path) && !slices.Contains(p.sessions, sessionName(path)):
			p.logs = append(p.logs, path)
		}
	}
	return p, nil
}

// list opens the corpus and takes from it which sessions it has and what was made
// of them.
func (p *place) list() (err error) {
	if p.held, err = corpus.Open(p.corpus); err != nil {
		return err
	}
	sessions, err := p.held.List()
	for _, s := range sessions {
		p.sessions = append(p.sessions, s.Name)
		p.onRigs = append(p.onRigs, s.Rig)
		if !s.Found {
			p.unfound = append(p.unfound, s.Name)
		}
		if !s.Labelled {
			p.bare = append(p.bare, s.Name)
		}
	}
	return err
}

// read reads the sessions and strikes of the corpus and returns the first damage.
func (p *place) read() error {
	if p.held == nil {
		return nil
	}
	if err := p.leaveOutImported(); err != nil {
		return err
	}
	for _, session := range p.sessions {
		if _, _, err := p.held.Strikes(session); err != nil && !errors.Is(err, corpus.ErrNoWindows) {
			return err
		}
	}
	return nil
}

// leaveOutImported takes those logs out that were imported under another name than
// their own, which only the rows of all sessions tell.
func (p *place) leaveOutImported() error {
	rows, err := p.held.Sessions()
	p.logs = slices.DeleteFunc(p.logs, func(path string) bool {
		return slices.ContainsFunc(rows, func(s dataset.Session) bool { return s.LogName == filepath.Base(path) })
	})
	return err
}

// looksLikeLog judges by the name, which is enough to propose a command:
// import recognises by content, and refuses what is none.
func looksLikeLog(path string) bool {
	name := strings.ToLower(filepath.Base(path))
	for _, packed := range []string{".zst", ".gz"} {
		name = strings.TrimSuffix(name, packed)
	}
	events := strings.HasSuffix(name, ".csv") && strings.Contains(name, "events") // those of apply have no header
	return slices.Contains(logEndings, filepath.Ext(name)) && !events
}

// tell says what is there, a line each.
func (p place) tell() []string {
	var out []string
	if len(p.rigs) > 0 {
		out = append(out, "rig files: "+someOf(p.rigs))
	}
	if p.corpus != "" {
		out = append(out, fmt.Sprintf("corpus %s: %s, %d not searched for strikes, %d without labels",
			p.corpus, counted(len(p.sessions), "session"), len(p.unfound), len(p.bare)))
	}
	if len(p.others) > 0 {
		out = append(out, fmt.Sprintf("more corpora: %s; strikerose -C %s tells of that one", someOf(p.others), shell.Word(p.others[0])))
	}
	if len(p.plans) > 0 {
		out = append(out, "plans: "+someOf(p.plans))
	}
	if len(p.logs) > 0 {
		out = append(out, "files that may be logs, not imported: "+someOf(p.logs))
	}
	if p.detector != "" {
		out = append(out, "detector: "+p.detector)
	}
	if len(out) == 0 {
		out = append(out, "neither rig file nor log nor corpus")
	}
	return out
}

// next is the one command to run now, and why.
func (p place) next() (command, why string) {
	at := "gym"
	if p.corpus != "" {
		at = shell.Word(p.corpus)
	}
	rigFile := "RIG.toml"
	if len(p.rigs) > 0 {
		rigFile = shell.Word(p.rigs[0])
	}
	switch {
	case len(p.rigs) == 0 && p.corpus == "" && len(p.logs) == 0:
		return "strikerose rig new garage.toml", "it describes your bag; strikerose demo DIR shows the whole job first, on simulated recordings"
	case len(p.rigs) == 0 && len(p.sessions) == 0:
		return "strikerose rig new garage.toml", "a log is read with a description of its bag"
	case len(p.sessions) == 0 && len(p.logs) == 0 && len(p.plans) > 0:
		return fmt.Sprintf("strikerose import -C %s --rig %s LOG", at, rigFile), fmt.Sprintf("when the strikes of %s are recorded; strikerose rig show %s tells before what the sensor can know there", p.plans[0], rigFile)
	case len(p.sessions) == 0 && len(p.logs) == 0:
		return "strikerose plan --rig " + rigFile + " -o plan.csv --sheet plan.html", "strikes in a planned order are strikes whose place is known; then record them; strikerose rig show " + rigFile + " tells before what the sensor can know there"
	case len(p.sessions) == 0:
		return fmt.Sprintf("strikerose import -C %s --rig %s %s", at, rigFile, shell.Word(p.logs[0])), "it reads the log into a corpus"
	case len(p.unfound) > 0:
		return "strikerose find -C " + at, "it finds the strikes"
	case len(p.bare) == len(p.sessions):
		return fmt.Sprintf("strikerose label plan -C %s --session %s", at, p.toLabel()), "labels say where strikes landed; label serve takes them by hand, and physics needs none"
	case len(p.logs) > 0 && len(p.rigs) > 0:
		return fmt.Sprintf("strikerose import -C %s --rig %s %s", at, rigFile, shell.Word(p.logs[0])), "it is not in the corpus yet"
	case len(p.sessions)-len(p.bare) < 2 && p.detector != "":
		return fmt.Sprintf("strikerose apply -C %s --detector %s -o strikes.csv", at, shell.Word(p.detector)), "it says where strikes landed; whether that holds, a second evening tells"
	case len(p.sessions)-len(p.bare) < 2:
		return fmt.Sprintf("strikerose train -C %s -o detector.json", at), "one labelled session is enough to train on; a second one shows whether it holds"
	}
	switch {
	case !p.compared:
		return fmt.Sprintf("strikerose compare -C %s --report compare.html", at), "it compares the detectors on sessions that they have not seen"
	case p.detector == "":
		return fmt.Sprintf("strikerose train -C %s -o detector.json", at), "it picks a detector by cross-validation; --detector takes the one that the report speaks for"
	case !p.board:
		return fmt.Sprintf("strikerose train -C %s --detector NAME -o board.json", at), "the NAME that the report speaks for, of those that strikerose detectors lists for a board: " + p.detector + " cannot be exported"
	}
	return fmt.Sprintf("strikerose export -C %s --detector %s --rig %s -o firmware", at, shell.Word(p.detector), rigFile), "it writes the C code for the board"
}

// toLabel is the session to label next and its plan, as words of a command: the first
// that a plan is there for, else the first of all.
func (p place) toLabel() string {
	for _, session := range p.bare {
		if plan := p.planOf(session); plan != noPlan {
			return shell.Line(session, plan)
		}
	}
	return shell.Line(p.bare[0], noPlan)
}

// noPlan stands for a plan where none is known.
const noPlan = "PLAN.csv"

// planOf is the plan that a session's name suggests, or the only one.
func (p place) planOf(session string) string {
	for _, path := range p.plans {
		rest, ok := strings.CutPrefix(filepath.Base(path), session)
		next, _ := utf8.DecodeRuneInString(rest)
		if ok && !unicode.IsLetter(next) && !unicode.IsDigit(next) { // that of evening10 is not evening1's
			return path
		}
	}
	if len(p.plans) == 1 && len(p.bare) == 1 {
		return p.plans[0]
	}
	return noPlan
}

// isDetector tells by its first bytes whether a file is one that train wrote.
func isDetector(path string) bool {
	return strings.Contains(startOf(path), models.FileFormat)
}

// forBoard tells whether export can write the detector of a file.
func forBoard(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	file, err := models.Load(f)
	return err == nil && file.Detector.Info().Board
}

// startOf is a file's first bytes, none where they cannot be read.
func startOf(path string) string {
	f, err := os.Open(path)
	if err != nil {
		return ""
	}
	defer f.Close()
	head := make([]byte, 256)
	n, _ := io.ReadFull(f, head)
	return string(head[:n])
}

// someOf lists names, the first few of many.
func someOf(names []string) string {
	const most = 4
	if len(names) <= most {
		return strings.Join(names, ", ")
	}
	return fmt.Sprintf("%s and %d more", strings.Join(names[:most], ", "), len(names)-most)
}

// tellPlace says on standard error what lies here and what to run next.
func (a *app) tellPlace() {
	p, err := a.look("")
	if err == nil {
		err = p.read()
	}
	if err != nil {
		a.warn("%v", err)
		return
	}
	fmt.Fprintf(a.err, "Here, in %s:\n", a.dir)
	for _, line := range p.tell() {
		fmt.Fprintf(a.err, "  %s\n", line)
	}
	a.sayNext(p)
	if p.corpus != "" {
		fmt.Fprintf(a.err, "strikerose check -C %s verifies all of the corpus and names what else to run.\n", shell.Word(p.corpus))
	}
}
