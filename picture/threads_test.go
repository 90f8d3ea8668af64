package picture

import (
	"testing"

	"needlepace/stitch"
)

// A thread that comes again has the colour that it had, also one of ours.
func TestAThreadThatComesAgainHasItsColour(t *testing.T) {
	d := &stitch.Design{}
	for k := range 14 {
		d.Threads = append(d.Threads, stitch.Thread{Name: []string{"kelp", "Foam", "tar"}[k%3]})
	}
	d.Threads[13] = stitch.Thread{Name: "FOAM", R: 1, G: 2, B: 3, Known: true}
	all, known := ThreadColours(d, 15)
	if known || all[0] == all[1] || all[1] == all[2] || all[0] == all[2] {
		t.Fatalf("%v, known %v", all, known)
	}
	for k := range 13 {
		if all[k] != all[k%3] {
			t.Errorf("block %d has %v, its thread %v before", k, all[k], all[k%3])
		}
	}
	if all[13] != (RGB{1, 2, 3}) {
		t.Errorf("a known colour became %v", all[13])
	}
}
