package ask

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"needlepace/audit"
	"needlepace/machine"
	"needlepace/stitch"
)

// spot is a place, 0.1 mm from the start, y up.
type spot struct{ x, y int }

func (p spot) to(q spot) float64 { return math.Hypot(float64(p.x-q.x), float64(p.y-q.y)) }

// handStop is a stop where a hand may be at the work, and where the needle went
// before it and after it.
type handStop struct {
	at            spot
	before, after map[spot]bool
}

// handStops finds, from bare records, the stops that no mend may touch: more than
// 30 mm from the nearer of the stitches before and after, outside the sewn area,
// or the operator's by the file's own word. all: every stop.
func handStops(d *stitch.Design, all bool) (out []handStop) {
	var holes []spot
	var at spot
	type stop struct {
		at   spot
		sewn int
		own  bool
	}
	var stops []stop
	for _, r := range d.Records {
		if r.Op == stitch.ColourStop || r.Op == stitch.Stop {
			stops = append(stops, stop{at, len(holes), r.Op == stitch.Stop})
		}
		at = spot{at.x + int(r.DX), at.y + int(r.DY)}
		if r.Op.Penetrates() {
			holes = append(holes, at)
		}
	}
	if len(holes) == 0 {
		return nil
	}
	lo, hi := holes[0], holes[0]
	for _, h := range holes {
		lo, hi = spot{min(lo.x, h.x), min(lo.y, h.y)}, spot{max(hi.x, h.x), max(hi.y, h.y)}
	}
	set := func(hs []spot) map[spot]bool {
		m := map[spot]bool{}
		for _, h := range hs {
			m[h] = true
		}
		return m
	}
	for _, s := range stops {
		near := math.Inf(1)
		if s.sewn > 0 {
			near = s.at.to(holes[s.sewn-1])
		}
		if s.sewn < len(holes) {
			near = min(near, s.at.to(holes[s.sewn]))
		}
		if all || s.own || near > 300 || s.at.x < lo.x || s.at.x > hi.x || s.at.y < lo.y || s.at.y > hi.y {
			out = append(out, handStop{s.at, set(holes[:s.sewn]), set(holes[s.sewn:])})
		}
	}
	return out
}

// handsHold holds a mended design, laid where the old one lies, to the old one:
// each stop that is the operator's stands where it stood, slack 0.1 mm off at
// most, in its order, with no hole sewn on the other side of it.
func handsHold(t *testing.T, name string, old, now *stitch.Design, keepAll bool, slack float64) {
	t.Helper()
	have := handStops(now, true)
	for k, want := range handStops(old, keepAll) {
		n := slices.IndexFunc(have, func(s handStop) bool {
			return s.at.to(want.at) <= slack && within(s.before, want.before) && within(s.after, want.after)
		})
		if n < 0 {
			t.Errorf("%s: the operator's stop %d at (%d, %d) does not stand there with the same sewn before it and after it",
				name, k+1, want.at.x, want.at.y)
			return
		}
		have = have[n+1:]
	}
}

func within(a, b map[spot]bool) bool {
	for p := range a {
		if !b[p] {
			return false
		}
	}
	return true
}

// laid are the pairs of holes between which a machine that takes so many jumps for
// a trim lays thread.
func laid(d *stitch.Design, jumps int) map[[2]spot]bool {
	out := map[[2]spot]bool{}
	var at spot
	var last *spot
	run := 0
	for _, r := range d.Records {
		at = spot{at.x + int(r.DX), at.y + int(r.DY)}
		switch {
		case r.Op == stitch.Jump:
			if run++; run >= jumps {
				last = nil
			}
			continue
		case r.Op.Penetrates():
			if last != nil {
				a, b := *last, at
				if a.x > b.x || a.x == b.x && a.y > b.y {
					a, b = b, a
				}
				out[[2]spot{a, b}] = true
			}
			p := at
			last = &p
		default:
			last = nil
		}
		run = 0
	}
	return out
}

