package learn

import (
	"math"
	"slices"

	"needlepace/words"
)

// DriftKind is what of a machine changed at a date.
type DriftKind string

// What may change.
const (
	DriftTrims   DriftKind = "trims"   // the time of a trim
	DriftColours DriftKind = "colours" // the time of a colour stop
	DriftSpeed   DriftKind = "speed"   // the speed that it holds at a setting
	DriftFrame   DriftKind = "frame"   // the frame's acceleration, both axes
	DriftPace    DriftKind = "pace"    // all times together, or nobody can tell which
)

// Drift is a change of a machine at a date.
type Drift struct {
	Kind     DriftKind
	Since    words.Day // the first date of the new pace
	Old, New int       // runs before, and since

	// By is the change and Low to High its 90 % interval: in seconds for trims and
	// colour stops, else relative (speed and frame: above 0 is faster; pace: above 0
	// takes longer).
	By, Low, High float64
	// Change is that of the times of the runs since then, relative: 0.06 is 6 %
	// longer, on average over them.
	Change, ChangeLow, ChangeHigh float64
	// Chance is that the machine changed at all, after all dates and kinds that were
	// looked at; Surely is that it is this kind if it did.
	Chance, Surely float64

	rows map[int]bool // observations that it explains
}

// explains reports whether observation i is off as the change has it.
func (d *Drift) explains(i int) bool { return d != nil && d.rows[i] }

// What is believed of changes before looking. All assumed.
const (
	driftBefore   = 0.1  // one file of timings in ten holds a change
	driftSaid     = 0.95 // chance from which one is said
	driftKnown    = 0.7  // chance from which its kind is said
	dayToDay      = 0.003
	maxSplits     = 40
	driftMostRows = 100 // more rows are put together
	driftMostSums = 150
)

// driftSD is how large a change of each kind may be, as a standard deviation
// relative to what changes.
var driftSD = map[DriftKind]float64{DriftTrims: 0.3, DriftColours: 0.5, DriftSpeed: 0.05, DriftFrame: 0.2,
	DriftPace: 0.05}

// driftKinds are the kinds in the order in which they are tried.
var driftKinds = []DriftKind{DriftTrims, DriftColours, DriftSpeed, DriftFrame, DriftPace}

// change is one thing that may have happened: from this date this has changed.
type change struct {
	kind  DriftKind
	since words.Day
	u     []float64 // s of each row for one standard deviation
	old   int       // runs before
	new   int       // runs since

	odds    float64 // ln evidence over that of no change, averaged over the scatters
	at      float64 // in standard deviations
	spread  float64
	relates float64 // mean relative change of the times since, for one standard deviation
}

// drift asks, for each date and each thing that may change, whether the rows
// since then speak for it: the evidence with the change over that without
// (Bayes factor; Kass and Raftery, J. Amer. Statist. Assoc. 90 (1995) 773–795), the chance
// before looking shared out evenly over all dates and kinds, so that having
// looked at many costs as it must (Jeffreys 1961; Scott and Berger, Ann.
// Statist. 38 (2010) 2587–2619). A design that the model gets wrong is no change: the
// evidence allows each design an error of its own, runs and rests scatters of their own, all of
// a size that is not known (driftScatters). Rows that an interruption explains
// better count as such, with the chance that they have in the fit.
// nil where nothing is sure enough to be said, or nothing is dated.
func (po *posterior) drift() *Drift {
	rows := po.driftRows()
	single := rows
	splits, oldest := rows.splits()
	if len(splits) == 0 {
		return nil
	}
	if len(rows.all) > driftMostRows {
		rows = rows.together()
	}
	looked := 0
	var all []*change
	for _, kind := range driftKinds {
		for _, since := range splits {
			if c := rows.change(kind, since, oldest); c != nil {
				all = append(all, c)
			}
			looked++
		}
	}
	if len(all) == 0 {
		return nil
	}
	best, total := rows.weigh(all)
	prior := math.Log(driftBefore/(1-driftBefore)) - math.Log(float64(looked))
	chance := 1 / (1 + math.Exp(-(prior + total)))
	if math.IsNaN(chance) || chance < driftSaid {
		return nil
	}
	d, best := rows.found(all, best, chance, total)
	if d == nil {
		return nil
	}
	d.rows = map[int]bool{}
	for i := range single.all {
		r := &single.all[i]
		shift := best.at * r.by[d.Kind]
		off := po.f.model.value(r.obs) - po.f.pred[r.obs]
		d.rows[r.obs] = !r.date.Before(d.Since) && math.Abs(shift) >= math.Sqrt(r.read) && shift*off > 0
	}
	return d
}

// forgive takes back what is asked about rows that a change explains, and about needles where colour changes changed.
func (po *posterior) forgive(res *Result) {
	explained := func(s Slip) bool {
		if s.Kind == NeedlesSlip && res.Drift != nil && res.Drift.Kind == DriftColours {
			return true
		}
		return len(s.Rows) > 0 && !slices.ContainsFunc(s.Rows, func(i int) bool { return !res.Drift.explains(i) })
	}
	po.found = slices.DeleteFunc(po.found, explained)
	res.Slips = po.found
}

