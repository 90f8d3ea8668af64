package timings

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"regexp"
	"time"

	"needlepace/book"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/words"
)

// Timings keeps timed runs and runs being timed.
type Timings struct {
	store timingStore
	now   func() time.Time
	zone  func(context.Context) (words.Zone, error) // of the shop's days
	// foretell gives runs what was predicted before them.
	foretell func(context.Context, []shop.Run) error
}

// New keeps runs and timings in a store. zone is the time zone of the shop's
// days; foretell fills Predicted of the runs to be kept.
func New(store timingStore, now func() time.Time, zone func(context.Context) (words.Zone, error),
	foretell func(context.Context, []shop.Run) error) *Timings {
	return &Timings{store: store, now: now, zone: zone, foretell: foretell}
}

// timingStore is what timings need of a store: runs know their machine and design.
type timingStore interface {
	shop.RunStore
	Machine(ctx context.Context, id string) (*shop.Machine, shop.SheetVersion, error)
	Design(ctx context.Context, id string) (*shop.Design, error)
}

// Runs lists a machine's timed runs, oldest first.
func (s *Timings) Runs(ctx context.Context, machineID string) ([]shop.Run, error) {
	if _, _, err := s.store.Machine(ctx, machineID); err != nil {
		return nil, err
	}
	return s.store.Runs(ctx, machineID)
}

const maxRunsAtOnce = 10_000

// AddRuns checks and keeps what somebody saw on a machine, all or none. One that is
// Unlikely is refused at "sure".
func (s *Timings) AddRuns(ctx context.Context, machineID string, runs []shop.Run) ([]shop.Run, error) {
	if len(runs) == 0 {
		return nil, shop.Invalidf("there are no runs")
	}
	if err := s.ready(ctx, machineID, runs); err != nil {
		return nil, err
	}
	return runs, s.store.AddRuns(ctx, runs)
}

// AddHeard keeps what a recording tells of thread breaks on a machine, with the runs
// that were heard in it, all or none; the same recording again is refused.
func (s *Timings) AddHeard(ctx context.Context, h *book.Heard, runs []shop.Run) ([]shop.Run, error) {
	if err := s.ready(ctx, h.MachineID, runs); err != nil {
		return nil, err
	}
	zone, err := s.zone(ctx)
	if err != nil {
		return nil, err
	}
	now := s.now().UTC()
	h.ID, h.Day, h.Added = shop.NewID(), zone.Day(now), now
	return runs, s.store.AddHeard(ctx, h, runs)
}

// Heard lists the recordings that were kept, oldest first.
func (s *Timings) Heard(ctx context.Context) ([]book.Heard, error) { return s.store.Heard(ctx) }

// DeleteHeardRuns forgets the runs that were heard in a recording, which still counts for breaks.
func (s *Timings) DeleteHeardRuns(ctx context.Context, id string) error {
	return s.store.DeleteHeardRuns(ctx, id)
}

// DropHeard takes a recording out of what is counted; the runs that were heard in it stay.
func (s *Timings) DropHeard(ctx context.Context, id string) error { return s.store.DropHeard(ctx, id) }

// ready checks runs of a machine and makes them ready to be kept.
func (s *Timings) ready(ctx context.Context, machineID string, runs []shop.Run) error {
	if len(runs) > maxRunsAtOnce {
		return shop.Errorf(shop.TooLarge, "%d runs at once; at most %d", len(runs), maxRunsAtOnce)
	}
	if _, _, err := s.store.Machine(ctx, machineID); err != nil {
		return err
	}
	zone, err := s.zone(ctx)
	if err != nil {
		return err
	}
	now := s.now().UTC()
	for i := range runs {
		r := &runs[i]
		r.ID, r.MachineID, r.Added = shop.NewID(), machineID, turn(now, i)
		if r.Date.IsZero() {
			r.Date = zone.Day(now)
		}
		if err := s.checkRun(ctx, r); err != nil {
			var e *shop.Error
			if errors.As(err, &e) {
				return &shop.Error{Code: e.Code, Text: fmt.Sprintf("run %d: %s", i+1, e.Text), Err: err,
					Key: e.Key}
			}
			return err
		}
	}
	if err := s.foretell(ctx, runs); err != nil {
		return err
	}
	for i := range runs {
		if err := runs[i].Unlikely(); err != nil {
			if e := shop.ErrorOf(err); len(runs) > 1 {
				e.Text = fmt.Sprintf("run %d: %s", i+1, e.Text)
			}
			return err
		}
	}
	return nil
}

// turn is when the i-th of runs that came together was added: a moment after the
// one before it, so that they keep their order.
func turn(now time.Time, i int) time.Time { return now.Add(time.Duration(i) * time.Microsecond) }

