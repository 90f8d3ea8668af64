package audit

import (
	"slices"

	"needlepace/stitch"
	"needlepace/words"
)

// IdleStop is an operator's stop with nothing sewn since the one before it,
// before the first stitch or after the last.
const IdleStop Kind = "idle-stop"

// findIdle names stops that the file asks for without a reason to be seen: the
// frame stands at the work (what stands away is for a hand, see hold), and
// nothing was sewn since another stop. Mend never touches them; only the
// digitizer knows.
func findIdle(v *survey) []Finding {
	all := v.stands
	var found []Finding
	for n := range all {
		s := &all[n]
		ends := s.Stitch == 0 || s.Stitch == len(v.l.holes)
		again := n > 0 && all[n-1].Stitch == s.Stitch
		if s.Why != WhyOperator || s.Away > awayUnits/stitch.UnitsPerMM || !ends && !again {
			continue
		}
		at := v.stopRecord(s.Number)
		f := Finding{From: s.Stitch, To: s.Stitch, Count: 1, Block: s.Block, X: s.X, Y: s.Y,
			Seconds: max(0, v.run.Seconds-v.clock.Seconds(idle(v.l.rec, func(i int) bool { return i == at }))),
			cures:   []cure{{kind: cureIdle, object: min(max(0, v.objectOf(s.Stitch)), len(v.l.objects)-1), n: at}},
			What:    words.Say("finding.idle-stop", words.Args{"n": words.Whole(s.Number)}),
			Ask:     words.Say("finding.idle-stop-ask")}
		found = append(found, f)
	}
	return found
}

// stopRecord is the record of stop number n, from 1.
func (v *survey) stopRecord(n int) int {
	return slices.IndexFunc(v.l.rec, func(r stitch.Record) bool {
		if r.Op == stitch.Stop || r.Op == stitch.ColourStop {
			n--
		}
		return n == 0
	})
}

// idle is the records less the stops that are gone; one that moves becomes a jump.
func idle(rec []stitch.Record, gone func(i int) bool) []stitch.Record {
	out := make([]stitch.Record, 0, len(rec))
	for i, r := range rec {
		if gone(i) {
			if r.DX == 0 && r.DY == 0 {
				continue
			}
			r.Op = stitch.Jump
		}
		out = append(out, r)
	}
	return out
}
