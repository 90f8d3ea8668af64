package main

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/words"
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

// A line does not end within a number.
func TestALineEndsBetweenWords(t *testing.T) {
	text := strings.Repeat("in time with a chance of 88 %, ± 3 % of it; ", 40)
	for pad := range 30 {
		var b bytes.Buffer
		breakLine(&b, "", strings.Repeat("x", pad+1)+" "+text)
		lines := strings.Split(strings.TrimSpace(b.String()), "\n")
		for _, line := range lines {
			if strings.HasPrefix(line, "%") || strings.HasSuffix(line, "±") || cells(line) > 100 {
				t.Errorf("%q", line)
			}
		}
		if got := strings.Join(strings.Fields(b.String()), " "); got != strings.TrimSpace(strings.Repeat("x", pad+1)+" "+text) || len(lines) < 10 {
			t.Errorf("%d lines: %s", len(lines), got)
		}
	}
}

// A few rows of many figures stand side by side where they would be wider than a terminal; many rows, texts and what
// has a sum stay as they are.
func TestAFewRowsOfManyFiguresStandSideBySide(t *testing.T) {
	of := func(columns, rows int) *ask.Table {
		out := &ask.Table{}
		for i := range columns {
			out.Columns = append(out.Columns, ask.Column{Heading: words.Name(fmt.Sprintf("heading %02d", i)), Number: i > 0})
		}
		for k := range rows {
			var row []words.Value
			for i := range columns {
				row = append(row, words.Whole(100*k+i))
			}
			out.Rows = append(out.Rows, row)
		}
		return out
	}
	text := func(t *ask.Table) string {
		var b bytes.Buffer
		writeTable(&b, t, "")
		return b.String()
	}
	const turned = "heading 01   1  101"
	if got := text(of(14, 2)); !strings.Contains(got, turned) || strings.Count(got, "\n") != 15 {
		t.Errorf("two rows of 14 figures are\n%s", got)
	}
	summed := of(14, 2)
	summed.Foot = summed.Rows[0]
	said := of(14, 2)
	said.Columns[5].Number = false
	for what, x := range map[string]*ask.Table{"few columns": of(8, 2), "many rows": of(14, 5), "a sum": summed, "a text": said} {
		if got := text(x); strings.Contains(got, "heading 01   1") {
			t.Errorf("%s:\n%s", what, got)
		}
	}
}
