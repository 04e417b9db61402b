package main

import (
	"context"
	"embed"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"

	"github.com/spf13/cobra"
)

// python is Debian's, for which its packages are.
const python = "/usr/bin/python3"

//go:embed peers
var peerScripts embed.FS

func newTools(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "tools",
		Short: "Install the peers from Debian and npm",
		Long: `Install the peers by .ci/tools, as root: Node.js with DuckDB from npm, NumPy,
SciPy and scikit-learn from Debian. What is there already is left alone.`,
		Example: "go run ./cmd/bench tools",
		Args:    noArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			root, err := moduleRoot(cmd.Context())
			if err != nil {
				return err
			}
			install := exec.CommandContext(cmd.Context(), filepath.Join(root, ".ci", "tools"), "peers")
			install.Stdout, install.Stderr = a.err, a.err
			return install.Run()
		},
	}
}

// peers is where the peers lie and their scripts.
type peers struct {
	scripts string // folder
	node    string
	modules string // node_modules with DuckDB in it
}

// preparePeers finds the peers and lays their scripts out.
func (a *app) preparePeers(w *workspace) (*peers, error) {
	const install = "go run ./cmd/bench tools installs it"
	node, err := exec.LookPath("node")
	if err != nil {
		return nil, fmt.Errorf("%w: %s", err, install)
	}
	tools := a.getenv("STRIKEROSE_DUCKDB")
	if tools == "" {
		tools = a.toolsDir()
	}
	modules := filepath.Join(tools, "node_modules")
	if !exists(filepath.Join(modules, "@duckdb", "node-api")) {
		return nil, fmt.Errorf("%s: there is no DuckDB in it: %s", modules, install)
	}
	if err := exec.Command(python, "-c", "import numpy, scipy, sklearn").Run(); err != nil {
		return nil, fmt.Errorf("%s has no numpy, scipy and sklearn: %s", python, install)
	}
	scripts, err := fs.Sub(peerScripts, "peers")
	if err != nil {
		return nil, err
	}
	dir := w.path("peers")
	if err := os.RemoveAll(dir); err != nil {
		return nil, err
	}
	if err := os.CopyFS(dir, scripts); err != nil {
		return nil, err
	}
	return &peers{scripts: dir, node: node, modules: modules}, nil
}

// toolsDir is where .ci/tools keeps what it installs from npm.
func (a *app) toolsDir() string {
	if dir := a.getenv("STRIKEROSE_TOOLS"); dir != "" {
		return dir
	}
	cache := a.getenv("XDG_CACHE_HOME")
	if cache == "" {
		cache = filepath.Join(a.getenv("HOME"), ".cache")
	}
	return filepath.Join(cache, "strikerose-tools")
}

// duckDB runs one statement.
func (p *peers) duckDB(ctx context.Context, sql string) (usage, []byte, error) {
	cmd := command(ctx, p.node, filepath.Join(p.scripts, "duckdb.js"), sql)
	cmd.Env = append(os.Environ(), "NODE_PATH="+p.modules)
	return measure(cmd)
}

// python runs one script.
func (p *peers) python(ctx context.Context, script string, args ...string) (usage, []byte, error) {
	return measure(command(ctx, python, append([]string{filepath.Join(p.scripts, script)}, args...)...))
}
