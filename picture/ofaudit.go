package picture

import (
	"needlepace/ask"
	"needlepace/words"
)

// MostMarks is how many findings are marked on a drawing; more hide it.
const MostMarks = ask.MostPoints

// mostStrong is the longest stretch of stitches that is drawn strong.
const mostStrong = 400

// FindingsOf draws a design with its gravest findings ringed and numbered.
func FindingsOf(a *ask.AuditAnswer, w *words.Writer) *Marked {
	p := &Marked{W: w, Segs: Sewn(a.Of.Design, a.On.Reading.TrimAfterJumps), Stitch: a.Of.Counts.Stitches,
		Name: words.Say("picture.audit", words.Args{"design": words.Name(a.Design),
			"machine": words.Name(a.Machine)}).Text(w)}
	for i := range a.Findings {
		if i == MostMarks {
			p.Name = words.Say("picture.audit-gravest",
				words.Args{"design": words.Name(a.Design), "machine": words.Name(a.Machine),
					"shown": words.Whole(MostMarks), "findings": words.Count(len(a.Findings), "finding")}).Text(w)
			break
		}
		f := &a.Findings[i]
		m := Mark{Number: f.Number, X: f.X, Y: f.Y, From: f.FirstRev, To: f.PastRev, Radius: f.RadiusMM, Text: f.What.Text(w)}
		for _, p := range f.Places[min(1, len(f.Places)):] {
			m.Also = append(m.Also, Spot{p.X, p.Y, p.RadiusMM})
		}
		if f.Seconds > 0 {
			m.Value = f.Cost().Text(w)
		}
		if m.To-m.From > mostStrong {
			m.To = m.From // a place points better
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

// PathsOf draws the ways that the needle goes without thread, before a mend and
// after it.
func PathsOf(a *ask.MendAnswer, w *words.Writer) (before, after *Path) {
	trim := a.On.Reading.TrimAfterJumps
	before = &Path{Name: words.Say("picture.ways-before").Text(w), Segs: Sewn(a.Of.Design, trim), W: w}
	after = &Path{Name: words.Say("picture.ways-after").Text(w), Segs: before.Segs, W: w}
	if a.Mended != nil && a.Mended.Design != nil {
		after.Segs = Sewn(a.Mended.Design, trim)
	}
	return before, after
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