func (s *Timings) checkRun(ctx context.Context, r *shop.Run) error {
	if err := shop.At("note", shop.CheckText("note", r.Note, 1000, false)); err != nil {
		return shop.At("note", err)
	}
	in := func(what string, v, lo, hi float64) error {
		if !(v >= lo && v <= hi) { // a NaN fails too
			return shop.At(what, shop.Invalidf("%s is %v; it must lie between %v and %v", what, v, lo, hi))
		}
		return nil
	}
	if err := cmp.Or(in("set_speed", r.SetSpeed, 10, 3000), in("error", r.Error, 0, 1e4),
		in("step", r.Step, 0, 3600)); err != nil {
		return err
	}
	if _, err := machine.ParseJobs(r.Job); err != nil {
		return shop.At("job", shop.Invalidf("%w", err))
	}
	if r.Shown != 0 {
		if r.Seconds != 0 || r.DesignID != "" || r.Block != 0 || r.Needles != "" || r.With != "" {
			return shop.Invalidf("a speed read off the display has no seconds, design, block or needles; send two runs")
		}
		return cmp.Or(in("shown_speed", r.Shown, 10, 3000), in("length_mm", r.LengthMM, 0.1, 30))
	}
	if r.DesignID == "" {
		return shop.At("design", shop.Invalidf(
			"the design is missing; a timed run needs one, a speed read off the display needs shown_speed"))
	}
	least := 1.0
	if _, only, _ := learn.ParseWith(r.With); only != "" { // heard, not pressed
		least = 0.01
	}
	if err := in("seconds", r.Seconds, least, 7*86400); err != nil {
		return err
	}
	d, err := s.store.Design(ctx, r.DesignID)
	if err != nil {
		return err
	}
	if r.Block < 0 || r.Block > d.ColourStops+1 {
		return shop.At("block", shop.Invalidf("block is %d; %s has %d colour blocks (0 is the whole run)",
			r.Block, d.Name, d.ColourStops+1))
	}
	if err := learn.CheckNeedles(r.Needles, d.ColourStops+1); err != nil {
		return shop.At("needles", shop.Invalidf("%w", err))
	}
	if err := learn.CheckBeside(r.With, r.Block, d.ColourStops+1, d.Stitches); err != nil {
		return shop.At("with", shop.Invalidf("%w", err))
	}
	return nil
}

// Change checks and keeps runs as they are now, all or none.
func (s *Timings) Change(ctx context.Context, runs []shop.Run) error {
	for i := range runs {
		if err := s.checkRun(ctx, &runs[i]); err != nil {
			return err
		}
	}
	return s.store.ChangeRuns(ctx, runs)
}

// DeleteRun forgets a run.
func (s *Timings) DeleteRun(ctx context.Context, id string) error {
	return s.store.DeleteRun(ctx, id)
}

var timingID = regexp.MustCompile(`^[A-Za-z0-9_-]{8,64}$`)

const maxMarks = 1000

// Save keeps a run being timed, as the page has it now.
func (s *Timings) Save(ctx context.Context, t *shop.Timing) (*shop.Timing, error) {
	if !timingID.MatchString(t.ID) {
		return nil, shop.Invalidf("a timing's ID has 8 to 64 letters, digits, - and _")
	}
	if t.Owner != "" && !timingID.MatchString(t.Owner) {
		return nil, shop.At("owner", shop.Invalidf("an owner's token has 8 to 64 letters, digits, - and _"))
	}
	if !(t.SetSpeed >= 10 && t.SetSpeed <= 3000) {
		return nil, shop.Invalidf("set_speed is %v; it must lie between 10 and 3000 stitches/min", t.SetSpeed)
	}
	if _, err := machine.ParseJobs(t.Job); err != nil {
		return nil, shop.At("job", shop.Invalidf("%w", err))
	}
	if t.Rev < 1 {
		return nil, shop.Invalidf("rev is %d; it counts from 1 and rises with every change", t.Rev)
	}
	if t.Started.IsZero() || t.Started.Year() < 2000 || t.Started.Year() > 2200 {
		return nil, shop.Invalidf("started is missing or absurd")
	}
	if err := shop.At("note", shop.CheckText("note", t.Note, 1000, false)); err != nil {
		return nil, err
	}
	if err := checkMarks(t.Marks); err != nil {
		return nil, err
	}
	t.Changed, t.Done = s.now().UTC(), false
	if t.Marks == nil {
		t.Marks = []shop.Mark{}
	}
	if err := s.store.SaveTiming(ctx, t); err != nil {
		return nil, err
	}
	return s.store.Timing(ctx, t.ID)
}

