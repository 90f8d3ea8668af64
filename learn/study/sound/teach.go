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
	none    int // machines of which nothing was learned
	teaches func(context.Context, *lesson) ([]learn.Observation, error)
}

// lesson is a machine with its test piece.
type lesson struct {
	class *machine.Sheet
	truth *machine.Sheet
	piece *learn.Piece
	rng   *rand.Rand
}

// timed are the whole test piece and its blocks, with the watch.
func (l *lesson) timed(times int) (all []learn.Observation) {
	m := &zoo.Machine{Sheet: l.truth}
	for range times {
		obs := l.piece.Observations("piece")
		sewn := m.Run(l.piece.Design, l.piece.SetSpeed, nil, nil)
		whole := sewn.Seconds
		for b, t := range sewn.Blocks {
			off := t * learn.RunToRun * l.rng.NormFloat64()
			whole += off
			obs[b+1].Seconds = math.Round(10*(t+off+pressSD*l.rng.NormFloat64())) / 10
		}
		obs[0].Seconds, obs[0].Step = math.Round(10*(whole+pressSD*l.rng.NormFloat64()))/10, 0.1
		all = append(all, obs...)
	}
	return all
}

// heard is what one recording of the test piece gives to learn from.
func (l *lesson) heard(ctx context.Context) ([]learn.Observation, error) {
	script := synth.Script{Job: clock.Job{Speed: l.piece.SetSpeed}, Jitter: 0.0006, Phase: 0.5, RestSpread: 0.1, Lead: 2, Tail: 2}
	room := synth.Quiet
	room.Noise = 20
	var wav bytes.Buffer
	if err := synth.WAV(&wav, synth.Perform(l.piece.Design, l.truth, script, l.rng).Record(room, l.rng), synth.Rate); err != nil {
		return nil, err
	}
	curve, _, err := sound.Read(&wav)
	if err != nil {
		return nil, err
	}
	// The card of the test piece says what to set.
	q := ask.ListenQuestion{Curve: curve, Job: ask.Job{Speed: l.piece.SetSpeed}}
	a, err := ask.Listen(ctx, ask.Given{Stitches: ask.NewDesign(l.piece.Design, "piece.dst", ""), On: l.class}, q)
	if err != nil {
		return nil, err
	}
	return a.Rows(), nil
}

// teach holds what one recording of the test piece teaches against what timings with a
// watch do, on designs that were not timed, and writes the table.
func teach(ctx context.Context, out io.Writer, designs []*stitch.Design, machines int, seed uint64) error {
	watch := func(times int) func(context.Context, *lesson) ([]learn.Observation, error) {
		return func(_ context.Context, l *lesson) ([]learn.Observation, error) { return l.timed(times), nil }
	}
	ways := []*taught{
		{what: "the test piece and its blocks, once with the watch", teaches: watch(1)},
		{what: "the same ten times", teaches: watch(10)},
		{what: "one recording of the test piece", teaches: func(ctx context.Context, l *lesson) ([]learn.Observation, error) { return l.heard(ctx) }},
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
			l := &lesson{class, truth, piece, rand.New(rand.NewPCG(seed, uint64(k)+1e6))}
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
				want := (&zoo.Machine{Sheet: truth}).Run(d, speed, nil, nil).Seconds * (1 + learn.RunToRun*again.NormFloat64())
				r, u := clock.How(d, res.Sheet, clock.Job{Speed: speed}, clock.DefaultLevel)
				w.o.Runs++
				w.o.Errors = append(w.o.Errors, math.Abs(r.Seconds/want-1))
				w.o.Width = append(w.o.Width, (u.High-u.Low)/2/r.Seconds)
				if want >= u.Low && want <= u.High {
					w.o.Held++
				}
			}
			fmt.Fprintf(os.Stderr, "%s, %s: %d rows, median error %.2f %%\n", class.Name, w.what, len(rows), 100*study.Quantile(w.o.Errors[before:], 0.5))
		}
	}
	fmt.Fprintln(out, "| taught by | machines | unseen runs | median error | 90 % of errors below | median half width | inside 90 % |")
	fmt.Fprintln(out, "|---|--:|--:|--:|--:|--:|--:|")
	for _, w := range ways {
		fmt.Fprintf(out, "| %s | %d | %d | %.2f %% | %.2f %% | ± %.2f %% | %.0f %% |\n", w.what, machines-w.none, w.o.Runs, 100*study.Quantile(w.o.Errors, 0.5),
			100*study.Quantile(w.o.Errors, 0.9), 100*study.Quantile(w.o.Width, 0.5), 100*w.o.Share())
	}
	return nil
}
