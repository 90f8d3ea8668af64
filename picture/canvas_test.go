package picture

import (
	"bytes"
	"encoding/xml"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"needlepace/stitch"
)

var update = flag.Bool("update", false, "write the golden files anew")

func svgOf(t testing.TB, p Picture, th *Theme) string {
	t.Helper()
	var b bytes.Buffer
	if err := SVG(&b, p, th); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// wellFormed reads all of a document and gives how often each element occurs.
func wellFormed(t testing.TB, doc string) map[string]int {
	t.Helper()
	count := map[string]int{}
	d := xml.NewDecoder(strings.NewReader(doc))
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return count
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		if s, ok := tok.(xml.StartElement); ok {
			count[s.Name.Local]++
			seen := map[string]bool{}
			for _, a := range s.Attr {
				if seen[a.Name.Local] {
					t.Errorf("<%s> has two attributes %s", s.Name.Local, a.Name.Local)
				}
				seen[a.Name.Local] = true
			}
		}
	}
}

func TestEveryPictureIsWellFormedNamedAndTheSameEachTime(t *testing.T) {
	for name, p := range samples(0.3) {
		for _, th := range []*Theme{Light(), Dark(), Print(), Page()} {
			doc := svgOf(t, p, th)
			n := wellFormed(t, doc)
			if n["title"] == 0 || n["desc"] != 1 {
				t.Errorf("%s: %d titles, %d descs", name, n["title"], n["desc"])
			}
			for _, bad := range []string{"NaN", "Inf", "<script", "<style", "style=", " id=", "href"} {
				if strings.Contains(doc, bad) {
					t.Errorf("%s, %s: contains %q", name, th.Name, bad)
				}
			}
			if again := svgOf(t, p, th); again != doc {
				t.Errorf("%s, %s: drawn twice, not the same", name, th.Name)
			}
		}
		a, err := Image(p, Light(), 1)
		if err != nil {
			t.Fatal(err)
		}
		b, _ := Image(p, Light(), 1)
		if !bytes.Equal(a.Pix, b.Pix) {
			t.Errorf("%s: two images differ", name)
		}
	}
}

func TestTextFromFilesCannotBecomeMarkup(t *testing.T) {
	evil := "</text><script>alert(1)</script>&\"'\x00\x1b\xff"
	for _, p := range []Picture{
		&Strips{Name: evil, Rows: []StripRow{{Label: evil, Note: evil, Parts: []Part{{Trims, 5}}}}},
		&Run{Design: evil, Machine: evil, Rests: []Rest{{1, 2, ColourStops, evil}}, Seconds: 5},
		&Marked{Name: evil, Marks: []Mark{{Text: evil, Value: evil}}},
		&Chart{Name: evil, Text: evil, X: Axis{Label: evil},
			Series: []Series{{Name: evil, X: []float64{1, 2}, Y: []float64{1, 2}}}, Flags: []Flag{{X: 1.5,
				Text: evil}}},
		&Intervals{Name: evil, Text: evil, Rows: []Interval{{Label: evil, Note: evil}}, RefText: evil},
		&Histogram{Name: evil, Values: []float64{1, 2}, Low: 1, High: 2, Between: evil},
		&SewOut{Name: evil}, &Path{Name: evil}, &SpeedMap{Name: evil}, &HeatMap{Name: evil},
	} {
		if n := wellFormed(t, svgOf(t, p, Page())); n["script"] != 0 {
			t.Errorf("%T: a script got in", p)
		}
	}
}

