package web

import "testing"

// With what 200 readers leave live in a shop of 500 designs (some 110 MB) the server stays below 300 MB, of which the program
// itself has 45; a shop that remembers more has room for a quarter of it at least.
func TestALeanServerHasRoomForWhatItRemembers(t *testing.T) {
	const mb = 1 << 20
	for _, live := range []int64{0, 50 * mb, 110 * mb} {
		if is := leanLimit(live); is > 255*mb || is < live+80*mb {
			t.Errorf("%d MB live: at most %d MB", live/mb, is/mb)
		}
	}
	for _, live := range []int64{200 * mb, 1000 * mb, 20000 * mb} {
		if is := leanLimit(live); is < live+live/4 || is > 2*live {
			t.Errorf("%d MB live: at most %d MB", live/mb, is/mb)
		}
	}
}
