package act_test

import (
	"context"
	"testing"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/store"
)

// onlyRead is a shop on a medium to which nothing can be written.
type onlyRead struct{ store.Store }

var errFull = shop.Errorf(shop.Storage, "the disk is full")

func (onlyRead) KeepRunTimes(context.Context, []shop.RunTime) error { return errFull }
func (onlyRead) DropRunTimes(context.Context, string) error         { return errFull }
func (onlyRead) SetSetting(context.Context, string, []byte) error   { return errFull }
func (onlyRead) RemoveDesign(context.Context, string, bool) error   { return errFull }

// TestAShopThatCanOnlyBeReadIsServed: it begins, and what is made on the side of an answer does not keep it back; a change is
// refused all the same.
func TestAShopThatCanOnlyBeReadIsServed(t *testing.T) {
	s, kept := newShop(t)
	d := add(t, s, "gull-cap.dst")
	m, err := s.Machines.Add(t.Context(), string(machine.Classes()[0].TOML()), "", "")
	must(t, err)
	s = act.New(onlyRead{kept}, act.Options{Build: "b2"}) // whose run times nobody has kept
	must(t, s.Migrate(t.Context()))
	must(t, s.DropOldTimes(t.Context()))
	times, err := s.Runs(t.Context(), d, []*shop.Machine{m}, ask.Job{})
	if err != nil || len(times) != 1 || times[0].Seconds <= 0 {
		t.Errorf("run times %v, %v", times, err)
	}
	if a, err := s.Clock(t.Context(), d.ID, m.ID, ask.Job{}); err != nil || a.Seconds <= 0 {
		t.Errorf("a run: %v", err)
	}
	if err := s.Designs.Remove(t.Context(), d.ID); shop.CodeOf(err) != shop.Storage {
		t.Errorf("a change: %v", err)
	}
}
