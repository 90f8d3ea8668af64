package picture

import "needlepace/words"

// Curve is values with a band over x.
type Curve struct{ X, Low, Mid, High []float64 }

// Reading is one measured value with its interval; Low = High for none.
type Reading struct{ X, Low, Mid, High float64 }

// SpeedLaw is the chart of the speed a machine holds against stitch length:
// x in mm, speeds in stitches/min. Curves without points and an empty list of
// readings or timings are left out. Its words are w's.
func SpeedLaw(name, text string, assumed, fitted Curve, readings, timings []Reading, setSpeed float64, w *words.Writer) *Chart {
	ch := &Chart{Name: name, Text: text,
		X: Axis{Label: words.Say("law.x").Text(w), FromZero: true, W: w},
		Y: Axis{Label: words.Say("law.y").Text(w), FromZero: true, W: w}}
	add := func(name string, c Curve, st Style) {
		if len(c.X) > 0 {
			ch.Series = append(ch.Series, Series{Name: name, Style: st, X: c.X, Y: c.Mid, Low: c.Low, High: c.High})
		}
	}
	add(words.Say("law.assumed", words.Args{"level": words.Share(.9)}).Text(w), assumed, Assumed)
	add(words.Say("law.fitted", words.Args{"level": words.Share(.9)}).Text(w), fitted, Fitted)
	if setSpeed > 0 {
		lo, hi := Axis{FromZero: true}.span(assumed.X, fitted.X)
		ch.Series = append(ch.Series, Series{Name: words.Say("law.set").Text(w), Style: Limit, X: []float64{lo, hi},
			Y: []float64{setSpeed, setSpeed}})
	}
	dots := func(name string, all []Reading, st Style) {
		s := Series{Name: name, Style: st, Dots: true}
		for _, r := range all {
			s.X, s.Y = append(s.X, r.X), append(s.Y, r.Mid)
			s.Low, s.High = append(s.Low, r.Low), append(s.High, r.High)
		}
		if len(all) > 0 {
			ch.Series = append(ch.Series, s)
		}
	}
	dots(words.Say("law.timings").Text(w), timings, Fitted)
	dots(words.Say("law.readings").Text(w), readings, Plain)
	return ch
}

// Sweep is the chart of run time (s) against set speed (stitches/min) with the
// knee marked; naive is stitches ÷ set speed at the same settings, nil for
// none; knee 0 for none.
func Sweep(name, text string, run Curve, naive []float64, knee float64, w *words.Writer) *Chart {
	time := words.Say("clock.run-time").Text(w)
	ch := &Chart{Name: name, Text: text,
		X:      Axis{Label: words.Say("chart.set-speed").Text(w), W: w},
		Y:      Axis{Label: time, W: w, FromZero: true, Time: true},
		Series: []Series{{Name: time, Style: Plain, X: run.X, Y: run.Mid, Low: run.Low, High: run.High}}}
	if len(run.Low) > 0 {
		ch.Series[0].Name = words.Say("chart.run-time-band", words.Args{"level": words.Share(.9)}).Text(w)
	}
	if len(naive) > 0 {
		ch.Series = append(ch.Series, Series{Name: words.Say("chart.naive").Text(w), Style: Limit, X: run.X, Y: naive})
	}
	if knee > 0 {
		ch.Flags = []Flag{{X: knee, Text: words.Say("chart.knee", words.Args{"speed": words.PerMinute(knee)}).Text(w)}}
	}
	return ch
}
