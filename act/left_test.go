package act_test

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	dz "needlepace/demo/digitize"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// What is left until somebody is needed ends where the needle is changed next; after the last change nothing is said.
func TestLeftUntilTheNextStop(t *testing.T) {
	b := fresh(t)
	p := dz.New("stops")
	for block := range 3 {
		if block > 0 {
			p.ColourStop()
		}
		for i := range 200 {
			p.Stitch(dz.Pt{X: float64(i%2) * 3, Y: float64(i) / 10})
		}
	}
	var file bytes.Buffer
	if err := stitchfile.Encode(&file, p.Centred(), "dst"); err != nil {
		t.Fatal(err)
	}
	added, err := b.AddFile(bg, "stops.dst", file.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	b.designs["stops.dst"] = added[0].Design.ID
	o := b.order(t, "stops.dst", 6, "", book.Agreed)
	design, err := b.Designs.Stitches(bg, added[0].Design.ID)
	if err != nil {
		t.Fatal(err)
	}
	m, err := b.Machines.Get(bg, b.m["Gannet"])
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range []int{0, 50, 190, 250, 390, 450} {
		a, err := ask.Left(bg, b.Asked(), ask.LeftQuestion{Now: b.at, Machine: "Gannet", Order: o.ID, Line: 1, Stitch: at})
		if err != nil {
			t.Fatal(err)
		}
		// By the trace: when the record of the next change begins.
		made, next := 0, 0.0
		tr := clock.New(m.Sheet, clock.Job{Speed: a.SetSpeed, From: at}).Trace(design)
		for i, r := range design.Records {
			if r.Op.Penetrates() {
				made++
			}
			if made > at && r.Op == stitch.ColourStop {
				next = tr.Starts[i]
				break
			}
		}
		if math.Abs(a.Next-next) > 1 {
			t.Errorf("at stitch %d the next stop is said in %.2f s, by the trace %.2f s", at, a.Next, next)
		}
	}
}

// Names come after the design: as many heads' as the machine has, each as long as its longest. Of pieces that have a file each
// nothing is said of a design.
func TestLeftWithNamesAfterTheDesign(t *testing.T) {
	b := fresh(t)
	rows := b.letter(t, "Maximiliane")
	left := func(alone bool) (*ask.LeftAnswer, error) {
		o := b.named(t, alone, rows)
		return ask.Left(bg, b.Asked(), ask.LeftQuestion{Now: b.at, Machine: "Gannet", Order: o.ID, Line: 1, Stitch: 1000})
	}
	a, err := left(false)
	if err != nil {
		t.Fatal(err)
	}
	m, err := b.Machines.Get(bg, b.m["Gannet"])
	if err != nil {
		t.Fatal(err)
	}
	d, err := b.Designs.Stitches(bg, rows[0].DesignID)
	if err != nil {
		t.Fatal(err)
	}
	name := clock.Run(d, m.Sheet, clock.Job{Speed: a.SetSpeed}).Seconds
	rest := clock.Run(decode(t, "wheel-badge.dst"), m.Sheet, clock.Job{Speed: a.SetSpeed, From: 1000}).Seconds
	if math.Abs(a.Names-name) > .01 || math.Abs(a.Seconds-rest-name) > .01 || math.Abs(a.Parts.Sum()-a.Seconds) > 1e-6 {
		t.Errorf("%v s are left, %v s of it names; by the clock %v and %v s", a.Seconds, a.Names, rest, name)
	}
	if !(a.Interval.Low < a.Seconds && a.Seconds < a.Interval.High) || a.Interval.Low < rest {
		t.Errorf("%v s are left, between %v and %v", a.Seconds, a.Interval.Low, a.Interval.High)
	}
	if _, err := left(true); err == nil || !strings.Contains(err.Error(), "a file of its own") {
		t.Errorf("of pieces with a file each: %v", err)
	}
}