// laidHolds holds a mended design to lay thread on no way over 1 mm, on any
// machine, on which the old one laid none there: no trim is lost.
func laidHolds(t *testing.T, name string, old, now *stitch.Design, fleet []*machine.Sheet) {
	t.Helper()
	for jumps := range jumpsOf(fleet) {
		was := laid(old, jumps)
		for way := range laid(now, jumps) {
			if !was[way] && way[0].to(way[1]) > 10 {
				t.Errorf("%s: where %d jumps are a trim, thread is laid from %v to %v, %.1f mm, and was not", name, jumps, way[0],
					way[1], way[0].to(way[1])/stitch.UnitsPerMM)
				return
			}
		}
	}
}

func jumpsOf(fleet []*machine.Sheet) map[int]bool {
	out := map[int]bool{}
	for _, s := range fleet {
		out[s.Reading.TrimAfterJumps] = true
	}
	return out
}

// shopOf is a machine of each class and some with odd constants.
func shopOf() (fleet []*machine.Sheet) {
	for _, s := range machine.Classes() {
		fleet = append(fleet, s.Clone())
	}
	odd := []func(*machine.Sheet){
		func(s *machine.Sheet) { s.Reading.TrimAfterJumps, s.Travel.Mode = 18, machine.ShaftTravel },
		func(s *machine.Sheet) { s.Reading.TrimAfterJumps, s.Rest.Trim = 1, 0 },
		func(s *machine.Sheet) { s.Reading.TrimAfterJumps, s.Frame.Turn, s.Frame.Settle = 5, 5, 0.03 },
		func(s *machine.Sheet) { s.Needles, s.Rest.ColourStop, s.Travel.ReturnToStart = 1, 90, true },
		func(s *machine.Sheet) {
			s.Ladder.Length, s.Ladder.Speed = []float64{1, 3, 6}, []float64{900, 600, 200}
			s.Reading.TrimAfterJumps, s.Rest.Trim = 2, 40
		},
		func(s *machine.Sheet) { s.Travel.Accel, s.Travel.Speed, s.Rest.ColourStop = 100, 10, 0 },
	}
	for k, change := range odd {
		s := machine.Classes()[k%len(machine.Classes())].Clone()
		s.Name = fmt.Sprintf("odd %d", k+1)
		change(s)
		fleet = append(fleet, s)
	}
	return fleet
}

