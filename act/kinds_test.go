package act_test

import (
	"testing"

	"needlepace/ask"
	"needlepace/machine"
)

// TestKindsAreThoseOfTheDesignAskedFor: what was found of a design before, by the same and by another reading of jumps, is
// what is found anew.
func TestKindsAreThoseOfTheDesignAskedFor(t *testing.T) {
	s, _ := newShop(t)
	for _, name := range []string{"gull-cap.dst", "whale-line.dst"} {
		d := add(t, s, name)
		for range 2 {
			for _, class := range machine.Classes() {
				a, err := s.Clock(t.Context(), d.ID, class.Name, ask.Job{})
				must(t, err)
				jumps := class.Reading.TrimAfterJumps
				want, got := a.Of.Design.Kinds(jumps), a.Of.Kinds(jumps)
				if len(got) != len(want) {
					t.Fatalf("%s on %s: %d kinds, want %d", name, class.Name, len(got), len(want))
				}
				for i := range want {
					if got[i] != want[i] {
						t.Fatalf("%s on %s: record %d is %v, want %v", name, class.Name, i, got[i], want[i])
					}
				}
			}
		}
	}
}
