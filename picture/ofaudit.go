package picture

import (
	"needlepace/ask"
	"needlepace/words"
)

// mostMarks is how many findings are marked on a drawing; more hide it.
const mostMarks = 25

// FindingsOf draws a design with its dearest findings marked by their numbers.
func FindingsOf(a *ask.AuditAnswer, w *words.Writer) *Marked {
	p := &Marked{Segs: Sewn(a.Of.Design, a.On.Reading.TrimAfterJumps),
		Name: words.Say("picture.audit", words.Args{"design": words.Name(a.Design),
			"machine": words.Name(a.Machine)}).Text(w)}
	for i := range a.Findings {
		if i == mostMarks {
			p.Name = words.Say("picture.audit-dearest",
				words.Args{"design": words.Name(a.Design), "machine": words.Name(a.Machine),
					"shown": words.Whole(mostMarks), "findings": words.Count(len(a.Findings), "finding")}).Text(w)
			break
		}
		f := &a.Findings[i]
		m := Mark{Number: f.Number, X: f.X, Y: f.Y, From: f.FirstRev, To: f.PastRev, Text: f.What}
		if f.Seconds > 0 {
			m.Value = f.Cost().Text(w)
		}
		if 2*(f.To-f.From) > a.Stitches {
			m.To = m.From // of the whole design: a place will do
		}
		p.Marks = append(p.Marks, m)
	}
	return p
}

// DensityOf draws where the needle strikes often, ringed above the limit.
func DensityOf(a *ask.AuditAnswer, w *words.Writer, width float64) *HeatMap {
	h := a.Penetrations
	g := Grid{X0: h.X0, Y0: h.Y0, Cell: 1, NX: h.NX, NY: h.NY, Values: make([]float32, len(h.Counts))}
	for i, n := range h.Counts {
		g.Values[i] = float32(n)
	}
	return &HeatMap{Name: words.Say("picture.penetrations", words.Args{"design": words.Name(a.Design)}).Text(w),
		Width: width,
		Segs:  Sewn(a.Of.Design, a.On.Reading.TrimAfterJumps), Grid: g, Limit: a.Limits.Density}
}

// MendOf draws the run before and after a mend, the saving left as an outline.
func MendOf(a *ask.MendAnswer, w *words.Writer) *Strips {
	return &Strips{
		Name: words.Say("picture.audit", words.Args{"design": words.Name(a.Of.Title()),
			"machine": words.Name(a.Machine)}).Text(w),
		Rows: []StripRow{
			{Label: words.Say("picture.before").Text(w), Parts: PartsOf(a.Before.Parts)},
			{Label: words.Say("picture.after-mend").Text(w), Parts: PartsOf(a.After.Parts), Saved: max(a.Saved, 0)},
		}}
}
