package floor

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"

	"needlepace/clock"
	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/thread"
)

// ShopFile is a shop as its SHOP.toml gives it (docs/what-a-shift-yields.md).
// What a key leaves out is in DefaultWork and DefaultThread.
type ShopFile struct {
	Name     string         `toml:"name"`
	Shift    ShiftKeys      `toml:"shift"`
	Pause    []PauseKeys    `toml:"pause"`
	Thread   ThreadKeys     `toml:"thread"`
	Work     Work           `toml:"work"`
	Machine  []MachineKeys  `toml:"machine"`
	Operator []OperatorKeys `toml:"operator"`
	Job      []JobKeys      `toml:"job"`
}

// ShiftKeys is [shift].
type ShiftKeys struct {
	Hours       float64  `toml:"hours" unit:"h"`
	Rule        Rule     `toml:"rule"`
	Walk        *float64 `toml:"walk_seconds" unit:"s"`
	WalkSpeed   float64  `toml:"walk_speed"` // m/s
	Notice      *float64 `toml:"notice_seconds" unit:"s"`
	RunThrough  bool     `toml:"run_through_pauses"`
	Start       string   `toml:"start"`        // "loaded" (default) or "cold"
	SheetSpread *bool    `toml:"sheet_spread"` // do run times vary with the sheets' spreads? default true
	// FromReports: break rates and times are what the floor's reports make of
	// them, as plans and quotes have them; default false.
	FromReports bool `toml:"from_reports"`
}

// PauseKeys is one [[pause]].
type PauseKeys struct {
	After     float64  `toml:"after_hours" unit:"h"`
	Minutes   float64  `toml:"minutes" unit:"min"`
	Operators []string `toml:"operators"`
}

// ThreadKeys is [thread].
type ThreadKeys struct {
	Thickness  *float64 `toml:"thickness"`
	PullIn     *float64 `toml:"pull_in"`
	TailTop    *float64 `toml:"tail_top"`
	TailBobbin *float64 `toml:"tail_bobbin"`
	Waste      *float64 `toml:"waste"`
	Tex        *float64 `toml:"tex"`
	Cone       *float64 `toml:"cone_metres"`
}

// Law is the thread law with defaults filled in.
func (k ThreadKeys) Law() thread.Law {
	l := thread.Default
	for _, f := range []struct {
		from *float64
		to   *float64
	}{{k.Thickness, &l.Thickness}, {k.PullIn, &l.PullIn}, {k.TailTop, &l.TailTop}, {k.TailBobbin, &l.TailBobbin},
		{k.Waste, &l.Waste}, {k.Tex, &l.Tex}} {
		if f.from != nil {
			*f.to = *f.from
		}
	}
	return l
}

// CheckLaw is Law.Check with the key in [thread].
func CheckLaw(l thread.Law) error {
	var out *thread.RangeError
	if errors.As(l.Check(), &out) {
		return &KeyError{"thread." + out.Key, out.Text()}
	}
	return nil
}

// Work is [work]: what people and troubles take. Every key may also stand in
// a [[machine]], for that machine alone.
type Work struct {
	Breaks         *float64   `toml:"breaks_per_1000"` // thread breaks a head
	Repair         *Spread    `toml:"repair" unit:"s"`
	Resew          *int       `toml:"resew_stitches"`
	BobbinMetres   *float64   `toml:"bobbin_metres"`
	BobbinCV       *float64   `toml:"bobbin_cv"`
	BobbinChange   *Spread    `toml:"bobbin_change" unit:"s"`
	BobbinRule     BobbinRule `toml:"bobbin_rule"`
	Load           *Spread    `toml:"load" unit:"s"`    // each head
	Loaders        *int       `toml:"loaders"`          // operators who may load the machine at once
	Hooping        *Spread    `toml:"hooping" unit:"s"` // each piece
	HoopOn         *bool      `toml:"hooping_on_machine"`
	HoopSets       *int       `toml:"hoop_sets"`
	Setup          *Spread    `toml:"setup" unit:"s"` // each changeover
	Cone           *Spread    `toml:"cone" unit:"s"`  // each cone on each head
	Rethread       *Spread    `toml:"rethread" unit:"s"`
	Stop           *Spread    `toml:"stop" unit:"s"`
	Reject         *float64   `toml:"reject"`
	RejectPerBreak *float64   `toml:"reject_per_break"`
}

