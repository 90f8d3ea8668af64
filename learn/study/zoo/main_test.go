package main

import (
	"bytes"
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
		"said of 10 in 24 machines", "a spoilt row named in 19 of 20", "±", "| poor | other | does | 0.60 % | 3.0 % |",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("not there: %s\n%s", want, b.String())
		}
	}
}
