package audit

import (
	"needlepace/stitch"
	"needlepace/words"
)

// Whether the design goes into the frame it is to be sewn in, and under the
// machine.
const (
	TooLarge    Kind = "too-large"
	BeyondField Kind = "beyond-field"
	TooTight    Kind = "too-tight"
)

// findTooLarge: the design does not go into the chosen frame at all.
func findTooLarge(v *survey) []Finding {
	w, h := v.bounds.WidthMM(), v.bounds.HeightMM()
	if !beyond(w, h, v.o.HoopX, v.o.HoopY, 0) {
		return nil
	}
	return v.whole(words.Say("finding.too-large", words.Args{"design": words.Size{W: w, H: h},
		"hoop": words.Size{W: v.o.HoopX, H: v.o.HoopY}}), words.Say("finding.too-large-ask"))
}

// findBeyond: the machine cannot move the frame so far.
func findBeyond(v *survey) []Finding {
	w, h := v.bounds.WidthMM(), v.bounds.HeightMM()
	if !beyond(w, h, v.o.FieldX, v.o.FieldY, 0) {
		return nil
	}
	return v.whole(words.Say("finding.beyond-field", words.Args{"design": words.Size{W: w, H: h},
		"field": words.Size{W: v.o.FieldX, H: v.o.FieldY}}), words.Say("finding.beyond-field-ask"))
}

// findTight: it goes into the frame, but the presser foot, which is wider than
// the needle, does not. Common practice, no published source: half a foot and
// a little to spare stay free on every side.
func findTight(v *survey) []Finding {
	w, h := v.bounds.WidthMM(), v.bounds.HeightMM()
	if beyond(w, h, v.o.HoopX, v.o.HoopY, 0) || !beyond(w, h, v.o.HoopX, v.o.HoopY, v.lim.PresserMargin) {
		return nil
	}
	return v.whole(words.Say("finding.too-tight", words.Args{"design": words.Size{W: w, H: h},
		"hoop": words.Size{W: v.o.HoopX, H: v.o.HoopY}, "margin": words.MM(v.lim.PresserMargin)}),
		words.Say("finding.too-tight-ask"))
}

// beyond says whether w × h mm with a margin on every side is larger than x × y;
// never where x or y is not given.
func beyond(w, h, x, y, margin float64) bool {
	return x > 0 && y > 0 && (w+2*margin > x || h+2*margin > y)
}

// whole is a finding about the whole design, at its middle.
func (v *survey) whole(what, ask words.Message) []Finding {
	return []Finding{{Count: 1, Risk: RiskStrike, To: len(v.l.holes), Spread: true, What: what, Ask: ask,
		X: float64(v.bounds.MinX+v.bounds.MaxX) / 2 / stitch.UnitsPerMM,
		Y: float64(v.bounds.MinY+v.bounds.MaxY) / 2 / stitch.UnitsPerMM}}
}
