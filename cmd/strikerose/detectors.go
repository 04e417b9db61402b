package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"strikerose/models"
)

func newDetectors(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "detectors",
		Short: "List every detector: what it gives, needs and costs",
		Long: `List every detector. A rule needs no training; a fitted detector learns from
labels. One gives bearings, or both bearings and heights. The cost is what one
answer takes beside the features: multiply-accumulate operations (macs) and numbers
to store, 4 bytes each. The wait is how long after the onset a detector listens.
Where a name is asked for, BEARING+HEIGHT takes the bearing of one and the height
of another, as in forest+complex-ridge.`,
		Example: "strikerose detectors",
		Args:    takes(0, 0, ""),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runDetectors(a)
		},
	}
}

// described is one detector in JSON.
type described struct {
	Name      string   `json:"name"`                // name, as train takes it
	Kind      string   `json:"kind"`                // geometry or physics without training, or learned from labels: one of models.Rule or models.Fitted
	Doc       string   `json:"doc"`                 // what it is, in a sentence
	Gives     []string `json:"gives"`               // what it answers, each one of bearing or height
	NeedsGyro bool     `json:"needs_gyro"`          // whether it needs a gyroscope
	UsesGyro  bool     `json:"uses_gyro"`           // whether it makes use of a gyroscope where there is one
	WaitMs    float64  `json:"wait_ms"`             // how long after the onset it listens, milliseconds, at least 0
	Macs      int      `json:"macs"`                // multiply-accumulate operations of one answer, beside the features, at least 0
	Numbers   int      `json:"numbers"`             // how many numbers it stores, at least 0
	Board     bool     `json:"board"`               // whether it can be exported to a board
	NotBoard  string   `json:"not_board,omitempty"` // why it cannot; absent where it can
}

func runDetectors(a *app) error {
	var all []described
	var rows [][]string
	for _, f := range models.Families() {
		i := f.Info
		all = append(all, described{i.Name, i.Kind, i.Doc, i.Gives, i.NeedsGyro, i.UsesGyro, i.WaitMs, i.Cost.Macs, i.Cost.Numbers, i.Board, i.NotBoard})
		gyro := "no"
		switch {
		case i.NeedsGyro:
			gyro = "needed"
		case i.UsesGyro:
			gyro = "used"
		}
		gives := strings.Join(i.Gives, ", ")
		if len(i.Gives) > 1 {
			gives = "both"
		}
		board := "yes"
		if !i.Board {
			board = "no"
		}
		rows = append(rows, []string{i.Name, i.Kind, gives, gyro, fmt.Sprintf("%g", i.WaitMs),
			strconv.Itoa(i.Cost.Macs), strconv.Itoa(i.Cost.Numbers), board, i.Doc})
	}
	return a.table(all, []string{"name", "kind", "gives", "gyroscope", "wait_ms", "macs", "numbers", "board", "what it is"}, rows)
}
