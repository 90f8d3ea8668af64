package stitch

import "testing"

func TestWhatOfAFillShowsTheClothAtTheEdges(t *testing.T) {
	for _, c := range []struct {
		net, dense, lines int
		want              Kind
	}{
		{5, 0, 10, areaFill}, {6, 0, 10, netFill}, {5, 6, 10, 0}, {6, 6, 10, netFill}, // half a net is none
		{0, 5, 10, areaFill}, {0, 6, 10, 0}, // half dense hides nothing
		{5, 5, 9, netFill}, {4, 4, 9, areaFill}, {4, 5, 9, 0}, {0, 0, 0, areaFill},
	} {
		if got := showsCloth(c.net, c.dense, c.lines); got != c.want {
			t.Errorf("of %d lines %d in a net and %d dense: %d, want %d", c.lines, c.net, c.dense, got, c.want)
		}
	}
}

// Needles' places are whole tenths of a millimetre: 0.2 mm apart they are the same one, 0.2 mm
// both ways (0.28 mm) they are not.
func TestALineSewnAgainEndsWithinAQuarterMillimetre(t *testing.T) {
	for _, c := range []struct {
		off  place
		want bool
	}{{place{0, 0}, true}, {place{2, 0}, true}, {place{2, 1}, true}, {place{-1, 2}, true}, {place{2, 2}, false}, {place{3, 0}, false}, {place{0, -3}, false}} {
		// There, back beside where it began, and there again to the point.
		w := &knower{p: []place{{0, 0}, {30, 0}, c.off, {30, 0}}}
		if got := w.same(1, 3); got != c.want {
			t.Errorf("(%g, %g) beside: %v", c.off.x, c.off.y, got)
		}
		if !w.same(1, 1) {
			t.Error("one stitch lies on no other")
		}
	}
}
