package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"

	"needlepace/ask"
	"needlepace/clock"
	"needlepace/learn"
	"needlepace/learn/study"
	"needlepace/learn/zoo"
	"needlepace/machine"
	"needlepace/sound"
	"needlepace/sound/synth"
	"needlepace/stitch"
)

// What a person with a watch does, as in package study: a press is off by so much, both
// together, and no run is quite as the one before.
const pressSD = 0.35

// unseen is how many designs that were not timed each machine sews after it was learned.
const unseen = 12

// taught is a way to teach a machine.
type taught struct {
	what    string
	o       study.Outcome
	between []float64 // errors of what lies between a run's start and its end, over the whole
	none    int       // machines of which nothing was learned
	teaches func(context.Context, *lesson) ([]learn.Observation, error)
}

// lesson is a machine with its test piece.
type lesson struct {
	class *machine.Sheet
	truth *machine.Sheet
	piece *learn.Piece
	rng   *rand.Rand
	rests float64 // relative standard deviation of one rest from the next
}

// timed are the whole test piece and its blocks, with the watch.
func (l *lesson) timed(times int) (all []learn.Observation) {
	for range times {
		obs := l.piece.Observations("piece")
		run := l.run()
		whole := l.whole(run)
		for b, t := range blocks(run) {
			off := t * learn.RunToRun * l.rng.NormFloat64()
			whole += off
			obs[b+1].Seconds = math.Round(10*(t+off+pressSD*l.rng.NormFloat64())) / 10
		}
		obs[0].Seconds, obs[0].Step = math.Round(10*(whole+pressSD*l.rng.NormFloat64()))/10, 0.1
		all = append(all, obs...)
	}
	return all
}

// run is one run of the test piece: each rest takes another time.
func (l *lesson) run() *synth.Performance {
	return synth.Perform(l.piece.Design, l.truth, synth.Script{Job: clock.Job{Speed: l.piece.SetSpeed}, Jitter: 0.0006, Phase: 0.5,
		RestSpread: l.rests, Lead: lead, Tail: lead}, l.rng)
}

// whole is how long a run takes from the start button to the machine standing, s.
func (l *lesson) whole(p *synth.Performance) float64 { return p.Seconds - 2*lead }

// lead is how long is recorded before a run and after it, s.
const lead = 2

// blocks are the times of a run's colour blocks, from the first stitch of each to its last, s.
func blocks(p *synth.Performance) (all []float64) {
	first, k := 0, 0
	for _, h := range p.Happenings {
		k++ // the run before it
		if h.Kind == "colour_stop" {
			all, first = append(all, p.Runs[k-1][1]-p.Runs[first][0]), k
		}
	}
	return append(all, p.Runs[len(p.Runs)-1][1]-p.Runs[first][0])
}

// heard is what one recording of the test piece gives to learn from.
func (l *lesson) heard(ctx context.Context, whole bool) ([]learn.Observation, error) {
	p := l.run()
	room := synth.Quiet
	room.Noise = 20
	var wav bytes.Buffer
	if err := synth.WAV(&wav, p.Record(room, l.rng), synth.Rate); err != nil {
		return nil, err
	}
	curve, _, err := sound.Read(&wav)
	if err != nil {
		return nil, err
	}
	// The card of the test piece says what to set.
	q := ask.ListenQuestion{Curve: curve, Job: ask.Job{Speed: l.piece.SetSpeed}}
	if whole {
		q.Whole = l.whole(p) + pressSD*l.rng.NormFloat64()
	}
	a, err := ask.Listen(ctx, ask.Given{Stitches: ask.NewDesign(l.piece.Design, "piece.dst", ""), On: l.class}, q)
	if err != nil {
		return nil, err
	}
	return a.Rows(), nil
}

