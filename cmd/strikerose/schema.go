package main

import (
	"embed"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

// schemas hold a JSON Schema of what each command prints with --json, by the
// command's words joined by hyphens. A test holds the commands to them.
//
//go:embed schema/*.json
var schemas embed.FS

// schemaOf returns the schema of what a command prints with --json.
func schemaOf(cmd *cobra.Command) ([]byte, error) {
	text, err := schemas.ReadFile("schema/" + schemaName(cmd.CommandPath()) + ".json")
	if err != nil {
		return nil, fmt.Errorf("help: %s prints nothing as JSON", cmd.CommandPath())
	}
	return text, nil
}

// schemaName is the name of the schema of a command by its path.
func schemaName(path string) string {
	_, words, _ := strings.Cut(path, " ")
	return strings.ReplaceAll(words, " ", "-")
}
