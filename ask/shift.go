package ask

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"needlepace/clock"
	"needlepace/floor"
	"needlepace/internal/tomlfile"
	"needlepace/money"
	"needlepace/words"
)

// ShiftQuestion asks what a shift yields, and what could be done about it.
type ShiftQuestion struct {
	Name string // of the setup, in errors: its file, or "the shift"
	TOML []byte // the setup, a SHOP.toml (docs/what-a-shift-yields.md)
	Simulation
	Precision float64 // the mean yield is known to ± this share, 0.0005 to 0.2; 0: DefaultPrecision
	Shifts    int     // simulated at the most, 2 to 10,000,000; 0: DefaultShifts
	WhatIf    bool    // also what one more of each would give, and how many machines an operator keeps
	// Best gives the best set speed of a design on a machine called name with a sheet, as the
	// setup names them, where its shift goes by reports; nil for what the shop has not. Not
	// set: none is asked for.
	Best func(ctx context.Context, name, sheet, design string, job clock.Job) (*BestSpeed, error)
}

const (
	leastShifts   = 256  // simulated, however soon the interval is narrow
	crewMost      = 12   // machines under one operator that are tried
	crewPrecision = 0.01 // tells numbers of machines apart; no need to know them better
	crewKeeps     = 0.90 // of what a machine yields alone, where no cost decides
)

// shiftSetup is a setup with all that it names.
type shiftSetup struct {
	file   *money.ShopFile
	toml   *tomlfile.File
	priced bool // has it [money]?
	*floor.Resolved
}

// readShift reads a setup and all that it names; need says that it must have
// prices. What is wrong is an *Error with key and line.
func readShift(name string, toml []byte, need bool, from floor.Sources) (*shiftSetup, error) {
	sf, f, err := money.ParseShop(name, toml)
	if err != nil {
		return nil, wrong(err)
	}
	if need {
		if err := sf.CheckMoney(f); err != nil {
			return nil, wrong(err)
		}
	}
	r, err := sf.Resolve(f, from)
	if err != nil {
		return nil, wrong(err)
	}
	return &shiftSetup{sf, f, f.Has("money"), r}, nil
}

// fill puts the defaults in and checks the rest.
func (q *ShiftQuestion) fill() error {
	if err := q.Simulation.fill(); err != nil {
		return err
	}
	if q.Precision == 0 {
		q.Precision = DefaultPrecision
	}
	if q.Shifts == 0 {
		q.Shifts = DefaultShifts
	}
	switch {
	case !(q.Precision >= 0.0005 && q.Precision <= 0.2):
		return Errorf("the mean yield is to be known to ± %g %%; give 0.05 to 20 percent", q.Precision*100)
	case q.Shifts < 2 || q.Shifts > 10_000_000:
		return Errorf("%d shifts at the most are to be simulated; give 2 to 10,000,000", q.Shifts)
	}
	return nil
}

// Check puts the defaults in and says what is wrong with the question or its
// setup, an *Error; nothing is simulated.
func (q *ShiftQuestion) Check(from floor.Sources) error {
	_, err := q.read(from)
	return err
}

func (q *ShiftQuestion) read(from floor.Sources) (*shiftSetup, error) {
	if err := q.fill(); err != nil {
		return nil, err
	}
	return readShift(q.Name, q.TOML, false, from)
}

// Shift simulates the setup's shift again and again until its mean yield is
// known as well as asked. from reads what the setup names. An *Error says what
// is wrong with the question.
func Shift(ctx context.Context, q ShiftQuestion, from floor.Sources) (*ShiftAnswer, error) {
	s, err := q.read(from)
	if err != nil {
		return nil, err
	}
	opt := floor.Options{Seed: q.Seed, Precision: q.Precision, Level: q.Level, Min: min(leastShifts, q.Shifts),
		Max: q.Shifts}
	part := 1.0
	if q.WhatIf {
		part = 0.4
	}
	all := opt
	all.Elsewhere = shiftsElsewhere(ctx, 0, func(share float64) { q.step(part*share, words.Say("shift.simulating")) })
	opt.Elsewhere = shiftsElsewhere(ctx, leastAsked, nil)
	r, err := floor.Simulate(ctx, s.Shop, all, func(_ int, half float64) {
		done := 0.0
		if half > 0 { // it falls as one over the root of the shifts
			done = min(1, (q.Precision/half)*(q.Precision/half))
		}
		q.step(part*done, words.Say("shift.simulating"))
	})
	if err != nil {
		return nil, simError(ctx, err)
	}
	a := shiftAnswer(r, q.Seed)
	if q.WhatIf {
		if err := q.whatIf(ctx, s, r, opt, a); err != nil {
			return nil, simError(ctx, err)
		}
	}
	if err := q.bestSpeeds(ctx, s, a); err != nil {
		return nil, err
	}
	a.say()
	return a, nil
}