// teach holds what one recording of the test piece teaches against what timings with a
// watch do, on designs that were not timed, and writes the table.
func teach(ctx context.Context, out io.Writer, designs []*stitch.Design, machines int, seed uint64, rests float64) error {
	watch := func(times int) func(context.Context, *lesson) ([]learn.Observation, error) {
		return func(_ context.Context, l *lesson) ([]learn.Observation, error) { return l.timed(times), nil }
	}
	ways := []*taught{
		{what: "the test piece and its blocks, once with the watch", teaches: watch(1)},
		{what: "the same ten times", teaches: watch(10)},
		{what: "twenty times", teaches: watch(20)},
		{what: "one recording of the test piece", teaches: func(ctx context.Context, l *lesson) ([]learn.Observation, error) { return l.heard(ctx, false) }},
		{what: "the same and the whole run once with the watch", teaches: func(ctx context.Context, l *lesson) ([]learn.Observation, error) { return l.heard(ctx, true) }},
	}
	classes := machine.Classes()
	for k := 1; k <= machines; k++ {
		class := classes[k%len(classes)]
		piece, err := learn.TestPiece(ctx, class, learn.PieceOptions{HoopX: 100, HoopY: 100})
		if err != nil {
			return err
		}
		rng := rand.New(rand.NewPCG(seed, uint64(k)))
		truth := zoo.Sheet(class, rng)
		for _, w := range ways {
			l := &lesson{class, truth, piece, rand.New(rand.NewPCG(seed, uint64(k)+1e6)), rests}
			rows, err := w.teaches(ctx, l)
			if ctx.Err() != nil {
				return ctx.Err()
			}
			if err != nil {
				fmt.Fprintf(os.Stderr, "%s, machine %d: %v\n", w.what, k, err)
				w.none++
				continue
			}
			res, err := learn.Fit(ctx, class, rows, learn.Options{Seed: rng.Uint64()})
			if err != nil {
				return err
			}
			again := rand.New(rand.NewPCG(seed, uint64(k)+2e6)) // the same designs for each way
			before := len(w.o.Errors)
			for range unseen {
				d := designs[again.IntN(len(designs))]
				speed := truth.MaxSpeed * []float64{1, 0.85, 0.7}[again.IntN(3)]
				own := (&zoo.Machine{Sheet: truth}).Run(d, speed, nil, nil).Seconds
				want := own * (1 + learn.RunToRun*again.NormFloat64())
				was := clock.Run(d, truth, clock.Job{Speed: speed}).Parts
				r, u := clock.How(d, res.Sheet, clock.Job{Speed: speed}, clock.DefaultLevel)
				w.o.Runs++
				w.o.Errors = append(w.o.Errors, math.Abs(r.Seconds/own-1))
				w.between = append(w.between, math.Abs(r.Seconds-r.Parts.StartEnd-own+was.StartEnd)/own)
				w.o.Width = append(w.o.Width, (u.High-u.Low)/2/r.Seconds)
				if want >= u.Low && want <= u.High {
					w.o.Held++
				}
			}
			fmt.Fprintf(os.Stderr, "%s, %s: %d rows, median error %.2f %%, %.3f %% between start and end\n", class.Name, w.what, len(rows),
				100*study.Quantile(w.o.Errors[before:], 0.5), 100*study.Quantile(w.between[before:], 0.5))
		}
	}
	fmt.Fprintln(out, "| taught by | machines | unseen runs | median error | between start and end | 90 % of errors below | median half width | inside 90 % |")
	fmt.Fprintln(out, "|---|--:|--:|--:|--:|--:|--:|--:|")
	for _, w := range ways {
		fmt.Fprintf(out, "| %s | %d | %d | %.2f %% | %.3f %% | %.2f %% | ± %.2f %% | %.0f %% |\n", w.what, machines-w.none, w.o.Runs, 100*study.Quantile(w.o.Errors, 0.5),
			100*study.Quantile(w.between, 0.5), 100*study.Quantile(w.o.Errors, 0.9), 100*study.Quantile(w.o.Width, 0.5), 100*w.o.Share())
	}
	return nil
}