// DefaultWork is what [work] leaves out. Breaks: 1 per 200,000 stitches of a
// head (a thread maker's service note: 2 to 3 an hour on a sound 15-head
// machine, 1 per 150,000 to 315,000). A break takes a minute or a little more
// (trade press 2014), an L-size bobbin holds 119 to 141 m. To unload and load
// takes 1 to 2 minutes a head (trade press 2017), planned as 60 s × heads ÷
// operators who load; here the lower end, since hooping is counted apart, and
// two who may load one machine. The rest, and all spreads, are assumed.
var DefaultWork = Work{
	Breaks: new(.005), Repair: &Spread{Mean: 75, CV: .6}, Resew: new(10),
	BobbinMetres: new(130.), BobbinCV: new(.04), BobbinChange: &Spread{Mean: 20, CV: .3}, BobbinRule: AtRunOut,
	Load: &Spread{Mean: 60, CV: .3}, Loaders: new(2), Hooping: &Spread{Mean: 35, CV: .3}, HoopOn: new(false),
	HoopSets: new(2),
	Setup:    &Spread{Mean: 300, CV: .3}, Cone: &Spread{Mean: 25, CV: .3}, Rethread: &Spread{Mean: 60, CV: .4},
	Stop:   &Spread{Mean: 30, CV: .5},
	Reject: new(.01), RejectPerBreak: new(.03),
}

// Over is w with what it leaves out taken from under.
func (w Work) Over(under Work) Work {
	to, from := reflect.ValueOf(&w).Elem(), reflect.ValueOf(under)
	for i := range to.NumField() {
		if to.Field(i).IsZero() {
			to.Field(i).Set(from.Field(i))
		}
	}
	w.Settle(under)
	return w
}

func (w *Work) spreads() [8]**Spread {
	return [...]**Spread{&w.Repair, &w.BobbinChange, &w.Load, &w.Hooping, &w.Setup, &w.Cone, &w.Rethread, &w.Stop}
}

// Settle gives what was written as its mean alone the spread that it has in
// under: so it is written out again as it was meant.
func (w *Work) Settle(under Work) {
	from := under.spreads()
	for i, s := range w.spreads() {
		if *s != nil {
			*s = (*s).over(*from[i])
		}
	}
}

// Settle is Work.Settle for the shop and for each of its machines.
func (sf *ShopFile) Settle() {
	sf.Work.Settle(DefaultWork)
	for i := range sf.Machine {
		sf.Machine[i].Work.Settle(sf.Work.Over(DefaultWork))
	}
}

// Machine is the machine that works so; w must be complete (Over DefaultWork).
func (w Work) Machine(name string, heads int) Machine {
	return Machine{Name: name, Heads: heads, Breaks: *w.Breaks, Repair: *w.Repair, Resew: *w.Resew,
		Bobbin: Bobbin{*w.BobbinMetres, *w.BobbinCV, *w.BobbinChange, w.BobbinRule},
		Load:   *w.Load, Loaders: *w.Loaders, Hoop: *w.Hooping, HoopOn: *w.HoopOn, HoopSets: *w.HoopSets,
		Setup: *w.Setup, Cone: *w.Cone,
		Reject: *w.Reject, RejectPerBreak: *w.RejectPerBreak}
}

// MachineKeys is one [[machine]].
type MachineKeys struct {
	Name  string    `toml:"name"`
	Sheet string    `toml:"sheet"` // a sheet file, by its path from the shop's file, or a built-in class
	Heads *int      `toml:"heads"`
	Speed float64   `toml:"speed"` // the operator's setting, stitches/min
	Place []float64 `toml:"place"` // x and y on the floor, m
	Work
}

// OperatorKeys is one [[operator]].
type OperatorKeys struct {
	Name     string   `toml:"name"`
	Machines []string `toml:"machines"`
	Duty     Duty     `toml:"duty"`
}

// Goods is what a design asks of the machine; part of a job and of a mix.
type Goods struct {
	Speed    float64 `toml:"speed"` // setting for this design, stitches/min; 0: the machine's
	CapFrame bool    `toml:"cap_frame"`
	Metallic bool    `toml:"metallic"`
	Heavy    float64 `toml:"heavy"` // factor on the frame's acceleration, 0: the machine's own for Job
	// Job is the kinds of job, CapFrame and Metallic in it or not.
	Job machine.Jobs `toml:"job"`
}

