package act

import (
	"context"
	"encoding/json"
	"errors"
	"maps"
	"slices"
	"time"

	"needlepace/ask"
	"needlepace/shop"
	"needlepace/words"
)

// Round is something that the program does by itself, again and again (jobs.Round).
type Round struct {
	name, place string
	s           *Shop
	// next is when it is due after the last time (zero: it was never done); zero: never.
	next func(ctx context.Context, last *shop.Round, zone words.Zone) (time.Time, error)
	do   func(ctx context.Context, last *shop.Round) (shop.Round, error)
	// Told, if set, hears each time how it went.
	Told func(r *shop.Round)
}

// triedAgain is after how long a round that failed is done again, unless it is due sooner.
const triedAgain = 10 * time.Minute

// Rounds are those of every shop: see the Round… names.
func (s *Shop) Rounds() []*Round {
	return []*Round{
		{name: shop.RoundDrift, s: s, next: s.nextDrift, do: s.lookForDrift},
		{name: shop.RoundPlan, s: s, next: s.nextPlan, do: s.lookAtPlan},
	}
}

// CopyRound makes copies of the shop, to a place: due says when, copy makes one. The folder of the copies itself tells when
// the latest was made.
func (s *Shop) CopyRound(place string, due func() (time.Time, error), copy func(ctx context.Context) (words.Message, error)) *Round {
	r := &Round{name: shop.RoundCopies, place: place, s: s,
		next: func(context.Context, *shop.Round, words.Zone) (time.Time, error) { return due() },
		do: func(ctx context.Context, _ *shop.Round) (out shop.Round, err error) {
			// What computers that are no more made copies to is not told for ever.
			if err := s.store.DropRounds(ctx, shop.RoundCopies, s.now().Add(-longGone)); err != nil {
				return out, err
			}
			out.Said.Message, err = copy(ctx)
			return out, err
		}}
	s.copies.Store(r)
	return r
}

// longGone is for how long a place that no copy was put to is told of.
const longGone = 14 * 24 * time.Hour

// Name is its name, with its place.
func (r *Round) Name() string {
	if r.place == "" {
		return r.name
	}
	return r.name + " " + r.place
}

// last is how it went last, the zero Round where it was never done.
func (r *Round) last(ctx context.Context) (shop.Round, error) {
	all, err := r.s.store.Rounds(ctx)
	if err != nil {
		return shop.Round{}, err
	}
	for i := range all {
		if all[i].Name == r.name && all[i].Place == r.place {
			return all[i], nil
		}
	}
	return shop.Round{Name: r.name, Place: r.place}, nil
}

// Due is when it is due (zero: never), and when it began the last time: the two name one time that it is done.
func (r *Round) Due(ctx context.Context) (at, last time.Time, err error) {
	was, err := r.last(ctx)
	if err != nil {
		return at, last, err
	}
	at, err = r.due(ctx, was)
	return at, was.Began, err
}

func (r *Round) due(ctx context.Context, was shop.Round) (time.Time, error) {
	zone, err := r.s.Setups.Zone(ctx)
	if err != nil {
		return time.Time{}, err
	}
	now := r.s.now()
	if was.Began.After(now) { // a clock was wrong: when it was done is not known
		was.Began, was.Ended = time.Time{}, time.Time{}
	}
	at, err := r.next(ctx, &was, zone)
	if err == nil && !at.IsZero() && was.Failed != "" {
		if again := was.Ended.Add(triedAgain); again.Before(at) || r.name == shop.RoundCopies {
			at = again
		}
	}
	return at, err
}

// Do does it, if it is due, and keeps how it went. The error is ctx's, or that of a store that cannot keep it.
func (r *Round) Do(ctx context.Context) error {
	was, err := r.last(ctx)
	if err != nil {
		return err
	}
	at, err := r.due(ctx, was)
	if err != nil || at.IsZero() || at.After(r.s.now()) {
		return err // another did it meanwhile
	}
	began := r.s.now()
	is, err := r.do(ctx, &was)
	if ctx.Err() != nil {
		return ctx.Err() // it is done again, here or elsewhere
	}
	if err != nil {
		is = was
		is.Failed = err.Error()
	}
	is.Name, is.Place, is.Began, is.Ended = r.name, r.place, began.UTC().Truncate(time.Microsecond), r.s.now().UTC().Truncate(time.Microsecond)
	if is.Began.Equal(was.Began) { // two times are two
		is.Began = is.Began.Add(time.Microsecond)
	}
	if err := r.s.store.KeepRound(ctx, &is, was.Began); err != nil {
		if shop.CodeOf(err) == shop.Conflict {
			return nil
		}
		return err
	}
	if r.Told != nil {
		r.Told(&is)
	}
	return nil
}

