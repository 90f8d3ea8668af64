package stitchfile

import (
	"bytes"
	"testing"

	"needlepace/stitch"
)

// A design is laid where its new file's format starts, unless it came with a place
// of its own that the format has too.
func TestADesignIsLaidWhereTheFormatStarts(t *testing.T) {
	corner := stitch.Point{X: 20, Y: -900} // the box is −20…500, 100…900
	middle := stitch.Point{X: -240, Y: -500}
	for _, c := range []struct {
		from string
		to   []string
		want stitch.Point
	}{
		{"pes", []string{"dst", "exp", "jef", "vp3"}, middle},
		{"pec", []string{"dst", "exp", "jef", "vp3"}, middle},
		{"dst", []string{"jef", "vp3"}, middle},
		{"exp", []string{"jef", "vp3"}, middle},
		{"", []string{"jef", "vp3"}, middle},
		{"dst", []string{"dst", "exp"}, stitch.Point{}},
		{"jef", []string{"dst", "exp", "jef", "vp3"}, stitch.Point{}},
		{"vp3", []string{"dst", "exp", "jef", "vp3"}, stitch.Point{}},
		{"jef", []string{"pes"}, corner},
		{"pes", []string{"pes"}, corner},
	} {
		for _, first := range []stitch.Op{stitch.Jump, stitch.Sew} {
			for _, to := range c.to {
				d := &stitch.Design{Format: c.from, Records: []stitch.Record{rec(first, -20, 100),
					rec(stitch.Sew, 0, 0), rec(stitch.Trim, 0, 0), rec(stitch.Jump, 520, 800), rec(stitch.Sew, 0, 0)}}
				var b bytes.Buffer
				done, err := EncodeFor(&b, d, to, Readers{})
				if err != nil {
					t.Fatal(err)
				}
				was, now := d.Count().Bounds, readBack(t, b.Bytes(), to).Count().Bounds
				moved := stitch.Point{X: now.MinX - was.MinX, Y: now.MinY - was.MinY}
				if done.Shift != c.want || moved != c.want || now.MaxX-was.MaxX != moved.X || now.MaxY-was.MaxY != moved.Y {
					t.Errorf(".%s into .%s, %v first: moved by %v, %v said, want %v", c.from, to, first, moved, done.Shift,
						c.want)
				}
			}
		}
	}
}

// The record that an error names is the design's, however it was laid.
func TestAnErrorNamesTheDesignsRecordWhereItWasMoved(t *testing.T) {
	for _, first := range []stitch.Op{stitch.Jump, stitch.Sew} {
		d := &stitch.Design{Records: []stitch.Record{rec(first, 30_000, 30_000), rec(stitch.Sew, 9, 0), rec(stitch.Stop, 0, 0)}}
		err := Encode(&bytes.Buffer{}, d, "jef")
		if ue, ok := err.(*UnsupportedError); !ok || ue.Record != 2 {
			t.Errorf("%v first: %v", first, err)
		}
	}
}
