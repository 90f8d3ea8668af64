package act

import (
	"context"
	"encoding/json"
	"reflect"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/shop/designs"
	"needlepace/stitch"
)

// machineOf finds a machine of the shop by its ID, or a built-in class by its
// name: a new shop can ask before it has a machine of its own.
func (s *Shop) machineOf(ctx context.Context, id string) (*machine.Sheet, string, error) {
	if c, ok := machine.Class(id); ok {
		return c, shop.Digest(c.TOML()), nil
	}
	m, err := s.Machines.Get(ctx, id)
	if err != nil {
		return nil, "", err
	}
	return m.Sheet, m.Digest, nil
}

// shelf is where questions find the shop's designs and machines.
type shelf struct{ *Shop }

// Shelf is where questions find the shop's designs and machines by their IDs,
// and the built-in classes by their names.
func (s *Shop) Shelf() ask.Fleet { return shelf{s} }

// Fleet is the sheets of the shop's machines.
func (s shelf) Fleet(ctx context.Context) ([]*machine.Sheet, error) {
	all, err := s.Machines.List(ctx)
	if err != nil {
		return nil, err
	}
	sheets := make([]*machine.Sheet, len(all))
	for k, m := range all {
		sheets[k] = m.Sheet
	}
	return sheets, nil
}

// Workshop has the shop's rates, machines by their IDs.
func (s shelf) Workshop(ctx context.Context) (w *book.Workshop, given bool, err error) {
	return s.Setups.Workshop(ctx)
}

// Slot waits for room for a heavy computation.
func (s shelf) Slot(ctx context.Context) (ask.Room, error) { return s.slots.Hold(ctx) }

// Sheet finds the sheet of a machine or a class.
func (s shelf) Sheet(ctx context.Context, id string) (*machine.Sheet, error) {
	sheet, _, err := s.machineOf(ctx, id)
	return sheet, err
}

// mostKinds is of how many records the kinds of stitches are remembered, a byte each.
const mostKinds = 8 << 20

// Design finds a design with the shop's name and threads for it.
func (s shelf) Design(ctx context.Context, id string) (*ask.Design, error) {
	kept, err := s.store.Design(ctx, id)
	if err != nil {
		return nil, err
	}
	d, err := s.Designs.Stitches(ctx, id)
	if err != nil {
		return nil, err
	}
	found, err := s.kinds.Get(ctx, mostKinds, id, func() (*ask.Kinds, error) { return &ask.Kinds{Records: len(d.Records)}, nil })
	if err != nil {
		return nil, err
	}
	return ask.NewDesign(book.WithThreads(d, kept.Threads), kept.File, kept.Name).With(found), nil
}

// Clock asks how long a design takes on a machine (or built-in class) for a
// job, with all that the answer may have. Answers are kept by what they are
// made from and shared: nobody may change them.
func (s *Shop) Clock(ctx context.Context, designID, machineID string, job ask.Job) (*ask.ClockAnswer, error) {
	return s.ClockFrom(ctx, designID, machineID, job, 0)
}

// ClockFrom is Clock of what is left of the run when the machine stands after so many
// stitches.
func (s *Shop) ClockFrom(
	ctx context.Context, designID, machineID string, job ask.Job, from int,
) (*ask.ClockAnswer, error) {
	q := ask.ClockQuestion{Design: designID, Machine: machineID, Job: job, Blocks: true, Kinds: true, Sweep: true,
		Why: true, From: from}
	if err := ask.ClockCheck(q); err != nil {
		return nil, shop.AsInvalid(err)
	}
	sheet, digest, err := s.machineOf(ctx, machineID)
	if err != nil {
		return nil, err
	}
	d, err := s.store.Design(ctx, designID)
	if err != nil {
		return nil, err
	}
	a, err := s.clock(ctx, d, sheet, digest, q)
	if err != nil || from > 0 {
		return a, err
	}
	return s.withBest(ctx, a, designID, machineID)
}