// drawn is a design of lines, columns and rows in several colours between which
// the frame stands in every way there is at a stop: at the work, on the way, out
// for a hand (far, just outside, at the start), twice, and not at all.
func drawn(rng *rand.Rand) *stitch.Design {
	d := &stitch.Design{}
	var at spot
	put := func(op stitch.Op, x, y int) {
		d.Records = append(d.Records, stitch.Record{DX: int16(x - at.x), DY: int16(y - at.y), Op: op})
		at = spot{x, y}
	}
	way := func(x, y, jumps int) {
		from := at
		n := max(jumps, int(max(math.Abs(float64(x-at.x)), math.Abs(float64(y-at.y))))/100+1)
		for k := 1; k <= n; k++ {
			put(stitch.Jump, from.x+(x-from.x)*k/n, from.y+(y-from.y)*k/n)
		}
	}
	cut := func() {
		if rng.IntN(4) == 0 {
			put(stitch.Trim, at.x, at.y)
		}
	}
	thing := func() {
		x, y := rng.IntN(500), rng.IntN(500)
		cut()
		way(x, y, []int{0, 1, 3, 3, 3, 5}[rng.IntN(6)])
		n := 3 + rng.IntN(20)
		switch rng.IntN(3) {
		case 0:
			for k := range n {
				put(stitch.Sew, x+k*20, y+k%2)
			}
		case 1:
			for k := range 2 * n {
				put(stitch.Sew, x+k*4, y+30*(k%2))
			}
		default:
			for k := range n {
				for i := range 3 {
					if k%2 == 1 {
						i = 2 - i
					}
					put(stitch.Sew, x+25*i, y+4*k)
				}
			}
		}
	}
	stop := func() { put(stitch.ColourStop, at.x, at.y) } // no format written has another
	if rng.IntN(4) == 0 {
		way(rng.IntN(300), rng.IntN(300), 0)
		stop()
	}
	for range 2 + rng.IntN(4) {
		for range 1 + rng.IntN(4) {
			thing()
		}
		switch rng.IntN(8) {
		case 0:
			way(at.x, at.y-800-rng.IntN(400), 3)
			stop()
		case 1: // just outside
			way(rng.IntN(500), -1-rng.IntN(40), 3)
			stop()
		case 2: // at the start
			way(0, 0, 3)
			stop()
		case 3: // several in a row, at one place or on the way
			way(rng.IntN(700), 1500, rng.IntN(5))
			stop()
			if rng.IntN(2) == 0 {
				way(at.x+50, at.y, 0)
			}
			stop()
			cut()
			stop()
		case 4: // 32 mm from the last stitch, in the area as a rule
			way(at.x+rng.IntN(640)-320, min(at.y+320, 499), 3)
			stop()
		case 5: // out and back before the stop, and again after it
			x, y := at.x, at.y
			way(x, y+900, 3)
			way(x, y, 3)
			stop()
			way(x-900, y, 3)
		default:
			stop()
		}
	}
	thing()
	switch rng.IntN(4) {
	case 0: // out at the end, for the work to be taken
		way(0, 1500, 3)
	case 1:
		way(0, 1500, 3)
		stop()
	}
	return d
}

// TestHandsFirst mends designs in which the frame stands for a hand in many ways.
func TestHandsFirst(t *testing.T) {
	fleet := shopOf()
	changed, n := 0, uint64(60)
	fmt.Sscan(os.Getenv("NEEDLEPACE_HANDS_STUDY"), &n)
	for seed := range n {
		if handsFirst(t, seed, fleet) {
			changed++
		}
	}
	if t.Logf("%d of %d changed", changed, n); changed < int(n)/2 {
		t.Errorf("only %d of %d were changed at all", changed, n)
	}
}

func handsFirst(t *testing.T, seed uint64, fleet []*machine.Sheet) bool {
	t.Helper()
	rng := rand.New(rand.NewPCG(seed, 30))
	d := drawn(rng)
	s := fleet[rng.IntN(len(fleet))]
	q := MendQuestion{Seconds: 0.05, KeepStops: rng.IntN(3) == 0}
	if rng.IntN(3) > 0 {
		q.From = "the test"
		for range d.Count().ColourStops + 1 {
			q.Threads = append(q.Threads, []string{"red", "blue"}[rng.IntN(2)])
		}
	}
	q.Format = []string{"", "dst", "exp", "pes", "jef"}[rng.IntN(5)]
	name := fmt.Sprintf("seed %d on %s as .%s", seed, s.Name, q.Format)
	a, err := Mend(t.Context(), Given{NewDesign(d, "drawn.dst", ""), s, fleet}, q)
	if err != nil {
		t.Logf("%s: %v", name, err)
		return false
	}
	if !a.Changed {
		return false
	}
	if back := mendHolds(t, name, d, a, s, fleet); back != nil && q.KeepStops {
		handsHold(t, name, d, unmoved(back, a), true, 0)
	}
	return true
}

// ofStops are the findings about stops and the order.
var ofStops = []audit.Kind{audit.ThreadReturns, audit.NoChange, audit.DoubleCut, audit.Order, audit.BackAndForth}