func TestRubbishNumbersDrawWithoutPanic(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	far := []Segment{{-1e6, -1e6, 1e6, 1e6, 0}, {0, 0, 0, 0, -5}, {1, 2, 3, 4, 1 << 30}}
	vals := []float64{nan, inf, -inf, 0, -1, 1e300, 5}
	var rests []Rest
	var trace []TracePoint
	var parts []Part
	for _, v := range vals {
		rests = append(rests, Rest{v, v, Trims, "x"}, Rest{0, v, 99, ""}, Rest{v, 3, ColourStops, "y"})
		trace = append(trace, TracePoint{v, 5}, TracePoint{3, v})
		parts = append(parts, Part{Trims, v}, Part{200, 4})
	}
	for i, p := range []Picture{
		&Strips{Width: nan, Max: inf, Rows: []StripRow{{Parts: parts, Low: nan, High: inf, Saved: nan},
			{Saved: 1e300, Parts: parts[:1]}, {Saved: inf}}},
		&Strips{}, &Strips{Bare: true},
		&Run{Seconds: nan, Low: 1, High: inf, SetSpeed: nan, Segs: far, Speeds: []float32{float32(nan), -1},
			Trace: trace, Rests: rests, Parts: parts},
		&Run{}, &SewOut{Segs: far, Width: nan}, &Path{Segs: far, Width: nan}, &SpeedMap{Segs: far, Speeds: []float32{float32(inf)}, SetSpeed: -4},
		&Marked{Segs: far, Marks: []Mark{{X: nan, Y: inf, From: -5, To: 99}, {From: 3, To: 1}}},
		&HeatMap{Segs: far, Grid: density(far, nan), Limit: 1}, &HeatMap{Segs: far,
			Grid: Grid{NX: 5, NY: 5}}, &HeatMap{},
		&Chart{Series: []Series{{X: vals, Y: vals, Low: vals, High: vals}, {X: vals, Dots: true},
			{X: []float64{1}, Y: []float64{1}}}, Flags: []Flag{{X: nan, Text: ""}}},
		&Chart{}, &Chart{X: Axis{Time: true}, Series: []Series{{X: []float64{0, 1e9}, Y: []float64{1e-300, 2e-300}}}},
		&Intervals{Rows: []Interval{{Low: nan, Mid: inf, High: -inf}}, Reference: nan, RefText: "r"}, &Intervals{},
		&Histogram{Values: vals, Low: nan, High: 4}, &Histogram{}, &Histogram{Values: []float64{3}},
		SpeedLaw("", "", Curve{}, Curve{}, nil, nil, nan, nil), Sweep("", "", Curve{}, nil, 0, nil),
	} {
		doc := svgOf(t, p, Light())
		wellFormed(t, doc)
		if strings.Contains(doc, "NaN\"") || strings.Contains(doc, "Inf\"") {
			t.Errorf("picture %d %T: a number that is none got into an attribute", i, p)
		}
		if _, err := Image(p, Dark(), 1); err != nil {
			t.Errorf("picture %d %T: %v", i, p, err)
		}
	}
}

func TestAnImageTooLargeIsRefused(t *testing.T) {
	if _, err := Image(&SewOut{Width: 8000, Height: 8000}, Light(), 4); err == nil {
		t.Error("32,000 by 32,000 pixels were not refused")
	}
	if err := PNG(io.Discard, &SewOut{}, Light(), math.NaN()); err == nil {
		t.Error("a scale that is no number was not refused")
	}
}

