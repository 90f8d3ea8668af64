package money

import (
	"testing"

	"needlepace/clock"
)

func TestWhyNamesWhatIsGainedAndLostTheLargestFirst(t *testing.T) {
	run := func(p clock.Parts) *clock.Result {
		return &clock.Result{Block: clock.Block{Seconds: p.Sum(), Parts: p}}
	}
	slow := clock.Parts{AtSetSpeed: 600, Ramps: 10, Trims: 80, Travel: 5}
	for want, p := range map[string]clock.Parts{
		"gains 30 s in trims and 15 s in its set speed, loses 20 s in ramps": {AtSetSpeed: 585, Ramps: 30, Trims: 50, Travel: 4.5},
		"gains 1 min 20 s in trims": {AtSetSpeed: 600, Ramps: 10, Travel: 5},
		"takes about the same time": {AtSetSpeed: 599.8, Ramps: 10, Trims: 80, Travel: 5},
	} {
		if got := why(run(p), run(slow)).Raw(); got != want {
			t.Errorf("it %s; want: it %s", got, want)
		}
	}
}
