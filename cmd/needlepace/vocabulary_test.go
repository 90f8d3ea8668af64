package main

import (
	"reflect"
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
