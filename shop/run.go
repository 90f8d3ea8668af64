package shop

import (
	"fmt"

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
	return At("sure", Invalidf("it took %s, and %s was predicted (%s to %s, 9 times in 10): look whether design, block and "+
		"time are right, or say that they are", brief(r.Seconds), words.Seconds(p.Seconds).Text(nil),
		words.Seconds(p.Low).Text(nil), words.Seconds(p.High).Text(nil)))
}

// brief is a duration in words, with tenths where it is short.
func brief(seconds float64) string {
	if seconds < 60 {
		return fmt.Sprintf("%.1f s", seconds)
	}
	return words.Seconds(seconds).Text(nil)
}

// LeastPressMS is how near two presses may lie, in ms, before they are asked
// about: a glove that presses twice is faster, two stops are not.
const LeastPressMS = 300

// PressedTwice is the error, at "sure", of presses that lie so near that they may
// be one; nil for none.
func PressedTwice(marks []Mark) error {
	for i := 1; i < len(marks); i++ {
		if d := marks[i].AtMS - marks[i-1].AtMS; d < LeastPressMS {
			return At("sure", Invalidf("presses %d and %d are %d ms apart: was that one press? Take one back, or say that "+
				"both are meant", i, i+1, d))
		}
	}
	return nil
}

// Held is the Conflict, at "owner", of a change to a timing that another phone owns.
func Held(t *Timing) error {
	on := "on another phone"
	if t.Holder != "" {
		on += " (" + t.Holder + ")"
	}
	return At("owner", Errorf(Conflict, "this run is being timed %s: go on there, or take it over here on purpose", on))
}
