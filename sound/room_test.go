package sound

import "testing"

// With more stops than a recording may have of the machine's own, nothing is sorted and none is sought: what is nothing
// of the design would keep the search at it for minutes, and is refused all the same.
func TestTooManyStopsAreNotSorted(t *testing.T) {
	strokes := &laid{heard: make([]float64, 2*haltStrokes)}
	for _, c := range []struct{ halts, room int }{{0, mostHalts + 2}, {mostHalts + 2, 0}, {mostHalts + 3, -1}} {
		h := &hearing{laid: []*laid{strokes}, halted: make([]halt, c.halts)}
		if got := h.room(); got != c.room {
			t.Errorf("%d stops in %d strokes: room for %d, want %d", c.halts, len(strokes.heard), got, c.room)
		}
	}
	h := &hearing{laid: []*laid{strokes}, halted: make([]halt, 30), o: make([]float32, 1000)}
	h.sortHalts() // it has no design, and does not ask for it
	if h.missed(drifting{}) != h {
		t.Error("one more stop was sought")
	}
}
