package zoo

import (
	"context"
	"math/rand/v2"
	"slices"

	"needlepace/learn"
	"needlepace/words"
)

// Change is what happens to a machine at a date.
type Change struct {
	Name string
	Kind learn.DriftKind // what learning should call it
	// to changes the machine; times is what all its times are multiplied by.
	to    func(m *Machine)
	times float64
}

// Changes of the study.
var Changes = []Change{
	{Name: "trims 0.8 s slower", Kind: learn.DriftTrims, to: func(m *Machine) { m.Sheet.Rest.Trim += 0.8 }},
	{Name: "colour changes 5 s slower", Kind: learn.DriftColours, to: func(m *Machine) { m.Sheet.Rest.ColourStop += 5 }},
	{Name: "frame's acceleration 5 % less", Kind: learn.DriftFrame, to: func(m *Machine) {
		m.Sheet.Frame.AccelX *= 0.95
		m.Sheet.Frame.AccelY *= 0.95
	}},
	{Name: "frame's acceleration 20 % less", Kind: learn.DriftFrame, to: func(m *Machine) {
		m.Sheet.Frame.AccelX *= 0.8
		m.Sheet.Frame.AccelY *= 0.8
	}},
	{Name: "all 5 % slower", Kind: learn.DriftPace, times: 1.05},
}

// dated is how the study times a machine over a season: the test piece with its
// blocks on the first day, then runs of the study's designs on days of ninety.
type dated struct {
	Runs   int  // after the test piece
	Blocks bool // the blocks of each are timed too
}

// Drift times machine k of a family over a season, with a change before one of
// the runs (nil: none), and gives what learning says; since is the day of the
// change.
func (s *Study) drift(ctx context.Context, f *Family, ch *Change, how dated, k int) (d *learn.Drift, since words.Day, err error) {
	class := s.sheets[k%len(s.sheets)]
	m := f.Draw(class, s.opt.Seed, k)
	rng := rand.New(rand.NewPCG(s.opt.Seed^f.number(), uint64(k)|seedSeason))
	piece := s.pieces[k%len(s.sheets)]
	day := words.NewDay(2026, 3, 1)
	var days []int
	for range how.Runs {
		days = append(days, 1+rng.IntN(90))
	}
	slices.Sort(days)
	at := -1
	if ch != nil { // at least three runs since, and three before
		at = days[3+rng.IntN(max(how.Runs-5, 1))]
		since = day.Add(at)
	}
	now := m
	var rows []learn.Observation
	add := func(d Named, speed float64, on int, blocks bool) {
		times := 1.0
		if ch != nil && on >= at && now == m {
			changed := *m
			changed.Sheet = m.Sheet.Clone()
			if ch.to != nil {
				ch.to(&changed)
			}
			now = &changed
		}
		if ch != nil && on >= at && ch.times > 0 {
			times = ch.times
		}
		took := vary(now.Run(d.Design, speed, nil, rng), s.opt.Vary, rng)
		o := learn.Observation{Name: d.Name, Design: d.Design, SetSpeed: speed, Date: day.Add(on)}
		whole := o
		whole.Seconds, whole.Step = took.Seconds*times, 1
		rows = append(rows, whole)
		for b := range took.Blocks {
			if o.Kind, o.Block, o.Seconds, o.Step = learn.BlockRun, b+1, took.Blocks[b]*times, 0.1; blocks && len(took.Blocks) > 1 {
				rows = append(rows, o)
			}
		}
	}
	add(Named{"test piece", piece.Design}, piece.SetSpeed, 0, true)
	for _, on := range days {
		i := rng.IntN(len(s.opt.Timed))
		add(s.opt.Timed[i], tens(class.MaxSpeed*[]float64{1, 0.75}[i%2]), on, how.Blocks)
	}
	for i := range rows {
		rows[i].Row = i + 2
		rows[i].Seconds = max(rows[i].Seconds+watchSD*rng.NormFloat64(), 0.1)
	}
	fit := s.opt.Fit
	fit.Seed = uint64(k)
	res, err := learn.Fit(ctx, class, rows, fit)
	if err != nil {
		return nil, since, err
	}
	return res.Drift, since, nil
}
