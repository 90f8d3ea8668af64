package plan

import (
	"errors"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strconv"
	"sync"
)

// factors are what a planned time is multiplied by, draw by draw; nil: by 1.
type factors []float32

func (f factors) of(draw int) float64 {
	if f == nil {
		return 1
	}
	return float64(f[draw])
}

// drawing draws of one machine's queue. Each lot, each set-up and the machine's pace have a stream of their own, called
// after the job's name and the machine's number: whoever is asked for, and whatever else is planned, the same draws are
// theirs, and in two shops of the same orders too, whose IDs differ.
type drawing struct {
	unc     *Uncertainty
	seed    uint64
	draws   int
	machine int
	before  map[string]int // lots of a name that came before
}

// pace is the machine's.
func (g *drawing) pace() (factors, error) {
	if g.unc.Machine == nil {
		return nil, nil
	}
	return g.draw(g.stream("pace", ""), func(u float64) float64 { return g.unc.Machine(g.machine, u) })
}

// lot is the next lot on the machine, of a job, and its set-up where it has one.
func (g *drawing) lot(p *Problem, job int, hasSetup bool) (set, work factors, err error) {
	j := &p.Jobs[job]
	name := label(j.Name, j.ID, "", job)
	if g.before == nil {
		g.before = map[string]int{}
	}
	defer func() { g.before[name]++ }()
	var setLaw, workLaw float64
	kept := g.unc.Kept
	if g.unc.Laws == nil {
		kept = nil
	} else {
		setLaw, workLaw = g.unc.Laws(job, g.machine)
	}
	if g.unc.Setup != nil && hasSetup {
		set, err = kept.get(drawnOf{g.seed, g.stream("set-up", name), g.draws, setLaw}, func(of uint64) (factors, error) {
			return g.draw(of, func(u float64) float64 { return g.unc.Setup(g.machine, u) })
		})
	}
	if g.unc.Lot != nil && err == nil {
		work, err = kept.get(drawnOf{g.seed, g.stream("lot", name), g.draws, workLaw}, func(of uint64) (factors, error) {
			return g.draw(of, func(u float64) float64 { return g.unc.Lot(job, g.machine, u) })
		})
	}
	return set, work, err
}

// stream is the number of a stream of draws.
func (g *drawing) stream(what, name string) uint64 {
	h := fnv.New64a()
	h.Write([]byte(what + " " + strconv.Itoa(g.machine) + " " + strconv.Itoa(g.before[name]) + " " + name)) //nolint:errcheck // it never fails
	return h.Sum64()
}

// draw is a stream's draws of a quantile function: one from each of as many parts of equal chance, in an order by chance
// (Latin hypercube sampling: M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21, 1979), so that what few
// draws say of a machine's pace is not off by the luck of its stream.
func (g *drawing) draw(stream uint64, quantile func(u float64) float64) (factors, error) {
	rng := rand.New(rand.NewPCG(g.seed, stream))
	out := make(factors, max(g.draws, 0))
	for d, part := range rng.Perm(len(out)) {
		// Strictly inside (0, 1): a quantile function may be infinite at the ends.
		x := quantile((float64(part) + (rng.Float64()*(1<<53-2)+1)/(1<<53)) / float64(len(out)))
		if !(x >= 0) || x > math.MaxFloat32 {
			return nil, errors.New("an uncertain time came out as no number; " +
				"the quantile function must give positive numbers")
		}
		out[d] = float32(x)
	}
	return out, nil
}

// Drawn keeps draws from one simulation to the next: courses of plans that have most of their lots in common are drawn
// once. The zero value is empty; it may be used from many goroutines.
type Drawn struct {
	mu   sync.Mutex
	of   map[drawnOf]factors
	held int // draws
}

// drawnOf names draws: of a stream of a seed, so many, of a law.
type drawnOf struct {
	seed, stream uint64
	draws        int
	law          float64
}

// mostDrawn is how many draws are kept at most, 4 bytes each: two streams of 1,000 for each of 2,500 lots.
// Tests have less.
var mostDrawn = 5_000_000

// get is what is kept, else what is drawn and kept from then on.
func (k *Drawn) get(of drawnOf, draw func(stream uint64) (factors, error)) (factors, error) {
	if k == nil {
		return draw(of.stream)
	}
	k.mu.Lock()
	f, ok := k.of[of]
	k.mu.Unlock()
	if ok {
		return f, nil
	}
	f, err := draw(of.stream)
	if err != nil {
		return nil, err
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.of == nil || k.held+len(f) > mostDrawn {
		k.of, k.held = map[drawnOf]factors{}, 0
	}
	if _, ok := k.of[of]; !ok && len(f) <= mostDrawn {
		k.of[of], k.held = f, k.held+len(f)
	}
	return f, nil
}