// withBest is an answer with the set speed that makes most good pieces on a machine of the
// shop. Answers are shared: it is another one.
func (s *Shop) withBest(ctx context.Context, a *ask.ClockAnswer, designID, machineID string) (*ask.ClockAnswer, error) {
	if _, ok := machine.Class(machineID); ok {
		return a, nil
	}
	best, err := ask.BestSpeedOf(ctx, s.Asked(), designID, machineID, a.Job)
	if err != nil || best == nil {
		return a, err
	}
	out := *a
	out.Best = best
	return &out, nil
}

// clock is Clock's answer as it was given before, else made now.
func (s *Shop) clock(ctx context.Context, d *shop.Design, sheet *machine.Sheet, digest string, q ask.ClockQuestion) (*ask.ClockAnswer, error) {
	key, err := json.Marshal([]any{q.Job, q.From, q.Sweep, sheet.Name, d.Name, d.File, d.Threads})
	if err != nil {
		return nil, shop.Invalidf("the job cannot be understood: %w", err)
	}
	a, err := s.results.Get(ctx, mostAnswers, resultKey{d.ID, digest, string(key)}, func() (clockedRun, error) {
		if d.Stitches > shortRun {
			free, err := s.slots.Take(ctx)
			if err != nil {
				return clockedRun{}, err
			}
			defer free()
		}
		a, err := ask.Clock(ctx, s.Shelf(), q)
		return clockedRun{a}, err
	})
	if err != nil && ctx.Err() != nil {
		return nil, shop.StoppedBy(ctx)
	}
	return a.ClockAnswer, err
}

// resultKey is what a clocked run is made from.
type resultKey struct{ design, sheet, job string }

// clockedRun is an answer that is remembered.
type clockedRun struct{ *ask.ClockAnswer }

// Weight is in bytes, about: an answer holds its design, 6 a record.
func (a clockedRun) Weight() int { return 16<<10 + 6*len(a.Of.Records) }

// mostAnswers is how many bytes of clocked runs are remembered.
const mostAnswers = 12 << 20

// shortRun is how many stitches are clocked as a page is written, in a few hundredths of a second: waiting behind
// what is heavy would take longer.
const shortRun = 100_000

// Traced is a run stitch by stitch, for drawing: segment i is revolution i.
type Traced struct {
	Segments []picture.Segment
	Speeds   []float32 // held speed of each segment, stitches/min
	Starts   []float64 // s from the start button to its beginning
	Caps     []float32 // what the machine's limits allow on it, stitches/min
	HeldBy   []clock.Bound
	Kinds    []stitch.Kind
	Trace    *clock.Trace
}

// Trace gives a run stitch by stitch.
func (s *Shop) Trace(ctx context.Context, designID, machineID string, asked ask.Job) (*Traced, error) {
	job, err := asked.Clock()
	if err != nil {
		return nil, shop.AsInvalid(err)
	}
	sheet, _, err := s.machineOf(ctx, machineID)
	if err != nil {
		return nil, err
	}
	d, err := s.Designs.Stitches(ctx, designID)
	if err != nil {
		return nil, err
	}
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	t := &Traced{Segments: picture.Sewn(d, sheet.Reading.TrimAfterJumps), Trace: clock.New(sheet, job).Trace(d)}
	t.Speeds = make([]float32, 0, len(t.Segments))
	t.Starts = make([]float64, 0, len(t.Segments))
	kinds := d.Kinds(sheet.Reading.TrimAfterJumps)
	for i := range d.Records {
		if t.Trace.Seconds[i] > 0 {
			t.Kinds = append(t.Kinds, kinds[i])
			t.Speeds = append(t.Speeds, float32(t.Trace.Speed(i)))
			t.Starts = append(t.Starts, t.Trace.Starts[i])
			t.Caps = append(t.Caps, float32(t.Trace.Cap(i)))
			t.HeldBy = append(t.HeldBy, t.Trace.HeldBy(i))
		}
	}
	return t, nil
}

