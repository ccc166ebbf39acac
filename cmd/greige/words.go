package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"greige/analyze/numerals"
)

// The libraries that read the command line speak to programmers. Here their
// errors become sentences for someone who sews.

// comma lets a number be written with a comma, as in much of the world.
type comma struct{ pflag.Value }

func (v comma) Set(s string) error { return v.Value.Set(strings.Replace(s, ",", ".", 1)) }

// speakPlainly makes a command and those below it do so.
func speakPlainly(c *cobra.Command) {
	c.SetFlagErrorFunc(func(c *cobra.Command, err error) error { return &usage{flagWords(c, err)} })
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if f.Value.Type() == "float64" {
			f.Value = comma{f.Value}
		}
	})
	if args := c.Args; args != nil {
		c.Args = func(c *cobra.Command, a []string) error {
			if err := args(c, a); err != nil {
				return &usage{argumentWords(c, a)}
			}
			return nil
		}
	}
	for _, sub := range c.Commands() {
		speakPlainly(sub)
	}
}

// flagWords says what is wrong with a flag.
func flagWords(c *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	var missing *pflag.ValueRequiredError
	var wrong *pflag.InvalidValueError
	var syntax *pflag.InvalidSyntaxError
	switch {
	case errors.As(err, &unknown) && unknown.GetSpecifiedShortnames() != "":
		return &hinted{fmt.Errorf("there is no flag -%s", unknown.GetSpecifiedShortnames()),
			"flags are written with two dashes and a whole word: " + c.CommandPath() + " --help lists them"}
	case errors.As(err, &unknown):
		hint := c.CommandPath() + " --help lists the flags"
		if near := nearestFlag(c, unknown.GetSpecifiedName()); near != "" {
			hint = "did you mean --" + near + "?"
		}
		return &hinted{fmt.Errorf("%s has no flag --%s", c.CommandPath(), unknown.GetSpecifiedName()), hint}
	case errors.As(err, &missing):
		return &hinted{fmt.Errorf("--%s needs something after it", missing.GetFlag().Name), valueWords(missing.GetFlag())}
	case errors.As(err, &wrong):
		f := wrong.GetFlag()
		if strings.Contains(errors.Unwrap(wrong).Error(), "strconv") || isNumber(f) {
			return fmt.Errorf("--%s takes %s, not %s", f.Name, kindWords(f), quoted(wrong.GetValue()))
		}
		return fmt.Errorf("--%s: %w", f.Name, errors.Unwrap(wrong))
	case errors.As(err, &syntax):
		return &hinted{fmt.Errorf("%s is no flag", quoted(syntax.GetSpecifiedFlag())), "a flag is two dashes and a word, such as --out"}
	}
	return err
}

func isNumber(f *pflag.Flag) bool { return f.Value.Type() == "float64" || f.Value.Type() == "int" }

// kindWords is what a flag takes.
func kindWords(f *pflag.Flag) string {
	switch f.Value.Type() {
	case "float64":
		return "a number such as 2.5"
	case "int":
		return "a whole number"
	case "bool":
		return "nothing, or =true or =false"
	}
	return "another value"
}

func valueWords(f *pflag.Flag) string {
	name, says := pflag.UnquoteUsage(f)
	return "--" + f.Name + " " + name + ": " + says
}

// nearestFlag is the flag that differs from name by the fewest letters, where
// that is two or fewer; "" where none does.
func nearestFlag(c *cobra.Command, name string) string {
	best, least := "", 3
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if d := letters(f.Name, name); !f.Hidden && d < least {
			best, least = f.Name, d
		}
	})
	return best
}

// letters is how many letters have to be put in, taken out or changed to make b
// of a (Levenshtein 1966).
func letters(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		before := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := before
			if a[i] != b[j] {
				change++
			}
			before = row[j+1]
			row[j+1] = min(change, before+1, row[j]+1)
		}
	}
	return row[len(b)]
}

// argumentWords says what is wrong with what stands beside the flags.
func argumentWords(c *cobra.Command, args []string) error {
	if !c.HasParent() {
		hint := "greige --help lists the commands"
		if _, err := os.Stat(args[0]); err == nil {
			hint = "say what to do with it: greige sort, greige layout or greige border, and then its name"
		}
		return &hinted{fmt.Errorf("%s is no command", quoted(args[0])), hint}
	}
	takes := strings.TrimPrefix(c.Use, c.Name()+" ")
	if c.HasSubCommands() {
		return &hinted{fmt.Errorf("%s has no command %s", c.CommandPath(), quoted(args[0])), "it goes " + c.CommandPath() + " " + takes}
	}
	if takes == c.Use {
		return fmt.Errorf("%s takes nothing but flags, not %s", c.CommandPath(), quoted(args[0]))
	}
	if len(args) == 0 {
		return &hinted{fmt.Errorf("%s needs to be told what to look at", c.CommandPath()), "it goes " + c.CommandPath() + " " + takes}
	}
	hint := "it goes " + c.CommandPath() + " " + takes
	if len(args) > 1 {
		hint += `; a name with spaces stands in quotes, such as "my wall.jpg"`
	}
	return &hinted{fmt.Errorf("%s takes one, and %s were given", c.CommandPath(), numerals.InWords(len(args))), hint}
}
