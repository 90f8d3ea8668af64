package main

import (
	"fmt"
	"strings"

	"github.com/alecthomas/kong"

	"needlepace/help"
)

// HelpCmd says what a command does (help clock is clock --help), or gives a topic of
// the documentation.
type HelpCmd struct {
	Asked []string `arg:"" optional:"" name:"topic" help:"A topic (help model), or a command (help plan make). Default: the list of topics."`
}

// Run prints the help.
func (a HelpCmd) Run(c *Ctx, k *kong.Kong) error {
	if len(a.Asked) == 0 {
		return listTopics(c)
	}
	if len(a.Asked) == 1 {
		if t, ok := help.Find(strings.TrimSuffix(a.Asked[0], ".md")); ok {
			_, err := fmt.Fprint(c.Out, t.Text(c.OutWidth()))
			return err
		}
	}
	_, err := k.Parse(append(a.Asked, "--help")) // help ends the program; what comes back is a mistake
	var names []string
	for _, t := range help.Topics() {
		names = append(names, t.Name)
	}
	return usagef("%w. There is no such topic either; topics are %s", err, strings.Join(names, ", "))
}

func listTopics(c *Ctx) error {
	fmt.Fprintln(c.Out, "Topics, each printed by needlepace help TOPIC and shown by the page under Help:")
	fmt.Fprintln(c.Out)
	wide := 0
	for _, t := range help.Topics() {
		wide = max(wide, len(t.Name))
	}
	for _, t := range help.Topics() {
		fmt.Fprintf(c.Out, "  %-*s  %s\n", wide, t.Name, t.Title)
	}
	fmt.Fprintln(c.Out)
	_, err := fmt.Fprintln(c.Out, "Commands: needlepace --help, and needlepace help COMMAND for one.")
	return err
}