// RunKey names a run by all it depends on: equal keys are equal runs.
func (s *Shop) RunKey(ctx context.Context, designID, machineID string, job ask.Job) (string, error) {
	d, err := s.store.Design(ctx, designID)
	if err != nil {
		return "", err
	}
	sheet, digest, err := s.machineOf(ctx, machineID)
	if err != nil {
		return "", err
	}
	b, err := json.Marshal([]any{d.Digest, d.Name, sheet.Name, digest, job, s.key})
	if err != nil {
		return "", shop.Invalidf("the job cannot be understood: %w", err)
	}
	return shop.Digest(b)[:24], nil
}

// Times are the run times of designs on the shop's machines, no job limits,
// for lists: times[i][k] is design ids[i] on machines[k]. What was computed
// before is read, the rest computed and kept.
func (s *Shop) Times(ctx context.Context, ids []string, machines []*shop.Machine) ([][]shop.RunTime, error) {
	return s.times(ctx, s.slots, ids, machines)
}

// Runs are how long a design takes on machines for a job, in short: Times where the job is a
// usual one. A short design is clocked without waiting behind what is heavy.
func (s *Shop) Runs(ctx context.Context, d *shop.Design, machines []*shop.Machine, job ask.Job) ([]shop.RunTime, error) {
	if err := ask.ClockCheck(ask.ClockQuestion{Job: job}); err != nil {
		return nil, shop.AsInvalid(err)
	}
	slots := s.slots
	if d.Stitches <= shortRun {
		slots = nil
	}
	if reflect.ValueOf(job).IsZero() {
		all, err := s.times(ctx, slots, []string{d.ID}, machines)
		if err != nil {
			return nil, err
		}
		return all[0], nil
	}
	var out []shop.RunTime
	for _, m := range machines {
		a, err := s.clock(ctx, d, m.Sheet, m.Digest, ask.ClockQuestion{Design: d.ID, Machine: m.ID, Job: job})
		if err != nil {
			return nil, err
		}
		out = append(out, s.runTime(d.ID, m.Digest, a))
	}
	return out, nil
}

func (s *Shop) times(
	ctx context.Context, slots shop.Slots, ids []string, machines []*shop.Machine,
) ([][]shop.RunTime, error) {
	digests := make([]string, len(machines))
	for k, m := range machines {
		digests[k] = m.Digest
	}
	kept, err := s.store.RunTimes(ctx, s.build, ids, digests)
	if err != nil {
		return nil, err
	}
	type at struct{ design, sheet string }
	have := map[at]shop.RunTime{}
	for _, t := range kept {
		have[at{t.DesignID, t.SheetDigest}] = t
	}
	var fresh []shop.RunTime
	out := make([][]shop.RunTime, len(ids))
	for i, id := range ids {
		for _, m := range machines {
			t, ok := have[at{id, m.Digest}]
			if !ok {
				if fresh == nil && slots != nil { // one slot for all that is missing
					free, err := slots.Take(ctx)
					if err != nil {
						return nil, err
					}
					defer free()
				}
				if slots == s.chores {
					s.yield(ctx)
				}
				if t, err = s.time(ctx, id, m); err != nil {
					return nil, err
				}
				have[at{id, m.Digest}] = t // machines of one sheet share it
				fresh = append(fresh, t)
			}
			out[i] = append(out[i], t)
		}
	}
	if len(fresh) > 0 && s.build != "" {
		err = kindly(s.store.KeepRunTimes(ctx, fresh))
	}
	return out, err
}

// DropOldTimes forgets the run times that another build of the program
// computed: nobody will ask for them again.
func (s *Shop) DropOldTimes(ctx context.Context) error {
	return kindly(s.store.DropRunTimes(ctx, s.build))
}

