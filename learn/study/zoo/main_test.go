package main

import (
	"bytes"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/learn/zoo"
)

// Every line of a table has as many columns as its head, and the goals name
// what misses them.
func TestPage(t *testing.T) {
	good := zoo.Summary{Machines: 20, Median: 0.001, P90: 0.01, Inside: 0.9, Half: 0.009, Named: 19}
	bad := zoo.Summary{Machines: 20, Median: 0.006, P90: 0.03, Inside: 0.7, Off: 12, SaidOff: 5}
	var b bytes.Buffer
	page(&b, &zoo.Options{Machines: 20}, []row{{"model", "model", "obeys", good}, {"fine", "likely", "does", good},
		{"poor", "other", "does", bad}, {"hopeless", "no term", "does", bad}}, []row{{"laps", "slip", "errs", good}})
	columns := 0
	for l := range strings.Lines(b.String()) {
		n := strings.Count(l, "|")
		if columns > 0 && n > 0 && n != columns {
			t.Errorf("%d columns, not %d: %s", n, columns, l)
		}
		columns = n
	}
	for _, want := range []string{
		"2 families that a law can fit: 80 % inside",
		"Below 80 %: poor. Median above 0.5 %: poor. 90th percentile above 2 %: poor.",
		"said of 10 in 24 machines; of those that no term fits 5 in 12", "a spoilt row named in 19 of 20", "±", "| poor | other | does | 0.60 % | 3.0 % |",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("not there: %s\n%s", want, b.String())
		}
	}
}

// Rows of several runs stand in the order of the zoo, the newest of a name; those of another seed are no part of it.
func TestRowsAreKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "rows.json")
	some := func(names ...string) (out []row) {
		for i, n := range names {
			out = append(out, row{Name: n, Summary: zoo.Summary{Machines: 8, Off: i}})
		}
		return out
	}
	first, second := &kept{Seed: 1, Machines: 8}, &kept{Seed: 1, Machines: 8}
	if err := first.add(path, some("lag", "model"), some("needles")); err != nil {
		t.Fatal(err)
	}
	if err := second.add(path, some("far", "model"), some("laps")); err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range append(second.Rows, second.Slips...) {
		got = append(got, r.Name)
	}
	if strings.Join(got, " ") != "model lag far laps needles" || second.Rows[0].Off != 1 {
		t.Errorf("kept %v", second)
	}
	if err := (&kept{Seed: 2, Machines: 8}).add(path, nil, nil); err == nil {
		t.Error("rows of another seed were taken")
	}
}
