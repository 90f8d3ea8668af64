package learn

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// Only is the part of a colour block that a time is of, as one recording tells them
// apart; empty: the block. "120-340" are the revolutions of these stitches of the design, from
// 1: from the end of that of stitch 119, or the machine standing, to the end of that of
// stitch 340, or the machine standing. "after 340 520" is what the machine did at rest after these
// stitches, together: trims, colour stops, ways.
type Only string

// OnlyStitches is the part of stitches from … to, from 1.
func OnlyStitches(from, to int) Only { return Only(fmt.Sprintf("%d-%d", from, to)) }

// OnlyAfter is the part of the rests after stitches, from 1.
func OnlyAfter(stitches []int) Only {
	var b strings.Builder
	b.WriteString("after")
	for _, n := range stitches {
		fmt.Fprintf(&b, " %d", n)
	}
	return Only(b.String())
}

// onlyWord begins what stands in the runs' CSV for a part.
const onlyWord = "only "

// mostAfter is how many rests one row may have.
const mostAfter = 100

// read is what a part says: stitches from … to, or those whose rests are meant.
func (o Only) read() (from, to int, after []int, err error) {
	wrong := fmt.Errorf("%q: write only 120-340 for these stitches of the design, or only after 340 520 for the rests after these",
		string(o))
	if list, ok := strings.CutPrefix(string(o), "after "); ok {
		for _, w := range strings.Fields(list) {
			n, err := strconv.Atoi(w)
			if err != nil || n < 1 || len(after) > 0 && n <= after[len(after)-1] || len(after) == mostAfter {
				return 0, 0, nil, wrong
			}
			after = append(after, n)
		}
		if len(after) == 0 {
			return 0, 0, nil, wrong
		}
		return 0, 0, after, nil
	}
	a, b, _ := strings.Cut(string(o), "-")
	from, err1 := strconv.Atoi(a)
	to, err2 := strconv.Atoi(b)
	if err1 != nil || err2 != nil || from < 1 || to < from {
		return 0, 0, nil, wrong
	}
	return from, to, nil, nil
}

// last is the last stitch that a part names; 0: none.
func (o Only) last() int {
	_, to, after, _ := o.read()
	if len(after) > 0 {
		return after[len(after)-1]
	}
	return to
}

// rests reports whether a part is of rests.
func (o Only) rests() bool { return strings.HasPrefix(string(o), "after") }

// What says in few words, in English, what the part is; "" for none.
func (o Only) What() string {
	if o == "" {
		return ""
	}
	return o.Says().Text(nil)
}

// Says is what it is, to be said in any language; one that cannot be read is said as it is.
func (o Only) Says() words.Value {
	number := func(n int) words.Value { return words.Name(strconv.Itoa(n)) } // a place, not a quantity
	from, to, after, err := o.read()
	switch {
	case o == "" || err != nil:
		return words.Name(o)
	case len(after) == 1:
		return words.Say("run-part.rest", words.Args{"n": number(after[0])})
	case len(after) > 1:
		return words.Say("run-part.rests", words.Args{"n": number(len(after)), "from": number(after[0]), "to": number(after[len(after)-1])})
	}
	return words.Say("run-part.stitches", words.Args{"from": number(from), "to": number(to)})
}

// ParseWith reads what the runs' CSV says that a block's time holds: beside the block, or only
// a part of it. An error says what may be written.
func ParseWith(text string) (Beside, Only, error) {
	if rest, ok := strings.CutPrefix(strings.ToLower(strings.TrimSpace(text)), onlyWord); ok {
		only := Only(strings.Join(strings.Fields(rest), " "))
		_, _, _, err := only.read()
		return 0, only, err
	}
	b, err := ParseBeside(text)
	return b, "", err
}

// Holds is what ParseWith reads.
func (o *Observation) Holds() string {
	if o.Only != "" {
		return onlyWord + string(o.Only)
	}
	return o.With.String()
}

// parseWith is ParseWith for a block, from 1, of a design of so many (0: the whole run) and of so many stitches.
func parseWith(text string, block, blocks, stitches int) (Beside, Only, error) {
	_, only, err := ParseWith(text)
	switch {
	case err != nil:
		return 0, "", err
	case only == "":
		b, err := parseBeside(text, block, blocks)
		return b, "", err
	case block == 0:
		return 0, "", errors.New("a part is of a colour block: write the block's number, too")
	case only.last() > stitches:
		return 0, "", fmt.Errorf("%q: the design has %d stitches", text, stitches)
	}
	return 0, only, nil
}

// spot is a part of a block that some row times. In a group it stands as a colour block more,
// after the design's own, of which nothing else is timed.
type spot struct {
	run      stitch.Event // whose revolutions from ≤ i < to it is of; To 0: rests
	from, to int
}