// kindly is the error of a change that is made on the side: none where nothing can be written or others are
// writing, since what was asked for can be had all the same.
func kindly(err error) error {
	if code := shop.CodeOf(err); code == shop.Storage || code == shop.Busy {
		return nil
	}
	return err
}

// time is a run time for a list. The caller holds a slot where the run is long.
func (s *Shop) time(ctx context.Context, id string, m *shop.Machine) (shop.RunTime, error) {
	if ctx.Err() != nil {
		return shop.RunTime{}, shop.StoppedBy(ctx)
	}
	d, err := s.Designs.Stitches(ctx, id)
	if err != nil {
		return shop.RunTime{}, err
	}
	from := ask.Given{Stitches: ask.NewDesign(d, "", id), On: m.Sheet}
	a, err := ask.Clock(ctx, from, ask.ClockQuestion{})
	if err != nil {
		return shop.RunTime{}, err
	}
	return s.runTime(id, m.Digest, a), nil
}

func (s *Shop) runTime(design, sheet string, a *ask.ClockAnswer) shop.RunTime {
	return shop.RunTime{
		DesignID: design, SheetDigest: sheet, Build: s.build, Seconds: a.Seconds, Low: a.Interval.Low,
		High: a.Interval.High, SetSpeed: a.SetSpeed, HeldSpeed: a.HeldSpeed, Parts: a.Parts,
	}
}

// Reads says that a reader is being answered, until done.
func (s *Shop) Reads() (done func()) {
	s.readers.Add(1)
	return func() { s.readers.Add(-1) }
}

// yieldMost is how long a chore lets readers go first before each of its steps: where somebody reads all the time it
// goes on all the same.
const yieldMost = 50 * time.Millisecond

// yield lets readers go first.
func (s *Shop) yield(ctx context.Context) {
	for end := time.Now().Add(yieldMost); s.readers.Load() > 0 && ctx.Err() == nil && time.Now().Before(end); {
		time.Sleep(time.Millisecond)
	}
}

// AddFile takes in a file (TakeIn) and clocks what is new in it for the list.
func (s *Shop) AddFile(ctx context.Context, name string, content []byte) ([]designs.Added, error) {
	out, err := s.Designs.TakeIn(ctx, name, content)
	if err == nil {
		s.warm(ctx, out)
	}
	return out, err
}

// warmMost is how many designs taken in at once are clocked at once; the rest
// are when a list first shows them.
const warmMost = 16

// warm computes the run times of designs just taken in, so that the list has
// them. It is a kindness: what fails here is computed when it is asked for.
func (s *Shop) warm(ctx context.Context, added []designs.Added) {
	var ids []string
	for _, a := range added {
		if a.New && a.Design != nil && len(ids) < warmMost {
			ids = append(ids, a.Design.ID)
		}
	}
	if len(ids) == 0 || s.build == "" {
		return
	}
	machines, err := s.Machines.List(ctx)
	if err != nil || len(machines) == 0 {
		return
	}
	s.times(ctx, s.chores, ids, machines) //nolint:errcheck // see above
}

// TimeParts are all designs of the shop by their IDs, in parts of a size, the newest
// first: for TimePart.
func (s *Shop) TimeParts(ctx context.Context, size int) (parts [][]string, err error) {
	for {
		page, total, err := s.store.Designs(ctx, shop.DesignQuery{Offset: len(parts) * size, Limit: size})
		if err != nil {
			return nil, err
		}
		var ids []string
		for _, d := range page {
			ids = append(ids, d.ID)
		}
		if len(ids) > 0 {
			parts = append(parts, ids)
		}
		if len(parts)*size >= total || len(ids) == 0 {
			return parts, nil
		}
	}
}

// TimePart works out the run times of designs on all machines of the shop, so that
// they are there when a list asks. Those that are kept already stay.
func (s *Shop) TimePart(ctx context.Context, ids []string) error {
	machines, err := s.Machines.List(ctx)
	if err == nil {
		_, err = s.times(ctx, s.chores, ids, machines)
	}
	return err
}
