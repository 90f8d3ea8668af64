package recordings

import (
	"bytes"
	"errors"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/sound"
	"needlepace/sound/synth"
	"needlepace/stitch"
)

// TestNoMoreSoundIsHeldThanThereIsRoomFor: by pieces and by files; what is forgotten makes room again, and
// a file that is refused takes none.
func TestNoMoreSoundIsHeldThanThereIsRoomFor(t *testing.T) {
	now := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	desk := New(func() time.Time { return now })
	class, _ := machine.Class("single-15-1200")
	d := &stitch.Design{Records: []stitch.Record{{DX: 10, Op: stitch.Sew}, {DX: 10, Op: stitch.Sew}}}
	begin := func() string {
		t.Helper()
		tracker, err := sound.NewTracker(Rate, d, class, clock.Job{})
		if err != nil {
			t.Fatal(err)
		}
		s, err := desk.Begin("", ask.ListenQuestion{}, &ask.Design{}, tracker)
		if err != nil {
			t.Fatal(err)
		}
		return s.ID
	}
	const second = 2 * Rate // bytes
	desk.held.Store(mostSeconds*Rate - 3*Rate)
	id, other := begin(), begin()
	if _, err := desk.Add(id, "", 0, make([]byte, 2*second)); err != nil {
		t.Fatal(err)
	}
	busy := func(err error) {
		t.Helper()
		if e := (*shop.Error)(nil); !errors.As(err, &e) || e.Code != shop.Busy {
			t.Errorf("%v, want that there is no room", err)
		}
	}
	_, err := desk.Add(id, "", 2*Rate, make([]byte, 2*second))
	busy(err)
	var wav bytes.Buffer
	if err := synth.WAV(&wav, make([]float64, 2*Rate), Rate); err != nil {
		t.Fatal(err)
	}
	_, err = desk.AddFile(other, "", bytes.NewReader(wav.Bytes()))
	busy(err)
	if s, err := desk.Look(other, ""); err != nil || s.Ended || s.Next != 0 {
		t.Errorf("after a file there is no room for: %+v, %v", s, err)
	}
	if err := desk.Drop(id, ""); err != nil {
		t.Fatal(err)
	}
	if _, err := desk.AddFile(other, "", bytes.NewReader(wav.Bytes())); err != nil {
		t.Errorf("after the other is dropped: %v", err)
	}
	now = now.Add(forgetAfter + time.Minute)
	begin()
	if got := desk.held.Load(); got != mostSeconds*Rate-3*Rate {
		t.Errorf("after all is forgotten %d samples more are held", got-(mostSeconds*Rate-3*Rate))
	}
}
