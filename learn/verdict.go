package learn

import (
	"math"
	"slices"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// Fits is how well the law fits a machine.
type Fits string

// The verdicts.
const (
	FitsWell    Fits = "fits"    // other designs come out within 1 %
	FitsWithin  Fits = "within"  // within Verdict.Within
	FitsNot     Fits = "not"     // the machine does what no kind of machine that is known does
	FitsChanged Fits = "changed" // the machine changed between the runs: no sheet fits them all
	FitsOpen    Fits = "too few" // the constants use the rows up: nothing is left to tell by
)

// Verdict says how well what was learned fits the machine.
type Verdict struct {
	Fits   Fits
	Within float64 // run times lie this near the predicted, relative, 9 times in 10
	// Elsewhere is the same for sewing of every sort at full speed, timed or not, each sort alone, in the mean.
	Elsewhere float64
	Tires     bool // it slows down as a run goes on
	Turns     bool // sewing with turns is what Elsewhere is about
	Begins    bool // small designs, sewn within the first minutes, are
	Short     bool // sewing of stitches shorter than those that were timed is
	// Between is a speed, stitches/min, to time a run at: no row tells what the machine does at one that is no multiple of 50.
	// 0: some row does.
	Between float64
}

// From where a verdict changes: assumed, after some dozens of machines of the zoo
// were looked at. docs/study-zoo.md says how often the verdict is right with them.
const (
	fitsWithin = 0.01
	errorNot   = 0.006 // the model's own relative error
	withinNot  = 0.035
	// Of a machine that is not of the plain law, or not the same in each run.
	elsewhereNot = 0.045
	frameNot     = 0.04
	turnsNot     = 0.15 // chance of caps at turns
	slowNot      = 0.15 // chance of a slow start of runs
	topNot       = 0.15 // chance of a top speed, which may hold for longer stitches alone
	lawNot       = 0.1  // chance that the machine is of the law of its class
	oddNot       = 2    // rows that nothing explains, and
	oddShare     = 0.04 // of all rows
)

// judge is the verdict on a fit from a class's sheet and the sheet it made.
func (po *posterior) judge(res *Result, class, s *machine.Sheet) Verdict {
	v := Verdict{Fits: FitsOpen, Within: po.probe(s), Tires: po.tires}
	v.sayElsewhere(s, po.chance("turns"), po.chance("slow-start"), po.chance("top-speed"))
	if po.f.model.onSteps(coarseStep) {
		v.Between = belowTop(s.MaxSpeed)
	}
	odd := 0
	for i := range res.Runs {
		r := &res.Runs[i]
		if !r.Ignored && len(r.Parts) == 0 && (r.Aside || r.Slip > 0.5 || r.Paused > 0.5) && !po.asked(i) {
			odd++
		}
	}
	switch {
	case res.Misfit > errorNot, po.tires, odd >= oddNot && float64(odd) > oddShare*float64(len(res.Runs)):
		v.Fits = FitsNot
		if res.Drift != nil {
			v.Fits = FitsChanged
		}
	case float64(res.Used)-res.Learned < leastFree:
	case v.Within > withinNot && po.probe(evenly(s)) > withinNot, v.Elsewhere > elsewhereNot && (v.Turns || len(po.believed[0].terms) > 0 || res.Frame > frameNot ||
		po.chance("slow-start") > slowNot),
		v.Elsewhere > withinNot && po.ofLaw(class) < lawNot:
		v.Fits = FitsNot
	case v.Within <= fitsWithin:
		v.Fits = FitsWell
	default:
		v.Fits = FitsWithin
	}
	return v
}

// evenly is a sheet of a machine whose colour changes do not differ: that they do is known, and no misfit.
func evenly(s *machine.Sheet) *machine.Sheet {
	c := s.Clone()
	c.Fit.Changes = 0
	return c
}

// chance is how strongly a term is believed, 0…1.
func (po *posterior) chance(term string) float64 {
	sum := 0.0
	for _, b := range po.believed {
		if slices.Contains(b.terms, term) {
			sum += b.weight
		}
	}
	return sum
}

// ofLaw is how strongly it is believed that a machine is of the law of its class, 0…1.
func (po *posterior) ofLaw(class *machine.Sheet) float64 {
	sum := 0.0
	terms, _ := lawTerms(class)
	for _, b := range po.believed {
		if sameTerms(b.terms, terms) {
			sum += b.weight
		}
	}
	return sum
}

// asked reports whether a slip asks about observation i.
func (po *posterior) asked(i int) bool {
	return slices.ContainsFunc(po.found, func(s Slip) bool { return slices.Contains(s.Rows, i) })
}

// probe is how well a sheet's times are known for what was timed, at the
// machine's full speed and at six tenths of it: half of the 90 % interval,
// relative, in the mean. Where no design was timed, for sewing of every
// sort.
func (po *posterior) probe(s *machine.Sheet) float64 {
	var designs []*stitch.Design
	left := cheapStitches
	for i := range po.f.model.obs {
		d := po.f.model.obs[i].Design
		if d == nil || po.f.aside[i] || slices.Contains(designs, d) {
			continue
		}
		if left -= len(d.Records); left >= 0 || len(designs) == 0 {
			designs = append(designs, d)
		}
	}
	if len(designs) == 0 {
		var list []patch
		for _, p := range patches(90, 90) {
			if !slices.ContainsFunc(list, func(q patch) bool { return q.kind == p.kind }) {
				list = append(list, p)
			}
		}
		designs = append(designs, build(s, list, make([]point, len(list))))
	}
	sum, of := 0.0, 0.0
	for _, d := range designs {
		for _, speed := range []float64{s.MaxSpeed, math.Round(0.06*s.MaxSpeed) * 10} {
			res, u := clock.How(d, s, clock.Job{Speed: speed}, clock.DefaultLevel)
			sum += (u.High - u.Low) / 2 / res.Seconds
			of++
		}
	}
	return sum / of
}

// The stitches of a small design: starts and stops are then a small part.
const sortStitches = 1200

// sorts are small designs of sewing of every sort, each of one kind and length of stitch, both ways.
func sorts(s *machine.Sheet) (out []*stitch.Design) {
	const each = sortStitches
	for _, list := range [][]patch{
		{running(1.5, each, false), running(1.5, each, true)}, {running(4, each, false), running(4, each, true)},
		{running(8, each, false), running(8, each, true)}, {satin(1.5, each, false), satin(1.5, each, true)},
		{satin(4.5, each, false), satin(4.5, each, true)}, {satin(9, each, false), satin(9, each, true)},
		{zigzag(4, each)}, {zigzag(7, each)},
	} {
		out = append(out, build(s, list, make([]point, len(list))))
	}
	return out
}

// windings are small designs of short stitches that turn, each of one length and angle.
func windings(s *machine.Sheet) (out []*stitch.Design) {
	for _, mm := range []float64{0.8, 2, 3.5} {
		for _, angle := range []float64{35, 65, 95, 125, 155} {
			out = append(out, build(s, []patch{winding(mm, angle, sortStitches)}, []point{{}}))
		}
	}
	return out
}

// winding are stitches of one length that turn to one side and the other by an angle (degrees).
func winding(mm, angle float64, stitches int) patch {
	sin, cos := math.Sincos(angle * math.Pi / 360)
	return patch{sew: func(s *sewer, at point) {
		p, on := at, mm*cos
		for i := range stitches {
			if math.Abs(p.x+on-at.x) > lineMM {
				on = -on
			}
			p = plus(p, point{on, mm * sin * float64(1-i%2*2)})
			s.sew(p)
		}
	}}
}

// elsewhere is how well a sheet's times are known for sewing of every sort, timed or not, at the machine's full
// speed: half of the 90 % interval, relative, of each design.
func elsewhere(s *machine.Sheet, designs []*stitch.Design) []float64 {
	var out []float64
	for _, d := range designs {
		res, u := clock.How(d, s, clock.Job{}, clock.DefaultLevel)
		out = append(out, (u.High-u.Low)/2/res.Seconds)
	}
	return out
}

// sayElsewhere fills what is known of sorts of sewing: the mean of those without turns; where caps at turns are believed the
// root mean square of those with turns, of which only some angles may be unsure, if that is more; where a slow start of runs is
// believed, that of a small design of short stitches, which is sewn before it is over, if that is more; where a top speed is
// believed, that of stitches so short that it may not hold for them, if that is more.
func (v *Verdict) sayElsewhere(s *machine.Sheet, turns, slow, top float64) {
	plain := elsewhere(s, sorts(s))
	v.Elsewhere = sum(plain) / float64(len(plain))
	if turns > turnsNot {
		square := 0.0
		winding := elsewhere(s, windings(s))
		for _, half := range winding {
			square += half * half / float64(len(winding))
		}
		if w := math.Sqrt(square); w > v.Elsewhere {
			v.Elsewhere, v.Turns = w, true
		}
	}
	if slow > slowNot {
		small := build(s, []patch{running(smallMM, sortStitches/2, false)}, []point{{}})
		if b := elsewhere(s, []*stitch.Design{small})[0]; b > v.Elsewhere {
			v.Elsewhere, v.Begins, v.Turns = b, true, false
		}
	}
	if top > topNot {
		short := build(s, []patch{running(shortMM[0], sortStitches, false)}, []point{{}})
		if b := elsewhere(s, []*stitch.Design{short})[0]; b > v.Elsewhere {
			v.Elsewhere, v.Short, v.Begins, v.Turns = b, true, false, false
		}
	}
}

// smallMM is how long the stitches of a small design are, where the set speed alone holds the shaft back, mm.
const smallMM = 1
