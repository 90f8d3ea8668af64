package learn

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// Beside is what the time of a colour block holds beside the block itself:
// laps of a watch that was not stopped while the colours changed.
type Beside uint8

// What may be in a block's time.
const (
	AtStart    Beside = 1 << iota // the first block: from the start button
	StopBefore                    // the colour stop before the block, up to its first stitch
	StopAfter                     // the colour stop after it, up to the next block's first stitch
	AtEnd                         // the last block: up to the machine standing, thread cut
)

// Says names them for people.
func (b Beside) Says() words.List {
	var out words.List
	for _, one := range []struct {
		bit Beside
		say words.Message
	}{
		{AtStart, words.Say("learn.beside-start")}, {StopBefore, words.Say("learn.beside-before")},
		{StopAfter, words.Say("learn.beside-after")}, {AtEnd, words.Say("learn.beside-end")},
	} {
		if b&one.bit != 0 {
			out = append(out, one.say)
		}
	}
	return out
}

var besideNames = []string{"start", "before", "after", "end"}

// String names them as the runs' CSV does: "before", "after end".
func (b Beside) String() string {
	var out []string
	for i, name := range besideNames {
		if b&(1<<i) != 0 {
			out = append(out, name)
		}
	}
	return strings.Join(out, " ")
}

// ParseBeside reads what String writes. An error says what may be written.
func ParseBeside(text string) (Beside, error) {
	var b Beside
	for _, w := range strings.Fields(strings.ToLower(text)) {
		i := slices.Index(besideNames, w)
		if i < 0 {
			return 0, fmt.Errorf("%q: write what the block's time holds beside the block: start, before (the colour "+
				"stop before it), after (the one after it), end; or leave it empty", text)
		}
		b |= 1 << i
	}
	return b, nil
}

// parseBeside reads what the time of a block, from 1, of so many holds beside
// it; block 0 is the whole run, which holds all.
func parseBeside(text string, block, blocks int) (Beside, error) {
	b, err := ParseBeside(text)
	switch {
	case err != nil || b == 0:
		return b, err
	case block == 0:
		return 0, errors.New("says what a block's time holds beside the block; the whole holds all: leave it empty")
	case b&^besideOf(block, blocks) != 0:
		return 0, fmt.Errorf("%q: block %d of %d cannot hold that; it may hold %s", text, block, blocks,
			besideOf(block, blocks))
	}
	return b, nil
}

// CheckBeside says what is wrong with a text of what a block's time holds
// (block from 1, of so many in a design of so many stitches; 0 is the whole run).
func CheckBeside(text string, block, blocks, stitches int) error {
	_, _, err := parseWith(text, block, blocks, stitches)
	return err
}

// CheckNeedles says what is wrong with a text of the needles of a design of so
// many colour blocks.
func CheckNeedles(text string, blocks int) error {
	n, err := ParseNeedles(text)
	if err != nil {
		return err
	}
	return n.fits(blocks)
}

// Needles is which needle each colour block used, from 0; empty where that was
// not written down, and the blocks then go by needles 1, 2, 3 and so on. A
// list of AnyNeedle alone: other needles than that, nobody knows which.
type Needles []int

// AnyNeedle is a needle that nobody knows.
const AnyNeedle = -1

const maxNeedle = 60

// String writes the needles as the runs' CSV has them, from 1: "1 4 2"; "?"
// where nobody knows.
func (n Needles) String() string {
	out := make([]string, len(n))
	for i, k := range n {
		out[i] = "?"
		if k != AnyNeedle {
			out[i] = strconv.Itoa(k + 1)
		}
	}
	return strings.Join(out, " ")
}

// ParseNeedles reads what String writes; commas, semicolons and hyphens divide
// as spaces do. An error says what may be written.
func ParseNeedles(text string) (Needles, error) {
	if strings.TrimSpace(text) == "?" {
		return Needles{AnyNeedle}, nil
	}
	var n Needles
	for _, w := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(" ,;-\t", r) }) {
		k, err := strconv.Atoi(w)
		if err != nil || k < 1 || k > maxNeedle {
			return nil, fmt.Errorf("%q: write the needle of each colour block in turn, 1 to %d, e.g. 1 4 2; or ? where "+
				"they were not 1, 2, 3 and nobody knows", text, maxNeedle)
		}
		n = append(n, k-1)
	}
	return n, nil
}

// fits says what is wrong with the needles of a design of so many blocks.
func (n Needles) fits(blocks int) error {
	if len(n) == 0 || n.unknown() || len(n) == blocks {
		return nil
	}
	if blocks == 1 {
		return errors.New("the design has one colour block: write one needle, or none")
	}
	return fmt.Errorf("%d needles for %d colour blocks: write one for each block, again where a needle comes again",
		len(n), blocks)
}

func (n Needles) unknown() bool { return len(n) == 1 && n[0] == AnyNeedle }

