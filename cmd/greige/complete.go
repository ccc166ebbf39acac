package main

import (
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"greige/analyze/layout"
)

// valuesOf are the values of flags that take one of a few.
var valuesOf = map[string][]string{
	"light":   {"auto", "sheet", "none"},
	"scraps":  {"auto", "one", "many"},
	"setting": {"straight", "on-point"},
	"piles":   {"2", "3"},
	"chart":   layout.ChartNames(),
}

// offerValues makes the shell's completion offer the values of flags, of c and
// of the commands below it. A chart may be a file as well.
func offerValues(c *cobra.Command) {
	c.Flags().VisitAll(func(f *pflag.Flag) {
		values, ok := valuesOf[f.Name]
		if !ok {
			return
		}
		then := cobra.ShellCompDirectiveNoFileComp
		if f.Name == "chart" {
			then = cobra.ShellCompDirectiveDefault
		}
		// It fails only where a flag is given values twice.
		_ = c.RegisterFlagCompletionFunc(f.Name, cobra.FixedCompletions(values, then))
	})
	for _, sub := range c.Commands() {
		offerValues(sub)
	}
}
