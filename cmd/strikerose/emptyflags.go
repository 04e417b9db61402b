package main

import (
	"slices"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// mayBeEmpty annotates a flag whose empty value says something.
const mayBeEmpty = "strikerose_may_be_empty"

// refuseEmpty refuses flags that were given, but name none: a variable of the
// shell that is not set would else stand for all, or for what is usual.
func refuseEmpty(cmd *cobra.Command) (err error) {
	cmd.Flags().Visit(func(f *pflag.Flag) {
		empty := f.Value.String() == ""
		if list, ok := f.Value.(pflag.SliceValue); ok {
			names := list.GetSlice()
			empty = len(names) == 0 || slices.Contains(names, "")
		}
		if _, may := f.Annotations[mayBeEmpty]; empty && !may && err == nil {
			err = usagef(cmd, "--%s names none: give a value, or leave it out", f.Name)
		}
	})
	return err
}
