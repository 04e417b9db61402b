package eval

import "strikerose/models"

// TrainingExamples returns the strikes with a label to train on, as a family's
// Fit takes them.
func (d *Data) TrainingExamples() []models.Example {
	labelled := trainable(d.Cases)
	return trainingSet(labelled, positions(len(labelled)))
}
