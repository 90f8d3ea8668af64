package audit

import (
	"math"

	"needlepace/stitch"
	"needlepace/words"
)

// How the design lies in the hoop and on the needles.
const (
	OffCentre      Kind = "off-centre"
	TooManyColours Kind = "too-many-colours"
)

// floating are the formats whose positions are known only up to a constant:
// their start says nothing about the middle.
var floating = map[string]bool{"pes": true, "pec": true}

// leastOff is the distance in mm below which a start is never called far from
// the middle: a small design starts anywhere.
const leastOff = 25

// findOffCentre: the operator centres the hoop where the frame starts; far from
// the middle the design may run into the frame, and where a hoop is chosen it is
// known whether it does.
func findOffCentre(v *survey) []Finding {
	b := v.bounds
	if b.Empty || floating[v.d.Format] {
		return nil
	}
	cx, cy := float64(b.MinX+b.MaxX)/2/stitch.UnitsPerMM, float64(b.MinY+b.MaxY)/2/stitch.UnitsPerMM
	limit := max(leastOff, v.lim.OffCentre*math.Hypot(b.WidthMM(), b.HeightMM())/2)
	var found []Finding
	strikes, by := v.hoopStruck()
	if far := math.Hypot(cx, cy); far > limit || strikes {
		f := Finding{Count: 1, Risk: RiskStrike, Severity: Hurts, X: 0, Y: 0,
			What: words.Say("finding.start-off", words.Args{"mm": words.MM(far)}),
			Ask:  words.Say("finding.start-off-ask"), Over: far / limit}
		if strikes {
			f.What = words.Say("finding.start-off-hoop", words.Args{"mm": words.MM(far), "by": words.MM(by),
				"hoop": words.Size{W: v.o.HoopX, H: v.o.HoopY}, "margin": words.MM(v.lim.PresserMargin)})
		}
		found = append(found, f)
	}
	x, y := v.l.end.MM()
	home := math.Hypot(x, y) // an end where it started needs no word of its own
	if far := math.Hypot(x-cx, y-cy); far > limit && home > leastOff &&
		v.l.joints[len(v.l.objects)].from < len(v.l.rec) {
		f := Finding{Count: 1, From: len(v.l.holes), To: len(v.l.holes), X: x, Y: y, Block: v.l.blocks - 1,
			What: words.Say("finding.end-off", words.Args{"mm": words.MM(far)}),
			Ask:  words.Say("finding.end-off-ask")}
		found = append(found, f)
	}
	return found
}

// hoopStruck says whether a design that goes into the chosen hoop, with room for the
// presser foot, does not where the frame starts over the hoop's middle (common
// practice, no published source), and how far beyond that room it then reaches, mm.
func (v *survey) hoopStruck() (bool, float64) {
	b, margin := v.bounds, v.lim.PresserMargin
	w, h := b.WidthMM(), b.HeightMM()
	if v.o.HoopX <= 0 || v.o.HoopY <= 0 || beyond(w, h, v.o.HoopX, v.o.HoopY, margin) {
		return false, 0
	}
	side := func(low, high int) float64 { return float64(max(-low, high)) / stitch.UnitsPerMM }
	by := max(side(b.MinX, b.MaxX)+margin-v.o.HoopX/2, side(b.MinY, b.MaxY)+margin-v.o.HoopY/2)
	return by > 1e-9, by
}

// findTooMany counts threads where they are known, blocks where they are not.
// The re-thread's time is the floor's.
func findTooMany(v *survey) []Finding {
	n, what := v.l.blocks, func(n int) words.Value { return words.Count(n, "colour-block") }
	if v.known {
		seen := map[int]bool{}
		for _, t := range v.threads {
			seen[t] = true
		}
		n, what = len(seen), func(n int) words.Value { return words.Count(n, "thread") }
	}
	if v.sheet.Needles < 2 || n <= v.sheet.Needles {
		return nil
	}
	f := Finding{Count: n - v.sheet.Needles, Risk: RiskWrong, To: len(v.l.holes),
		What: words.Say("finding.too-many", words.Args{"colours": what(n), "needles": words.Count(v.sheet.Needles, "needle")}),
		Ask:  words.Say("finding.too-many-ask")}
	for k := range v.l.objects { // the first block that has no needle of its own
		if v.l.objects[k].Block >= v.sheet.Needles {
			f.From = v.l.objects[k].First
			return []Finding{v.place(f, k)}
		}
	}
	return []Finding{f}
}
