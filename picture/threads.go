package picture

import (
	"math"
	"strings"

	"needlepace/stitch"
	"needlepace/words"
)

// Thread colours where a file names none: quiet, distinct, and plainly not a
// thread maker's.
var spareThreads = []RGB{{0x2f, 0x4b, 0x6e}, {0xb6, 0x5a, 0x3c}, {0x5f, 0x7f, 0x5a}, {0xc9, 0xa2, 0x4b},
	{0x6d, 0x5a, 0x86}, {0x3e, 0x8c, 0x94}, {0xa8, 0x4a, 0x66}, {0x4a, 0x4a, 0x4a}}

// ThreadColours are the colours of a design's layers from its thread table;
// where the table says nothing, colours of our own stand in, one for a thread by
// its name wherever it is sewn, and known is false.
func ThreadColours(d *stitch.Design, layers int) (out []RGB, known bool) {
	known = true
	first := map[string]int{} // layer in which a thread is first sewn
	for i := range max(layers, 0) {
		if i < len(d.Threads) && d.Threads[i].Known {
			t := d.Threads[i]
			out = append(out, RGB{t.R, t.G, t.B})
			continue
		}
		known = false
		k := i
		if i < len(d.Threads) && d.Threads[i].Name != "" {
			name := strings.ToLower(d.Threads[i].Name)
			if was, ok := first[name]; ok {
				k = was
			}
			first[name] = k
		}
		out = append(out, spareThreads[k%len(spareThreads)])
	}
	return out, known
}

// SewOut draws a design in its thread colours: for lists (Bare, small) and
// papers.
type SewOut struct {
	Name    string
	Segs    []Segment
	Stitch  int           // stitches to tell of; 0: as many as the segments, jumps with the needle among them
	Colours []RGB         // of each layer; missing ones are filled from our own
	Width   float64       // px; 0 is 480
	Height  float64       // px; 0: from the design's shape
	Bare    bool          // no scale bar, no margin: a thumbnail
	Actual  bool          // not larger than life: 1 mm is at most 3.78 px (96 dpi)
	W       *words.Writer // how the reader wants figures and sentences
}

// Size is the size in px.
func (s *SewOut) Size() (w, h float64) {
	return clothSize(s.Segs, s.Width, s.Height, 480)
}

// clothSize is the size of a drawing: as given, or the height from the shape.
func clothSize(segs []Segment, w, h, usual float64) (float64, float64) {
	if !(w > 0) {
		w = usual
	}
	w = min(max(w, 16), 8000)
	if h > 0 {
		return w, min(max(h, 16), 8000)
	}
	b, ok := extent(segs)
	if !ok {
		return w, w * 0.6
	}
	return w, math.Round(min(max(w*max(b.HeightMM(), 0.1)/max(b.WidthMM(), 0.1), w*0.3), w*1.4))
}

// Title says what the picture is.
func (s *SewOut) Title() string {
	if s.Name == "" {
		return words.Say("picture.a-design").Text(s.W)
	}
	return s.Name
}

// Desc reads the picture out.
func (s *SewOut) Desc() string { return describeDesign(s.Segs, s.Stitch).Text(s.W) }

func describeDesign(segs []Segment, stitches int) words.Message {
	b, ok := extent(segs)
	if !ok {
		return words.Say("picture.no-stitches")
	}
	layers, last := 0, int32(-1)
	for i := range segs {
		if segs[i].Layer != last {
			layers, last = layers+1, segs[i].Layer
		}
	}
	if stitches == 0 {
		stitches = len(segs)
	}
	return words.Say("picture.design", words.Args{
		"stitches": words.Count(stitches, "stitch"), "blocks": words.Count(layers, "colour-block"),
		"width": words.MM(b.WidthMM()), "height": words.MM(b.HeightMM()),
	})
}

// Draw draws the picture.
func (s *SewOut) Draw(c Canvas) {
	w, h := s.Size()
	cloth := Box{0, 0, w, h}
	c.Rect(0, 0, w, h, Of(Cloth))
	b, ok := extent(s.Segs)
	if !ok {
		return
	}
	area := onCloth(cloth, 20)
	if s.Bare || h < 90 {
		area = cloth.inset(min(w, h) * 0.06)
	}
	most := float64(maxScale)
	if s.Actual {
		most = 96 / 25.4
	}
	p := fitDesign(b, area, most)
	c.Threads(sheen(s.Segs, s.Colours, p))
	if !s.Bare {
		scaleBar(c, cloth, p.k, s.W)
	}
}

// sheen colours segments by thread, lighter or darker by their direction: thread
// shines along its length, and a fill and the satin on it stay apart even in
// one colour.
func sheen(segs []Segment, colours []RGB, p place) *Threads {
	const shades = 9
	t := &Threads{Segs: segs, Pen: make([]uint16, len(segs)), X: p.ox, Y: p.oy, Scale: p.k / 10,
		Width: threadWidth(p.k, 1)}
	first := map[int32]uint16{}
	for i := range segs {
		s := &segs[i]
		base, ok := first[s.Layer]
		if !ok {
			if len(t.Pens)+shades > math.MaxUint16 { // more layers than pens: the last pens serve on
				base = uint16(len(t.Pens) - shades)
			} else {
				base = uint16(len(t.Pens))
				col := spareThreads[max(int(s.Layer), 0)%len(spareThreads)]
				if l := int(s.Layer); l >= 0 && l < len(colours) {
					col = colours[l]
				}
				for k := range shades {
					switch f := float64(k)/(shades-1) - 0.5; { // −0.5 … 0.5
					case f < 0:
						t.Pens = append(t.Pens, Solid(mix(col, RGB{}, -f*0.36)))
					default:
						t.Pens = append(t.Pens, Solid(mix(col, RGB{255, 255, 255}, f*0.36)))
					}
				}
			}
			first[s.Layer] = base
		}
		dx, dy := float64(s.X1-s.X0), float64(s.Y1-s.Y0)
		if l := dx*dx + dy*dy; l > 0 {
			// Light from the upper left: brightest across it, as on real thread.
			along := math.Abs(dx+dy) / math.Sqrt(2*l) // 1: from lower left to upper right
			t.Pen[i] = base + uint16(math.Round(along*(shades-1)))
		} else {
			t.Pen[i] = base
		}
	}
	return t
}
