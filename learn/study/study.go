// Package study finds out, on synthetic machines, whether learning keeps its
// promises: run times of other designs within 2 % after one timed test piece,
// and 90 % intervals that hold 90 % of the time.
//
// A machine is drawn from a class's priors, sews the class's test piece, is
// timed by a person with a stopwatch (whole piece and every block, rounded to
// a tenth of a second, with unnoticed interruptions), is learned, and then
// sews designs that were never timed. The machine's own times come from
// package zoo's plain form of the model, which shares no code with package
// clock. Machines whose controllers depart from the model are package zoo's study.
package study

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"sync"

	"needlepace/clock"
	"needlepace/learn"
	"needlepace/learn/zoo"
	"needlepace/machine"
)

// Options of Run.
type Options struct {
	Classes  []string // ids of built-in classes, by turns; empty: all
	Machines int
	Designs  int                // held-out designs a machine
	Piece    learn.PieceOptions // zero: 100 × 100 mm, the usual minutes
	Fit      learn.Options
	Seed     uint64
	Workers  int // 0: 1
	Progress func(done int)
}

// Outcome is what came of a study.
type Outcome struct {
	Options     Options
	Runs        int // held-out runs
	Held        int // of them inside their 90 % interval
	Errors      []float64
	Before      []float64 // errors of the class sheet, not fitted
	HeldBefore  int
	Width       []float64 // relative half widths of the intervals
	Interrupted int       // machines with an interruption in the test piece
	Named       int       // of the interrupted blocks, named as suspicious
	Pauses      int       // blocks interrupted for longer than 5 s
	False       int       // readings named without such an interruption
	Replaced    int       // fits whose normal approximation was replaced
	Misfits     int       // fits that found the model wrong
	ByClass     map[string]*Outcome
}

// Share is the share of held-out runs inside their interval.
func (o *Outcome) Share() float64 { return float64(o.Held) / float64(max(o.Runs, 1)) }

// Quantile is a quantile of the absolute relative errors.
func Quantile(v []float64, p float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return clock.Quantile(s, p)
}

