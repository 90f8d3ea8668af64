package picture

import (
	"needlepace/ask"
	"needlepace/clock"
	"needlepace/stitch"
	"needlepace/words"
)

// heardOver is over how many stitches a speed of the picture is taken.
const heardOver = 8

// HeardOf is the speed that was heard against time, over the speed that the sheet
// says for the same stitches.
func HeardOf(a *ask.ListenAnswer, w *words.Writer) *Chart {
	text := ""
	if len(a.Verdict) > 0 {
		text = a.Verdict[0].Text(w)
	}
	ch := &Chart{Name: words.Say("listen.picture").Text(w), Text: text, Width: 1100,
		X: Axis{Label: words.Say("listen.start").Text(w), Time: true},
		Y: Axis{Label: words.Say("listen.speed").Text(w), FromZero: true}}
	if a.Heard == nil {
		return ch
	}
	s := a.On.Clone()
	s.MaxSpeed = max(s.MaxSpeed, a.Job.Speed)
	tr := clock.New(s, a.Job).Trace(a.Of.Design)
	var turns []float64 // s of each stitch by the sheet
	for i, t := range tr.Seconds {
		if a.Of.Records[i].Op == stitch.Sew && t > 0 {
			turns = append(turns, t)
		}
	}
	heard := Series{Name: words.Say("listen.picture-heard").Text(w), Style: Fitted}
	sheet := Series{Name: words.Say("listen.picture-sheet").Text(w), Style: Assumed}
	at := 0
	for _, r := range a.Heard.Runs {
		for _, s := range []*Series{&heard, &sheet} { // at rest it stands
			s.X, s.Y = append(s.X, r.Start), append(s.Y, 0)
		}
		for i := at; i+heardOver < at+r.Stitches; i += heardOver {
			x, y := a.Heard.Strokes[i], a.Heard.Strokes[i+heardOver]
			if y.At <= x.At {
				continue
			}
			mid := (x.At + y.At) / 2
			heard.X, heard.Y = append(heard.X, mid), append(heard.Y, heardOver*60/(y.At-x.At))
			sum, n := 0.0, 0
			for k := x.Stitch + 1; k <= y.Stitch && k < len(turns); k++ {
				sum += turns[k]
				n++
			}
			if n > 0 && sum > 0 {
				sheet.X, sheet.Y = append(sheet.X, mid), append(sheet.Y, float64(n)*60/sum)
			}
		}
		for _, s := range []*Series{&heard, &sheet} {
			s.X, s.Y = append(s.X, r.End), append(s.Y, 0)
		}
		at += r.Stitches
	}
	ch.Series = []Series{sheet, heard}
	return ch
}
