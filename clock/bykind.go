package clock

import "needlepace/stitch"

// KindTime is what stitches of one kind take. Parts has only what sewing takes:
// trims, stops and travel belong to no kind.
type KindTime struct {
	Kind        stitch.Kind
	Stitches    int // needle penetrations
	Revolutions int // stitches, and jumps sewn through
	Parts       Parts
	LongBy      LongBy
}

// Seconds is the time in which the kind is sewn.
func (k *KindTime) Seconds() float64 { return k.Parts.Sewing() }

// Lost is what sewing takes beyond the set speed, in seconds.
func (k *KindTime) Lost() float64 { return k.Parts.LongStitches + k.Parts.Ramps + k.Parts.Control }

// HeldSpeed is stitches over sewing time, in stitches/min; 0 without sewing.
func (k *KindTime) HeldSpeed() float64 { return perMinute(k.Stitches, k.Seconds()) }

// ByKind shares the sewing of a run among the kinds of its stitches
// (kinds, those of stitch.Design.Kinds, read as the machine reads jumps): an entry for each kind
// that the run has, in the order of stitch.SewnKinds. Their parts add up to the
// run's at set speed, long stitches, ramps and control: what the sums of so many small
// numbers differ by in the last digits, the longest kind takes.
func (c *Clock) ByKind(d *stitch.Design, kinds []stitch.Kind, t *Trace) []KindTime {
	var by [stitch.NumKinds]KindTime
	px, py := 0, 0
	for i, k := range kinds {
		if k == stitch.NotSewn || t.Seconds[i] == 0 { // a stitch that Job.From passes over
			px, py = 0, 0
			continue
		}
		r := d.Records[i]
		b := &by[k]
		b.Revolutions++
		if r.Op.Penetrates() {
			b.Stitches++
		}
		rev := revolution{inv: t.CapSeconds[i], bound: t.Bounds[i]}
		if c.law.turning {
			rev.turn = c.law.cap(int(r.DX), int(r.DY), px, py).turn
			px, py = int(r.DX), int(r.DY)
		}
		control := 0.0
		if t.Control != nil {
			control = t.Control[i]
		}
		b.Parts.AtSetSpeed += c.law.invSet
		b.Parts.LongStitches += rev.inv - c.law.invSet
		b.Parts.Ramps += t.Seconds[i] - rev.inv - control
		b.Parts.Control += control
		b.LongBy.charge(&rev, c.law.invSet)
	}
	var out []KindTime
	most, left := -1, t.Result.Parts
	for k := range stitch.SewnKinds() {
		if b := by[k]; b.Revolutions > 0 {
			b.Kind = k
			left.AtSetSpeed -= b.Parts.AtSetSpeed
			left.LongStitches -= b.Parts.LongStitches
			left.Ramps -= b.Parts.Ramps
			left.Control -= b.Parts.Control
			if out = append(out, b); most < 0 || b.Revolutions > out[most].Revolutions {
				most = len(out) - 1
			}
		}
	}
	if most >= 0 {
		p := &out[most].Parts
		p.AtSetSpeed += left.AtSetSpeed
		p.LongStitches += left.LongStitches
		p.Ramps += left.Ramps
		p.Control += left.Control
	}
	return out
}
