package ask

import (
	"math"

	"needlepace/clock"
	"needlepace/learn"
	"needlepace/words"
)

// say puts the answer into sentences; learned tells that the sheet of now is.
func (a *ScoreAnswer) say(s *learn.Score, learned bool) {
	machine, runs, designs := words.Name(a.Machine), words.Count(s.Runs, "run"), words.Count(s.Designs, "design")
	inside, level := words.Whole(s.Inside), words.Level(clock.DefaultLevel)
	off := words.Signed{Numeric: words.Share(s.Bias)}
	sized := func(v float64) words.Value { return words.Share(math.Abs(v)) }
	v := &a.Verdict
	switch {
	case s.Runs == 0 && learned:
		v.Say("score.none-learned", words.Args{"machine": machine})
	case s.Runs == 0:
		v.Say("score.none", words.Args{"machine": machine})
	case s.Few():
		v.Say("score.few", words.Args{"runs": runs, "off": off, "inside": inside, "level": level,
			"few": words.Whole(learn.ScoreFew)})
	case s.Biased() && s.Bias > 0:
		v.Say("score.short", words.Args{"runs": runs, "designs": designs, "by": sized(s.Bias), "machine": machine,
			"low": sized(s.Low), "high": sized(s.High)})
	case s.Biased():
		v.Say("score.long", words.Args{"runs": runs, "designs": designs, "by": sized(s.Bias), "machine": machine,
			"low": sized(s.High), "high": sized(s.Low)})
	case s.BiasChance < learn.ScoreSure:
		v.Say("score.minor", words.Args{"runs": runs, "designs": designs, "machine": machine, "off": off})
	default:
		v.Say("score.no-bias", words.Args{"runs": runs, "designs": designs, "machine": machine, "off": off})
	}
	switch {
	case s.Few():
	case s.Narrow():
		v.Say("score.narrow", words.Args{"inside": inside, "level": level})
	case s.Wide():
		v.Say("score.wide", words.Args{"inside": inside, "level": level})
	default:
		v.Say("score.inside", words.Args{"inside": inside, "level": level})
	}
	switch {
	case !s.Biased() && !s.Narrow():
	case learned:
		v.Say("score.again")
	default:
		v.Say("score.learn")
	}
	if s.Designs < 3 && s.Designs < s.Runs {
		a.Caveats.Say("score.one-design", words.Args{"designs": designs})
	}
	if s.Apart > 0 {
		a.Caveats.Say("score.apart", words.Args{"runs": words.Count(s.Apart, "run")})
	}
	if a.Unpredicted > 0 {
		a.Caveats.Say("score.unpredicted", words.Args{"runs": words.Count(a.Unpredicted, "run")})
	}
}
