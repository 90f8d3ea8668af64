package picture

import (
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"needlepace/stitch"
)

// TestTheStripIsToScale reads the widths of a drawn strip back: each part's
// px are its seconds.
func TestTheStripIsToScale(t *testing.T) {
	parts := []Part{{AtSetSpeed, 300}, {LongStitches, 120}, {Trims, 55}, {StartEnd, 1}}
	doc := svgOf(t, &Strips{Bare: true, Width: 952, Rows: []StripRow{{Parts: parts}}}, Light())
	left := map[string]float64{}
	var order []string
	part := ""
	d := xml.NewDecoder(strings.NewReader(doc))
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		s, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		for _, a := range s.Attr {
			if a.Name.Local == "data-part" {
				part = a.Value
				order = append(order, part)
			}
			if s.Name.Local == "rect" && a.Name.Local == "x" && part != "" {
				left[part], _ = strconv.ParseFloat(a.Value, 64)
				part = ""
			}
		}
	}
	if got := fmt.Sprint(order); got != "[at_set_speed long_stitches trims start_end]" {
		t.Fatalf("parts drawn: %v", got)
	}
	at := 0.0
	for _, p := range parts {
		if got := left[p.Key.String()]; math.Abs(got-at*2) > 0.01 { // 952 px for 476 s
			t.Errorf("%v begins at %v px, want %v", p.Key, got, at*2)
		}
		at += p.Seconds
	}
}

func TestTextBarHasTheRightCells(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for range 500 {
		var parts []Part
		for _, k := range Keys {
			parts = append(parts, Part{k, math.Floor(rng.ExpFloat64() * 100)})
		}
		for _, ascii := range []bool{false, true} {
			ts := TextStrip{Width: 10 + rng.IntN(90), ASCII: ascii}
			bar := ts.Bar(parts, 0)
			if n := utf8.RuneCountInString(bar); total(parts) > 0 && n != ts.Width {
				t.Fatalf("%d cells, want %d", n, ts.Width)
			}
			for _, p := range parts {
				n := strings.Count(bar, ts.Glyph(p.Key))
				if want := p.Seconds / total(parts) * float64(ts.Width); math.Abs(float64(n)-want) > 1 {
					t.Fatalf("%v: %d cells for %.2f", p.Key, n, want)
				}
			}
			if strings.Contains(bar, "\x1b") {
				t.Fatal("colour without being asked")
			}
		}
	}
}

