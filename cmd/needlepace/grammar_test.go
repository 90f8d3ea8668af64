package main

import (
	"bytes"
	"context"
	"reflect"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

// What a command says of itself, and of a mistake in it, hangs not on whether the others are there.
func TestACommandAloneIsAsAmongAll(t *testing.T) {
	var out bytes.Buffer
	made := func(of any) *kong.Kong {
		k, err := kong.New(of, kong.Name("needlepace"), kong.Writers(&out, &out), kong.Exit(func(int) {}),
			kong.ConfigureHelp(kong.HelpOptions{Compact: true}), helpVars)
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	answer := func(k *kong.Kong, args []string) string {
		out.Reset()
		if _, err := k.Parse(args); err != nil {
			out.WriteString(err.Error())
		}
		return out.String()
	}
	whole := made(new(CLI))
	alone := 0
	for _, n := range whole.Model.Children {
		part := grammar([]string{n.Name})
		if reflect.TypeOf(part).Elem().NumField() == 2 {
			alone++
		}
		k := made(part)
		for _, args := range [][]string{{n.Name, "--help"}, {n.Name, "--no-such-option"}, {n.Name}} {
			if got, want := answer(k, args), answer(whole, args); got != want {
				t.Errorf("%v: %q, among all %q", args, got, want)
			}
		}
	}
	if want := len(whole.Model.Children) - 3; alone != want { // completion, man and help speak of the others
		t.Errorf("%d alone, want %d", alone, want)
	}
	out.Reset()
	if code := run(context.Background(), nil, &out, &out, []string{"clok"}); code != exitUsage || !strings.Contains(out.String(), `"clock"`) {
		t.Errorf("a mistyped command: %d, %q", code, &out)
	}
}
