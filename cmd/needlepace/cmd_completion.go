package main

import (
	"fmt"
	"io"
	"sort"
	"strings"

	"github.com/alecthomas/kong"
)

// CompletionCmd prints a shell script that completes commands and options.
type CompletionCmd struct {
	Shell string `arg:"" enum:"bash,zsh,fish" help:"bash, zsh or fish."`
}

// Run prints the script; its first lines say how to install it.
func (a CompletionCmd) Run(c *Ctx, k *kong.Kong) error {
	words := completions(k.Model.Node, nil)
	switch a.Shell {
	case "bash":
		bashCompletion(c.Out, words)
	case "zsh":
		fmt.Fprintln(c.Out, "#compdef needlepace")
		fmt.Fprintln(c.Out, "# source this in ~/.zshrc: source <(needlepace completion zsh)")
		fmt.Fprintln(c.Out, "autoload -U +X bashcompinit && bashcompinit")
		bashCompletion(c.Out, words)
	case "fish":
		fmt.Fprintln(c.Out, "# needlepace completion fish > ~/.config/fish/completions/needlepace.fish")
		for _, w := range words {
			for _, o := range w.offers {
				fmt.Fprintf(c.Out, "complete -c needlepace -n %s %s\n", quote(w.fishCondition()), o.fish())
			}
		}
	}
	return nil
}

// offer is one word that may come next.
type offer struct {
	word  string // "clock", "--speed"
	help  string
	value bool // an option that takes a value
}

func (o offer) fish() string {
	s := ""
	if name, ok := strings.CutPrefix(o.word, "--"); ok {
		s = "-l " + name
		if o.value {
			s += " -r"
		}
	} else {
		s = "-f -a " + quote(o.word)
	}
	return s + " -d " + quote(o.help)
}

// offers are the words that may follow a command path.
type offers struct {
	path   []string
	offers []offer
}

func (w offers) fishCondition() string {
	if len(w.path) == 0 {
		return "__fish_use_subcommand"
	}
	return "__fish_seen_subcommand_from " + w.path[len(w.path)-1]
}

func completions(n *kong.Node, path []string) []offers {
	w := offers{path: path}
	for _, f := range n.Flags {
		if !f.Hidden {
			w.offers = append(w.offers, offer{"--" + f.Name, plainHelp(f.Help), !f.IsBool()})
		}
	}
	var all []offers
	for _, c := range n.Children {
		if c.Hidden || c.Type != kong.CommandNode {
			continue
		}
		w.offers = append(w.offers, offer{c.Name, plainHelp(c.Help), false})
		all = append(all, completions(c, append(path[:len(path):len(path)], c.Name))...)
	}
	sort.SliceStable(w.offers, func(i, j int) bool { return w.offers[i].word < w.offers[j].word })
	return append([]offers{w}, all...)
}

func plainHelp(s string) string {
	s, _, _ = strings.Cut(s, ". ")
	return strings.TrimSuffix(s, ".")
}

func quote(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

func bashCompletion(w io.Writer, words []offers) {
	fmt.Fprintln(w, "# source this in ~/.bashrc: source <(needlepace completion bash)")
	fmt.Fprintln(w, "_needlepace() {")
	fmt.Fprintln(w, `  local cur=${COMP_WORDS[COMP_CWORD]} path= w`)
	fmt.Fprintln(w, `  for w in "${COMP_WORDS[@]:1:COMP_CWORD-1}"; do [[ $w == -* ]] || path+=" $w"; done`)
	fmt.Fprintln(w, `  local words=`)
	fmt.Fprintln(w, `  case $path in`)
	// Longest path first: a command's own arguments may follow it.
	sort.SliceStable(words, func(i, j int) bool { return len(words[i].path) > len(words[j].path) })
	for _, o := range words {
		var list []string
		for _, f := range o.offers {
			list = append(list, f.word)
		}
		pattern := "*"
		if len(o.path) > 0 {
			pattern = quote(" "+strings.Join(o.path, " ")) + "*"
		}
		fmt.Fprintf(w, "  %s) words=%s ;;\n", pattern, quote(strings.Join(list, " ")))
	}
	fmt.Fprintln(w, `  esac`)
	fmt.Fprintln(w, `  COMPREPLY=($(compgen -W "$words" -- "$cur"))`)
	fmt.Fprintln(w, `  [[ $cur == -* ]] || COMPREPLY+=($(compgen -f -- "$cur"))`)
	fmt.Fprintln(w, "}")
	fmt.Fprintln(w, "complete -o filenames -F _needlepace needlepace")
}
