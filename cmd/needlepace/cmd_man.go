package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/alecthomas/kong"
)

// ManCmd writes manual pages from the same definitions as the help.
type ManCmd struct {
	Command []string `arg:"" optional:"" help:"The command, e.g. plan make. Default: the program as a whole."`
	Into    string   `help:"Write a page for each command into this folder." type:"path" placeholder:"FOLDER"`
}

// Run prints one page, or writes all.
func (a ManCmd) Run(c *Ctx, k *kong.Kong) error {
	node := k.Model.Node
	for _, name := range a.Command {
		if node = child(node, name); node == nil {
			return usagef("there is no command %q; see needlepace --help", strings.Join(a.Command, " "))
		}
	}
	if a.Into == "" {
		manPage(c.Out, node)
		return nil
	}
	if err := os.MkdirAll(a.Into, 0o755); err != nil { //nolint:gosec // for everybody to read
		return err
	}
	return a.write(node)
}

func (a ManCmd) write(n *kong.Node) error {
	var b strings.Builder
	manPage(&b, n)
	file := filepath.Join(a.Into, manName(n)+".1")
	if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil { //nolint:gosec // for everybody to read
		return err
	}
	for _, c := range commandsOf(n) {
		if err := a.write(c); err != nil {
			return err
		}
	}
	return nil
}

func child(n *kong.Node, name string) *kong.Node {
	for _, c := range commandsOf(n) {
		if c.Name == name {
			return c
		}
	}
	return nil
}

func commandsOf(n *kong.Node) (out []*kong.Node) {
	for _, c := range n.Children {
		if c.Type == kong.CommandNode && !c.Hidden {
			out = append(out, c)
		}
	}
	return out
}

// manName is the name of a command's page: needlepace-plan-make.
func manName(n *kong.Node) string {
	if n.Parent == nil {
		return "needlepace"
	}
	return manName(n.Parent) + "-" + n.Name
}

// roff writes text so that no letter of it is a command of man's language.
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`, "…", `\[u2026]`).Replace(s)
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		s = `\&` + s
	}
	return s
}

// manPage is a command's page in the man(7) macros.
func manPage(w io.Writer, n *kong.Node) {
	name := manName(n)
	fmt.Fprintf(w, ".TH %s 1 \"\" \"needlepace %s\" \"needlepace\"\n", roff(strings.ToUpper(name)), version)
	fmt.Fprintf(w, ".SH NAME\n%s \\- %s\n", roff(name), roff(strings.TrimSuffix(n.Help, ".")))
	fmt.Fprintf(w, ".SH SYNOPSIS\n.B needlepace\n%s\n", roff(strings.TrimSpace(strings.TrimPrefix(n.Summary(), "needlepace"))))
	if n.Detail != "" {
		fmt.Fprintf(w, ".SH DESCRIPTION\n%s\n", roff(n.Detail))
	}
	item := func(head, text string) { fmt.Fprintf(w, ".TP\n%s\n%s\n", head, roff(text)) }
	if all := commandsOf(n); len(all) > 0 {
		fmt.Fprintln(w, ".SH COMMANDS")
		for _, c := range all {
			item(`\fB`+roff(c.Name)+`\fR`, c.Help)
		}
	}
	if len(n.Positional) > 0 {
		fmt.Fprintln(w, ".SH ARGUMENTS")
		for _, p := range n.Positional {
			item(`\fI`+roff(p.Summary())+`\fR`, p.Help)
		}
	}
	fmt.Fprintln(w, ".SH OPTIONS")
	for _, group := range n.AllFlags(true) {
		for _, f := range group {
			head := `\fB` + roff("--"+f.Name) + `\fR`
			if f.Short != 0 {
				head = `\fB` + roff("-"+string(f.Short)) + `\fR, ` + head
			}
			if !f.IsBool() && !f.IsCounter() {
				head += `=\fI` + roff(f.FormatPlaceHolder()) + `\fR`
			}
			help := f.Help
			if len(f.Envs) > 0 {
				help += " Environment: " + strings.Join(f.Envs, ", ") + "."
			}
			item(head, help)
		}
	}
	fmt.Fprintln(w, ".SH EXIT STATUS")
	item("0", "all was done")
	item("1", "something could not be done; the rest was")
	item("2", "the command line was wrong; nothing was done")
	if n.Parent != nil {
		fmt.Fprintf(w, ".SH SEE ALSO\n.BR %s (1)\n", roff(manName(n.Parent)))
	}
}
