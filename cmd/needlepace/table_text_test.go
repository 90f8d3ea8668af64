package main

import (
	"bytes"
	"strings"
	"testing"
)

// A table is no wider than the terminal, and every word of it is still there.
func TestATableFitsTheTerminal(t *testing.T) {
	make := func() *table {
		out := &table{indent: "  ", align: "lrl"}
		out.row("order", "pieces", "why")
		out.rule()
		out.row("1003/1 Gull & Ladle chowder house", "150", "machine Gannet is closed for 23 min of the time it had there")
		out.row("1007 Terns", "9", strings.Repeat("x", 70))
		return out
	}
	text := func(out *table) string {
		var b bytes.Buffer
		out.write(&b)
		return b.String()
	}
	whole := text(make())
	for _, most := range []int{200, 120, 80, 60, 40} {
		out := make()
		out.fit(most)
		got := text(out)
		for _, line := range strings.Split(got, "\n") {
			if cells(line) > most {
				t.Errorf("%d columns for %d: %q", cells(line), most, line)
			}
		}
		if most == 200 && got != whole {
			t.Errorf("a table that fits was changed:\n%s", got)
		}
		for _, word := range strings.Fields(whole) {
			if len(word) < leastWide && strings.Count(got, word) < strings.Count(whole, word) {
				t.Errorf("at %d columns %q is gone:\n%s", most, word, got)
			}
		}
		if n := strings.Count(got, "x"); n != 70 {
			t.Errorf("at %d columns %d of 70 letters:\n%s", most, n, got)
		}
	}
}