func checkMarks(marks []shop.Mark) error {
	if len(marks) > maxMarks {
		return shop.Errorf(shop.TooLarge, "%d presses; at most %d", len(marks), maxMarks)
	}
	state := shop.MarkKind("")
	for i, m := range marks {
		ok := false
		switch m.Kind {
		case shop.MarkStart:
			ok = state == ""
		case shop.MarkStop:
			ok = state == shop.MarkStart || state == shop.MarkRestart || state == shop.MarkStop
		case shop.MarkRestart:
			ok = state == shop.MarkStop
		case shop.MarkEnd:
			ok = state != "" && state != shop.MarkEnd
		}
		if !ok {
			return shop.Invalidf("press %d is %q after %q; a run is start, then stop and restart at each colour "+
				"stop, then end", i+1, m.Kind, state)
		}
		if m.AtMS < 0 || m.AtMS > 7*86400_000 || i > 0 && m.AtMS < marks[i-1].AtMS {
			return shop.Invalidf("press %d is at %d ms; the presses must be in order of time, within a week", i+1,
				m.AtMS)
		}
		state = m.Kind
	}
	return nil
}

// Get finds a timing.
func (s *Timings) Get(ctx context.Context, id string) (*shop.Timing, error) {
	return s.store.Timing(ctx, id)
}

// List lists timings, newest first; open ones only where open is true.
func (s *Timings) List(ctx context.Context, machineID string, open bool) ([]*shop.Timing, error) {
	return s.store.Timings(ctx, machineID, open, 200)
}

// Delete forgets a timing; runs it became stay.
func (s *Timings) Delete(ctx context.Context, id string) error {
	return s.store.DeleteTiming(ctx, id)
}

// Finishing is how a timing is finished.
type Finishing struct {
	Owner string // the browser that asks, where one owns the timing
	Take  bool   // though another owns it
	Sure  bool   // though a press may be one too many, or the run is Unlikely
}

// Finish turns a timing into runs: the whole run from start to end, and
// a run of each colour block that has both its restart and the stop after it.
// The first block's start and the last one's end hold more than the block, so
// they give no run of their own. What may be a slip is refused at "sure", what
// another phone owns at "owner".
func (s *Timings) Finish(ctx context.Context, id string, how Finishing) ([]shop.Run, error) {
	t, err := s.store.Timing(ctx, id)
	if err != nil {
		return nil, err
	}
	if t.Owner != "" && t.Owner != how.Owner && !how.Take && !t.Done {
		return nil, shop.Held(t)
	}
	if err := shop.PressedTwice(t.Marks); err != nil && !how.Sure && !t.Done {
		return nil, err
	}
	d, err := s.store.Design(ctx, t.DesignID)
	if err != nil {
		return nil, err
	}
	zone, err := s.zone(ctx)
	if err != nil {
		return nil, err
	}
	runs, err := runsOf(t, d, zone)
	if err != nil {
		return nil, err
	}
	now := s.now().UTC()
	for i := range runs {
		runs[i].ID, runs[i].Added = shop.NewID(), turn(now, i)
		if err := s.checkRun(ctx, &runs[i]); err != nil {
			return nil, err
		}
	}
	if err := s.foretell(ctx, runs); err != nil {
		return nil, err
	}
	for i := range runs {
		runs[i].Sure = how.Sure || t.Done
		if err := runs[i].Unlikely(); err != nil {
			return nil, err
		}
	}
	return runs, s.store.FinishTiming(ctx, id, runs, now)
}

func runsOf(t *shop.Timing, d *shop.Design, zone words.Zone) ([]shop.Run, error) {
	if len(t.Marks) < 2 || t.Marks[len(t.Marks)-1].Kind != shop.MarkEnd {
		return nil, shop.Saying(shop.Invalid, words.Say("refused.no-end"))
	}
	stops := 0
	for _, m := range t.Marks {
		if m.Kind == shop.MarkStop {
			stops++
		}
	}
	if stops != 0 && stops != d.ColourStops {
		return nil, shop.Saying(shop.Invalid, words.Say("refused.stops", words.Args{"presses": words.Whole(stops),
			"design": words.Name(d.Name), "stops": words.Whole(d.ColourStops)}))
	}
	base := shop.Run{MachineID: t.MachineID, DesignID: t.DesignID, Date: zone.Day(t.Started), SetSpeed: t.SetSpeed,
		TimingID: t.ID, Note: t.Note, Job: t.Job}
	whole := base
	whole.Seconds = float64(t.Marks[len(t.Marks)-1].AtMS-t.Marks[0].AtMS) / 1000
	runs := []shop.Run{whole}
	block := 1
	for i, m := range t.Marks {
		if m.Kind == shop.MarkStop {
			block++
		}
		if m.Kind == shop.MarkRestart && i+1 < len(t.Marks) && t.Marks[i+1].Kind == shop.MarkStop {
			r := base
			r.Block = block
			if r.Seconds = float64(t.Marks[i+1].AtMS-m.AtMS) / 1000; r.Seconds >= 1 {
				runs = append(runs, r)
			}
		}
	}
	return runs, nil
}
