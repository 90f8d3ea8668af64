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
	all := v.l.stands(v.threads, false)
	var found []Finding
	for n, s := range all {
		ends := s.Stitch == 0 || s.Stitch == len(v.l.holes)
		again := n > 0 && all[n-1].Stitch == s.Stitch
		if s.Why != WhyOperator || s.Away > awayUnits/stitch.UnitsPerMM || !ends && !again {
			continue
		}
		f := Finding{From: s.Stitch, To: s.Stitch, Count: 1, Block: s.Block, X: s.X, Y: s.Y,
			Seconds: max(0, v.run.Seconds-v.seconds(v.withoutRecord(s.Number))),
			What:    words.Say("finding.idle-stop", words.Args{"n": words.Whole(s.Number)}),
			Ask:     words.Say("finding.idle-stop-ask")}
		found = append(found, f)
	}
	return found
}

// withoutRecord is the design without its stop number n; a way goes on in a jump.
func (v *survey) withoutRecord(n int) []stitch.Record {
	out := slices.Clone(v.l.rec)
	for i, r := range out {
		if r.Op != stitch.Stop && r.Op != stitch.ColourStop {
			continue
		}
		if n--; n > 0 {
			continue
		}
		if r.DX == 0 && r.DY == 0 {
			return slices.Delete(out, i, i+1)
		}
		out[i].Op = stitch.Jump
		break
	}
	return out
}
