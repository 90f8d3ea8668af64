package zoo

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"time"

	"needlepace/clock"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/stitch"
)

// Named is a design and its name.
type Named struct {
	Name   string
	Design *stitch.Design
}

// How designs are chosen: a spread of sizes, short enough for a study, and
// such as a shop sews.
const (
	leastStitches = 1_500
	mostStitches  = 15_000
	mostColours   = 20
	chosen        = 16
)

// Choose picks two designs to time and fourteen to predict, of those with 1,500 to
// 15,000 stitches and at most 20 colours: sixteen sizes at even ratios, for each
// the nearest design that is not yet taken; the ninth and the thirteenth are timed. ok is
// false where there are too few.
func Choose(all []Named) (timed, unseen []Named, ok bool) {
	sizes := map[int]Named{} // of one size the first: most likely one design in two formats
	for _, d := range all {
		c := d.Design.Count()
		if _, twice := sizes[c.Stitches]; !twice && c.Stitches >= leastStitches && c.Stitches <= mostStitches &&
			c.ColourStops < mostColours {
			sizes[c.Stitches] = d
		}
	}
	if len(sizes) < chosen {
		return nil, nil, false
	}
	for i := range chosen {
		want := leastStitches * math.Pow(float64(mostStitches)/leastStitches, float64(i)/(chosen-1))
		near := slices.MinFunc(slices.Sorted(maps.Keys(sizes)), func(a, b int) int {
			return cmp.Compare(math.Abs(math.Log(float64(a)/want)), math.Abs(math.Log(float64(b)/want)))
		})
		if i == 8 || i == 12 {
			timed = append(timed, sizes[near])
		} else {
			unseen = append(unseen, sizes[near])
		}
		delete(sizes, near)
	}
	return timed, unseen, true
}

// Options of a Study.
type Options struct {
	Machines      int      // a family
	Classes       []string // ids of built-in classes, by turns
	Timed, Unseen []Named
	Seed          uint64
	Vary          float64 // relative: what each timed run differs from the machine's own time, block by block
	VaryUnseen    float64 // relative: what a run that is predicted differs from it, as a whole
	Workers       int     // machines at a time; 0: 1
	Fit           learn.Options
	Follow        bool // of machines that are badly off: do what learning says to time next, and learn anew
}

// Study has what all families share.
type Study struct {
	opt    Options
	sheets []*machine.Sheet
	pieces []*learn.Piece
}

// NewStudy makes the test pieces of the classes.
func NewStudy(ctx context.Context, opt Options) (*Study, error) {
	s := &Study{opt: opt}
	for _, id := range opt.Classes {
		sheet, ok := machine.Class(id)
		if !ok {
			return nil, fmt.Errorf("there is no class %q", id)
		}
		p, err := learn.TestPiece(ctx, sheet, learn.PieceOptions{HoopX: 100, HoopY: 100})
		if err != nil {
			return nil, err
		}
		s.sheets, s.pieces = append(s.sheets, sheet), append(s.pieces, p)
	}
	return s, nil
}

// Prediction is one unseen design at one speed.
type Prediction struct {
	Design string
	Speed  float64 // stitches/min
	Error  float64 // predicted over the machine's own time − 1
	Half   float64 // half of the 90 % interval, over the prediction
	Inside bool    // the time of one run, which differs from the machine's own
}

// Learned is one machine of a family.
type Learned struct {
	Machine  *Machine
	Class    string
	Unseen   []Prediction
	Suspects int          // rows called suspicious
	Named    bool         // with a slip: one of the rows that it spoilt is among them
	Asked    bool         // learning asked whether rows were meant otherwise; with a slip: one that it spoilt
	Meant    []Prediction // with a slip that was asked about: with the answer yes
	Says     bool         // learning said that the model does not fit
	Fit      time.Duration
	Believed []learn.Believed
	Verdict  learn.Verdict
	Then     []Prediction // Options.Follow, of a machine that is badly off: once its advice has been followed
	Advice   string       // what that was
}

// Off is the 90th percentile of a machine's errors.
func (l *Learned) Off() float64 { return ErrorAt(l.Unseen, 0.9) }

// ErrorAt is a quantile of the absolute errors of predictions.
func ErrorAt(list []Prediction, q float64) float64 {
	var e []float64
	for _, p := range list {
		e = append(e, math.Abs(p.Error))
	}
	slices.Sort(e)
	return clock.Quantile(e, q)
}

// Run learns the machines of a family, each with a slip of the person's (nil:
// none). The same options give the same outcome, times aside, whatever the
// number of workers.
func (s *Study) Run(ctx context.Context, f *Family, slip *Slip) ([]Learned, error) {
	out := make([]Learned, s.opt.Machines)
	errs := make([]error, s.opt.Machines)
	var wg sync.WaitGroup
	next := make(chan int)
	for range max(s.opt.Workers, 1) {
		wg.Go(func() {
			for k := range next {
				errs[k] = s.one(ctx, f, slip, k, &out[k])
			}
		})
	}
	for k := range out {
		if ctx.Err() != nil {
			break
		}
		next <- k
	}
	close(next)
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	for k, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("%s, machine %d: %w", f.Name, k, err)
		}
	}
	return out, nil
}

