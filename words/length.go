package words

import "strings"

// mmPerInch is exact: the international inch.
const mmPerInch = 25.4

// length is mm in the writer's unit, with so many decimals in each.
func (w *Writer) length(mm float64, placesMM, placesInch int) string {
	if unknown(mm) {
		return none
	}
	l := w.language()
	if w.inch() {
		return l.fill("length.inch", "n", l.fixed(mm/mmPerInch, placesInch))
	}
	return l.fill("length.mm", "n", l.fixed(mm, placesMM))
}

// MM is a length in mm: 48.5 mm, 1.91 in.
type MM float64

// Text is in mm or inches.
func (v MM) Text(w *Writer) string { return w.length(float64(v), 1, 2) }

// Raw is the length in mm.
func (v MM) Raw() string { return raw(float64(v)) }

// Float is the length in mm.
func (v MM) Float() float64 { return float64(v) }

// StitchMM is the length of a stitch in mm: 3.2 mm, 0.126 in.
type StitchMM float64

// Text is in mm or inches.
func (v StitchMM) Text(w *Writer) string { return w.length(float64(v), 1, 3) }

// Raw is the length in mm.
func (v StitchMM) Raw() string { return raw(float64(v)) }

// Float is the length in mm.
func (v StitchMM) Float() float64 { return float64(v) }

// Size is width × height in mm.
type Size struct{ W, H float64 }

// Text is in mm or inches: 48.5 × 30.0 mm.
func (s Size) Text(w *Writer) string {
	l := w.language()
	if w.inch() {
		return l.fill("length.size-inch", "w", l.fixed(s.W/mmPerInch, 2), "h", l.fixed(s.H/mmPerInch, 2))
	}
	return l.fill("length.size-mm", "w", l.fixed(s.W, 1), "h", l.fixed(s.H, 1))
}

// Raw is 48.5 × 30.
func (s Size) Raw() string { return raw(s.W) + " × " + raw(s.H) }

// Metres is a length of thread in m: 1,204 m, 4.3 m.
type Metres float64

// Text is in m, with a decimal below ten.
func (v Metres) Text(w *Writer) string {
	if unknown(float64(v)) {
		return none
	}
	places := 0
	if v < 9.95 && v > -9.95 {
		places = 1
	}
	l := w.language()
	return l.fill("length.m", "n", l.fixed(float64(v), places))
}

// Raw is the length in m.
func (v Metres) Raw() string { return raw(float64(v)) }

// Float is the length in m.
func (v Metres) Float() float64 { return float64(v) }

// PerMinute is a speed in stitches/min: 850/min.
type PerMinute float64

// Text is in stitches/min, whole.
func (v PerMinute) Text(w *Writer) string {
	if unknown(float64(v)) {
		return none
	}
	l := w.language()
	return l.fill("speed.per-min", "n", l.fixed(float64(v), 0))
}

// Raw is the speed in stitches/min.
func (v PerMinute) Raw() string { return raw(float64(v)) }

// Float is the speed in stitches/min.
func (v PerMinute) Float() float64 { return float64(v) }

// FineMM is a length in mm as exact as it is known: 0.35 mm, 0.014 in.
type FineMM float64

// Text is in mm, with three figures, or inches, with three decimals.
func (v FineMM) Text(w *Writer) string {
	if w.inch() {
		return StitchMM(v).Text(w)
	}
	return w.language().fill("length.mm", "n", Figure(v).Text(w))
}

// Raw is the length in mm.
func (v FineMM) Raw() string { return raw(float64(v)) }

// Float is the length in mm.
func (v FineMM) Float() float64 { return float64(v) }

// AreaMM2 is an area in mm²: 14 mm², 0.022 in².
type AreaMM2 float64

// Text is in mm², whole, or in², with three decimals.
func (v AreaMM2) Text(w *Writer) string {
	l := w.language()
	switch {
	case unknown(float64(v)):
		return none
	case w.inch():
		return l.fill("length.area-inch", "n", l.fixed(float64(v)/(mmPerInch*mmPerInch), 3))
	}
	return l.fill("length.area-mm", "n", l.fixed(float64(v), 0))
}

// Raw is the area in mm².
func (v AreaMM2) Raw() string { return raw(float64(v)) }

// Float is the area in mm².
func (v AreaMM2) Float() float64 { return float64(v) }

// LengthUnit is the unit of lengths alone, for the head of a field or an axis: mm, in.
type LengthUnit struct{}

// Text is mm or in.
func (LengthUnit) Text(w *Writer) string {
	key := "length.mm"
	if w.inch() {
		key = "length.inch"
	}
	return strings.TrimSpace(w.language().fill(key, "n", ""))
}

// Raw is mm.
func (LengthUnit) Raw() string { return "mm" }

// Lengths are so many mm in the writer's unit, for an axis.
func (w *Writer) Lengths(mm ...float64) []float64 {
	out := make([]float64, len(mm))
	for i, v := range mm {
		if out[i] = v; w.inch() {
			out[i] = v / mmPerInch
		}
	}
	return out
}

// MMOf is a length that was given in the writer's unit, in mm.
func (w *Writer) MMOf(v float64) float64 {
	if w.inch() {
		return v * mmPerInch
	}
	return v
}
