package act

import (
	"context"
	"slices"

	"needlepace/ask"
	"needlepace/learn"
	"needlepace/machine"
	"needlepace/shop"
)

// Score asks how good the clock's predictions have been on a machine.
func (s *Shop) Score(ctx context.Context, machineID string) (*ask.ScoreAnswer, error) {
	return ask.Score(ctx, foretold{s}, machineID)
}

// Scores are those of the machines on the list of which a run was timed that something was predicted of.
func (s asked) Scores(ctx context.Context) (map[string]*ask.ScoreAnswer, error) {
	if !shop.OnlyReads(ctx) {
		return s.scored(ctx)
	}
	return s.scores.Get(ctx, s.store, s.scored)
}

func (s *Shop) scored(ctx context.Context) (map[string]*ask.ScoreAnswer, error) {
	machines, err := s.Machines.List(ctx)
	if err != nil {
		return nil, err
	}
	out := map[string]*ask.ScoreAnswer{}
	for _, m := range machines {
		runs, err := s.store.Runs(ctx, m.ID)
		if err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(runs, func(r shop.Run) bool { return r.Predicted != nil }) {
			continue
		}
		if out[m.ID], err = s.Score(ctx, m.ID); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// foretold is the shop as the question about a machine's score sees it.
type foretold struct{ *Shop }

// Foretold gives a machine's whole runs that may be learned from, with what was
// predicted before them, and its sheets. What the floor reports is not among them.
func (s foretold) Foretold(ctx context.Context, id string) (*ask.Foretold, error) {
	m, err := s.Machines.Get(ctx, id)
	if err != nil {
		return nil, err
	}
	out := &ask.Foretold{Machine: m.Name}
	zone, err := s.Setups.Zone(ctx)
	if err != nil {
		return nil, err
	}
	all, err := s.store.Versions(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, v := range all {
		sheet, err := machine.Parse("the sheet", []byte(v.TOML))
		if err != nil {
			return nil, shop.Errorf(shop.Storage, "the kept sheet cannot be read any more: %w", err)
		}
		out.Sheets = append(out.Sheets, ask.ForetoldSheet{Version: v.Version, Made: zone.Day(v.Made), Sheet: sheet})
	}
	runs, err := s.store.Runs(ctx, id)
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	for i := range runs {
		r := &runs[i]
		if r.DesignID == "" || r.Block > 0 || r.Ignored {
			continue
		}
		name, ok := names[r.DesignID]
		if !ok {
			d, err := s.store.Design(ctx, r.DesignID)
			if err != nil {
				return nil, err
			}
			name = d.Name
			names[r.DesignID] = name
		}
		f := ask.ForetoldRun{ID: r.ID, Name: name, Foretold: learn.Foretold{Design: r.DesignID,
			Observation: learn.Observation{Kind: learn.WholeRun, Date: r.Date, SetSpeed: r.SetSpeed, Seconds: r.Seconds,
				Error: r.Error, Step: r.Step}}}
		if p := r.Predicted; p != nil {
			f.Version, f.Predicted, f.Low, f.High, f.Level = p.Version, p.Seconds, p.Low, p.High, p.Level
		}
		out.Runs = append(out.Runs, f)
	}
	return out, nil
}
