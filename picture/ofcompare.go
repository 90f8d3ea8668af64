package picture

import (
	"slices"

	"needlepace/ask"
	"needlepace/words"
)

// ComparedCosts draws what a piece costs on each machine, with its interval.
func ComparedCosts(a *ask.ComparisonAnswer, w *words.Writer, width float64) *Intervals {
	p := &Intervals{Name: words.Say("compare.cost-of-a-piece").Text(w),
		Text: words.Say("compare.intervals", words.Args{"currency": words.Name(a.Currency),
			"level": words.Level(a.Level)}).Text(w), Width: width}
	for _, r := range a.MachineTable().Rows {
		cost := func(key string) float64 {
			i := slices.IndexFunc(a.MachineTable().Columns, func(c ask.Column) bool { return c.Key == key })
			return r[i].(words.Numeric).Float()
		}
		m := r[0].Raw()
		p.Rows = append(p.Rows, Interval{Label: r[0].Text(w), Low: cost("cost_per_piece_low"),
			Mid:  cost("cost_per_piece"),
			High: cost("cost_per_piece_high"), Strong: m == a.Cheapest})
	}
	return p
}

// ComparedRuns draws every design's run on every machine.
func ComparedRuns(a *ask.ComparisonAnswer, w *words.Writer, width float64) *Versus {
	p := &Versus{Name: words.Say("compare.runs").Text(w), Width: width,
		Band: words.Say("compare.band", words.Args{"level": words.Level(a.Level)}).Text(w)}
	for i := range a.Designs {
		d := &a.Designs[i]
		g := VersusGroup{Name: words.Say("compare.of-mean-stitch",
			words.Args{"design": words.Name(d.Design), "mm": words.StitchMM(d.MeanStitch)}).Text(w)}
		for _, o := range d.On {
			g.Rows = append(g.Rows, StripRow{Label: o.Machine, Parts: PartsOf(o.Parts), Low: o.Interval.Low,
				High: o.Interval.High})
		}
		p.Groups = append(p.Groups, g)
	}
	p.More = func(n int) string {
		return words.Say("compare.more-designs", words.Args{"designs": words.Count(n, "design")}).Text(w)
	}
	return p
}

// ComparedLengths draws for which stitch lengths the pair's machine is faster
// than the base.
func ComparedLengths(p *ask.ComparedPair, t *ask.Turning, w *words.Writer, width, height float64) *Chart {
	ch := &Chart{Name: words.Say("compare.against", words.Args{"machine": words.Name(p.Machine),
		"base": words.Name(p.Base)}).Text(w),
		Text:  words.Say("compare.lower-is-faster", words.Args{"shape": t.ShapeName()}).Text(w),
		X:     Axis{Label: words.Say("compare.stitch-length", words.Args{"unit": words.LengthUnit{}}).Text(w)},
		Y:     Axis{Label: words.Say("compare.per-1000").Text(w), FromZero: true},
		Width: width, Height: height,
		Series: []Series{{Name: p.Machine, Style: Fitted, X: w.Lengths(t.Length...), Y: t.Machine},
			{Name: p.Base, Style: Plain, X: w.Lengths(t.Length...), Y: t.Base}}}
	for _, u := range t.Turns {
		f := Flag{X: w.Lengths(u.Length)[0], Text: words.StitchMM(u.Length).Text(w)}
		if u.Low != nil && u.High != nil {
			ends := w.Lengths(*u.Low, *u.High)
			f.Low, f.High = ends[0], ends[1]
		}
		ch.Flags = append(ch.Flags, f)
	}
	return ch
}

// mostHeight is the most px that a comparison is high.
const mostHeight = 2000

// Compared draws a whole comparison: the costs, the runs and the stitch
// lengths, as many of them as there is room for.
func Compared(a *ask.ComparisonAnswer, w *words.Writer) *Stack {
	const width = 800
	costs, runs := ComparedCosts(a, w, width), ComparedRuns(a, w, width)
	stack := &Stack{Name: a.Title().Text(w), Pictures: []Picture{costs, runs}}
	_, high := costs.Size()
	left := mostHeight - high - stackGap
	var charts []Picture
	for i := range a.Pairs {
		for j := range a.Pairs[i].Turning {
			charts = append(charts, ComparedLengths(&a.Pairs[i], &a.Pairs[i].Turning[j], w, width, 280))
		}
	}
	_, least := (&Versus{Groups: runs.Groups[:1], Width: width}).Size()
	for _, ch := range charts {
		_, h := ch.Size()
		if left-h-stackGap < least {
			break
		}
		left -= h + stackGap
		stack.Pictures = append(stack.Pictures, ch)
	}
	runs.Most = left
	return stack
}