// TestPathsHoldEveryStitch reads the drawn paths back: the same stitches, each
// in its layer and with its pen.
func TestPathsHoldEveryStitch(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	th := &Threads{Scale: 1, Width: 1, Pens: []Paint{Solid(RGB{1, 0, 0}), Solid(RGB{2, 0, 0}), Solid(RGB{3, 0, 0})}}
	want := map[string]int{}
	x, y := int32(0), int32(0)
	for i := range 3000 {
		nx, ny := x+rng.Int32N(81)-40, y+rng.Int32N(81)-40
		s := Segment{x, y, nx, ny, int32(i / 500)}
		pen := rng.Uint32N(3)
		th.Segs, th.Pen = append(th.Segs, s), append(th.Pen, uint16(pen))
		if x != nx || y != ny {
			want[fmt.Sprint(pen, s.X0, s.Y0, s.X1, s.Y1)]++
		}
		x, y = nx, ny
	}
	c := &svgCanvas{t: Light()}
	c.Threads(th)
	got := map[string]int{}
	d := xml.NewDecoder(bytes.NewReader(c.b))
	for {
		tok, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		s, ok := tok.(xml.StartElement)
		if !ok || s.Name.Local != "path" {
			continue
		}
		var stroke, path string
		for _, a := range s.Attr {
			switch a.Name.Local {
			case "stroke":
				stroke = a.Value
			case "d":
				path = a.Value
			}
		}
		pen := int(stroke[2]-'0') - 1
		var px, py int64
		for _, cmd := range strings.Split(strings.NewReplacer("m", "|m", "l", "|l").Replace(path), "|") {
			if cmd == "" {
				continue
			}
			nums := strings.Fields(strings.ReplaceAll(cmd[1:], "-", " -"))
			for k := 0; k+1 < len(nums); k += 2 {
				dx, e1 := strconv.ParseInt(nums[k], 10, 32)
				dy, e2 := strconv.ParseInt(nums[k+1], 10, 32)
				if e1 != nil || e2 != nil {
					t.Fatalf("bad path %q", cmd)
				}
				if cmd[0] == 'l' {
					got[fmt.Sprint(pen, px, py, px+dx, py+dy)]++
				}
				px, py = px+dx, py+dy
			}
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d different stitches drawn, want %d", len(got), len(want))
	}
	for k, n := range want {
		if got[k] != n {
			t.Fatalf("stitch %s drawn %d times, want %d", k, got[k], n)
		}
	}
}

// TestSatinStaysOnItsUnderlay: the two backends agree on what lies on top.
func TestSatinStaysOnItsUnderlay(t *testing.T) {
	th := &Threads{Scale: 1, Width: 4, Pens: []Paint{Solid(RGB{0, 0, 9}), Solid(RGB{9, 0, 0})}}
	add := func(x0, y0, x1, y1 int32, pen uint16) {
		th.Segs, th.Pen = append(th.Segs, Segment{x0, y0, x1, y1, 0}), append(th.Pen, pen)
	}
	for i := range int32(10) { // underlay along the column, with the pen that is written last
		add(i*20, 0, i*20+20, 0, 1)
	}
	for i := int32(50); i > 0; i-- { // satin across it
		add(i*4, -20, i*4-2, 20, 0)
		add(i*4-2, 20, i*4-4, -20, 0)
	}
	c := &svgCanvas{t: Light()}
	c.Threads(th)
	under, satin := strings.LastIndex(string(c.b), "#090000"), strings.LastIndex(string(c.b), "#000009")
	if under > satin {
		t.Errorf("the underlay is written after the satin:\n%s", c.b)
	}
	if n := strings.Count(string(c.b), "<path"); n > 4 {
		t.Errorf("%d paths for two pens", n)
	}
}

func TestALineCoversItsArea(t *testing.T) {
	// Black on white: the ink laid down is the line's area, length × width plus
	// the round ends, for any direction.
	rng := rand.New(rand.NewPCG(5, 6))
	for range 40 {
		img, err := Image(&SewOut{Width: 200, Height: 200}, Light(), 1)
		if err != nil {
			t.Fatal(err)
		}
		for i := range img.Pix {
			img.Pix[i] = 255
		}
		c := &rasterCanvas{img: img, t: Light(), k: 1}
		a := rng.Float64() * 2 * math.Pi
		length, hw := 60+60*rng.Float64(), 0.8+3*rng.Float64()
		dx, dy := math.Cos(a)*length/2, math.Sin(a)*length/2
		c.capsule(100-dx, 100-dy, 100+dx, 100+dy, hw, RGB{}, 1)
		ink := 0.0
		for i := 0; i < len(img.Pix); i += 4 {
			ink += 1 - float64(img.Pix[i])/255
		}
		if want := length*2*hw + math.Pi*hw*hw; math.Abs(ink-want) > want*0.02 {
			t.Errorf("direction %.2f, length %.1f, width %.2f: ink %.1f, want %.1f", a, length, 2*hw, ink, want)
		}
	}
}

func TestALaterStitchCoversAnEarlierOne(t *testing.T) {
	img, _ := Image(&SewOut{Width: 40, Height: 40}, Light(), 1)
	c := &rasterCanvas{img: img, t: Light(), k: 1}
	red, blue := RGB{200, 0, 0}, RGB{0, 0, 200}
	c.Threads(&Threads{Segs: []Segment{{10, 10, 30, 30, 0}, {10, 30, 30, 10, 0}}, Pen: []uint16{0, 1},
		Pens: []Paint{Solid(red), Solid(blue)}, Y: 40, Scale: 1, Width: 6})
	if got := img.RGBAAt(20, 20); got.B != 200 || got.R != 0 {
		t.Errorf("where the stitches cross stands %v", got)
	}
}

func TestGolden(t *testing.T) {
	parts := []Part{{AtSetSpeed, 312}, {LongStitches, 122.5}, {Ramps, 36}, {Trims, 52}, {ColourStops, 18}, {Travel, 7},
		{Stops, 20}, {StartEnd, 6}}
	d := &stitch.Design{Records: []stitch.Record{{DX: 10}, {DX: 30, DY: 5}, {DX: -30, DY: 5}, {Op: stitch.ColourStop},
		{DX: 50}, {DY: 40}}}
	segs := Sewn(d, 3)
	for name, p := range map[string]Picture{
		"strip": &Strips{Name: "Toy badge", Width: 500,
			Rows: []StripRow{{Label: "Bay 2", Note: "15 needles", Parts: parts, Low: 540, High: 620},
				{Label: "mended", Parts: parts[:4], Saved: 51}}},
		"run": &Run{Design: "Toy badge", Machine: "Bay 2 at 1,000/min", Seconds: 12, Low: 11, High: 13,
			SetSpeed: 1000, Stitches: 5, Width: 400, Segs: segs, Speeds: []float32{300, 700, 800, 400,
				1000}, Parts: parts[2:4], Trace: []TracePoint{{0, 0}, {1, 300}, {3, 800}, {5, 0}, {11, 0}, {11, 500}, {12,
				1000}}, Rests: []Rest{{5, 11, ColourStops, "2"}}},
		"sewout": &SewOut{Name: "Toy badge", Segs: segs, Width: 120},
		"heat":   &HeatMap{Segs: segs, Grid: density(segs, 1), Limit: 1, Width: 200},
		"sweep": Sweep("Run time against set speed", "Past 800/min the next 50/min buy less than 1 %.",
			Curve{X: []float64{600, 800, 1000}, Mid: []float64{1900, 1650, 1600}}, []float64{1800, 1400, 1100}, 800, nil),
	} {
		for _, th := range []*Theme{Light(), Page()} {
			if th.Name == "page" && name != "strip" {
				continue
			}
			file := filepath.Join("testdata", name+"-"+th.Name+".svg")
			got := svgOf(t, p, th)
			if *update {
				if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("%s differs; look at the picture, then run with -update", file)
			}
		}
	}
}
