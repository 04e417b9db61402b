package main

import (
	"fmt"

	"github.com/spf13/cobra"
	"strikerose/models"
)

// riskFlag adds the flag for what is called unsure.
func riskFlag(cmd *cobra.Command, risk *float64) {
	cmd.Flags().Float64Var(risk, "risk", 0, fmt.Sprintf("the `CHANCE` of a wrong face, 0 to 1, from which a strike is flagged unsure (default as trained, else %g)", models.UsualRisk))
}

// validRisk refuses a chance that is none before anything is read.
func validRisk(cmd *cobra.Command, risk float64) error {
	if cmd.Flags().Changed("risk") && !(risk > 0 && risk < 1) {
		return usagef(cmd, "--risk %g: give the chance of a wrong face from which a strike is unsure, above 0 and below 1", risk)
	}
	return nil
}

// atRisk calls strikes unsure from another chance of a wrong face; 0 leaves it.
func atRisk(d models.Detector, risk float64) (models.Detector, error) {
	m, ok := d.(*models.Model)
	if risk == 0 || !ok {
		return d, nil
	}
	return m.AtRisk(risk)
}