// nextDrift is the next time of day at which machines are looked over.
func (s *Shop) nextDrift(ctx context.Context, last *shop.Round, zone words.Zone) (time.Time, error) {
	set, err := s.Settings.Get(ctx)
	if err != nil || set.DriftAt == "" {
		return time.Time{}, err
	}
	at, err := words.ParseTimeOfDay(set.DriftAt)
	if err != nil {
		return time.Time{}, err
	}
	return nextDaily(last.Began, s.now(), at, zone), nil
}

// nextDaily is the first time after last at which a zone's clocks show a time of day, once a day; now where last is zero.
func nextDaily(last, now time.Time, at words.TimeOfDay, zone words.Zone) time.Time {
	if last.IsZero() {
		return now
	}
	day := zone.Day(last)
	for {
		if t := zone.At(day, at); t.After(last) {
			return t
		}
		day = day.Add(1)
	}
}

// nextPlan is the next time at which the plan is looked over.
func (s *Shop) nextPlan(ctx context.Context, last *shop.Round, _ words.Zone) (time.Time, error) {
	set, err := s.Settings.Get(ctx)
	if err != nil || set.PlanEvery == 0 {
		return time.Time{}, err
	}
	if last.Began.IsZero() {
		return s.now(), nil
	}
	return last.Began.Add(time.Duration(set.PlanEvery) * time.Minute), nil
}

// lookAtPlan looks what changed since the kept plan was made.
func (s *Shop) lookAtPlan(ctx context.Context, last *shop.Round) (out shop.Round, err error) {
	ctx, leave, err := s.hold(ctx)
	if err != nil {
		return out, err
	}
	defer leave()
	a, err := ask.Since(ctx, s.Asked(), ask.SinceQuestion{Now: s.now(), Effect: true})
	if err != nil {
		return out, err
	}
	switch {
	case a == nil:
		out.Said.Message = words.Say("rounds.no-plan")
	case a.Moved() == 0:
		out.Said.Message = words.Say("rounds.plan-same")
	default:
		out.Said.Message = words.Say("rounds.plan-moved", words.Args{"n": words.Whole(a.Moved()), "how": a.Verdict})
		f := shop.RoundFound{Version: a.Plan, First: s.now().UTC(), Say: out.Said}
		for _, was := range last.Found {
			if was.Version == f.Version { // it was found before
				f.First = was.First
			}
		}
		out.Found = []shop.RoundFound{f}
	}
	return out, nil
}

// lookForDrift looks at the timed runs of each machine whether it has changed since its sheet was made. A machine whose
// runs and sheet are those of the last time is not looked at anew.
func (s *Shop) lookForDrift(ctx context.Context, last *shop.Round) (out shop.Round, err error) {
	machines, err := s.Machines.List(ctx)
	if err != nil {
		return out, err
	}
	out.Looked = map[string]string{}
	timed := 0
	for _, m := range machines {
		runs, err := s.store.Runs(ctx, m.ID)
		if err != nil {
			return out, err
		}
		if len(runs) == 0 {
			continue
		}
		timed++
		b, err := json.Marshal([]any{s.build, m.Version, m.Digest, runs})
		if err != nil {
			return out, err
		}
		out.Looked[m.ID] = shop.Digest(b)
		k := slices.IndexFunc(last.Found, func(f shop.RoundFound) bool { return f.MachineID == m.ID })
		if last.Looked[m.ID] == out.Looked[m.ID] {
			if k >= 0 {
				out.Found = append(out.Found, last.Found[k])
			}
			continue
		}
		f, err := s.driftOf(ctx, m)
		if err != nil {
			return out, err
		}
		if f != nil {
			if k >= 0 && last.Found[k].Version == f.Version {
				f.First = last.Found[k].First
			}
			out.Found = append(out.Found, *f)
		}
	}
	switch {
	case timed == 0:
		out.Said.Message = words.Say("rounds.no-timed")
	case len(out.Found) == 0:
		out.Said.Message = words.Say("rounds.drift-none", words.Args{"machines": words.Count(timed, "machine")})
	default:
		out.Said.Message = words.Say("rounds.drift-found", words.Args{"n": words.Whole(len(out.Found)), "machines": words.Count(timed, "machine")})
	}
	return out, nil
}

