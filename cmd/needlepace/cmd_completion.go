package main

import (
	"fmt"
	"io"
	"slices"
	"sort"
	"strings"

	"github.com/alecthomas/kong"

	"needlepace/book"
	"needlepace/machine"
)

// CompletionCmd prints a shell script that completes commands, options and
// what they take.
type CompletionCmd struct {
	Shell string `arg:"" enum:"bash,zsh,fish,classes,machines,states" help:"bash, zsh or fish. The script itself asks for classes, machines and states."`
	DataFlag
}

// Run prints the script; its first lines say how to install it.
func (a CompletionCmd) Run(c *Ctx, k *kong.Kong) error {
	all := completions(k.Model.Node, nil)
	switch a.Shell {
	case "bash":
		bashCompletion(c.Out, all)
	case "zsh":
		fmt.Fprintln(c.Out, "#compdef needlepace")
		fmt.Fprintln(c.Out, "# source this in ~/.zshrc: source <(needlepace completion zsh)")
		fmt.Fprintln(c.Out, "autoload -U +X bashcompinit && bashcompinit")
		bashCompletion(c.Out, all)
	case "fish":
		fishCompletion(c.Out, all)
	default:
		for _, v := range a.values(c) {
			fmt.Fprintln(c.Out, v)
		}
	}
	return nil
}

// taken is what an option or argument of a command takes, by its name: the words
// of completion's argument. Commands on a shop take the shop's machines; others a
// class, or a sheet's file.
func taken(n *kong.Node, name string) []string {
	switch name {
	case "machine":
		if slices.ContainsFunc(n.Flags, func(f *kong.Flag) bool { return f.Name == "data" }) {
			return []string{"machines"}
		}
		return []string{"classes"}
	case "also", "class":
		return []string{"classes"}
	case "state":
		return []string{"states"}
	}
	return nil
}

// values are the words of one kind. A shop that is not there yet, or cannot be
// read, has no machines to offer.
func (a CompletionCmd) values(c *Ctx) (all []string) {
	switch a.Shell {
	case "classes":
		for _, s := range machine.Classes() {
			all = append(all, s.Name)
		}
	case "states":
		for _, s := range book.OrderStates {
			all = append(all, string(s))
		}
	case "machines":
		_ = ShopFlags{DataFlag: a.DataFlag}.use(c, func(d *desk) error {
			kept, err := d.Machines.List(c.Context)
			for _, m := range kept {
				all = append(all, m.Name)
			}
			return err
		})
	}
	return all
}

// offer is one word that may come next.
type offer struct {
	word  string // "clock", "--speed"
	short rune   // of an option; 0: none
	help  string
	value bool     // an option that takes a value
	takes []string // the kinds of words it takes
}

func (o offer) words() []string {
	if o.short != 0 {
		return []string{o.word, "-" + string(o.short)}
	}
	return []string{o.word}
}

// offers are the words that may follow a command path.
type offers struct {
	path   []string
	offers []offer
	takes  []string // the kinds of words that its arguments take
}

func completions(n *kong.Node, path []string) []offers {
	o := offers{path: path}
	for _, f := range n.Flags {
		if !f.Hidden {
			o.offers = append(o.offers, offer{"--" + f.Name, f.Short, plainHelp(f.Help), !f.IsBool(), taken(n, f.Name)})
		}
	}
	for _, p := range n.Positional {
		o.takes = append(o.takes, taken(n, p.Name)...)
	}
	var all []offers
	for _, c := range n.Children {
		if c.Hidden || c.Type != kong.CommandNode {
			continue
		}
		o.offers = append(o.offers, offer{word: c.Name, help: plainHelp(c.Help)})
		all = append(all, completions(c, append(path[:len(path):len(path)], c.Name))...)
	}
	sort.SliceStable(o.offers, func(i, j int) bool { return o.offers[i].word < o.offers[j].word })
	return append([]offers{o}, all...)
}

func plainHelp(s string) string {
	s, _, _ = strings.Cut(s, ". ")
	return strings.TrimSuffix(s, ".")
}

func quote(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

// asks is a shell's command that prints the words of some kinds, a line each.
func asks(kinds []string) string {
	var all []string
	for _, k := range kinds {
		all = append(all, "needlepace completion "+k+" 2>/dev/null")
	}
	return strings.Join(all, "; ")
}

func fishCompletion(w io.Writer, all []offers) {
	fmt.Fprintln(w, "# needlepace completion fish > ~/.config/fish/completions/needlepace.fish")
	for _, c := range all {
		on := "__fish_use_subcommand"
		if len(c.path) > 0 {
			on = "__fish_seen_subcommand_from " + c.path[len(c.path)-1]
		}
		line := func(what string) { fmt.Fprintf(w, "complete -c needlepace -n %s %s\n", quote(on), what) }
		for _, o := range c.offers {
			what := "-f -a " + quote(o.word)
			if name, ok := strings.CutPrefix(o.word, "--"); ok {
				what = "-l " + name
				if o.short != 0 {
					what = "-s " + string(o.short) + " " + what
				}
				if o.value {
					what += " -r"
				}
				if len(o.takes) > 0 {
					what += " -a " + quote("("+asks(o.takes)+")")
				}
			}
			line(what + " -d " + quote(o.help))
		}
		if len(c.takes) > 0 {
			line("-a " + quote("("+asks(c.takes)+")"))
		}
	}
}

func bashCompletion(w io.Writer, all []offers) {
	fmt.Fprintln(w, "# source this in ~/.bashrc: source <(needlepace completion bash)")
	fmt.Fprintln(w, "_needlepace() {")
	fmt.Fprintln(w,
		`  local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]} path= w words= lines= IFS=$'\n'`)
	fmt.Fprintln(w, `  for w in "${COMP_WORDS[@]:1:COMP_CWORD-1}"; do [[ $w == -* ]] || path+=" $w"; done`)
	// Longest path first: a command's own arguments may follow it.
	sort.SliceStable(all, func(i, j int) bool { return len(all[i].path) > len(all[j].path) })
	pattern := func(c offers) string {
		if len(c.path) == 0 {
			return "*"
		}
		return quote(" "+strings.Join(c.path, " ")) + "*"
	}
	fmt.Fprintln(w, "  case $path:$prev in")
	for _, c := range all {
		for _, o := range c.offers {
			if len(o.takes) == 0 {
				continue
			}
			var on []string
			for _, word := range o.words() {
				on = append(on, pattern(c)+":"+word)
			}
			fmt.Fprintf(w, "  %s) lines=$(%s) ;;\n", strings.Join(on, "|"), asks(o.takes))
		}
	}
	fmt.Fprintln(w, "  esac")
	fmt.Fprintln(w, `  [[ $lines ]] || case $path in`)
	for _, c := range all {
		var list []string
		for _, o := range c.offers {
			list = append(list, o.words()...)
		}
		more := ""
		if len(c.takes) > 0 {
			more = " lines=$(" + asks(c.takes) + ")"
		}
		fmt.Fprintf(w, "  %s) words=%s%s ;;\n", pattern(c), quote(strings.Join(list, "\n")), more)
	}
	fmt.Fprintln(w, `  esac`)
	fmt.Fprintln(w, `  COMPREPLY=()`)
	io.WriteString(w, `  for w in $words $lines; do [[ $w == "$cur"* ]] && COMPREPLY+=("$(printf %q "$w")"); done`+"\n")
	fmt.Fprintln(w, `  [[ $cur == -* ]] || COMPREPLY+=($(compgen -f -- "$cur"))`)
	fmt.Fprintln(w, "}")
	fmt.Fprintln(w, "complete -o filenames -F _needlepace needlepace")
}
