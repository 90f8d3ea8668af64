package main

import (
	"reflect"
	"regexp"
	"testing"

	"github.com/alecthomas/kong"
)

// An option means the same on every command: one short letter, one kind of
// value. Who has learned one command has learned them all.
func TestAnOptionMeansTheSameOnEveryCommand(t *testing.T) {
	k, err := kong.New(&CLI{}, helpVars)
	if err != nil {
		t.Fatal(err)
	}
	type meaning struct {
		command string
		short   rune
		kind    string
	}
	names, shorts := map[string]meaning{}, map[rune]string{}
	var walk func(n *kong.Node)
	walk = func(n *kong.Node) {
		for _, f := range n.Flags {
			m := meaning{n.FullPath(), f.Short, kindOf(f.Target.Type())}
			if was, ok := names[f.Name]; !ok {
				names[f.Name] = m
			} else if was.short != m.short || was.kind != m.kind {
				t.Errorf("--%s is -%c and takes %s in %q, -%c and %s in %q",
					f.Name, was.short, was.kind, was.command, m.short, m.kind, m.command)
			}
			if was, ok := shorts[f.Short]; f.Short != 0 && ok && was != f.Name {
				t.Errorf("-%c is --%s and --%s", f.Short, was, f.Name)
			} else if f.Short != 0 {
				shorts[f.Short] = f.Name
			}
		}
		for _, c := range n.Children {
			walk(c)
		}
	}
	walk(k.Model.Node)
	if len(names) < 50 || len(shorts) < 6 {
		t.Fatalf("only %d options and %d letters were seen", len(names), len(shorts))
	}
}

// kindOf is what an option takes: one or several values make no difference.
func kindOf(t reflect.Type) string {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	switch t.Kind() {
	case reflect.Bool:
		return "nothing"
	case reflect.Int, reflect.Int64, reflect.Uint64, reflect.Float64:
		return "a number"
	}
	return "text"
}

// meanings are the words that say what an option means, on every command that
// has it, where its help is not the same everywhere.
var meanings = map[string]string{
	"check":     "^Only check",
	"all":       `^(List every|Delivered and withdrawn ones too)`,
	"by":        `for each`,
	"cap-frame": `on a cap frame`,
	"chance":    `(?i)chance that`,
	"csv":       `(?i)one CSV row for each`,
	"design":    `(?i)a stitch file(, or a design of the shop)?`,
	"due":       `day the customer wants it|due day`,
	"garment":   `^Garment`,
	"language":  `paper.*: en, es, pt, tr or vi\.`,
	"goods":     `^The day the garments come`,
	"hoop":      `^Inside of the hoop`,
	"json":      `(?i)one JSON object`,
	"line":      `^Which line`,
	"machine":   `(?i)machine`,
	"metallic":  `^Metallic thread`,
	"note":      `^Note`,
	"output":    `^(The|Where the) .*(file to write|goes)`,
	"overwrite": `^Replace .* if it is there`,
	"pdf":       `to a \.pdf file`,
	"picture":   `^Draw .* to an \.svg or \.png file`,
	"pieces":    `(?i)pieces`,
	"priority":  `(?i)priority`,
	"seed":      `^Seed of the `,
	"speed":     `speed .*in stitches/min`,
	"threads":   `(?i)colour.* block`,
	"try":       `^Keep nothing`,
	"xlsx":      `to an \.xlsx workbook`,
}

// An option that two commands have says the same of itself on both, or at
// least the words of its meaning: --minutes was a limit here and a time
// measured there.
func TestAnOptionSaysTheSameOnEveryCommand(t *testing.T) {
	k, err := kong.New(&CLI{}, helpVars)
	if err != nil {
		t.Fatal(err)
	}
	helps, where := map[string]map[string]bool{}, map[string]string{}
	var walk func(n *kong.Node)
	walk = func(n *kong.Node) {
		for _, f := range n.Flags {
			if helps[f.Name] == nil {
				helps[f.Name] = map[string]bool{}
			}
			helps[f.Name][f.Help] = true
			where[f.Name+f.Help] = n.FullPath()
		}
		for _, c := range n.Children {
			walk(c)
		}
	}
	walk(k.Model.Node)
	for name, all := range helps {
		means, ok := meanings[name]
		if ok != (len(all) > 1) {
			t.Errorf("--%s has %d helps and %d meanings in the table: %v", name, len(all), len(means), all)
			continue
		}
		for help := range all {
			if ok && !regexp.MustCompile(means).MatchString(help) {
				t.Errorf("--%s of %q says %q, not its meaning (%s)", name, where[name+help], help, means)
			}
		}
	}
	for name := range meanings {
		if helps[name] == nil {
			t.Errorf("no command has --%s", name)
		}
	}
}
