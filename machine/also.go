package machine

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Alternative is another kind of machine that the timed runs speak for beside
// the one the sheet describes.
type Alternative struct {
	Weight float64            // chance that the machine is of this kind, 0…1
	Terms  []string           // of the law that this kind has, as Fit.Terms
	Values map[string]float64 // what differs from the sheet: constants, and table.column.k of the tables
}

// tableColumns are the columns of the tables of a sheet, by the names that
// Alternative.Values has.
var tableColumns = []struct {
	name string
	at   func(*Sheet) *[]float64
}{
	{"ladder.length", func(s *Sheet) *[]float64 { return &s.Ladder.Length }},
	{"ladder.speed", func(s *Sheet) *[]float64 { return &s.Ladder.Speed }},
	{"correction.length_at", func(s *Sheet) *[]float64 { return &s.Correction.Length }},
	{"correction.length", func(s *Sheet) *[]float64 { return &s.Correction.Factor }},
	{"correction.turn_at", func(s *Sheet) *[]float64 { return &s.Correction.TurnAngle }},
	{"correction.turn_angle", func(s *Sheet) *[]float64 { return &s.Correction.TurnFactor }},
}

// Differs says where another sheet of the same machine differs: what As needs
// to make it again.
func (s *Sheet) Differs(other *Sheet) map[string]float64 {
	out := map[string]float64{}
	for _, c := range Constants {
		if v := c.Get(other); v != c.Get(s) {
			out[c.Path] = v
		}
	}
	for _, t := range tableColumns {
		a, b := *t.at(s), *t.at(other)
		if slices.Equal(a, b) {
			continue
		}
		out[t.name] = float64(len(b))
		for k, v := range b {
			out[fmt.Sprint(t.name, ".", k+1)] = v
		}
	}
	return out
}

// As is the sheet as an alternative has it, without spreads and fit.
func (s *Sheet) As(a *Alternative) *Sheet {
	c := *s
	c.SD, c.BasisOf, c.Fit = nil, nil, nil
	for path, v := range a.Values {
		if k, ok := ConstantAt(path); ok && k.node == 0 {
			k.Set(&c, v)
		}
	}
	if c.Turns.To < c.Turns.Angle { // none given
		c.Turns.To = 180
	}
	for _, t := range tableColumns {
		n, ok := a.Values[t.name]
		if !ok {
			continue
		}
		column := make([]float64, int(n))
		for k := range column {
			column[k] = a.Values[fmt.Sprint(t.name, ".", k+1)]
		}
		*t.at(&c) = column
	}
	return &c
}

// String is the alternative as the sheet file has it: "0.16 settle:
// frame.accel_x 13800, frame.settle 0.002".
func (a *Alternative) String() string {
	var b strings.Builder
	b.WriteString(number(a.Weight))
	for _, t := range a.Terms {
		b.WriteString(" " + t)
	}
	b.WriteByte(':')
	for i, path := range slices.Sorted(maps.Keys(a.Values)) {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteString(" " + path + " " + number(a.Values[path]))
	}
	return b.String()
}

// parseAlternative reads what String writes.
func parseAlternative(text string) (Alternative, error) {
	bad := fmt.Errorf("is %q: this is learning's own record, learn again or remove the line", plain(text))
	head, tail, ok := strings.Cut(text, ":")
	words := strings.Fields(head)
	if !ok || len(words) == 0 {
		return Alternative{}, bad
	}
	a := Alternative{Values: map[string]float64{}}
	if len(words) > 1 {
		a.Terms = words[1:]
	}
	var err error
	if a.Weight, err = strconv.ParseFloat(words[0], 64); err != nil || !(a.Weight >= 0 && a.Weight <= 1) {
		return a, bad
	}
	for _, part := range strings.Split(tail, ",") {
		if part = strings.TrimSpace(part); part == "" {
			continue
		}
		path, value, _ := strings.Cut(part, " ")
		v, err := strconv.ParseFloat(value, 64)
		if err != nil || !isValue(path, v) {
			return a, bad
		}
		a.Values[path] = v
	}
	return a, nil
}

// isValue reports whether a sheet can have the value; how many nodes a table
// has is a whole number.
func isValue(path string, v float64) bool {
	if c, ok := ConstantAt(path); ok && c.node == 0 {
		return !c.Whole || v == math.Trunc(v) && math.Abs(v) < maxRuns
	}
	for _, t := range tableColumns {
		rest, ok := strings.CutPrefix(path, t.name)
		if !ok {
			continue
		}
		if rest == "" {
			return v == math.Trunc(v) && v >= 0 && v <= maxRungs
		}
		if k, err := strconv.Atoi(strings.TrimPrefix(rest, ".")); err == nil && rest[0] == '.' {
			return k >= 1 && k <= maxRungs
		}
	}
	return false
}
