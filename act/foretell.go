package act

import (
	"context"
	"slices"
	"time"

	"needlepace/ask"
	"needlepace/clock"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/words"
)

// foretell gives whole runs what the sheet that their machine had before them
// predicts, with its interval: what is timed later shows how good that was. A
// run that no sheet is older than gets none.
func (s *Shop) foretell(ctx context.Context, runs []shop.Run) error {
	zone, err := s.Setups.Zone(ctx)
	if err != nil {
		return err
	}
	type key struct {
		machine        string
		version        int
		design, needle string
		job            string
		speed          float64
	}
	done := map[key]*shop.Predicted{}
	histories := map[string]sheets{}
	for i := range runs {
		r := &runs[i]
		r.Predicted = nil
		if r.DesignID == "" || r.Block > 0 {
			continue
		}
		h, ok := histories[r.MachineID]
		if !ok {
			if h.all, err = s.store.Versions(ctx, r.MachineID); err != nil {
				return err
			}
			h.parsed, h.zone = map[int]*machine.Sheet{}, zone
			histories[r.MachineID] = h
		}
		started, err := s.started(ctx, r)
		if err != nil {
			return err
		}
		v, sheet, err := h.before(r.Date, started)
		if err != nil {
			return err
		}
		if sheet == nil {
			continue
		}
		k := key{r.MachineID, v.Version, r.DesignID, r.Needles, r.Job, r.SetSpeed}
		p, ok := done[k]
		if !ok {
			if p, err = s.predicted(ctx, r, v, sheet); err != nil {
				return err
			}
			done[k] = p
		}
		r.Predicted = p
	}
	return nil
}

// started is when a run timed on the page began; zero where only its day is known.
func (s *Shop) started(ctx context.Context, r *shop.Run) (time.Time, error) {
	if r.TimingID == "" {
		return time.Time{}, nil
	}
	t, err := s.store.Timing(ctx, r.TimingID)
	if shop.CodeOf(err) == shop.NotFound {
		return time.Time{}, nil
	}
	if err != nil {
		return time.Time{}, err
	}
	return t.Started, nil
}

// predicted is what a sheet says of a run.
func (s *Shop) predicted(ctx context.Context, r *shop.Run, v *shop.SheetVersion, on *machine.Sheet) (*shop.Predicted, error) {
	d, err := s.Designs.Stitches(ctx, r.DesignID)
	if err != nil {
		return nil, err
	}
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	job := ask.Job{Speed: r.SetSpeed}
	job.Kinds, _ = machine.ParseJobs(r.Job)
	needles, _ := learn.ParseNeedles(r.Needles) // what the shop keeps was checked when it came in
	if !slices.Contains(needles, learn.AnyNeedle) {
		for _, n := range needles {
			job.Needles = append(job.Needles, n+1)
		}
	}
	a, err := ask.Clock(ctx, ask.Given{Stitches: ask.NewDesign(d, "", r.DesignID), On: on}, ask.ClockQuestion{Job: job})
	if ctx.Err() != nil {
		return nil, shop.StoppedBy(ctx)
	}
	if err != nil {
		return nil, err
	}
	return &shop.Predicted{Seconds: a.Seconds, Low: a.Interval.Low, High: a.Interval.High, Level: clock.DefaultLevel,
		Sheet: v.Digest, Version: v.Version}, nil
}

// sheets is the history of a machine's sheets, newest first.
type sheets struct {
	all    []shop.SheetVersion
	parsed map[int]*machine.Sheet
	zone   words.Zone
}

// before is the newest sheet that was there before a run and was not learned
// from it; nil where there is none. Where only the day of the run is known
// (started is zero), a sheet of that day counts if nothing of that day or later
// was learned for it.
func (h *sheets) before(day words.Day, started time.Time) (*shop.SheetVersion, *machine.Sheet, error) {
	for i := range h.all {
		v := &h.all[i]
		made := h.zone.Day(v.Made)
		if !started.IsZero() && v.Made.After(started) || started.IsZero() && made.After(day) {
			continue
		}
		sheet := h.parsed[v.Version]
		if sheet == nil {
			var err error
			if sheet, err = machine.Parse("the sheet", []byte(v.TOML)); err != nil {
				return nil, nil, shop.Errorf(shop.Storage, "the kept sheet cannot be read any more: %w", err)
			}
			h.parsed[v.Version] = sheet
		}
		if f := sheet.Fit; started.IsZero() && f != nil && (!f.Date.Before(day) || f.Date.IsZero() && made == day) {
			continue
		}
		return v, sheet, nil
	}
	return nil, nil, nil
}
