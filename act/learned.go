package act

import (
	"bytes"
	"context"
	"fmt"
	"maps"
	"slices"

	"needlepace/ask"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/stitch"
	"needlepace/words"
)

// ReadRuns reads a file of timed runs (docs/how-to-time-a-machine.md) for a
// machine; its designs are the shop's, by ID, file name or name.
func (s *Shop) ReadRuns(ctx context.Context, machineID, name string, content []byte) (
	added []shop.Run, warnings []string, err error,
) {
	ids := map[string]string{}
	obs, problems, err := learn.ReadRuns(bytes.NewReader(content), shop.CleanFile(name),
		func(path string) (*stitch.Design, error) {
			d, err := s.Designs.Find(ctx, path)
			if err != nil {
				return nil, err
			}
			ids[path] = d.ID
			return s.Designs.Stitches(ctx, d.ID)
		})
	if err != nil {
		return nil, nil, shop.Invalidf("%w", err)
	}
	for _, p := range problems {
		warnings = append(warnings, p.String())
	}
	// Slips of a file's rows are looked for when the machine learns, all together.
	var runs []shop.Run
	for _, o := range obs {
		r := shop.Run{Sure: true, Date: o.Date, SetSpeed: o.SetSpeed, Block: o.Block, Seconds: o.Seconds,
			Error: o.Error, Step: o.Step, Note: o.Note, Needles: o.Needles.String(), With: o.Holds(),
			Job: o.Job.String()}
		if o.Kind == learn.DisplayReading {
			r.Shown, r.LengthMM, r.Zigzag = o.Shown, o.LengthMM, o.Zigzag
		} else {
			r.DesignID = ids[o.Name]
		}
		runs = append(runs, r)
	}
	added, err = s.Timings.AddRuns(ctx, machineID, runs)
	return added, warnings, err
}

// observations are a machine's runs as package learn takes them; those whose
// design cannot be read are left out and told of.
func (s *Shop) observations(ctx context.Context, runs []shop.Run) (
	obs []learn.Observation, designs map[string]*stitch.Design, err error,
) {
	designs = map[string]*stitch.Design{} // one design is one design, however long this takes
	for i, r := range runs {
		o := learn.Observation{Row: i + 1, Date: r.Date, Block: r.Block, SetSpeed: r.SetSpeed, Seconds: r.Seconds,
			Error: r.Error, Step: r.Step, Note: r.Note, Kind: learn.WholeRun,
			Pressed: r.TimingID != "", Ignored: r.Ignored}
		// What the shop keeps was checked when it came in.
		o.Needles, _ = learn.ParseNeedles(r.Needles)
		o.With, o.Only, _ = learn.ParseWith(r.With)
		o.Job, _ = machine.ParseJobs(r.Job)
		switch {
		case r.Shown != 0:
			o.Kind, o.Shown, o.LengthMM, o.Zigzag = learn.DisplayReading, r.Shown, r.LengthMM, r.Zigzag
		case r.Block > 0:
			o.Kind = learn.BlockRun
		}
		if r.DesignID != "" {
			d, err := s.store.Design(ctx, r.DesignID)
			if err != nil {
				return nil, nil, err
			}
			o.Name = d.Name
			if o.Design = designs[r.DesignID]; o.Design == nil {
				if o.Design, err = s.Designs.Stitches(ctx, r.DesignID); err != nil {
					return nil, nil, err
				}
				designs[r.DesignID] = o.Design
			}
		}
		obs = append(obs, o)
	}
	return obs, designs, nil
}

// LearnedSheet is what learning gave.
type LearnedSheet struct {
	*ask.LearnAnswer
	Runs    []shop.Run    // those learned from, in the order of their rows
	Machine *shop.Machine // with the new version, where it was kept; else nil
}

// timedRuns are a machine's timed runs as a question reads them. It starts from
// the newest version that was not learned, so that runs are never counted twice.
type timedRuns struct {
	s    *Shop
	runs []shop.Run // as they were read
	of   *shop.Machine

	designs map[string]*stitch.Design // of the runs, by ID
}

// Timings reads the machine's timed runs.
func (t *timedRuns) Timings(ctx context.Context, id string) (
	prior *machine.Sheet, seen []learn.Observation, _ []learn.Problem, err error,
) {
	if t.of, err = t.s.Machines.Get(ctx, id); err != nil {
		return nil, nil, nil, err
	}
	if prior, err = t.s.unlearned(ctx, t.of); err != nil {
		return nil, nil, nil, err
	}
	prior.Name = t.of.Name
	if t.runs, err = t.s.runsOf(ctx, t.of); err != nil {
		return nil, nil, nil, err
	}
	seen, t.designs, err = t.s.observations(ctx, t.runs)
	return prior, seen, nil, err
}