// crossed is how many needle positions the colour change before a block
// crosses on a machine of so many needles, with its variance where nobody
// knows: two different needles of N drawn by lot are (N+1)/3 apart on average,
// with a variance of (N+1)(N−2)/18.
func (n Needles) crossed(block, needles int) (mean, variance float64) {
	if n.unknown() && needles > 1 {
		k := float64(needles)
		return (k + 1) / 3, (k + 1) * (k - 2) / 18
	}
	at := func(b int) int {
		if b < len(n) && n[b] != AnyNeedle {
			return n[b]
		}
		return b % max(needles, 1)
	}
	return float64(abs(at(block) - at(block-1))), 0
}

// needlesOf gives each observation its needles: a list written in one row of a
// run holds for the others of that design, date and speed that have none.
func needlesOf(obs []Observation) []Needles {
	out := make([]Needles, len(obs))
	lists := map[runKey]Needles{}
	for i := range obs {
		if o := &obs[i]; len(o.Needles) > 0 {
			lists[o.run()] = o.Needles
		}
	}
	for i := range obs {
		if out[i] = obs[i].Needles; len(out[i]) == 0 {
			out[i] = lists[obs[i].run()]
		}
	}
	return out
}

// has reports whether an observation's time holds something: a whole run holds
// all, a block what its row says, as far as it can. blocks is how many the
// design has.
func (o *Observation) has(what Beside, blocks int) bool {
	if o.Kind == WholeRun {
		return true
	}
	return o.With&what&besideOf(o.Block, blocks) != 0
}

// besideOf is what can lie beside a block, from 1, of a design of so many.
func besideOf(block, blocks int) Beside {
	can := StopBefore | StopAfter
	if block == 1 {
		can = can&^StopBefore | AtStart
	}
	if block == blocks {
		can = can&^StopAfter | AtEnd
	}
	return can
}

// sewn reports whether block b, from 0, is sewn within the observed time.
func (g *group) sewn(o *Observation, b int) bool {
	switch {
	case o.spot > 0:
		return b == o.spot-1
	case o.Kind == WholeRun:
		return b < g.colours
	}
	return b == o.Block-1
}

// changed reports whether what comes before the first stitch of block b, from
// 0, is in the observed time: the way there, and but for the first block a
// colour stop.
func (g *group) changed(o *Observation, b int) bool {
	n := g.colours
	switch {
	case o.spot > 0:
		return b == o.spot-1
	case o.Kind == WholeRun:
		return b < n
	case b == o.Block-1 && b == 0:
		return o.has(AtStart, n)
	case b == o.Block-1:
		return o.has(StopBefore, n)
	}
	return b == o.Block && o.has(StopAfter, n)
}

// rests gives each constant of [rest] with how often it is in the observed
// time.
func (g *group) rests(o *Observation, each func(path string, n float64)) {
	for b := range g.blocks {
		c := &g.blocks[b]
		if g.sewn(o, b) {
			each("rest.trim", float64(c.trims))
			each("rest.stop", float64(c.stops))
		}
		if g.changed(o, b) {
			each("rest.colour_stop", float64(c.colours))
			each("rest.per_needle", c.needles)
		}
	}
	if o.has(AtStart, g.colours) {
		each("rest.start", 1)
	}
	if o.has(AtEnd, g.colours) {
		each("rest.end", 1)
	}
}

func restAt(r *machine.Rest, path string) float64 {
	switch path {
	case "rest.start":
		return r.Start
	case "rest.trim":
		return r.Trim
	case "rest.colour_stop":
		return r.ColourStop
	case "rest.per_needle":
		return r.PerNeedle
	case "rest.stop":
		return r.Stop
	}
	return r.End
}

// changing is the square of the seconds of each colour change and stop in value i, summed: their variance where
// each takes another time than its own by a relative standard deviation of 1.
func (m *model) changing(i int) float64 {
	g := m.of[i]
	if g == nil {
		return 0
	}
	o, r, v := &m.obs[i], &m.sheet.Rest, 0.0
	for b := range g.blocks {
		c := &g.blocks[b]
		in := func(has func(*Observation, int) bool) bool {
			return has(o, b) && !slices.ContainsFunc(m.partsOf(i), func(k int) bool { return has(&m.obs[k], b) })
		}
		if in(g.changed) {
			v += sq(float64(c.colours)*r.ColourStop + c.needles*r.PerNeedle)
		}
		if in(g.sewn) {
			v += float64(c.stops) * sq(r.Stop)
		}
	}
	return v
}

// unsure is the variance of the needle positions crossed in value i.
func (m *model) unsure(i int) float64 {
	g := m.of[i]
	if g == nil {
		return 0
	}
	v := 0.0
	for b := range g.blocks {
		if !g.changed(&m.obs[i], b) {
			continue
		}
		inPart := false
		for _, k := range m.partsOf(i) {
			inPart = inPart || g.changed(&m.obs[k], b)
		}
		if !inPart {
			v += g.blocks[b].unsure
		}
	}
	return v
}

// runKey is what the rows of one run share.
type runKey struct {
	design *stitch.Design
	speed  float64
	job    machine.Jobs
	date   words.Day
}

func (o *Observation) run() runKey { return runKey{o.Design, o.SetSpeed, o.Job, o.Date} }
