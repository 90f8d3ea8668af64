package picture

import (
	"needlepace/ask"
	"needlepace/words"
)

// LawOf draws the speed that a machine holds against stitch length.
func LawOf(a *ask.LawAnswer, w *words.Writer) *Chart {
	curve := func(c *ask.LawCurve) Curve { return Curve{X: c.LengthMM, Low: c.Low, Mid: c.Mid, High: c.High} }
	assumed, fitted := curve(&a.Now), Curve{}
	if a.Before != nil {
		assumed, fitted = curve(a.Before), assumed
	}
	var read, timed []Reading
	for _, r := range a.Readings {
		read = append(read, Reading{X: r.LengthMM, Low: r.Shown, Mid: r.Shown, High: r.Shown})
	}
	for _, t := range a.Timings {
		timed = append(timed, Reading{X: t.LengthMM, Low: t.Low, Mid: t.Held, High: t.High})
	}
	text := words.Say("law.straight")
	if a.Zigzag {
		text = words.Say("law.zigzag")
	}
	return SpeedLaw(words.Say("law.of", words.Args{"machine": words.Name(a.Machine)}).Text(w), text.Text(w),
		assumed, fitted, read, timed, a.SetSpeed, w)
}
