package picture

import (
	"strings"
	"testing"

	"needlepace/stitch"
)

// Other places of a finding never hide a number, and a thousand in one spot are no
// blot: rings that would lie on one another are left out.
func TestOtherPlacesHideNothing(t *testing.T) {
	segs := []Segment{{X0: 0, Y0: 0, X1: 1000, Y1: 600}}
	draw := func(spots ...[]Spot) string {
		m := &Marked{Segs: segs, Bare: true}
		for k, also := range spots {
			m.Marks = append(m.Marks, Mark{Number: k + 1, X: 50, Y: 30, Also: also, Text: "a place"})
		}
		return svgOf(t, m, Light())
	}
	blot := make([]Spot, 1000)
	for k := range blot {
		blot[k] = Spot{X: 20 + 0.0001*float64(k), Y: 20}
	}
	if one, all := draw(blot[:1]), draw(blot); len(all) != len(one) {
		t.Errorf("a thousand places in one spot: %d bytes, one: %d", len(all), len(one))
	}
	apart := []Spot{{X: 20, Y: 20}, {X: 40, Y: 20}}
	if one, two := draw(apart[:1]), draw(apart); len(two) <= len(one) {
		t.Error("two places apart are one ring")
	}
	svg := draw(apart, apart)
	numbers, rings := strings.Index(svg, "np-mark"), strings.LastIndex(svg, `stroke-width="1.25"`)
	if numbers < 0 || rings < 0 || rings > numbers {
		t.Errorf("rings end at %d, numbers begin at %d", rings, numbers)
	}
	if own := strings.LastIndex(svg, `stroke-width="2"`); own < 0 || own > numbers {
		t.Errorf("the numbered rings end at %d, numbers begin at %d: a later ring crosses an earlier number", own, numbers)
	}
}

// The picture read out counts the stitches that all else counts; jumps are none.
func TestThePictureReadOutCountsStitches(t *testing.T) {
	d := &stitch.Design{Records: []stitch.Record{{Op: stitch.Sew}, {DX: 20, Op: stitch.Sew}, {DX: 20, Op: stitch.Jump}, {DX: 20, Op: stitch.Sew}}}
	if got := SewOutOf(d, 3, "x", 100).Desc(); !strings.Contains(got, "3 stitches") {
		t.Errorf("read out: %q", got)
	}
}