// found is the change to be said: the likeliest kind, or the pace where the
// kind cannot be told.
func (rows *driftRows) found(all []*change, best *change, chance, total float64) (*Drift, *change) {
	of := map[DriftKind]float64{}
	for _, c := range all {
		of[c.kind] += math.Exp(c.odds - total)
	}
	kind := best.kind
	if of[kind] < driftKnown {
		kind = DriftPace
		best = nil
		for _, c := range all {
			if c.kind == kind && (best == nil || c.odds > best.odds) {
				best = c
			}
		}
		if best == nil || math.IsInf(best.odds, -1) {
			return nil, nil
		}
	}
	d := &Drift{Kind: kind, Since: best.since, Old: best.old, New: best.new, Chance: chance, Surely: of[kind]}
	by := func(z float64) float64 {
		switch v := best.at + z*best.spread; kind {
		case DriftTrims, DriftColours:
			return v * rows.unit[kind]
		case DriftPace:
			return v * driftSD[kind]
		default: // slower is longer
			return math.Expm1(-v * driftSD[kind])
		}
	}
	const z90 = 1.6448536269514722
	d.By, d.Low, d.High = by(0), by(-z90), by(z90)
	if d.Low > d.High {
		d.Low, d.High = d.High, d.Low
	}
	d.Change = best.at * best.relates
	half := math.Abs(z90 * best.spread * best.relates)
	d.ChangeLow, d.ChangeHigh = d.Change-half, d.Change+half
	return d, best
}

// Says is the finding in sentences: what, since when, how sure, and what to do.
func (d *Drift) Says() words.Sentences {
	size := func(v float64) words.Value {
		if v = math.Abs(v); d.Kind == DriftTrims || d.Kind == DriftColours {
			return words.Seconds(v)
		}
		return words.Share(v)
	}
	low, high := size(d.Low), size(d.High)
	slower := d.Change > 0
	if d.By < 0 {
		low, high = high, low
	}
	since, by := d.Since, size(d.By)
	news, olds := words.Count(d.New, "run"), words.Count(d.Old, "run")
	var s words.Sentences
	switch {
	case d.Kind == DriftTrims && slower:
		s.Say("drift.trims-slower", words.Args{"since": since, "by": by, "low": low, "high": high, "new": news, "old": olds})
		s.Say("drift.do-trims")
	case d.Kind == DriftTrims:
		s.Say("drift.trims-faster", words.Args{"since": since, "by": by, "low": low, "high": high, "new": news, "old": olds})
	case d.Kind == DriftColours && slower:
		s.Say("drift.colours-slower", words.Args{"since": since, "by": by, "low": low, "high": high, "new": news, "old": olds})
		s.Say("drift.do-colours")
	case d.Kind == DriftColours:
		s.Say("drift.colours-faster", words.Args{"since": since, "by": by, "low": low, "high": high, "new": news, "old": olds})
	case d.Kind == DriftSpeed && slower:
		s.Say("drift.speed-slower", words.Args{"since": since, "by": by, "low": low, "high": high, "new": news, "old": olds})
		s.Say("drift.do-speed")
	case d.Kind == DriftSpeed:
		s.Say("drift.speed-faster", words.Args{"since": since, "by": by, "low": low, "high": high, "new": news, "old": olds})
	case d.Kind == DriftFrame && slower:
		s.Say("drift.frame-slower", words.Args{"since": since, "by": by, "low": low, "high": high, "new": news, "old": olds})
		s.Say("drift.do-frame")
	case d.Kind == DriftFrame:
		s.Say("drift.frame-faster", words.Args{"since": since, "by": by, "low": low, "high": high, "new": news, "old": olds})
	case slower:
		s.Say("drift.pace-slower", words.Args{"since": since, "by": by, "low": low, "high": high, "new": news, "old": olds})
	default:
		s.Say("drift.pace-faster", words.Args{"since": since, "by": by, "low": low, "high": high, "new": news, "old": olds})
	}
	if d.Kind == DriftPace && d.Surely < driftKnown {
		s.Say("drift.do-unknown")
	} else if d.Kind == DriftPace && slower {
		s.Say("drift.do-pace")
	}
	if !slower {
		s.Say("drift.do-faster")
	}
	s.Say("drift.sure", words.Args{"chance": words.Chance(d.Chance)})
	return s
}

// splits are the dates from which a change may be seen: all but the first, some
// of them where there are many. oldest is the first.
func (rows *driftRows) splits() (splits []words.Day, oldest words.Day) {
	for i := range rows.all {
		splits = append(splits, rows.all[i].date)
	}
	slices.SortFunc(splits, words.Day.Compare)
	splits = slices.Compact(splits)
	if len(splits) < 2 {
		return nil, oldest
	}
	oldest, splits = splits[0], splits[1:]
	if len(splits) > maxSplits { // evenly spread ones will do
		var few []words.Day
		for k := range maxSplits {
			few = append(few, splits[k*len(splits)/maxSplits])
		}
		splits = few
	}
	return splits, oldest
}

// change is a kind of change at a date; nil where too few runs could show it.
func (rows *driftRows) change(kind DriftKind, since, oldest words.Day) *change {
	c := &change{kind: kind, since: since, u: make([]float64, len(rows.all)), odds: math.Inf(-1)}
	before, after := map[int]bool{}, map[int]bool{}
	size, moved := 0.0, 0.0
	for i := range rows.all {
		r := &rows.all[i]
		if r.date.Before(since) {
			before[r.run] = true
			continue
		}
		after[r.run] = true
		c.u[i] = r.by[kind]
		size += r.size
		moved += r.by[kind]
	}
	c.old, c.new = len(before), len(after)
	if c.new < 2 || c.old < 2 || size <= 0 || moved == 0 {
		return nil
	}
	c.relates = moved / size
	return c
}
