package picture

import (
	"needlepace/stitch"
	"needlepace/words"
)

// kindRGB are the colours of the kinds of stitches on the light cloth: a choice
// of Okabe and Ito's palette for colour-blind eyes (2008), the ones too pale for
// thin thread left out or darkened.
var kindRGB = [stitch.NumKinds]RGB{
	stitch.NotSewn:    hex("#bbbbbb"),
	stitch.Running:    hex("#0072b2"),
	stitch.Satin:      hex("#d55e00"),
	stitch.Fill:       hex("#00805d"),
	stitch.Tie:        hex("#000000"),
	stitch.Bean:       hex("#7b3294"),
	stitch.UnderCover: hex("#9a8c6c"),
	stitch.Unknown:    hex("#cc79a7"),
}

// KindRGB is the colour in which stitches of a kind are drawn.
func KindRGB(k stitch.Kind) RGB {
	if int(k) < len(kindRGB) {
		return kindRGB[k]
	}
	return kindRGB[stitch.Unknown]
}

// KindSpan is a time of the run in which stitches of one kind are sewn.
type KindSpan struct {
	From, To float64 // s
	Kind     stitch.Kind
}

// addKind adds a revolution's time to spans that go up in time.
func addKind(spans []KindSpan, from, to float64, k stitch.Kind) []KindSpan {
	if n := len(spans); n > 0 && spans[n-1].Kind == k && from-spans[n-1].To < 1e-9 {
		spans[n-1].To = to
		return spans
	}
	return append(spans, KindSpan{from, to, k})
}

// KindColumns is the kind that takes most of each of n equal parts of top
// seconds; NotSewn where nothing is sewn.
func KindColumns(spans []KindSpan, top float64, n int) []stitch.Kind {
	out := make([]stitch.Kind, n)
	if !(top > 0) || n == 0 {
		return out
	}
	took := make([][stitch.NumKinds]float64, n)
	dt := top / float64(n)
	for _, s := range spans {
		for k := max(0, int(s.From/dt)); k < n && float64(k)*dt < s.To; k++ {
			took[k][s.Kind] += min(s.To, float64(k+1)*dt) - max(s.From, float64(k)*dt)
		}
	}
	for i := range out {
		for k := range stitch.SewnKinds() {
			if took[i][k] > took[i][out[i]] {
				out[i] = k
			}
		}
	}
	return out
}

// drawKinds draws in a thin margin which kind of stitches is sewn when.
func drawKinds(c Canvas, margin Box, spans []KindSpan, top float64) {
	cols := KindColumns(spans, top, int(margin.W))
	by := make([][]Box, stitch.NumKinds)
	for i := 0; i < len(cols); {
		to := i + 1
		for to < len(cols) && cols[to] == cols[i] {
			to++
		}
		if k := cols[i]; k != stitch.NotSewn {
			by[k] = append(by[k], Box{margin.X + float64(i), margin.Y, float64(to - i), margin.H})
		}
		i = to
	}
	for k := range stitch.SewnKinds() {
		if len(by[k]) > 0 {
			c.Begin(Group{Class: "np-kind", Title: k.Name().Text(nil), Data: map[string]string{"kind": k.String()}})
			c.Rects(by[k], Solid(KindRGB(k)))
			c.End()
		}
	}
}

// kindsLegend names the kinds that occur, in one line from x to right.
func kindsLegend(c Canvas, x, y, right float64, spans []KindSpan, w *words.Writer) {
	var has [stitch.NumKinds]bool
	for _, s := range spans {
		has[s.Kind] = true
	}
	f := face(11, Quiet)
	for k := range stitch.SewnKinds() {
		name := k.Name().Text(w)
		wide := 14 + TextWidth(name, f)
		if !has[k] || x+wide > right {
			continue
		}
		c.Rect(x, y-7, 10, 6, Solid(KindRGB(k)))
		c.Text(x+14, y, name, f)
		x += wide + 14
	}
}
