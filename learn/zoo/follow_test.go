package zoo

import (
	"math"
	"math/rand/v2"
	"testing"

	"needlepace/clock"
	"needlepace/learn"
)

// What learning says to time next is timed on the very machine: its rows come beside those that were there.
func TestAdviceIsFollowedOnTheMachine(t *testing.T) {
	s := study(t, 1)
	s.opt.Vary = 0
	class := s.sheets[0]
	m := family(t, "model").Draw(class, 2, 0)
	rows, _ := s.times(m, s.pieces[0], nil, rand.New(rand.NewPCG(5, 1)))
	d := s.opt.Timed[1].Design
	took := m.Run(d, 700, nil, nil)
	line := clock.Run(straight(1000, 6), m.Sheet, clock.Job{Speed: 1100}).Seconds - clock.Run(straight(500, 6), m.Sheet, clock.Job{Speed: 1100}).Seconds
	for _, c := range []struct {
		row  learn.Observation
		want float64
	}{
		{learn.Observation{Kind: learn.BlockRun, Design: d, SetSpeed: 700, Block: 3, Step: 0.1}, took.Blocks[2]},
		{learn.Observation{Kind: learn.WholeRun, Design: d, SetSpeed: 700, Step: 1}, took.Seconds},
		{learn.Observation{Kind: learn.DisplayReading, LengthMM: 6, SetSpeed: 1100}, 60 * 500 / line},
	} {
		all, err := s.follow(t.Context(), m, &learn.Suggestion{Row: c.row}, class, rows, rand.New(rand.NewPCG(1, 2)))
		if err != nil || len(all) != len(rows)+1 {
			t.Fatalf("%d rows of %d, %v", len(all), len(rows), err)
		}
		o := all[len(rows)]
		got, off := o.Seconds, 2.0
		if c.row.Kind == learn.DisplayReading {
			got, off = o.Shown, 35
		}
		if math.Abs(got-c.want) > off || o.Row != len(rows)+2 || o.Kind != c.row.Kind {
			t.Errorf("%+v, want %v", o, c.want)
		}
	}
	all, err := s.follow(t.Context(), m, &learn.Suggestion{Piece: true}, class, rows, rand.New(rand.NewPCG(1, 2)))
	if err != nil || len(all) < len(rows)+3 || all[len(rows)].Kind != learn.WholeRun || all[len(all)-1].Row != len(all)+1 {
		t.Errorf("a piece: %d rows of %d, %v", len(all), len(rows), err)
	}
	all, err = s.follow(t.Context(), m, &learn.Suggestion{}, class, rows, rand.New(rand.NewPCG(1, 2)))
	if err != nil || len(all) != len(rows) || len(all[0].Needles) != len(s.pieces[0].Blocks) || len(rows[0].Needles) > 0 {
		t.Errorf("needles: %v of %d rows, %v", all[0].Needles, len(all), err)
	}
}
