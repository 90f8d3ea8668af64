package ask

import (
	"context"

	"needlepace/learn"
	"needlepace/machine"
	"needlepace/words"
)

// TeachAnswer is what timing a run should teach about its machine, before
// anybody has timed it.
type TeachAnswer struct {
	Things    float64         `json:"things" doc:"how many independent things the whole and each block, timed once by hand, should determine"`
	Constants int             `json:"constants" doc:"of how many uncertain constants"`
	Little    bool            `json:"little" doc:"it would teach the overall pace at most"`
	Verdict   words.Sentences `json:"verdict"`
}

// Up to how many independent things a timing teaches nothing, and the overall
// pace at most: half a thing more or less is as good as none or one.
const (
	teachesNothing = 0.5
	teachesPace    = 1.5
)

// teaches works out what timing an answer's run should teach; nil where the
// sheet has no spreads or the design no stitches: there is nothing to learn.
func (a *ClockAnswer) teaches(ctx context.Context) (*TeachAnswer, error) {
	if standingOf(a.On) == noSpreads || a.Stitches == 0 {
		return nil, nil
	}
	l, err := learn.Teach(ctx, a.On, a.Of.Design, a.SetSpeed)
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	if err != nil {
		return nil, wrong(err)
	}
	t := &TeachAnswer{Things: l.Things, Constants: len(l.Spread), Little: l.Things < teachesPace}
	machine, constants := words.Name(a.Machine), words.Count(t.Constants, "constant")
	atSpeed := a.Parts.AtSetSpeed / a.Seconds
	switch {
	case t.Little && a.On.Fit != nil:
		t.Verdict = words.Sentences{words.Say("teach.known", words.Args{"machine": machine})}
	case l.Things >= teachesPace:
		t.Verdict = words.Sentences{words.Say("teach.much", words.Args{"machine": machine, "constants": constants,
			"things": words.Fixed(l.Things, 0), "most": sharpened(l.Spread)})}
	case l.Things >= teachesNothing:
		t.Verdict = words.Sentences{words.Say("teach.pace", words.Args{"machine": machine})}
	case atSpeed > 0.5:
		t.Verdict = words.Sentences{words.Say("teach.at-set-speed",
			words.Args{"machine": machine, "share": words.Share(atSpeed)})}
	default:
		t.Verdict = words.Sentences{words.Say("teach.nothing", words.Args{"machine": machine})}
	}
	return t, nil
}

// sharpened is the constant whose spread shrinks most.
func sharpened(all []learn.ExpectedSpread) words.Value {
	best := all[0]
	for _, e := range all[1:] {
		if e.After*best.Before < best.After*e.Before {
			best = e
		}
	}
	return constantNamed(best.Path)
}

// constantNamed is a constant of a sheet: its name for people, its path in
// files.
func constantNamed(path string) words.Value {
	if c, ok := machine.ConstantAt(path); ok {
		return coded{c.Named(), path}
	}
	return words.Name(path)
}