// bestSpeeds adds the best set speeds of the jobs on the machines that may sew them.
func (q *ShiftQuestion) bestSpeeds(ctx context.Context, s *shiftSetup, a *ShiftAnswer) error {
	if q.Best == nil || !s.file.Shift.FromReports {
		return nil
	}
	for j := range s.file.Job {
		key, job := &s.file.Job[j], &s.Shop.Jobs[j]
		for i := range s.file.Machine {
			if job.Machines != nil && !slices.Contains(job.Machines, i) {
				continue
			}
			b, err := q.Best(ctx, s.Shop.Machines[i].Name, s.file.Machine[i].Sheet, key.Design, s.Clocks[j][i])
			if err != nil {
				return err
			}
			if b != nil {
				a.Best = append(a.Best, ShiftBest{s.Shop.Machines[i].Name, job.Name, *b})
			}
		}
	}
	return nil
}

// whatIf adds what one more of each would give, and the crews.
func (q *ShiftQuestion) whatIf(ctx context.Context, s *shiftSetup, r *floor.Result, opt floor.Options,
	a *ShiftAnswer) error {
	changes, err := floor.OneMore(ctx, r, opt, func(done, of int) {
		q.step(0.4+0.3*float64(done)/float64(max(of, 1)), words.Say("shift.one-more"))
	})
	if err != nil {
		return err
	}
	for _, x := range changes {
		row := ShiftChange{Change: x.Name, Pieces: EstimateOf(x.Pieces)}
		if x.AllWas {
			row.Sooner = &x.Sooner.Mean
		}
		a.WhatIf = append(a.WhatIf, row)
	}
	if s.priced {
		a.Currency = s.file.Money.Currency
	}
	opt.Precision = max(opt.Precision, crewPrecision)
	seen := map[string]bool{}
	for m, keys := range s.file.Machine {
		id := fmt.Sprint(keys.Sheet, keys.Speed, s.Shop.Machines[m].Heads)
		if seen[id] {
			continue
		}
		seen[id] = true
		at, all := 0.7+0.3*float64(m)/float64(len(s.file.Machine)), 0.3/float64(len(s.file.Machine))
		crews, err := triedCrews(ctx, s.Shop, m, opt, func(done, of float64) {
			q.step(at+all*done/max(of, 1), words.Say("shift.trying-crews"))
		})
		var none *floor.KeyError
		if errors.As(err, &none) {
			continue // a machine without work
		}
		if err != nil {
			return err
		}
		c, err := s.crew(r, m, crews)
		if err != nil {
			return err
		}
		a.Crews = append(a.Crews, *c)
	}
	a.prices = s.prices(a.Crews)
	return nil
}

// prices says what of the crews' costs is an example's, or missing: of machine
// and labour only, all else is not in them.
func (s *shiftSetup) prices(crews []Crew) words.Sentences {
	keys, priced := s.file.Money.Missing(), false
	for _, c := range crews {
		if c.By[0].Cost != "" {
			keys, priced = append(keys, s.file.Money.Machines[c.Machine].Missing("money.machines."+c.Machine)...), true
		}
	}
	if !priced {
		return nil
	}
	keys = slices.DeleteFunc(keys, func(k string) bool {
		of := k[strings.LastIndexByte(k, '.')+1:]
		return !slices.Contains([]string{"interest_percent", "overhead_per_year", "salvage", "upkeep_per_year"}, of)
	})
	return priceCaveats(s.file.Money.Placeholder, keys, machineOf)
}

// crew is how many machines like machine m an operator keeps: where machine
// and labour cost least a piece, or, without prices, where each machine still
// yields nine tenths of what it yields alone.
func (s *shiftSetup) crew(r *floor.Result, m int, crews []floor.Crew) (*Crew, error) {
	out := &Crew{Machine: s.Shop.Machines[m].Name, By: []CrewPoint{}}
	best := floor.Keeps(crews, crewKeeps)
	var cost []money.Range
	if o, ok := s.file.Money.Machines[out.Machine]; ok && s.priced {
		planned := (r.Length - r.Machines[m].Seconds[floor.Pausing]) / 3600
		var err error
		if best, cost, err = s.file.Money.BestCrew(crews, o, planned); err != nil {
			return nil, err
		}
	}
	for i, k := range crews {
		p := CrewPoint{k.Machines, EstimateOf(k.Pieces), finite(k.PerMachine), finite(k.HandUse), finite(k.Waiting), ""}
		if cost != nil {
			p.Cost = cost[i].Mid.StringFixed(4)
			if i != best && cost[i].Low.LessThanOrEqual(cost[best].High) {
				out.Alike = append(out.Alike, k.Machines)
			}
		}
		out.By = append(out.By, p)
	}
	out.Best = crews[best].Machines
	return out, nil
}
