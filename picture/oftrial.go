package picture

import (
	"github.com/shopspring/decimal"
	"strings"

	"needlepace/ask"
	"needlepace/words"
)

// TrialLead is the picture of page 1: seconds a piece of each machine over the mix, or
// what is predicted where nothing came back.
func TrialLead(a *ask.TrialAnswer, by *words.Writer, width float64) Picture {
	iv := &Intervals{Name: words.Say("trialpaper.lead-picture").Text(by), Width: width,
		Axis: Axis{Time: true, W: by}}
	for i, r := range a.Ranks {
		iv.Rows = append(iv.Rows, Interval{Label: r.Machine, Low: r.Low, Mid: r.Piece, High: r.High, Strong: i == 0,
			Note: words.Seconds(r.Piece).Text(by)})
	}
	if len(a.Ranks) == 0 {
		return TrialStrips(a, 0, by, width)
	}
	return iv
}

// TrialStrips are the predicted strips of a design on all machines, the measured range
// on each as its whisker.
func TrialStrips(a *ask.TrialAnswer, design int, by *words.Writer, width float64) Picture {
	n := len(a.File.Machines)
	s := &Strips{Name: a.Designs[design].Name, W: by, Width: width}
	for _, c := range a.Cells[design*n : (design+1)*n] {
		row := StripRow{Label: c.Machine, Parts: PartsOf(c.Clock.Parts)}
		if c.Seconds > 0 {
			row.Low, row.High = c.Low, c.High
			row.Note = words.Say("trialpaper.was", words.Args{"time": words.Seconds(c.Seconds)}).Text(by)
		}
		s.Rows = append(s.Rows, row)
	}
	return s
}

// TrialTornado is how the lead of the cheapest changes, one input at a time.
func TrialTornado(a *ask.TrialAnswer, by *words.Writer, width float64) Picture {
	m := a.Money
	lead, _ := decimal.NewFromString(m.Lead)
	iv := &Intervals{Name: words.Say("trialpaper.tornado", words.Args{"currency": words.Name(m.Currency)}).Text(by), Width: width, Axis: Axis{W: by},
		Reference: 0, RefText: words.Say("trialpaper.no-lead").Text(by)}
	money := func(v float64) words.Value { return words.Fixed(v, 0) }
	for _, s := range m.Swings {
		low, high := s.Span()
		iv.Rows = append(iv.Rows, Interval{Label: s.What.Text(by), Low: low, Mid: lead.InexactFloat64(), High: high,
			Note: words.Say("trialpaper.from-to", words.Args{"low": money(low), "high": money(high)}).Text(by)})
	}
	return iv
}

// TrialCrossed draws which machine is the fastest as one thing of the work changes.
func TrialCrossed(k *ask.TrialCrossing, by *words.Writer, width float64) Picture {
	ch := &Chart{Name: strings.TrimSuffix(words.Sentence(k.What.Text(by)), "."), Text: k.Says().Text(by), X: Axis{Label: k.What.Text(by), W: by},
		Y: Axis{Label: words.Say("trial.cross-seconds").Text(by), FromZero: true, W: by}, Width: width, Height: 280}
	styles := []Style{Fitted, Plain, Assumed, Limit}
	at, x := func(v float64) float64 { return v }, k.X
	if k.Length() {
		at, x = func(v float64) float64 { return by.Lengths(v)[0] }, by.Lengths(k.X...)
		ch.X.Label += ", " + words.LengthUnit{}.Text(by)
	}
	for i, c := range k.Curves {
		ch.Series = append(ch.Series, Series{Name: c.Machine, Style: styles[i%len(styles)], X: x, Y: c.Seconds, Low: c.Low, High: c.High})
	}
	for _, t := range k.Turns {
		ch.Flags = append(ch.Flags, Flag{X: at(t.At), Text: k.Value(t.At).Text(by), Low: at(t.Low), High: at(t.High)})
	}
	return ch
}
