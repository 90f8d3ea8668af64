package picture

import (
	"strings"
	"testing"

	"needlepace/stitch"
)

// Two objects 30 mm apart with a cut between: one way of 30 mm. Jumps that are
// sewn through leave thread and are no way.
func TestTheWaysWithoutThreadAreThoseBetweenCuts(t *testing.T) {
	jump := stitch.Record{DX: 100, Op: stitch.Jump}
	d := &stitch.Design{Records: []stitch.Record{{DX: 10}, {DX: 20}, jump, {DX: 20}, jump, jump, jump, {DX: 0, DY: 0}, {DX: 20}}}
	p := &Path{Segs: Sewn(d, 3)}
	ways := p.ways()
	if len(ways) != 1 || ways[0].X1-ways[0].X0 != 300 || ways[0].Y0 != ways[0].Y1 {
		t.Fatalf("%+v", ways)
	}
	if desc := p.Desc(); !strings.Contains(desc, "Once") || !strings.Contains(desc, "30.0 mm") {
		t.Error(desc)
	}
	svg := svgOf(t, p, Light())
	if n := strings.Count(svg, clothWarn.Hex()); n != 2 { // the way and the ring where it ends
		t.Errorf("%d strokes in the colour of a way: %s", n, svg)
	}
	if none := (&Path{Segs: Sewn(&stitch.Design{Records: d.Records[:2]}, 3)}); len(none.ways()) != 0 || !strings.Contains(none.Desc(), "never") {
		t.Error(none.ways(), none.Desc())
	}
}
