package audit

import (
	"math"

	"needlepace/stitch"
	"needlepace/words"
)

// StackedLayers is too much thread over one another.
const StackedLayers Kind = "stacked-layers"

// A smaller spot, in square millimetres, is a corner or a lock and no stack.
// Engineering choice.
const stackLeast = 4

// findLayers looks for square millimetres in which the thread that lies there,
// at its own width, covers the cloth more than Layers times, and which have no
// more holes than Density allows: the others are findDense's.
func findLayers(v *survey) []Finding {
	h := &v.report.Penetrations
	if len(h.Counts) == 0 {
		return nil
	}
	layers := v.layers()
	for c, n := range h.Counts {
		if float64(n) > v.lim.Density {
			layers[c] = 0
		}
	}
	var found []Finding
	for _, f := range v.spots(layers, v.lim.Layers) {
		if f.Count >= stackLeast {
			f.Risk, f.Severity = RiskBreak, worse(Shows, f.Over)
			found = append(found, f)
		}
	}
	return found
}

func sayLayers(_ *survey, f *Finding) {
	f.What = words.Say("finding.layers", words.Args{"times": words.Fixed(f.Peak, 1), "area": words.AreaMM2(f.Count)})
	f.Ask = words.Say("finding.layers-ask")
}

// layers is how many times thread covers each square millimetre of the heat.
func (v *survey) layers() []float32 {
	h := &v.report.Penetrations
	out := make([]float32, len(h.Counts))
	const step = 2.5 // 0.1 mm
	for i := range v.lines {
		s := &v.lines[i]
		dx, dy := float64(s.x1-s.x0), float64(s.y1-s.y0)
		long := math.Hypot(dx, dy)
		n := max(1, int(math.Ceil(long/step)))
		part := float32(long / float64(n) / stitch.UnitsPerMM * ThreadWidth)
		for p := range n {
			t := (float64(p) + 0.5) / float64(n)
			c := h.cell(hole{x: s.x0 + int32(math.Floor(t*dx)), y: s.y0 + int32(math.Floor(t*dy))})
			if c >= 0 && c < len(out) {
				out[c] += part
			}
		}
	}
	return out
}