// Kinds are all the kinds of job that the goods are of.
func (g Goods) Kinds() machine.Jobs {
	if g.CapFrame {
		g.Job |= machine.CapFrame
	}
	if g.Metallic {
		g.Job |= machine.Metallic
	}
	return g.Job
}

// Clock is the job as the clock takes it, on a machine set to speed.
func (g Goods) Clock(speed float64) clock.Job {
	j := clock.Job{Speed: speed, AccelFactor: g.Heavy, Kinds: g.Kinds()}
	if g.Speed > 0 {
		j.Speed = g.Speed
	}
	return j
}

// JobKeys is one [[job]].
type JobKeys struct {
	Name     string   `toml:"name"`
	Design   string   `toml:"design"` // a stitch file, by its path from the shop's file
	Quantity *int     `toml:"quantity"`
	Machines []string `toml:"machines"`
	Threads  []string `toml:"threads"` // top threads, where the file does not name them
	Goods
}

// Sources is where a shop's file gets what it names. Paths are as written.
type Sources struct {
	Design func(path string) (*stitch.Design, error)
	Sheet  func(name string) (*machine.Sheet, error)
	// Reported is what the floor's reports make of a machine, called name with a
	// sheet of such a name, whose break rate is expected to be breaks. nil: there
	// are no reports.
	Reported func(name, sheet string, breaks float64) (Reported, error)
}

// Reported is what the floor's reports make of a machine.
type Reported struct {
	Breaks float64 // thread breaks a head and 1,000 stitches
	Pace   float64 // real ÷ predicted seconds that pieces hold it
}

// paced is a run that holds the machine so many times as long.
func paced(run Run, pace float64) Run {
	run.Seconds, run.Stops = slices.Clone(run.Seconds), slices.Clone(run.Stops)
	for i := range run.Seconds {
		run.Seconds[i] *= pace
	}
	for i := range run.Stops {
		run.Stops[i].Work.Mean *= pace
	}
	return run
}

// PaceOf is what the reports make of a machine's times: real ÷ predicted
// seconds; 1 where they say nothing.
func (r *Resolved) PaceOf(m int) float64 {
	if m >= len(r.Paces) {
		return 1
	}
	return r.Paces[m]
}

// Draws is how many machines are drawn from a sheet's spreads for a shop.
const Draws = 1024

// Resolved is a shop's file with everything it names.
type Resolved struct {
	Shop    *Shop
	Sheets  []*machine.Sheet // by machine
	Works   []Work           // by machine, complete
	Paces   []float64        // by machine: what the reports make of its times; 1: nothing
	Designs []*stitch.Design // by job
	Clocks  [][]clock.Job    // by job and machine
	Law     thread.Law
	Supply  thread.Supply
}

// Locate turns a *KeyError into an error with the key's place in the file; a
// machine's key that stands in [work] is looked for there too.
func Locate(f *tomlfile.File, err error) error {
	var k *KeyError
	if !errors.As(err, &k) {
		return err
	}
	var elsewhere []string
	if table, rest, ok := strings.Cut(k.Key, "."); ok && (strings.HasPrefix(table, "machine[") ||
		strings.HasPrefix(table, "job[")) {
		// A time may be written as its mean alone: then load.mean is load's.
		whole, _, _ := strings.Cut(rest, ".")
		elsewhere = append(elsewhere, table+"."+whole, "work."+rest, "work."+whole)
	}
	return f.Errorf(k.Key, elsewhere, "%s", k.Text)
}

// Resolve reads what the file names, clocks every job on every machine that
// may sew it and gives the shop ready to simulate. Errors name key and line.
func (sf *ShopFile) Resolve(f *tomlfile.File, src Sources) (*Resolved, error) {
	r, err := sf.resolve(src)
	if err == nil {
		err = r.Shop.Validate()
	}
	if err != nil {
		return nil, Locate(f, err)
	}
	return r, nil
}

func or(v *float64, d float64) float64 {
	if v == nil {
		return d
	}
	return *v
}

