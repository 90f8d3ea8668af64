package picture

import (
	"math"
	"strconv"
	"strings"

	"needlepace/trial"
	"needlepace/words"
)

// GradeSteps draws an example of each grade of an aspect of a sew-out, the best first:
// invented, drawn here, and exaggerated where it would not be seen.
type GradeSteps struct {
	Of    trial.Aspect
	W     *words.Writer
	Width float64 // px; 0 is 640
}

// off is how far edges are off in grades that say so, in mm.
var off = map[string]float64{"registration-3": 0.3, "registration-2": 1, "registration-1": 1}

// GradeSay is the sentence of a grade of an aspect.
func GradeSay(of trial.Aspect, grade int) words.Message {
	key := string(of) + "-" + strconv.Itoa(grade)
	if mm, ok := off[key]; ok {
		return words.Say("trial.step."+key, words.Args{"mm": words.FineMM(mm)})
	}
	return words.Say("trial.step." + key)
}

const gradeGap = 8.0

func (g *GradeSteps) tile() float64 {
	w, _ := g.Size()
	return (w - 4*gradeGap) / 5
}

// Size is the size in px.
func (g *GradeSteps) Size() (w, h float64) {
	w = sizeOr(g.Width, 640, 240)
	return w, (w-4*gradeGap)/5 + 22
}

// Title says what the picture is.
func (g *GradeSteps) Title() string { return words.Say("trial.aspect." + string(g.Of)).Text(g.W) }

// Desc reads the picture out.
func (g *GradeSteps) Desc() string {
	var all []string
	for grade := trial.BestGrade; grade >= trial.WorstGrade; grade-- {
		all = append(all, strconv.Itoa(grade)+": "+GradeSay(g.Of, grade).Text(g.W)+".")
	}
	return strings.Join(all, " ")
}

// Draw draws it.
func (g *GradeSteps) Draw(c Canvas) {
	side := g.tile()
	for i := range 5 {
		b := Box{float64(i) * (side + gradeGap), 0, side, side}
		fillBox(c, b, Of(Cloth))
		outline(c, b, stroke(Hair, 1))
		g.example(c, Box{b.X + side*0.12, b.Y + side*0.12, side * 0.76, side * 0.76}, float64(i))
		c.Text(b.X+side/2, side+17, strconv.Itoa(trial.BestGrade-i), bold(13, Ink).to(Middle))
	}
}

// example draws an aspect in a box; bad is 0 for the best to 4 for the worst.
func (g *GradeSteps) example(c Canvas, b Box, bad float64) {
	u := b.W / 60 // a sixtieth of the example
	mid := Pt{b.X + b.W/2, b.Y + b.H/2}
	thread := stroke(Ink, max(1, 1.5*u))
	at := func(x, y float64) Pt { return Pt{b.X + x*u, b.Y + y*u} }
	rows := func(rx, ry, apart float64) (all []Seg) { // thread over an oval
		for y := -ry + apart/2; y < ry; y += apart {
			x := rx * math.Sqrt(max(0, 1-y*y/(ry*ry)))
			all = append(all, Seg{Pt{mid.X - x*u, mid.Y + y*u}, Pt{mid.X + x*u, mid.Y + y*u}})
		}
		return all
	}
	oval := func(dx, dy, rx, ry float64) (all []Pt) {
		for k := range 49 {
			s, co := math.Sincos(float64(k) / 48 * 2 * math.Pi)
			all = append(all, Pt{mid.X + (dx+rx*co)*u, mid.Y + (dy+ry*s)*u})
		}
		return all
	}
	switch g.Of {
	case trial.Registration: // an outline that misses its field
		c.Lines(rows(20, 20, 3), stroke(Quiet, max(1, 1.5*u)))
		c.Polyline(oval(1.9*bad, -1.1*bad, 21, 21), stroke(Ink, 2.5*u))
	case trial.Pull: // a round that becomes an oval
		c.Lines(rows(23-2.6*bad, 23+0.8*bad, 3), thread)
		c.Polyline(oval(0, 0, 24, 24), Stroke{Paint: Of(Quiet), Width: 1, Dash: []float64{3, 3}})
	case trial.Loops: // loops that stand up
		for k := range 4 {
			y := 12 + 13*float64(k)
			line := []Pt{at(2, y)}
			for n := range int(bad) {
				if (n+k)%2 == 1 && bad < 4 {
					continue
				}
				x := 10 + 13*float64(n)
				for s := range 13 {
					a := float64(s)/12*2*math.Pi + math.Pi/2
					line = append(line, at(x+(2+bad)*0.8*math.Cos(a), y-(2+bad)*0.9+(2+bad)*0.9*math.Sin(a)))
				}
			}
			c.Polyline(append(line, at(58, y)), thread)
		}
	case trial.Breaks: // gaps and knots
		for k := range 5 {
			y := 8 + 11*float64(k)
			broken := int(bad)*2 > 2*k && k > 0 || bad >= 3 && k == 0
			if !broken {
				c.Lines([]Seg{{at(2, y), at(58, y)}}, thread)
				continue
			}
			x := 16 + 9*float64(k%3)
			c.Lines([]Seg{{at(2, y), at(x, y)}, {at(x+3*bad, y), at(58, y)}}, thread)
			if bad >= 2 {
				c.Polygon([]Pt{at(x-2, y-2), at(x+2, y-2), at(x+2, y+2), at(x-2, y+2)}, Of(Ink))
			}
		}
	case trial.CutEnds: // ends that are left
		c.Lines(rows(20, 9, 3), thread)
		for k := range 4 {
			long := 1 + bad*3.4
			x, way := 14+11*float64(k), 1-2*float64(k%2)
			y := 30 + way*9
			c.Polyline([]Pt{at(x, y), at(x+bad*0.8, y+way*long*0.6), at(x-bad*0.9, y+way*long)}, stroke(Ink, max(1, 1.2*u)))
		}
	case trial.Coverage: // cloth between the threads
		c.Lines(rows(24, 24, 1.6+1.15*bad), stroke(Ink, max(1, 1.7*u)))
	case trial.Puckering: // cloth in waves
		for k := range 12 {
			var line []Pt
			sin, cos := math.Sincos(float64(k) / 12 * 2 * math.Pi)
			for s := range 17 {
				r, off := 15+15*float64(s)/16, 0.55*bad*math.Sin(float64(s)/16*3*math.Pi)
				line = append(line, Pt{mid.X + (r*cos-off*sin)*u, mid.Y + (r*sin+off*cos)*u})
			}
			if bad > 0 && float64(k%4) < bad {
				c.Polyline(line, stroke(Quiet, max(1, (0.6+0.25*bad)*u)))
			}
		}
		c.Lines(rows(13, 13, 2.4), thread)
	}
}
