package shop

import (
	"context"
	"errors"
	"reflect"
	"testing"
	"time"
)

func TestOneWhoOnlyReadsLooksOnceInAMoment(t *testing.T) {
	looked := 0
	look := func(context.Context) (Revision, error) { looked++; return Revision{Designs: int64(looked)}, nil }
	reader := Reading(t.Context())
	for _, c := range []struct {
		ctx  context.Context
		want int64
	}{{reader, 1}, {reader, 1}, {t.Context(), 2}, {t.Context(), 3}, {Reading(t.Context()), 4}, {reader, 1}} {
		if r, err := RevisionOf(c.ctx, look); err != nil || r.Designs != c.want {
			if c.ctx == reader && r.Designs == int64(looked) {
				t.Skip("this computer is too busy: the moment was over")
			}
			t.Errorf("%+v, %v; want %d", r, err, c.want)
		}
	}
	time.Sleep(readingFor)
	if r, _ := RevisionOf(reader, look); r.Designs != 5 {
		t.Errorf("the moment never ends: %+v", r)
	}
}

// counted is a store's counts.
type counted struct{ is Revision }

func (c *counted) Revision(ctx context.Context) (Revision, error) {
	return RevisionOf(ctx, func(context.Context) (Revision, error) { return c.is, nil })
}

func TestWhatIsKeptIsReadAnewOnceWhatItWasReadFromChanged(t *testing.T) {
	reads := 0
	of := func(p Parts) func(context.Context) (int, error) {
		return func(ctx context.Context) (int, error) { reads++; Note(ctx, p); return reads, nil }
	}
	var s counted
	var k, uncounted Kept[int]
	byID := KeptByID[int]{Most: 2}
	orders := func() (int, error) { return k.Get(t.Context(), &s, of(OrdersPart|PlansPart)) }
	by := func(id string, p Parts) func() (int, error) {
		return func() (int, error) { return byID.Get(t.Context(), &s, id, of(p)) }
	}
	never := func() (int, error) { return uncounted.Get(t.Context(), &s, of(Uncounted)) }
	for _, c := range []struct {
		name   string
		change func()
		got    func() (int, error)
		want   int
	}{
		{"first", nil, orders, 1},
		{"kept", nil, orders, 1},
		{"another part changed", func() { s.is.Added, s.is.Rest = 7, 7 }, orders, 1},
		{"a part changed", func() { s.is.Plans++ }, orders, 2},
		{"the other part changed", func() { s.is.Orders++ }, orders, 3},
		{"a", nil, by("a", DesignsPart), 4},
		{"b", nil, by("b", MachinesPart), 5},
		{"a kept", func() { s.is.Machines++ }, by("a", DesignsPart), 4},
		{"a changed", func() { s.is.Designs++ }, by("a", DesignsPart), 6},
		{"one too many", nil, by("c", 0), 7},
		{"all forgotten", nil, by("a", DesignsPart), 8},
		{"of nothing", func() { s.is.Designs++ }, by("c", 0), 7},
		{"of nothing, ever", func() { s.is = Revision{Told: 99} }, by("c", 0), 7},
		{"uncounted", nil, never, 9},
		{"uncounted again", nil, never, 10},
	} {
		if c.change != nil {
			c.change()
		}
		if got, err := c.got(); err != nil || got != c.want {
			t.Errorf("%s: %d, %v; want %d", c.name, got, err, c.want)
		}
	}
	broken := errors.New("broken")
	s.is.Orders = 1000
	if _, err := k.Get(t.Context(), &s, func(context.Context) (int, error) { return 0, broken }); err != broken {
		t.Error(err)
	}
	if got, err := orders(); err != nil || got != 11 {
		t.Errorf("after a failure: %d, %v", got, err)
	}
}

// Whoever uses what was kept has read all that it was read from; who looks at all counts, all parts.
func TestWhatIsReadIsNotedForAllWhoWait(t *testing.T) {
	var s counted
	var inner, outer Kept[int]
	read := func(ctx context.Context) {
		t.Helper()
		if _, err := outer.Get(ctx, &s, func(ctx context.Context) (int, error) {
			Note(ctx, PlansPart)
			return inner.Get(Without(ctx, AddedPart), &s, func(ctx context.Context) (int, error) {
				Note(ctx, AddedPart|DesignsPart)
				return 1, nil
			})
		}); err != nil {
			t.Fatal(err)
		}
	}
	for _, how := range []string{"made", "kept"} {
		ctx, of := Noting(Reading(t.Context()))
		read(ctx)
		if of() != PlansPart|DesignsPart {
			t.Errorf("%s: %b", how, of())
		}
		if r, err := Counts(ctx, &s, ToldPart); err != nil || r != (Revision{}) || of() != PlansPart|DesignsPart|ToldPart {
			t.Errorf("%s, with a count: %b, %v, %v", how, of(), r, err)
		}
		for range 2 { // the second time within the moment
			all, of := Noting(ctx)
			if _, err := s.Revision(all); err != nil || of() != AllParts {
				t.Errorf("%s: who looked at all read %b, %v", how, of(), err)
			}
		}
	}
	all := Revision{1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
	if all.Of(AllParts) != all || all.Of(0) != (Revision{}) || all.Of(Uncounted) != (Revision{}) {
		t.Error("the parts are not the counts")
	}
}

func TestWhatIsAsNewIsOlderInNoPart(t *testing.T) {
	at := Revision{Added: 3, Designs: 3, Machines: 3, Orders: 3, Reports: 3, Plans: 3, Setups: 3, Told: 3, Rest: 3, Visits: 3}
	v := reflect.ValueOf(&at).Elem()
	for i := range v.NumField() {
		part := Parts(1) << i
		for _, by := range []int64{-1, 1} {
			v.Field(i).SetInt(3 + by)
			was := Revision{Added: 3, Designs: 3, Machines: 3, Orders: 3, Reports: 3, Plans: 3, Setups: 3, Told: 3, Rest: 3, Visits: 3}
			for _, of := range []Parts{part, AllParts, AllParts &^ part} {
				if got, want := at.AsNew(was, of), by > 0 || of&part == 0; got != want {
					t.Errorf("%s %+d, of parts %b: as new %v, want %v", v.Type().Field(i).Name, by, of, got, want)
				}
			}
			v.Field(i).SetInt(3)
		}
	}
	if at.AsNew(at, AllParts|Uncounted) {
		t.Error("nobody knows how new what is uncounted is")
	}
}
