package act_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/words"
)

// Changes of one thing are taken back in turn, the last first, and done again in turn;
// out of turn they are refused, and so is what was changed to and fro by hand.
func TestChangesAreTakenBackInTurn(t *testing.T) {
	b := fresh(t)
	var done []int64
	does := func(do func(ctx context.Context) error) int64 {
		t.Helper()
		act := &shop.Act{By: "Ida", Right: shop.KeepOrders, At: b.at}
		if err := do(shop.WithAct(bg, act)); err != nil {
			t.Fatal(err)
		}
		b.at = b.at.Add(time.Second)
		done = append(done, act.Change.Load())
		return act.Change.Load()
	}
	undo := func(id int64) (int64, error) {
		act := &shop.Act{By: "Ida", Right: shop.KeepOrders, At: b.at}
		_, err := b.Changes.Undo(shop.WithAct(bg, act), shop.Owner, id)
		return act.Change.Load(), err
	}
	o := b.order(t, "gull-cap.dst", 24, "2026-03-10", book.Requested)
	get := func() *book.Order {
		t.Helper()
		k, err := b.Orders.Get(bg, o.ID)
		if err != nil {
			t.Fatal(err)
		}
		return k
	}
	due := func(day int) int64 {
		t.Helper()
		return does(func(ctx context.Context) error {
			k := get()
			k.Due = words.NewDay(2026, 3, day)
			_, err := b.Orders.Change(ctx, *k, "")
			return err
		})
	}
	sheet := func(was, is string) {
		t.Helper()
		does(func(ctx context.Context) error {
			m, err := b.Machines.Get(bg, b.m["Gannet"])
			if err != nil {
				return err
			}
			toml := strings.Replace(string(m.Sheet.TOML()), "max_speed = "+was, "max_speed = "+is, 1)
			_, err = b.Machines.ChangeSheet(ctx, m.ID, m.Version, toml, "", "")
			return err
		})
	}
	is := func() string {
		t.Helper()
		k := get()
		m, err := b.Machines.Get(bg, b.m["Gannet"])
		if err != nil {
			t.Fatal(err)
		}
		p, err := b.Asked().LastPlan(bg)
		if err != nil {
			t.Fatal(err)
		}
		return strings.Join([]string{k.Due.String(), string(k.State), k.Promised.String(), words.Fixed(m.Sheet.MaxSpeed, 0).Raw(),
			p.Made.UTC().Format(time.TimeOnly)}, " ")
	}
	b.plan(t)
	states := []string{is()}
	at := func(do func()) {
		do()
		states = append(states, is())
	}
	at(func() { due(11) })
	at(func() { due(12) })
	at(func() {
		does(func(ctx context.Context) error {
			k := get()
			k.Promised = words.NewDay(2026, 3, 12)
			_, err := b.Orders.Change(ctx, *k, "")
			return err
		})
	})
	at(func() {
		does(func(ctx context.Context) error {
			_, err := b.Orders.Move(ctx, o.ID, 0, book.Agreed, "", "")
			return err
		})
	})
	at(func() { sheet("1000", "990") })
	at(func() { sheet("990", "980") })
	for range 2 {
		at(func() {
			does(func(ctx context.Context) error {
				_, err := b.MakePlan(ctx, ask.PlanQuestion{Seed: 1, Moves: 3_000, NoBound: true}, "Ada")
				return err
			})
		})
	}
	if _, err := undo(done[0]); shop.CodeOf(err) != shop.Conflict {
		t.Fatalf("out of turn: %v", err)
	}
	var again []int64
	for i := len(done) - 1; i >= 0; i-- {
		id, err := undo(done[i])
		if err != nil {
			t.Fatalf("change %d of %d: %v", i+1, len(done), err)
		}
		again = append(again, id)
		if got := is(); got != states[i] {
			t.Fatalf("change %d taken back: %s, was %s", i+1, got, states[i])
		}
	}
	for i := range done {
		if _, err := undo(again[len(again)-1-i]); err != nil {
			t.Fatalf("change %d again: %v", i+1, err)
		}
		if got := is(); got != states[i+1] {
			t.Fatalf("change %d done again: %s, was %s", i+1, got, states[i+1])
		}
	}
	// To and fro by hand is two changes that stand.
	first := due(13)
	due(14)
	due(13)
	if _, err := undo(first); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("with two later changes that stand: %v", err)
	}
}