// driftOf is how a machine has changed after its sheet was made, nil where it has not, or its runs cannot tell.
func (s *Shop) driftOf(ctx context.Context, m *shop.Machine) (*shop.RoundFound, error) {
	zone, err := s.Setups.Zone(ctx)
	if err != nil {
		return nil, err
	}
	versions, err := s.store.Versions(ctx, m.ID)
	if err != nil {
		return nil, err
	}
	in, leave, err := s.hold(ctx)
	if err != nil {
		return nil, err
	}
	a, err := ask.Learn(in, &timedRuns{s: s}, ask.LearnQuestion{Machine: m.ID})
	leave()
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	var few *ask.Error
	if errors.As(err, &few) {
		return nil, nil // nothing can be learned of them
	}
	if err != nil {
		return nil, err
	}
	k := slices.IndexFunc(versions, func(v shop.SheetVersion) bool { return v.Version == m.Version })
	if a.Drift == nil || k >= 0 && !a.Drift.Since.After(zone.Day(versions[k].Made)) {
		return nil, nil // the sheet was made when it had changed
	}
	return &shop.RoundFound{MachineID: m.ID, Version: m.Version, Day: a.Drift.Since, Change: a.Drift.Change, First: s.now().UTC(),
		Say: words.Kept{Message: words.Say("rounds.machine", words.Args{"machine": words.Name(m.Name), "how": a.Drift.Says})}}, nil
}

// RoundState is a round as it stands.
type RoundState struct {
	shop.Round
	Next  time.Time // zero: it is turned off, or another computer knows
	Other bool      // another computer does it
}

// RoundStates are the rounds as they stand: those of every shop first, then the copies.
func (s *Shop) RoundStates(ctx context.Context) (out []RoundState, err error) {
	all, err := s.store.Rounds(ctx)
	if err != nil {
		return nil, err
	}
	known := map[string]shop.Round{}
	for _, r := range all {
		known[r.Name+" "+r.Place] = r
	}
	mine := s.Rounds()
	if r := s.copies.Load(); r != nil {
		mine = append(mine, r)
	}
	for _, r := range mine {
		key := r.name + " " + r.place
		was := known[key]
		was.Name, was.Place = r.name, r.place
		delete(known, key)
		next, err := r.due(ctx, was)
		if err != nil {
			return nil, err
		}
		out = append(out, RoundState{was, next, false})
	}
	for _, key := range slices.Sorted(maps.Keys(known)) {
		if known[key].Name == shop.RoundCopies {
			out = append(out, RoundState{Round: known[key], Other: true})
		}
	}
	return out, nil
}

// Drifted are the machines that have changed since their sheets were made, as it was found last, by their IDs.
func (s asked) Drifted(ctx context.Context) (map[string]ask.Drifted, error) {
	all, err := s.store.Rounds(ctx)
	if err != nil {
		return nil, err
	}
	found := map[string]shop.RoundFound{}
	for _, r := range all {
		for _, f := range r.Found {
			if f.MachineID != "" {
				found[f.MachineID] = f
			}
		}
	}
	out := map[string]ask.Drifted{}
	if len(found) == 0 {
		return out, nil
	}
	machines, err := s.Shop.Machines.List(ctx)
	for _, m := range machines {
		if f, ok := found[m.ID]; ok && f.Version == m.Version { // else its sheet was made since
			out[m.ID] = ask.Drifted{Since: f.Day, Change: f.Change}
		}
	}
	return out, err
}