// advises holds an audit to advise other stops or none, and to say so where all stay.
func advises(t *testing.T, d *stitch.Design, file string, want bool) {
	t.Helper()
	s := sheetOf(t, "single-15-light")
	a, err := Audit(context.Background(), Given{NewDesign(d, file, ""), s, nil}, AuditQuestion{})
	if err != nil {
		t.Fatal(err)
	}
	var found []audit.Kind
	for _, f := range a.Findings {
		if slices.Contains(ofStops, f.Kind) {
			found = append(found, f.Kind)
		}
	}
	says := strings.Contains(a.Caveats.Text(nil), "cloth is laid there by hand. Every stop stays")
	if (len(found) > 0) != want || says == want {
		t.Errorf("%s: the audit finds %v, and says that all stops stay: %v", file, found, says)
	}
}

// Where a block of a .pes file has the number of appliqué, cloth is laid: every stop stays, and no audit advises otherwise. Number 64: from memory.
func TestWhereClothIsLaidEveryStopStays(t *testing.T) {
	d := &stitch.Design{}
	for k, number := range []int{5, 64, 5} {
		if k > 0 {
			d.Records = append(d.Records, stitch.Record{Op: stitch.ColourStop})
		}
		d.Records = append(d.Records, rows(4, 0, 200*k, 100).Records...)
		d.Threads = append(d.Threads, stitch.Thread{Name: fmt.Sprintf("colour %d", number), R: uint8(number), Known: true})
	}
	for format, kept := range map[string]int{"pes": 2, "pec": 2, "dst": 0} {
		d.Format = format
		a := mend(t, d, "a."+format, MendQuestion{Format: "dst"}, sheetOf(t, "single-15-light"))
		said := strings.Contains(strings.Join(a.Caveats.Lines(), " "), "Block 2 has the number that stands for appliqué")
		if len(a.Kept) != kept || a.Changed && a.After.ColourStops < kept || said != (kept > 0) {
			t.Errorf(".%s: %d stops are kept, %d are left, said %v", format, len(a.Kept), a.After.ColourStops, said)
		}
		advises(t, d, "a."+format, kept == 0)
	}
}

// An audit counts no stop and no order that a mend would not do, whatever stands at the stops: what it says of them all is
// saved by a mend that may take the stops away which need not stay.
func TestAnAuditAdvisesWhatAMendDoes(t *testing.T) {
	advised, limits := 0, audit.DefaultLimits()
	limits.FewStitches, limits.TrimWay, limits.CoveredWay = 0, 0, 0 // what is solved together with these has their seconds too
	for seed := range uint64(30) {
		rng := rand.New(rand.NewPCG(seed, 12))
		d, s := drawn(rng), machine.Classes()[seed%4]
		d.Format = "dst"
		asked := ThreadsAsked{From: "the test"}
		for range d.Count().ColourStops + 1 {
			asked.Threads = append(asked.Threads, []string{"red", "blue", "green"}[rng.IntN(3)])
		}
		from := Given{NewDesign(d, "drawn.dst", ""), s, nil}
		a, err := Audit(t.Context(), from, AuditQuestion{ThreadsAsked: asked, Limits: &limits})
		if err != nil {
			t.Fatal(err)
		}
		q := MendQuestion{Seconds: 0.2, ThreadsAsked: asked}
		for _, k := range a.Kept.Spare() {
			q.Release = append(q.Release, k.Number)
		}
		m, err := Mend(t.Context(), from, q)
		if err != nil { // the format cannot hold it
			continue
		}
		said := 0.0
		for _, f := range a.Findings {
			if slices.Contains(ofStops, f.Kind) {
				said += f.Seconds
			}
		}
		saved := m.Saved
		for _, c := range m.Changes {
			saved -= min(0, c.Seconds) // what the format takes
		}
		if said > 0 {
			advised++
		}
		if said > saved+0.2 {
			t.Errorf("seed %d on %s: the audit counts %.2f s, the mend saves %.2f s", seed, s.Name, said, saved)
		}
	}
	if advised < 10 {
		t.Errorf("only %d were looked at", advised)
	}
}
