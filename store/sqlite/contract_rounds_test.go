package sqlite

import (
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/words"
)

// How a round went is kept in place of the time before and of no other; what it said is said in any language later.
func roundsWay(t *testing.T, s shop.Store) {
	all, err := s.Rounds(bg)
	must(t, err)
	if len(all) != 0 {
		t.Fatalf("a new shop has %+v", all)
	}
	before, err := s.Revision(bg)
	must(t, err)
	r := shop.Round{Name: shop.RoundPlan, Began: when, Ended: when.Add(time.Second), Said: words.Kept{Message: words.Say("rounds.plan-moved",
		words.Args{"n": words.Whole(2), "how": words.Sentences{words.Say("rounds.no-plan")}})}, Found: []shop.RoundFound{{Version: 3, First: when, Day: words.NewDay(2026, 3, 4), Change: 0.25}},
		Looked: map[string]string{"m1": "d"}}
	must(t, s.KeepRound(bg, &r, time.Time{}))
	if err := s.KeepRound(bg, &r, time.Time{}); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("twice for the first time: %v", err)
	}
	other := shop.Round{Name: shop.RoundCopies, Place: "here", Began: when, Ended: when, Failed: "no room \x00"}
	must(t, s.KeepRound(bg, &other, time.Time{}))
	next := r
	next.Began, next.Found = when.Add(time.Hour), nil
	if err := s.KeepRound(bg, &next, when.Add(time.Minute)); shop.CodeOf(err) != shop.Conflict {
		t.Errorf("in place of one that was not: %v", err)
	}
	all, err = s.Rounds(bg)
	must(t, err)
	if len(all) != 2 || all[0].Place != "here" || all[1].Said.Text(nil) != "2 things changed since the plan was made. There was no plan." || len(all[1].Found) != 1 ||
		all[1].Found[0].Change != 0.25 || all[1].Found[0].Day != words.NewDay(2026, 3, 4) || all[1].Looked["m1"] != "d" || !all[1].Began.Equal(when) {
		t.Errorf("there are %+v", all)
	}
	must(t, s.KeepRound(bg, &next, when))
	if all, err = s.Rounds(bg); err != nil || len(all) != 2 || !all[1].Began.Equal(next.Began) || len(all[1].Found) != 0 {
		t.Errorf("the next time: %+v, %v", all, err)
	}
	must(t, s.DropRounds(bg, shop.RoundCopies, when.Add(time.Second)))
	must(t, s.DropRounds(bg, shop.RoundPlan, when))
	if all, err = s.Rounds(bg); err != nil || len(all) != 1 || all[0].Name != shop.RoundPlan {
		t.Errorf("without those of long ago: %+v, %v", all, err)
	}
	after, err := s.Revision(bg)
	must(t, err)
	if after.Told != before.Told+4 || after.Rest != before.Rest {
		t.Errorf("four changes are counted from %+v to %+v", before, after)
	}
}