func TestTextBarsOnACommonScaleAndAfterAMend(t *testing.T) {
	ts := TextStrip{Width: 20, Max: 200}
	if got, want := ts.Bar([]Part{{AtSetSpeed, 60}, {Trims, 40}}, 20), "░░░░░░████┄┄"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got, want := ts.Legend([]Part{{Trims, 40}, {AtSetSpeed, 60}},
		true), "░ at set speed 1 min 00 s  █ trims 40 s"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestEveryPartHasItsOwnGlyphHatchAndName(t *testing.T) {
	glyph, ascii, hatches, names, keys := map[rune]bool{}, map[byte]bool{}, map[hatch]bool{}, map[string]bool{}, map[string]bool{}
	for _, k := range Keys {
		n, name, key := partLooks[k], k.Name().Text(nil), k.String()
		if glyph[n.glyph] || ascii[n.ascii] || hatches[n.hatch] || names[name] || keys[key] {
			t.Errorf("%v shares a sign with another part", k)
		}
		glyph[n.glyph], ascii[n.ascii], hatches[n.hatch], names[name], keys[key] = true, true, true, true, true
	}
}

func TestHatchingStaysInItsBox(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	for range 300 {
		b := Box{rng.Float64() * 50, rng.Float64() * 50, rng.Float64() * 60, 5 + rng.Float64()*40}
		for h := hatchNone; h <= hatchDots; h++ {
			for _, s := range h.lines(b) {
				for _, p := range []Pt{s.A, s.B} {
					const e = 1e-9
					if p.X < b.X-e || p.X > b.Right()+e || p.Y < b.Y-e || p.Y > b.Bottom()+e {
						t.Fatalf("hatch %d: %v outside %v", h, p, b)
					}
				}
			}
		}
	}
}

func TestTheTraceKeepsEveryDip(t *testing.T) {
	// A million points at 900/min with one dip of 2 ms: still to be seen.
	var trace []TracePoint
	for i := range 1_000_000 {
		v := 900.0
		if i == 612_345 {
			v = 120
		}
		trace = append(trace, TracePoint{float64(i) * 0.002, v})
	}
	cols := columns(trace, 2000, 800)
	lows := 0
	for k, c := range cols {
		if !c.seen || c.hi != 900 {
			t.Fatalf("column %d: %+v", k, c)
		}
		if c.lo == 120 {
			lows++
		}
	}
	if lows != 1 {
		t.Errorf("the dip shows in %d columns", lows)
	}
}

func TestTheTraceMeanIsTheAreaUnderIt(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	var trace []TracePoint
	at, area := 0.0, 0.0
	for i := range 400 {
		v := rng.Float64() * 1000
		if i > 0 {
			dt := rng.ExpFloat64()
			area += dt * (v + trace[i-1].Speed) / 2
			at += dt
		}
		trace = append(trace, TracePoint{at, v})
	}
	sum := 0.0
	const n = 97
	for _, c := range columns(trace, at, n) {
		sum += c.mean * at / n
	}
	if math.Abs(sum-area) > area*1e-9 {
		t.Errorf("columns hold %.6f, the trace %.6f", sum, area)
	}
}

func TestSewnHasOneSegmentForEachRevolution(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	for range 300 {
		d := &stitch.Design{}
		for range 60 {
			op := stitch.Sew
			if rng.IntN(3) == 0 {
				op = stitch.Op(rng.IntN(6))
			}
			d.Records = append(d.Records, stitch.Record{DX: int16(rng.IntN(243) - 121), DY: int16(rng.IntN(243) - 121),
				Op: op})
		}
		for after := 1; after <= 4; after++ {
			segs := Sewn(d, after)
			// The same by the plain way: where the frame stands after each record.
			type pt struct{ x, y int }
			pos := make([]pt, len(d.Records)+1)
			for i, r := range d.Records {
				pos[i+1] = pt{pos[i].x + int(r.DX), pos[i].y + int(r.DY)}
			}
			n := 0
			for e := range d.Events(after) {
				if e.Kind != stitch.Run {
					continue
				}
				for i := e.From; i < e.To; i++ {
					if n >= len(segs) {
						t.Fatalf("only %d segments", len(segs))
					}
					s := segs[n]
					if int(s.X1) != pos[i+1].x || int(s.Y1) != pos[i+1].y || int(s.Layer) != e.Block {
						t.Fatalf("segment %d ends at %d,%d in layer %d, want %v in %d", n, s.X1, s.Y1, s.Layer,
							pos[i+1], e.Block)
					}
					if whole := (pt{int(s.X0), int(s.Y0)}) == pos[i]; !whole && (s.X0 != s.X1 || s.Y0 != s.Y1) {
						t.Fatalf("segment %d begins at %d,%d", n, s.X0, s.Y0)
					}
					n++
				}
			}
			if n != len(segs) {
				t.Fatalf("%d segments for %d revolutions", len(segs), n)
			}
		}
	}
}

func TestNoThreadIsDrawnAcrossATrim(t *testing.T) {
	d := &stitch.Design{Records: []stitch.Record{{DX: 20}, {DX: 20}, {DX: 100, Op: stitch.Jump},
		{DX: 100, Op: stitch.Jump}, {DX: 100, Op: stitch.Jump}, {DX: 10}, {DX: 20}}}
	cut := Sewn(d, 3)
	if s := cut[2]; s.X0 != s.X1 {
		t.Errorf("after the trim: %+v", s)
	}
	if s := Sewn(d, 9)[2]; s.X1-s.X0 != 100 {
		t.Errorf("without a trim the thread lies across: %+v", s)
	}
}

func TestBadgesDoNotLieOnEachOther(t *testing.T) {
	var at []Pt
	for i := range 12 {
		at = append(at, Pt{300 + float64(i%4), 200 + float64(i/4)})
	}
	got := placeBadges(at, make([]float64, len(at)), Box{0, 0, 600, 400})
	for i := range got {
		for j := range i {
			if d := math.Hypot(got[i].X-got[j].X, got[i].Y-got[j].Y); d < 2*badgeRadius {
				t.Errorf("badges %d and %d are %.1f px apart", j+1, i+1, d)
			}
		}
	}
}

func TestHistogramBinsHoldEveryValue(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	for range 200 {
		vs := make([]float64, 1+rng.IntN(400))
		scale := math.Pow(10, float64(rng.IntN(7)-3))
		for i := range vs {
			vs[i] = rng.NormFloat64() * scale
		}
		v := sortedFinite(vs)
		from, width, counts := bins(v)
		sum := 0
		for _, n := range counts {
			sum += n
		}
		if sum != len(vs) || from > v[0] || from+width*float64(len(counts)) < v[len(v)-1] || len(counts) > 130 {
			t.Fatalf("%d values: %d in %d classes of %v from %v", len(vs), sum, len(counts), width, from)
		}
	}
}

func TestFiguresAreTabular(t *testing.T) {
	for _, bold := range []bool{false, true} {
		f := Face{Size: 100, Bold: bold}
		for d := '1'; d <= '9'; d++ {
			if a, b := TextWidth("0", f), TextWidth(string(d), f); a != b {
				t.Errorf("bold %v: 0 is %.2f wide, %c is %.2f", bold, a, d, b)
			}
		}
	}
}

func TestFitShortensToTheWidth(t *testing.T) {
	f := Face{Size: 12}
	for w := 0.0; w < 200; w += 7 {
		if got := fit("a design with quite a long name ÄÖÜ", f, w); TextWidth(got, f) > w {
			t.Errorf("%q is wider than %v", got, w)
		}
	}
}

func TestStylesheetNamesEveryClassThatAPageUses(t *testing.T) {
	css := Stylesheet()
	for name, p := range samples(0.2) {
		doc := svgOf(t, p, Page())
		for _, part := range strings.Split(doc, ` class="`)[1:] {
			cl, _, _ := strings.Cut(part, `"`)
			if strings.HasPrefix(cl, "np-") {
				continue
			}
			if !strings.Contains(css, "."+cl+"{") {
				t.Errorf("%s: class %q has no rule", name, cl)
			}
		}
	}
}

// bigDesign is n stitches of satin and fill over 200 mm.
func bigDesign(n int) ([]Segment, []float32) {
	rng := rand.New(rand.NewPCG(1, 9))
	segs, speeds := make([]Segment, n), make([]float32, n)
	x, y := int32(0), int32(0)
	dir := int32(40)
	for i := range segs {
		nx, ny := x+dir, y
		if nx > 2000 || nx < 0 {
			dir, nx, ny = -dir, x, y+4
		}
		segs[i] = Segment{x, y, nx, ny + int32(i%3) - 1, int32(i * 10 / n)}
		speeds[i] = 600 + 400*rng.Float32()
		x, y = nx, ny
	}
	return segs, speeds
}

func TestTwoHundredThousandStitchesStayCompact(t *testing.T) {
	segs, speeds := bigDesign(200_000)
	doc := svgOf(t, &SpeedMap{Segs: segs, Speeds: speeds, SetSpeed: 1000}, Light())
	// Speeds here are at random, the worst for gathering: every stitch is a path
	// step of its own. About 15 bytes each.
	if per := float64(len(doc)) / 200_000; per > 18 {
		t.Errorf("%.1f bytes a stitch", per)
	}
}

func BenchmarkPNG50k(b *testing.B) {
	segs, speeds := bigDesign(50_000)
	p := &SpeedMap{Segs: segs, Speeds: speeds, SetSpeed: 1000, Width: 1200, Height: 900}
	for b.Loop() {
		if _, err := Image(p, Light(), 1); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/50_000, "ns/stitch")
}

func BenchmarkPNG50kEncoded(b *testing.B) {
	segs, speeds := bigDesign(50_000)
	p := &SpeedMap{Segs: segs, Speeds: speeds, SetSpeed: 1000, Width: 1200, Height: 900}
	for b.Loop() {
		if err := PNG(io.Discard, p, Light(), 1); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSVG200k(b *testing.B) {
	segs, speeds := bigDesign(200_000)
	p := &SpeedMap{Segs: segs, Speeds: speeds, SetSpeed: 1000}
	for b.Loop() {
		if err := SVG(io.Discard, p, Light()); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/200_000, "ns/stitch")
}

func BenchmarkRunPicture(b *testing.B) {
	p := sampleRun(1)
	for b.Loop() {
		if _, err := Image(p, Light(), 2); err != nil {
			b.Fatal(err)
		}
	}
}

// A picture's sentence that is longer than the picture goes on in a second line.
func TestASentenceGoesOnInASecondLine(t *testing.T) {
	const s = "Stitches sewn to and fro, as in satin. A band holds nine machines of ten."
	f := face(12.5, Quiet)
	first, rest := breakAt(s, f, 312)
	if first+" "+rest != s || TextWidth(first, f) > 312 || TextWidth(first+" "+strings.Fields(rest)[0], f) <= 312 {
		t.Errorf("%q, then %q", first, rest)
	}
	const end = ", a trim of 7.2 s"
	if first, rest := breakAt(s+end, f, TextWidth(s+strings.TrimSuffix(end, " s"), f)); first != s+", a trim of" || rest != "7.2 s" {
		t.Errorf("a number is parted from its unit: %q, then %q", first, rest)
	}
	if first, rest := breakAt(s, f, 1000); first != s || rest != "" {
		t.Errorf("what fits is broken: %q, then %q", first, rest)
	}
	if first, rest := breakAt("Immeasurable", f, 20); first != "" || rest != "Immeasurable" {
		t.Errorf("a word is broken: %q, then %q", first, rest)
	}
	// A name that a phone has no room for goes on in a second line, and no word of it is lost; the picture is higher by
	// it.
	name := "Lead of the cheapest, CHF a year, one input changed at a time"
	high := map[float64]float64{}
	for _, w := range []float64{340, 640} {
		iv := &Intervals{Name: name, Width: w, Rows: []Interval{{Label: "a", Low: 1, Mid: 2, High: 3}}}
		_, high[w] = iv.Size()
		var b strings.Builder
		if err := SVG(&b, iv, Page()); err != nil {
			t.Fatal(err)
		}
		if svg := b.String(); strings.Contains(svg[strings.Index(svg, "<text"):], "…") || !strings.Contains(svg, "changed at a time</text>") {
			t.Errorf("%v px wide the name is cut: %s", w, svg)
		}
	}
	if high[340] <= high[640] {
		t.Errorf("two lines of a name are %v px high, one %v", high[340], high[640])
	}
	if wide, narrow := heading(newSVG(lawSample(), Page()), 760, "Law", s), heading(newSVG(lawSample(), Page()), 344, "Law", s); narrow <= wide {
		t.Errorf("the heading ends at %v where it is narrow, at %v where it is wide", narrow, wide)
	}
}

// On a telephone the words of a row that are too wide to stand beside its interval stand over it, whole.
func TestTheWordsOfARowAreWhole(t *testing.T) {
	for _, w := range []float64{358, 640} {
		iv := &Intervals{Name: "lead", Width: w, RefText: "no lead", Rows: []Interval{
			{Label: "the times, within their range", Low: 9881922, Mid: 12631922, High: 17215255, Note: "9,881,922 to 17,215,255"}, {Label: "b", Low: 1, Mid: 2, High: 3, Note: "1 to 3"}}}
		svg := svgOf(t, iv, Light())
		if strings.Contains(svg, "…") || strings.Count(svg, ">9,881,922 to 17,215,255</text>") != 1 {
			t.Errorf("at %v px: %s", w, svg)
		}
		if _, high := iv.Size(); (high > iv.head()+2*40+52) != (w == 358) { // beside, they leave the interval no room
			t.Errorf("at %v px it is %v high", w, high)
		}
	}
}