// place gives the rows of parts their places in the group: Observation.spot.
func (g *group) place(rows []*Observation, trimAfter int, on Needles, needles int) {
	at := map[Only]int{}
	for _, o := range rows {
		if k, ok := at[o.Only]; ok {
			o.spot = k
			continue
		}
		if len(g.spots) == 0 { // the layout is shared
			g.blocks, g.travels = slices.Clone(g.blocks), slices.Clone(g.travels)
		}
		g.spots = append(g.spots, spot{})
		g.blocks = append(g.blocks, blockCounts{of: o.Block - 1})
		o.spot = len(g.blocks)
		at[o.Only] = o.spot
	}
	if len(at) == 0 {
		return
	}
	type part struct{ from, to, at int }
	var parts []part
	rests := map[int]int{}
	for only, k := range at {
		from, to, after, err := only.read()
		if err != nil {
			continue // rows are checked when they are read
		}
		for _, n := range after {
			rests[n] = k
		}
		if to > 0 {
			parts = append(parts, part{from, to, k})
		}
	}
	sewn, now := 0, 0 // stitches so far, and where the rest after them counts
	for e := range g.design.Events(trimAfter) {
		if e.Kind == stitch.Run {
			first := sewn
			ends := make([]int, 0, e.To-e.From) // of each stitch's revolution, from the run's start
			for i := e.From; i < e.To; i++ {
				if g.design.Records[i].Op == stitch.Sew {
					ends = append(ends, i+1-e.From)
				}
			}
			sewn += len(ends)
			for _, p := range parts {
				from, to := p.from-first, p.to-first // in the run, from 1
				if from < 1 || from > len(ends) {
					continue
				}
				s := spot{run: e, to: e.To - e.From}
				if from > 1 {
					s.from = ends[from-2]
				}
				if to < len(ends) {
					s.to = ends[to-1]
				}
				g.spots[p.at-1-g.colours] = s
				g.blocks[p.at-1].stitches = s.to - s.from
			}
			now = rests[sewn]
			continue
		}
		if now == 0 {
			continue
		}
		b := &g.blocks[now-1]
		switch e.Kind {
		case stitch.TrimCut:
			b.trims++
		case stitch.OperatorStop:
			b.stops++
		case stitch.ColourCut:
			b.colours++
			n, unsure := on.crossed(e.Block, needles)
			b.needles, b.unsure = b.needles+n, b.unsure+unsure
		case stitch.Travel:
			e.Block = now - 1
			g.travels = append(g.travels, travel{Event: e})
		}
	}
}

// sewingSpots fills the seconds of the parts that are sewn.
func (g *group) sewingSpots(c *clock.Clock, sew []float64) {
	var seconds []float64
	at := -1 // the run whose seconds they are
	for k, s := range g.spots {
		if s.to == 0 {
			continue
		}
		if at != s.run.From {
			at = s.run.From
			seconds = append(seconds[:0], make([]float64, s.run.To-s.run.From)...)
			c.Turns(g.design.Records[s.run.From:s.run.To], seconds)
		}
		t := 0.0
		for _, v := range seconds[s.from:s.to] {
			t += v
		}
		sew[g.colours+k] = t
	}
}

// spotSlopes are the derivatives of the logarithms of those seconds, put beside those of the blocks.
func (n *nearby) spotSlopes(g *group, out [][]float64) {
	if len(g.spots) == 0 {
		return
	}
	here, there := make([]float64, len(g.sew)), make([]float64, len(g.sew))
	g.sewingSpots(n.clocks.at(g.setting), here)
	for k := range out {
		if out[k] == nil {
			continue
		}
		g.sewingSpots(n.at[k].at(g.setting), there)
		for b := g.colours; b < len(here); b++ {
			out[k][b] = (there[b] - here[b]) / n.steps[k] / math.Max(here[b], nothing)
		}
	}
}

// placed gives the model's rows of parts their places.
func (m *model) placed(s *machine.Sheet, lists []Needles) {
	rows := map[*group][]*Observation{}
	own := false
	for i := range m.obs {
		if m.obs[i].Only != "" && m.of[i] != nil {
			if !own { // places are the model's own
				m.obs, own = slices.Clone(m.obs), true
			}
			rows[m.of[i]] = append(rows[m.of[i]], &m.obs[i])
		}
	}
	for i, g := range m.of {
		if all := rows[g]; g != nil && len(all) > 0 {
			g.place(all, s.Reading.TrimAfterJumps, lists[i], s.Needles)
			delete(rows, g)
		}
	}
}

// topStart is how far below the prior's a frame's top speed starts, of its logarithm.
const topStart = 0.6

// belowTops looks for the mode from top speeds of the frame that are lower than at the start, too, where rows
// are of parts of a run, or odd and quickly run again: a top speed that no stitch reaches has no slope, and so exact rows pull the
// accelerations to wherever they explain most without it, and the one block of long stitches looks held up.
func (f *fitter) belowTops(start []float64) error {
	parts := func(o Observation) bool { return o.Only != "" && !o.Only.rests() }
	if !slices.ContainsFunc(f.model.obs, parts) && (f.model.stitches() > cheapStitches || !f.oddOne()) {
		return nil
	}
	var tops []int
	for k, c := range f.model.free {
		if c.Path == "frame.speed_x" || c.Path == "frame.speed_y" {
			tops = append(tops, k)
		}
	}
	z, loss := slices.Clone(f.z), f.loss
	for some := 1; some < 1<<len(tops); some++ {
		f.prior.theta(start, f.theta)
		for i, k := range tops {
			if some>>i&1 == 1 {
				f.theta[k] -= topStart
			}
		}
		f.prior.solve(slices.Clone(f.theta), f.z)
		for _, wide := range wideErrors {
			f.setNoise(f.extra+wide, false)
			if err := f.descend(wideTol, false); err != nil {
				return err
			}
		}
		f.setNoise(f.extra, true)
		if err := f.descend(lossTol, true); err != nil {
			return err
		}
		if f.loss < loss {
			z, loss = slices.Clone(f.z), f.loss
		}
	}
	copy(f.z, z)
	f.loss = f.evaluate(f.z, f.pred)
	return nil
}

// oddAtMode is how many deviations off a row is odd, of some dozens, and mostOdd how many rows may be for long stitches to explain
// them: of a machine of another law many are.
const (
	oddAtMode = 2.5
	mostOdd   = 2
)

// oddOne reports whether a row, or two, are far off where the fit stands.
func (f *fitter) oddOne() bool {
	odd := 0
	for i := range f.pred {
		if !f.aside[i] && math.Abs(f.values[i]-f.pred[i]) > oddAtMode*f.noises[i].sd {
			odd++
		}
	}
	return odd > 0 && odd <= mostOdd
}
