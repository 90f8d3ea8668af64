package shop

import (
	"needlepace/words"
)

// MostOff is how many times outside the predicted interval a run may lie before it
// is asked about: wider than any wrong sheet of the right kind of machine, narrower
// than a run that was stopped by mistake.
const MostOff = 2.0

// Unlikely is the error of a run that lies far from what the machine's sheet
// predicted of it, at "sure": nobody keeps one unasked, since the machine would
// learn from it. nil for any other, where nothing was predicted, and where whoever
// asks is sure.
func (r *Run) Unlikely() error {
	p := r.Predicted
	if p == nil || r.Sure || r.Seconds*MostOff >= p.Low && r.Seconds <= p.High*MostOff {
		return nil
	}
	return At("sure", Saying(Invalid, words.Say("refused.unlikely", words.Args{"took": words.FineSeconds(r.Seconds),
		"predicted": words.Seconds(p.Seconds), "low": words.Seconds(p.Low), "high": words.Seconds(p.High)})))
}

// LeastPressMS is how near two presses may lie, in ms, before they are asked
// about: a glove that presses twice is faster, two stops are not.
const LeastPressMS = 300

// PressedTwice is the error, at "sure", of presses that lie so near that they may
// be one; nil for none.
func PressedTwice(marks []Mark) error {
	for i := 1; i < len(marks); i++ {
		if d := marks[i].AtMS - marks[i-1].AtMS; d < LeastPressMS {
			return At("sure", Saying(Invalid, words.Say("refused.twice", words.Args{"a": words.Whole(i), "b": words.Whole(i + 1),
				"ms": words.Whole(int(d))})))
		}
	}
	return nil
}

// KeptBefore is the Conflict of a recording whose times are kept already: twice it
// would count twice.
func KeptBefore() error {
	return At("recording", Saying(Conflict, words.Say("refused.heard-before")))
}

// Held is the Conflict, at "owner", of a change to a timing that another phone owns.
func Held(t *Timing) error {
	if t.Holder != "" {
		return At("owner", Saying(Conflict, words.Say("refused.held-by", words.Args{"who": words.Name(t.Holder)})))
	}
	return At("owner", Saying(Conflict, words.Say("refused.held")))
}
