package ask

import (
	"math"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/thread"
	"needlepace/words"
)

// say puts the answer into sentences.
func (a *ClockAnswer) say() {
	machine, speed := words.Name(a.Machine), words.PerMinute(a.SetSpeed)
	if a.From > 0 {
		a.Verdict.Say("clock.left", words.Args{"n": words.Whole(a.From), "of": words.Count(a.OfStitches, "stitch")})
	}
	state := standingOf(a.On)
	if state == noSpreads {
		a.Verdict.Say("clock.no-interval", words.Args{"machine": machine, "speed": speed})
	} else {
		a.Verdict.Say("clock.between", words.Args{"level": words.Level(a.Interval.Level),
			"low": words.Clock(a.Interval.Low), "high": words.Clock(a.Interval.High),
			"machine": machine, "speed": speed})
	}
	if a.Seconds-a.NaiveSeconds > worthSaying {
		a.Verdict.Say("clock.usual-sum",
			words.Args{"time": words.Seconds(a.NaiveSeconds), "part": partOf(a.NaiveSeconds / a.Seconds)})
		if what, s := a.leftOutMost(); s > worthSaying {
			a.Verdict.Say("clock.left-out",
				words.Args{"what": what, "time": words.Seconds(s)})
		}
	}
	if a.Stitches > 0 {
		a.Verdict.Say("clock.speeds",
			words.Args{"held": words.PerMinute(a.HeldSpeed), "overall": words.PerMinute(a.OverallSpeed)})
	}
	a.sayKinds()
	a.Caveats = append(words.Sentences{}, jobsSay(a.On, a.Job)...)
	if state == assumed {
		a.Caveats.Say("clock.assumed")
	}
}

// Brief is what a list says of a whole run: the interval only.
func (a *ClockAnswer) Brief() words.Message { return a.Verdict[0] }

// ThreadSentence is what thread one piece takes.
func (a *ClockAnswer) ThreadSentence() words.Message {
	top, bobbin := words.Metres(a.Thread.Top), words.Metres(a.Thread.Bobbin)
	if bobbin <= 0 {
		return words.Say("clock.thread", words.Args{"top": top, "bobbin": bobbin})
	}
	per := thread.DefaultSupply.Bobbin
	return words.Say("clock.thread-bobbin", words.Args{"top": top, "bobbin": bobbin,
		"wound": words.Metres(per), "pieces": words.Mean(per/a.Thread.Bobbin, "piece")})
}

// partOf is a share of a time as people say it: about half.
func partOf(share float64) words.Message {
	switch {
	case share >= 0.95:
		return words.Say("clock.part-nearly")
	case share >= 0.83:
		return words.Say("clock.part-nine-tenths")
	case share >= 0.71:
		return words.Say("clock.part-three-quarters")
	case share >= 0.58:
		return words.Say("clock.part-two-thirds")
	case share >= 0.42:
		return words.Say("clock.part-half")
	case share >= 0.29:
		return words.Say("clock.part-third")
	case share >= 0.22:
		return words.Say("clock.part-quarter")
	}
	return words.Say("clock.part-less")
}

// part is one part of a run time with its name.
type part struct {
	key     string // as in JSON
	name    words.Message
	seconds float64
}

// partsOf are the parts of a run in the order of the strip.
func partsOf(p *clock.Parts) []part {
	var out []part
	for k, seconds := range p.Each() {
		out = append(out, part{k.String(), k.Name(), seconds})
	}
	return out
}

// leftOutMost is the largest part that stitches ÷ rated speed leaves out.
func (a *ClockAnswer) leftOutMost() (name words.Message, seconds float64) {
	for _, p := range partsOf(&a.Parts)[1:] {
		if p.seconds > seconds {
			name, seconds = p.name, p.seconds
		}
	}
	return name, seconds
}

// leastPart is the least time of a part of the long stitches worth naming, s.
const leastPart = 0.05

// notes say what each part of the run is, by its key.
func (a *ClockAnswer) notes() map[string]words.Value {
	by := words.List{}
	l := a.LongBy
	for _, q := range []struct {
		name words.Message
		s    float64
	}{
		{words.Say("part.frame-x"), l.FrameX}, {words.Say("part.frame-y"), l.FrameY},
		{words.Say("part.turn"), l.Turn}, {words.Say("part.ladder"), l.Ladder},
	} {
		if q.s >= leastPart {
			by.Say("part.with-time", words.Args{"what": q.name, "time": words.Seconds(q.s)})
		}
	}
	long := words.Say("part.long-stitches-is", words.Args{"by": by})
	if len(by) == 0 {
		long = words.Say("part.long-stitches-short")
	}
	n := words.Count(a.Revolutions, "stitch")
	atSet := words.Say("part.at-set-speed-is", words.Args{"n": n, "speed": words.PerMinute(a.SetSpeed)})
	if a.Parts.AtSetSpeed > 0 {
		turns := float64(a.Revolutions) / a.Parts.AtSetSpeed * 60
		if math.Abs(turns-a.SetSpeed) >= 1 { // the sheet knows that the shaft misses its setting
			atSet = words.Say("part.at-set-speed-turns", words.Args{"n": n, "speed": words.PerMinute(turns), "set": words.PerMinute(a.SetSpeed)})
		}
	}
	return map[string]words.Value{
		"at_set_speed":  atSet,
		"long_stitches": long,
		"ramps":         words.Say("part.ramps-is"),
		"control":       words.Say("part.control-is"),
		"trims":         words.Say("part.standing", words.Args{"n": words.Count(a.Trims, "trim")}),
		"colour_stops":  words.Say("part.standing", words.Args{"n": words.Count(a.ColourStops, "colour-stop")}),
		"travel":        words.Say("part.travel-is"),
		"stops":         words.Say("part.stops-is"),
		"start_end":     words.Say("part.start-end-is"),
	}
}

// Named is a constant of the sheet by its name for people.
func (w ClockWhy) Named() words.Value {
	if c, ok := machine.ConstantAt(w.Constant); ok {
		return c.Named()
	}
	return words.Say("clock.model")
}