// Run runs a study. The same options give the same outcome, whatever the
// number of workers.
func Run(ctx context.Context, opt Options) (*Outcome, error) {
	if opt.Piece == (learn.PieceOptions{}) {
		opt.Piece = learn.PieceOptions{HoopX: 100, HoopY: 100}
	}
	if len(opt.Classes) == 0 {
		for _, c := range machine.Classes() {
			opt.Classes = append(opt.Classes, c.Name)
		}
	}
	pieces := map[string]*learn.Piece{}
	for _, id := range opt.Classes {
		s, ok := machine.Class(id)
		if !ok {
			return nil, fmt.Errorf("no class %q", id)
		}
		p, err := learn.TestPiece(ctx, s, opt.Piece)
		if err != nil {
			return nil, err
		}
		pieces[id] = p
	}
	results := make([]*Outcome, opt.Machines)
	errs := make([]error, opt.Machines)
	var wg sync.WaitGroup
	var mu sync.Mutex
	next, done := 0, 0
	for range max(opt.Workers, 1) {
		wg.Go(func() {
			for {
				mu.Lock()
				k := next
				next++
				mu.Unlock()
				if k >= opt.Machines || ctx.Err() != nil {
					return
				}
				id := opt.Classes[k%len(opt.Classes)]
				results[k], errs[k] = one(ctx, &opt, k, id, pieces[id])
				mu.Lock()
				done++
				if opt.Progress != nil {
					opt.Progress(done)
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	sum := &Outcome{Options: opt, ByClass: map[string]*Outcome{}}
	for k, r := range results {
		if errs[k] != nil {
			return nil, fmt.Errorf("machine %d: %w", k, errs[k])
		}
		id := opt.Classes[k%len(opt.Classes)]
		if sum.ByClass[id] == nil {
			sum.ByClass[id] = &Outcome{}
		}
		sum.add(r)
		sum.ByClass[id].add(r)
	}
	return sum, nil
}

func (o *Outcome) add(r *Outcome) {
	o.Runs += r.Runs
	o.Held += r.Held
	o.HeldBefore += r.HeldBefore
	o.Errors = append(o.Errors, r.Errors...)
	o.Before = append(o.Before, r.Before...)
	o.Width = append(o.Width, r.Width...)
	o.Interrupted += r.Interrupted
	o.Named += r.Named
	o.Pauses += r.Pauses
	o.False += r.False
	o.Replaced += r.Replaced
	o.Misfits += r.Misfits
}

// The person: press of the watch (s, both presses together), what the machine
// does differently each time, and interruptions (one in two hours, a minute
// each): the same as package learn assumes, drawn here on their own.
const (
	pressSD    = 0.35
	runToRun   = learn.RunToRun
	pauseEvery = 7200.0
	pauseMean  = 60.0
)

func one(ctx context.Context, opt *Options, k int, id string, p *learn.Piece) (*Outcome, error) {
	rng := rand.New(rand.NewPCG(opt.Seed, uint64(k)))
	sheet, _ := machine.Class(id)
	truth := zoo.Machine{Sheet: zoo.Sheet(sheet, rng)}
	o := &Outcome{}

	// Sew and time the piece: a pause falls into a block and into the whole.
	obs := p.Observations("piece")
	sewn := truth.Run(p.Design, p.SetSpeed, nil, nil)
	rest := sewn.Seconds
	for _, b := range sewn.Blocks {
		rest -= b
	}
	actual := rest * (1 + runToRun*rng.NormFloat64())
	paused := make([]float64, len(obs))
	for b, t := range sewn.Blocks {
		t *= 1 + runToRun*rng.NormFloat64()
		if rng.Float64() < -math.Expm1(-t/pauseEvery) {
			extra := pauseMean * rng.ExpFloat64()
			paused[b+1] += extra
			paused[0] += extra
			t += extra
		}
		actual += t
		obs[b+1].Seconds = tenth(t + pressSD*rng.NormFloat64())
	}
	obs[0].Seconds, obs[0].Step = tenth(actual+pressSD*rng.NormFloat64()), 0.1
	if paused[0] > 0 {
		o.Interrupted = 1
	}
	fit := opt.Fit
	fit.Seed = rng.Uint64()
	res, err := learn.Fit(ctx, sheet, obs, fit)
	if err != nil {
		return nil, err
	}
	for i, r := range res.Runs {
		// The whole is held up with its block, and only the block is named.
		switch long := i > 0 && paused[i] > 5; {
		case long && r.Suspect != "":
			o.Pauses++
			o.Named++
		case long:
			o.Pauses++
		case r.Suspect != "":
			o.False++
		}
	}
	if res.Check.Replaced {
		o.Replaced = 1
	}
	if res.Misfit > 0 {
		o.Misfits = 1
	}

	for n := range opt.Designs {
		d := design(rng)
		speed := truth.Sheet.MaxSpeed * []float64{1, 1, 0.85, 0.7}[rng.IntN(4)]
		want := truth.Run(d, speed, nil, nil).Seconds * (1 + runToRun*rng.NormFloat64())
		job := clock.Job{Speed: speed}
		r, u := clock.How(d, res.Sheet, job, 0.90)
		o.Runs++
		o.Errors = append(o.Errors, math.Abs(r.Seconds/want-1))
		o.Width = append(o.Width, (u.High-u.Low)/2/r.Seconds)
		if want >= u.Low && want <= u.High {
			o.Held++
		}
		if n >= sheetDesigns {
			continue
		}
		r, u = clock.How(d, sheet, job, 0.90)
		o.Before = append(o.Before, math.Abs(r.Seconds/want-1))
		if want >= u.Low && want <= u.High {
			o.HeldBefore++
		}
	}
	return o, nil
}

// sheetDesigns is how many of a machine's designs are also run by the class
// sheet, for comparison.
const sheetDesigns = 5

func tenth(v float64) float64 { return max(math.Round(10*v)/10, 0.1) }

// Table writes outcomes as a Markdown table, one row each.
func Table(w io.Writer, head string, names []string, outs []*Outcome) {
	fmt.Fprintf(w, "| %s | machines' runs | inside 90 %% | median error | 90 %% of errors below | worst | median "+
		"half width | class sheet: median error, inside |\n", head)
	fmt.Fprintln(w, "|---|--:|--:|--:|--:|--:|--:|--:|")
	for i, o := range outs {
		fmt.Fprintf(w, "| %s | %d | %.1f %% | %.2f %% | %.2f %% | %.1f %% | ±%.2f %% | %.1f %%, %.1f %% |\n", names[i],
			o.Runs, 100*o.Share(),
			100*Quantile(o.Errors, 0.5), 100*Quantile(o.Errors, 0.9), 100*Quantile(o.Errors, 1),
			100*Quantile(o.Width, 0.5),
			100*Quantile(o.Before, 0.5), 100*float64(o.HeldBefore)/float64(max(len(o.Before), 1)))
	}
}