// The seeds' second halves: what is drawn for one purpose moves nothing else.
const (
	seedTiming = 1 << 32 * (1 + iota)
	seedUnseen
	seedSeason
)

func (s *Study) one(ctx context.Context, f *Family, slip *Slip, k int, out *Learned) error {
	class := s.sheets[k%len(s.sheets)]
	m := f.Draw(class, s.opt.Seed, k)
	rng := rand.New(rand.NewPCG(s.opt.Seed^f.number(), uint64(k)|seedTiming))
	rows, spoilt := s.times(m, s.pieces[k%len(s.sheets)], slip, rng)
	fit := s.opt.Fit
	fit.Seed = uint64(k)
	start := time.Now()
	res, err := learn.Fit(ctx, class, rows, fit)
	if err != nil {
		return err
	}
	*out = Learned{Machine: m, Class: class.Name, Fit: time.Since(start)}
	for i, r := range res.Runs {
		if r.Suspect != "" {
			out.Suspects++
			out.Named = out.Named || slices.Contains(spoilt, i)
		}
	}
	out.Says, out.Verdict = res.Verdict.Fits == learn.FitsNot, res.Verdict
	var yes []string
	for _, a := range res.Slips {
		if slip == nil || slices.ContainsFunc(a.Rows, func(i int) bool { return slices.Contains(spoilt, i) }) {
			out.Asked, yes = true, append(yes, a.Key)
		}
	}
	if slip != nil && out.Asked {
		fit.Meant = yes
		right, err := learn.Fit(ctx, class, rows, fit)
		if err != nil {
			return err
		}
		out.Meant = s.predict(m, f, k, class, right.Sheet)
	}
	out.Believed = res.Families
	out.Unseen = s.predict(m, f, k, class, res.Sheet)
	if !s.opt.Follow || out.Off() <= badlyOff || len(res.Next) == 0 {
		return nil
	}
	out.Advice = res.Next[0].What
	if rows, err = s.follow(ctx, m, &res.Next[0], res.Sheet, rows, rng); err != nil {
		return err
	}
	if res, err = learn.Fit(ctx, class, rows, fit); err != nil {
		return err
	}
	out.Then = s.predict(m, f, k, class, res.Sheet)
	return nil
}

// predict holds a sheet against the unseen designs on machine k.
func (s *Study) predict(m *Machine, f *Family, k int, class, sheet *machine.Sheet) (out []Prediction) {
	rng := rand.New(rand.NewPCG(s.opt.Seed^f.number(), uint64(k)|seedUnseen))
	for _, speed := range []float64{class.MaxSpeed, tens(class.MaxSpeed * in(rng, 0.6, 0.95))} {
		for _, d := range s.opt.Unseen {
			own := m.Run(d.Design, speed, nil, rng).Seconds
			run := own * (1 + s.opt.VaryUnseen*rng.NormFloat64())
			r, u := clock.How(d.Design, sheet, clock.Job{Speed: speed}, clock.DefaultLevel)
			out = append(out, Prediction{d.Name, speed, r.Seconds/own - 1, (u.High - u.Low) / 2 / r.Seconds,
				run >= u.Low && run <= u.High})
		}
	}
	return out
}

func tens(v float64) float64 { return 10 * math.Round(v/10) }

// Summary is a family in one line.
type Summary struct {
	Machines           int
	Median, P90, Worst float64 // of the absolute relative errors
	Inside             float64 // share of the predictions
	Half               float64 // median
	Suspects           float64 // rows a machine
	Said               int     // machines of which learning said that the model does not fit
	Off, SaidOff       int     // machines that are off by more than 3 % (90th percentile), and of them said
	Named              int     // machines whose slip was named
	Asked              int     // machines of which learning asked about a slip, with a slip about that
	InsideMeant        int     // predictions inside with the answer yes, of OfMeant
	OfMeant            int
	Fit                time.Duration
}

// badlyOff is the 90th percentile of a machine's errors from which a person must be told.
const badlyOff = 0.03

// Sum sums machines up.
func Sum(all []Learned) Summary {
	s := Summary{Machines: len(all)}
	var errors, halves []float64
	inside := 0
	for i := range all {
		l := &all[i]
		for _, p := range l.Unseen {
			errors, halves = append(errors, math.Abs(p.Error)), append(halves, p.Half)
			if p.Inside {
				inside++
			}
		}
		s.Suspects += float64(l.Suspects) / float64(len(all))
		off := l.Off() > badlyOff
		for _, p := range l.Meant {
			s.OfMeant++
			if p.Inside {
				s.InsideMeant++
			}
		}
		for _, c := range []struct {
			n  *int
			is bool
		}{{&s.Said, l.Says}, {&s.Off, off}, {&s.SaidOff, off && l.Says}, {&s.Named, l.Named}, {&s.Asked, l.Asked}} {
			if c.is {
				*c.n++
			}
		}
		s.Fit += l.Fit / time.Duration(len(all))
	}
	slices.Sort(errors)
	slices.Sort(halves)
	s.Median, s.P90, s.Worst = clock.Quantile(errors, 0.5), clock.Quantile(errors, 0.9), clock.Quantile(errors, 1)
	s.Half, s.Inside = clock.Quantile(halves, 0.5), float64(inside)/float64(max(len(errors), 1))
	return s
}