// runsOf are a machine's timed runs; none is an error.
func (s *Shop) runsOf(ctx context.Context, m *shop.Machine) ([]shop.Run, error) {
	runs, err := s.store.Runs(ctx, m.ID)
	if err == nil && len(runs) == 0 {
		err = shop.Invalidf("%s has no timed runs yet: time one first", m.Name)
	}
	return runs, err
}

// LearnCheck says what is wrong with asking what a machine's timed runs tell,
// before the long work of it begins.
func (s *Shop) LearnCheck(ctx context.Context, machineID string) error {
	m, err := s.Machines.Get(ctx, machineID)
	if err == nil {
		_, err = s.runsOf(ctx, m)
	}
	return err
}

// Learning is what Learn is asked.
type Learning struct {
	// Keep makes the learned sheet the machine's new version.
	Keep bool
	// Meant are keys of slips that an answer asked about (ask.LearnSlip): the
	// runs are kept as they were meant, what was written stays in their notes.
	Meant []string
	// Since, where it is a day, leaves out the runs before it.
	Since words.Day
	By    string // who asks; may be empty
}

// Learn asks what a machine's timed runs tell.
func (s *Shop) Learn(ctx context.Context, machineID string, how Learning) (*LearnedSheet, error) {
	ctx, leave, err := s.hold(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	from := &timedRuns{s: s}
	a, err := ask.Learn(ctx, from, ask.LearnQuestion{Machine: machineID, Meant: how.Meant, Since: how.Since})
	if ctx.Err() != nil {
		return nil, shop.StoppedBy(ctx)
	}
	if err != nil {
		return nil, err
	}
	if err := from.keepMeant(ctx, a.Result.Meant); err != nil {
		return nil, err
	}
	out := &LearnedSheet{LearnAnswer: a, Runs: from.runs}
	if how.Keep {
		note := fmt.Sprintf("learned from %d of %d timed rows", a.Used, len(from.runs))
		if !how.Since.IsZero() {
			note += " since " + how.Since.String()
		}
		if out.Machine, err = s.Machines.KeepLearned(ctx, from.of, a.Result.Sheet, note, how.By); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// keepMeant keeps the runs of accepted slips as they were meant.
func (t *timedRuns) keepMeant(ctx context.Context, accepted []learn.Slip) error {
	changed := map[int]bool{}
	for _, slip := range accepted {
		for _, o := range slip.Meant {
			r := &t.runs[o.Row-1]
			was := *r
			for id, d := range t.designs {
				if d == o.Design {
					r.DesignID = id
				}
			}
			r.Block, r.Seconds, r.Step, r.Note, r.Ignored = o.Block, o.Seconds, o.Step, o.Note, o.Ignored
			r.Needles, r.With = o.Needles.String(), o.Holds()
			changed[o.Row-1] = true
			if r.Predicted == nil || r.DesignID == was.DesignID && r.Needles == was.Needles {
				continue
			}
			if err := t.s.foretell(ctx, t.runs[o.Row-1:o.Row]); err != nil { // it was of another run
				return err
			}
		}
	}
	var runs []shop.Run
	for _, i := range slices.Sorted(maps.Keys(changed)) {
		runs = append(runs, t.runs[i])
	}
	if len(runs) == 0 {
		return nil
	}
	return t.s.Timings.Change(ctx, runs)
}

// unlearned is the sheet a machine had before it was learned: back along the
// parents to the first one without a fit.
func (s *Shop) unlearned(ctx context.Context, m *shop.Machine) (*machine.Sheet, error) {
	if m.Sheet.Fit == nil {
		return m.Sheet.Clone(), nil
	}
	all, err := s.store.Versions(ctx, m.ID)
	if err != nil {
		return nil, err
	}
	byNumber := map[int]shop.SheetVersion{}
	for _, v := range all {
		byNumber[v.Version] = v
	}
	for n := m.Version; n > 0; n = byNumber[n].Parent {
		v, ok := byNumber[n]
		if !ok {
			break
		}
		sheet, err := machine.Parse(m.Name, []byte(v.TOML))
		if err != nil {
			return nil, shop.Errorf(shop.Storage, "the kept sheet cannot be read any more: %w", err)
		}
		if sheet.Fit == nil {
			return sheet, nil
		}
	}
	return m.Sheet.Clone(), nil
}

// TestPiece asks for the test piece of a machine or a class.
func (s *Shop) TestPiece(ctx context.Context, q ask.TestPieceQuestion) (*ask.TestPieceAnswer, error) {
	ctx, leave, err := s.hold(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	return ask.TestPiece(ctx, s.Shelf(), q)
}