func (sf *ShopFile) resolve(src Sources) (*Resolved, error) {
	r := &Resolved{Law: sf.Thread.Law(), Supply: thread.DefaultSupply}
	if err := CheckLaw(r.Law); err != nil {
		return nil, err
	}
	r.Supply.Cone = or(sf.Thread.Cone, r.Supply.Cone)
	if !(r.Supply.Cone > 0 && r.Supply.Cone < 1e6) {
		return nil, keyErr("thread.cone_metres", "is %g m; give 1 to 1000000", r.Supply.Cone)
	}
	s := &Shop{Name: sf.Name, Seconds: sf.Shift.Hours * 3600, RunThrough: sf.Shift.RunThrough, Rule: sf.Shift.Rule,
		Walk: Walk{or(sf.Shift.Walk, 10), sf.Shift.WalkSpeed}, Notice: or(sf.Shift.Notice, 10)}
	r.Shop = s
	switch sf.Shift.Start {
	case "", "loaded":
		s.Ready = true
	case "cold":
	default:
		return nil, keyErr("shift.start", "is %q; give \"loaded\" or \"cold\"", sf.Shift.Start)
	}
	if s.Seconds == 0 {
		return nil, keyErr("shift.hours", "is missing: give the length of the shift, e.g. hours = 8")
	}
	machines, operators := map[string]int{}, map[string]int{}
	for i, m := range sf.Machine {
		if err := r.machine(sf, i, m, src, machines); err != nil {
			return nil, err
		}
	}
	for i, o := range sf.Operator {
		key := fmt.Sprintf("operator[%d]", i+1)
		name := o.Name
		if name == "" {
			name = fmt.Sprint("operator ", i+1)
		}
		if _, twice := operators[name]; twice {
			return nil, keyErr(key+".name", "is %q, as another operator's", name)
		}
		operators[name] = i
		ms, err := indices(key+".machines", "machine", o.Machines, machines)
		if err != nil {
			return nil, err
		}
		s.Operators = append(s.Operators, Operator{name, ms, o.Duty})
	}
	for i, p := range sf.Pause {
		os, err := indices(fmt.Sprintf("pause[%d].operators", i+1), "operator", p.Operators, operators)
		if err != nil {
			return nil, err
		}
		s.Pauses = append(s.Pauses, Pause{p.After * 3600, p.Minutes * 60, os})
	}
	// What is wrong with the floor is said before designs are read and clocked.
	jobs := s.Jobs
	s.Jobs = []Job{{Runs: make([]Run, len(s.Machines)), Machines: []int{}}}
	if err := s.Validate(); err != nil {
		return nil, err
	}
	s.Jobs = jobs
	draws := map[string][][]float64{}
	for i, j := range sf.Job {
		if err := r.job(sf, i, j, src, machines, draws); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// indices turns names into indices; none means nil, all.
func indices(key, what string, names []string, index map[string]int) ([]int, error) {
	var out []int
	for _, n := range names {
		i, ok := index[n]
		if !ok {
			return nil, keyErr(key, "names %s %q, which the file does not have", what, n)
		}
		out = append(out, i)
	}
	return out, nil
}

func (r *Resolved) machine(sf *ShopFile, i int, m MachineKeys, src Sources, index map[string]int) error {
	key := fmt.Sprintf("machine[%d]", i+1)
	if m.Sheet == "" {
		return keyErr(key+".sheet", "is missing: give a sheet file or a built-in class")
	}
	sheet, err := src.Sheet(m.Sheet)
	if err != nil {
		return keyErr(key+".sheet", "%q: %v", m.Sheet, err)
	}
	if err := (clock.Job{Speed: m.Speed}).Validate(); err != nil {
		return keyErr(key+".speed", "is %g stitches/min; give 10 to 3000", m.Speed)
	}
	name, heads := m.Name, sheet.Heads
	if name == "" {
		name = sheet.Name
	}
	if _, twice := index[name]; twice {
		return keyErr(key+".name", "is %q, as another machine's", name)
	}
	index[name] = i
	if m.Heads != nil {
		if heads = *m.Heads; heads > sheet.Heads {
			return keyErr(key+".heads", "is %d; %s has %d: give those in use, or another sheet", heads, name,
				sheet.Heads)
		}
	}
	w := m.Work.Over(sf.Work).Over(DefaultWork)
	pace := 1.0
	if sf.Shift.FromReports {
		if src.Reported == nil {
			return keyErr("shift.from_reports", "is set, and there are no reports here; say whose with --data, or take it out")
		}
		rep, err := src.Reported(name, m.Sheet, *w.Breaks)
		if err != nil {
			return keyErr("shift.from_reports", "%s: %v", name, err)
		}
		w.Breaks, pace = &rep.Breaks, rep.Pace
	}
	x := w.Machine(name, heads)
	for _, sp := range []*Spread{&x.Load, &x.Repair, &x.Bobbin.Change} {
		sp.Mean *= pace
	}
	if x.HoopOn {
		x.Hoop.Mean *= pace
	}
	r.Paces = append(r.Paces, pace)
	switch len(m.Place) {
	case 0:
	case 2:
		x.Place = &Place{m.Place[0], m.Place[1]}
	default:
		return keyErr(key+".place", "has %d numbers; give x and y in metres, e.g. [4, 0]", len(m.Place))
	}
	for k, sp := range map[string]*Spread{"rethread": w.Rethread, "stop": w.Stop} {
		if err := sp.check(key + "." + k); err != nil {
			return err
		}
	}
	r.Shop.Machines = append(r.Shop.Machines, x)
	r.Sheets = append(r.Sheets, sheet)
	r.Works = append(r.Works, w)
	return nil
}

func (r *Resolved) job(sf *ShopFile, i int, j JobKeys, src Sources, machines map[string]int,
	draws map[string][][]float64) error {
	key := fmt.Sprintf("job[%d]", i+1)
	if j.Design == "" {
		return keyErr(key+".design", "is missing: give a stitch file")
	}
	d, err := src.Design(j.Design)
	if err != nil {
		return keyErr(key+".design", "%q: %v", j.Design, err)
	}
	ms, err := indices(key+".machines", "machine", j.Machines, machines)
	if err != nil {
		return err
	}
	job := Job{Name: j.Name, Machines: ms, Threads: Threads(d, j.Design, j.Threads)}
	if job.Name == "" {
		job.Name = d.Name
	}
	if job.Name == "" {
		job.Name = j.Design
	}
	if j.Quantity != nil {
		if *j.Quantity < 1 {
			return keyErr(key+".quantity", "is %d; give 1 or more, or leave it out for as many as the shift yields",
				*j.Quantity)
		}
		job.Quantity = *j.Quantity
	}
	spread := sf.Shift.SheetSpread == nil || *sf.Shift.SheetSpread
	clocks := make([]clock.Job, len(r.Sheets))
	for m, sheet := range r.Sheets {
		job.Runs = append(job.Runs, Run{})
		if !job.on(m) {
			continue
		}
		cj := j.Goods.Clock(sf.Machine[m].Speed)
		if err := cj.Validate(); err != nil {
			return keyErr(key, "cannot be clocked: %v", err)
		}
		clocks[m] = cj
		var z [][]float64
		if spread {
			id := sf.Machine[m].Sheet
			if draws[id] == nil {
				draws[id] = DrawMachines(sheet, sf.kinds(), Draws, uint64(len(draws)))
			}
			z = draws[id]
		}
		run, err := NewRun(d, sheet, cj, r.Works[m], r.Shop.Machines[m].Heads, r.Law, z)
		if err != nil {
			return keyErr(key+".design", "%q: %v", j.Design, err)
		}
		job.Runs[m] = paced(run, r.PaceOf(m))
	}
	r.Shop.Jobs = append(r.Shop.Jobs, job)
	r.Designs = append(r.Designs, d)
	r.Clocks = append(r.Clocks, clocks)
	return nil
}

// Threads names the top threads a design needs: as given, else from the
// file's thread table, else by colour block.
func Threads(d *stitch.Design, file string, given []string) []string {
	if len(given) > 0 {
		return given
	}
	seen := map[string]bool{}
	var out []string
	for k := range d.Count().ColourStops + 1 {
		name := fmt.Sprintf("%s, colour %d", file, k+1)
		if k < len(d.Threads) && d.Threads[k].Known {
			t := d.Threads[k]
			name = fmt.Sprintf("%s #%02x%02x%02x", strings.ToLower(t.Name), t.R, t.G, t.B)
		}
		if !seen[name] {
			seen[name] = true
			out = append(out, name)
		}
	}
	return out
}

// kinds are the kinds of all jobs.
func (sf *ShopFile) kinds() (all machine.Jobs) {
	for i := range sf.Job {
		all |= sf.Job[i].Kinds()
	}
	return all
}

// DrawMachines draws n machines from a sheet's spreads for jobs of these kinds,
// for NewRun. Machines of one sheet share their draws: what is not known about a class is not
// known about all of its machines together.
func DrawMachines(s *machine.Sheet, kinds machine.Jobs, n int, seed uint64) [][]float64 {
	draw := clock.NewDraw(s, kinds)
	rng := rand.New(rand.NewPCG(splitMix(seed), 1))
	z := make([][]float64, n)
	for i := range z {
		z[i] = draw(rng)
	}
	return z
}

// NewRun is a design on a machine as the floor sees it: the clock's run time
// (for each of the drawn machines z; none: the sheet's own), the operator's
// work at stops and re-threads taken out of it and put where it falls, and
// the bobbin thread.
func NewRun(d *stitch.Design, s *machine.Sheet, job clock.Job, w Work, heads int, law thread.Law, z [][]float64) (
	Run, error,
) {
	res, stages := clock.New(s, job).Stages(d)
	if res.Stitches == 0 {
		return Run{}, errors.New("the design sews no stitch")
	}
	use, err := thread.Of(d, law, s.Reading.TrimAfterJumps)
	if err != nil {
		return Run{}, err
	}
	run := Run{Planned: float64(res.Stitches) / res.SetSpeed * 60, Stitches: res.Stitches,
		BobbinMetres: use.Total.Bobbin}
	byHand := 0.0 // s of the run that are an operator's
	for _, m := range stages {
		at := AtStop{Fraction: m.At - byHand}
		switch {
		case m.Kind == stitch.OperatorStop:
			at.Work = *w.Stop
		case m.Kind == stitch.ColourCut && s.Needles == 1:
			// The sheet's colour stop is the operator's own re-thread (MODEL section 4).
			at.Work = Spread{Mean: m.Seconds, CV: w.Rethread.CV, Law: w.Rethread.Law}
			byHand += m.Seconds
		case m.Kind == stitch.ColourCut && job.ByHand(m.Block, s.Needles):
			at.Work = *w.Rethread
			at.Work.Mean *= float64(heads)
		default:
			continue
		}
		run.Stops = append(run.Stops, at)
	}
	machine := math.Max(res.Seconds-byHand, 1)
	for i := range run.Stops {
		run.Stops[i].Fraction = math.Min(1, math.Max(0, run.Stops[i].Fraction/machine))
	}
	if len(z) == 0 {
		run.Seconds = []float64{machine}
		return run, nil
	}
	resp := clock.Respond(d, s, job)
	for _, x := range z {
		run.Seconds = append(run.Seconds, math.Max(1, resp.Seconds(x)*machine/res.Seconds))
	}
	return run, nil
}

// MeanSeconds is the mean of the run's drawn times.
func (r *Run) MeanSeconds() float64 {
	sum := 0.0
	for _, s := range r.Seconds {
		sum += s
	}
	return sum / float64(len(r.Seconds))
}

// LoadSeconds is the mean time in which so many operators unload and load so
// many of the machine's heads, s: a head each at a time, as many at once as
// Loaders allows. Pieces hooped on the machine are hooped in it. With constant
// times and free hands the simulation takes as long.
func (m *Machine) LoadSeconds(heads, operators int) float64 {
	at := max(1, min(m.Loaders, operators))
	each := m.Load.Mean
	if m.HoopOn {
		each += m.Hoop.Mean
	}
	return float64((heads+at-1)/at) * each
}

// Cycle is the seconds one run of so many pieces (1 to the machine's heads)
// holds a machine without anybody waiting, so many operators being there: the
// run of seconds s, loading, hooping where it is done on the machine, and the
// expected thread breaks, bobbins and operator stops. The expected breaks
// come from stitches, pieces and rate, the bobbins from the metres.
func Cycle(m *Machine, r *Run, s float64, pieces, operators int) float64 {
	t := s + m.LoadSeconds(pieces, operators)
	breaks := m.Breaks / 1000 * float64(r.Stitches) * float64(pieces)
	t += breaks * (m.Repair.Mean + float64(m.Resew)*s/math.Max(1, float64(r.Stitches)))
	if m.Bobbin.Metres > 0 {
		t += r.BobbinMetres / m.Bobbin.Metres * float64(pieces) * m.Bobbin.Change.Mean
	}
	for _, a := range r.Stops {
		t += a.Work.Mean
	}
	return t
}

// EstimateOf is the Estimate of values of independent replications.
func EstimateOf(values []float64, level float64) Estimate { return estimate(values, level) }
