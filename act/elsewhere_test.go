package act_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math/rand/v2"
	"os"
	"sync"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/sound"
	"needlepace/sound/synth"
	"needlepace/stitchfile"
)

// others make what they are asked in their own time, from nothing but the bytes they get.
type others struct {
	mu    sync.Mutex
	shop  *act.Shop
	made  map[string]int // parts, by kind
	gone  bool           // nobody is there
	wrong error          // what becomes of it

	failed []error // what they could not make
}

func (o *others) Make(ctx context.Context, kind string, parts [][]byte, tell func(done, of float64)) (came [][]byte, there bool, err error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.gone || o.wrong != nil {
		return nil, !o.gone, o.wrong
	}
	for _, p := range parts {
		b, err := ask.Help(bg, o.shop.Asked(), kind, p, tell)
		if err != nil {
			o.failed = append(o.failed, err)
			return nil, true, err
		}
		o.made[kind]++
		came = append(came, b)
	}
	return came, true, nil
}

// What other programs make of heavy work is what this one makes of it, to the last digit
// and in every word; so is what this one makes because they could not.
func TestWhatIsMadeElsewhereIsTheSame(t *testing.T) {
	s := demoShop(t)
	machines, err := s.Machines.List(bg)
	must(t, err)
	designs, _, err := s.Designs.List(bg, shop.DesignQuery{Limit: 100})
	must(t, err)
	read := func(name string) []byte {
		b, err := os.ReadFile("../demo/runs/" + name)
		must(t, err)
		return b
	}
	_, err = s.AddFile(bg, "skipper-piece.dst", read("skipper-piece.dst"))
	must(t, err)
	timed := machines[0].ID
	for _, m := range machines {
		if m.Name == "Skipper" {
			timed = m.ID
		}
	}
	_, _, err = s.ReadRuns(bg, timed, "skipper.csv", read("skipper.csv"))
	must(t, err)
	floors, err := s.Setups.List(bg, shop.FloorSetup)
	must(t, err)
	mixes, err := s.Setups.List(bg, shop.MixSetup)
	must(t, err)
	rng := rand.New(rand.NewPCG(3, 7))
	var file bytes.Buffer
	must(t, stitchfile.Encode(&file, synth.Design(160, rng), "dst"))
	added, err := s.AddFile(bg, "sung.dst", file.Bytes())
	must(t, err)
	sung, err := s.Designs.Stitches(bg, added[0].Design.ID)
	must(t, err)
	class, _ := machine.Class("single-15-light")
	run := synth.Perform(sung, class, synth.Script{Job: clock.Job{Speed: 900}, Jitter: 0.0006, Phase: 0.5, Lead: 3, Tail: 2}, rng)
	listen := func(wav func(out *bytes.Buffer) error) func(context.Context) (any, error) {
		var b bytes.Buffer
		must(t, wav(&b))
		curve, _, err := sound.Read(&b)
		must(t, err)
		return func(ctx context.Context) (any, error) {
			a, err := s.Listen(ctx, ask.ListenQuestion{Design: added[0].Design.ID, Machine: "single-15-light", Curve: curve, Each: true})
			if err != nil {
				return a, errors.New(err.Error()) // of a refusal there is an answer too
			}
			return []any{a, a.Heard, a.Rows()}, nil
		}
	}
	now := s.Now()
	for _, c := range []struct {
		name, kind string
		ask        func(ctx context.Context) (any, error)
		long       bool // too long for every day
	}{
		{"a shift", "shifts", func(ctx context.Context) (any, error) {
			return act.Answer(ctx, s, ask.Shift, ask.ShiftQuestion{Best: s.ShiftBest, Name: "the shift", TOML: []byte(floors[0].TOML), Precision: 0.0005, Shifts: 333,
				Simulation: ask.Simulation{Seed: 5}, WhatIf: !testing.Short()})
		}, false},
		{"crews", "crews", func(ctx context.Context) (any, error) {
			return act.Answer(ctx, s, ask.Shift, ask.ShiftQuestion{Name: "the shift", TOML: []byte(floors[0].TOML), Precision: 0.1, Shifts: 40, WhatIf: true})
		}, false},
		{"a comparison", "shifts", func(ctx context.Context) (any, error) {
			return act.Answer(ctx, s, ask.Compare, ask.CompareQuestion{Name: "the mix", TOML: []byte(mixes[0].TOML), Weeks: 20})
		}, false},
		{"a plan", "plan", func(ctx context.Context) (any, error) {
			return ask.Plan(ctx, s.Asked(), ask.PlanQuestion{Now: now, Seed: 3, Moves: 50_000})
		}, false},
		{"a plan that is tried", "plan", func(ctx context.Context) (any, error) {
			return ask.Plan(ctx, s.Asked(), ask.PlanQuestion{Now: now, Seed: 3, Moves: 20_000, Operators: 1})
		}, false},
		{"a fleet", "fleet", func(ctx context.Context) (any, error) {
			return ask.Hindsight(ctx, s.Asked(), ask.HindsightQuestion{Now: now, Months: 1, Operators: 1})
		}, false},
		{"a fleet that cannot be", "fleet", func(ctx context.Context) (any, error) {
			return ask.Hindsight(ctx, s.Asked(), ask.HindsightQuestion{Now: now, Without: "no such machine"})
		}, false},
		{"what timed runs tell", "learn", func(ctx context.Context) (any, error) {
			a, err := s.Learn(ctx, timed, act.Learning{})
			if err != nil {
				return nil, err
			}
			return []any{a.LearnAnswer, string(a.Result.Sheet.TOML()), a.Result.Runs[0].Observation.Design == a.Result.Runs[1].Observation.Design, a.Result.Runs}, nil
		}, false},
		{"a test piece", "testpiece", func(ctx context.Context) (any, error) {
			a, err := s.TestPiece(ctx, ask.TestPieceQuestion{Machine: machines[0].ID})
			if err != nil {
				return nil, err
			}
			return []any{a, a.Piece.Design, a.BlocksTable().Rows}, nil
		}, false},
		{"a recording", "listen", listen(func(out *bytes.Buffer) error {
			return synth.WAV(out, run.Record(synth.Quiet, rng), synth.Rate)
		}), true},
		{"a recording of nothing", "listen", listen(func(out *bytes.Buffer) error { return synth.WAV(out, make([]float64, 60*synth.Rate), synth.Rate) }), false},
		{"a mend", "order", func(ctx context.Context) (any, error) {
			a, err := s.Mend(ctx, ask.MendQuestion{Design: designs[0].ID, Machine: machines[0].ID, Seconds: 20})
			if err != nil {
				return nil, err
			}
			return []any{a, a.Content}, nil
		}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.long && testing.Short() {
				t.Skip("it takes long")
			}
			want, failed := c.ask(bg)
			all := map[string]*others{"others": {shop: s, made: map[string]int{}}}
			if c.kind == "plan" {
				all["nobody"], all["those who fail"] = &others{gone: true}, &others{wrong: errors.New("no")}
			}
			for name, o := range all {
				got, err := c.ask(ask.WithElsewhere(bg, o))
				if (err == nil) != (failed == nil) || err != nil && err.Error() != failed.Error() {
					t.Fatalf("%s: %v, alone %v", name, err, failed)
				}
				w, err1 := json.Marshal(want)
				g, err2 := json.Marshal(got)
				must(t, errors.Join(err1, err2))
				if !bytes.Equal(w, g) {
					t.Errorf("%s: it is another answer", name)
					for k := range w {
						if k >= len(g) || w[k] != g[k] {
							t.Fatalf("alone …%s\nso    …%s", w[max(0, k-80):min(len(w), k+80)], g[max(0, k-80):min(len(g), k+80)])
						}
					}
				}
				if name == "others" && o.made[c.kind] == 0 && c.name != "a fleet that cannot be" { // a recording that is refused they make too
					t.Errorf("they made %v: %v", o.made, o.failed)
				}
			}
			if c.kind == "order" || c.kind == "listen" {
				return // the best so far; who asks a recording is told in words
			}
			if _, err := c.ask(ask.WithElsewhere(bg, &others{wrong: ask.ErrStopped})); !errors.Is(err, ask.ErrStopped) {
				t.Errorf("stopped where it was made: %v", err)
			}
		})
	}
}
