package audit

import (
	"context"
	"fmt"
	"os"
	"slices"
	"testing"
	"time"

	"needlepace/clock"
	"needlepace/stitch"
)

// TestStudyEntries finds what beginning and ending filled areas elsewhere could
// save at most, after all else that mend does: each way and each cut of the
// mended design as if the fill beside it could begin and end where it is best.
// It writes what docs/sequencer.md says of it.
func TestStudyEntries(t *testing.T) {
	// Source: 130 real stitch files in six formats from public repositories (data beside the project, terms mostly unstated, for checking only).
	var seconds float64
	if _, err := fmt.Sscan(os.Getenv("NEEDLEPACE_ENTRY_STUDY"), &seconds); err != nil {
		t.Skip("a study, not a test: set NEEDLEPACE_ENTRY_STUDY to seconds for each design")
	}
	sheet := class(t, "single-15-1200")
	var total entries
	run := 0.0
	designs := realDesigns(t)
	for name, d := range designs {
		threads, _ := ThreadsOf(d, Blocks(d))
		ctx, cancel := context.WithTimeout(context.Background(), time.Duration(seconds*float64(time.Second)))
		m, err := Mend(ctx, d, sheet, clock.Job{}, MendOptions{Threads: threads})
		cancel()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		e := entriesOf(t, m, sheet.Reading.TrimAfterJumps, threads)
		run += m.After.Seconds
		total.add(&e)
		if e.anyWay > 0.05 || e.anyCut > 0 {
			fmt.Printf("%s of %.1f s: %+v\n", name, m.After.Seconds, e)
		}
	}
	fmt.Printf("%d designs, %.0f s: %+v\n", len(designs), run, total)
}

// entries is what fills and their ways came to, in seconds where not a count.
type entries struct {
	objects, fills, closed int
	beside                 int     // ways with a fill at an end
	ways                   float64 // all those ways and cuts take
	anyWay, anyCut         float64 // less at most from and to any hole: by nearness, and by cuts that go where a hole is shared
	sameWay, sameCut       float64 // the same by what keeps every stitch: a closed fill from any hole, others from either end
	cuts, sameCuts         int
}

func (e *entries) add(o *entries) {
	e.objects, e.fills, e.closed, e.beside = e.objects+o.objects, e.fills+o.fills, e.closed+o.closed, e.beside+o.beside
	e.ways, e.anyWay, e.anyCut = e.ways+o.ways, e.anyWay+o.anyWay, e.anyCut+o.anyCut
	e.sameWay, e.sameCut = e.sameWay+o.sameWay, e.sameCut+o.sameCut
	e.cuts, e.sameCuts = e.cuts+o.cuts, e.sameCuts+o.sameCuts
}

func entriesOf(t *testing.T, m *Mended, trimAfter int, threads []int) (e entries) {
	l, err := lay(m.Design.Records, trimAfter)
	if err != nil {
		t.Fatal(err)
	}
	if threads == nil {
		threads = identity(l.blocks)
	}
	now := make([]int, l.blocks)
	for k := range now {
		if now[k] = -1 - k; k < len(m.Blocks) && m.Blocks[k] < len(threads) {
			now[k] = threads[m.Blocks[k]]
		}
	}
	l.hold(now, false, nil)
	sheet := class(t, "single-15-1200")
	explicit := slices.ContainsFunc(m.Design.Records, func(r stitch.Record) bool { return r.Op == stitch.Trim })
	p := &orders{l: l, clock: clock.New(sheet, m.Job), sheet: sheet, job: m.Job, threads: now,
		build: build{explicit: explicit, join: true, jumps: m.TrimJumps}}
	kinds := m.Design.Kinds(trimAfter)
	fill := make([]bool, len(l.objects))
	for k := range l.objects {
		o := &l.objects[k]
		n := 0
		for _, h := range l.holes[o.First:o.Last] {
			if kinds[h.record] == stitch.Fill {
				n++
			}
		}
		fill[k] = 2*n >= o.Last-o.First
		if fill[k] {
			e.fills++
			if o.Start == o.End {
				e.closed++
			}
		}
	}
	e.objects = len(l.objects)
	holes := func(k int) (at []stitch.Point) {
		o := &l.objects[k]
		for _, h := range l.holes[o.First:o.Last] {
			at = append(at, stitch.Point{X: int(h.x), Y: int(h.y)})
		}
		return at
	}
	for k := 1; k < len(l.objects); k++ {
		if !fill[k-1] && !fill[k] || l.fixed(k, p.build) {
			continue
		}
		a, b := l.objects[k-1], l.objects[k]
		e.beside++
		cost := p.between(&a, &b)
		e.ways += cost
		from := func(free, same bool) []stitch.Point {
			switch {
			case free && (!same || a.Start == a.End):
				return holes(k - 1)
			case free:
				return []stitch.Point{a.Exit, a.Start}
			}
			return []stitch.Point{a.Exit}
		}
		to := func(free, same bool) []stitch.Point {
			switch {
			case free && (!same || b.Start == b.End):
				return holes(k)
			case free:
				return []stitch.Point{b.Lead, b.End}
			}
			return []stitch.Point{b.Lead}
		}
		least := func(same bool) (way, cut float64) {
			x, y := from(fill[k-1], same), to(fill[k], same)
			shared := map[stitch.Point]bool{}
			for _, h := range x {
				shared[h] = true
			}
			joined := false
			for _, h := range y {
				joined = joined || shared[h]
			}
			try := func(h, g stitch.Point) float64 {
				u, v := a, b
				u.End, u.Exit, v.Lead, v.Start = h, h, g, stitch.Point{X: g.X + 1, Y: g.Y} // never one hole
				return p.between(&u, &v)
			}
			best := cost
			if len(x)*len(y) > 300_000 {
				best = min(best, try(a.Exit, a.Exit)) // no way at all: less than any
			} else {
				near := map[[2]int]bool{}
				for _, h := range x {
					for _, g := range y {
						if d := [2]int{g.X - h.X, g.Y - h.Y}; !near[d] {
							near[d] = true
							best = min(best, try(h, g))
						}
					}
				}
			}
			if joined && p.threads[a.Block] == p.threads[b.Block] && cost > 0 {
				return cost - best, best
			}
			return cost - best, 0
		}
		way, cut := least(false)
		e.anyWay, e.anyCut = e.anyWay+way, e.anyCut+cut
		if cut > 0 {
			e.cuts++
		}
		way, cut = least(true)
		e.sameWay, e.sameCut = e.sameWay+way, e.sameCut+cut
		if cut > 0 {
			e.sameCuts++
		}
	}
	return e
}
