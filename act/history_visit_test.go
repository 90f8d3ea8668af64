package act_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"strings"
	"testing"

	"needlepace/act"
	"needlepace/shop"
	"needlepace/shop/visits"
	"needlepace/trial"
	"needlepace/words"
)

// The history of a visit says what was done, to which trial and by whom, in each language, and none of it twice.
func TestTheHistoryOfAVisitSaysWhatWasDone(t *testing.T) {
	s, visit := trialKept(t)
	ctx := t.Context()
	kept, err := s.Visits.Read(ctx, visit, "trials/one/TRIAL.toml")
	must(t, err)
	file := string(kept)
	more := strings.Replace(strings.Replace(file, "repeats = 2", "repeats = 3", 1), "speed = 700", "speed = 650", 1) +
		"\n[[machine]]\nname = \"Third\"\nsheet = \"home-1\"\nplace = \"quay\"\nspeed = 600\n"
	var shot bytes.Buffer
	must(t, jpeg.Encode(&shot, image.NewGray(image.Rect(0, 0, 40, 30)), nil))
	sheet := func(turn string) trial.Given {
		return trial.Given{Name: "times " + turn + ".csv", Bytes: []byte("place,turn,time\nquay," + turn + ",99\n")}
	}
	call := "name = \"Gull\"\nadviser = \"a\"\ncloth = \"c\"\nthread = \"t\"\nneedle = \"n\"\n[[design]]\nname = \"gull\"\nfile = \"" + act.OfShop + add(t, s, "gull-cap.dst").ID + "\"\n"
	for _, c := range []struct {
		do   func() error
		says string
	}{
		{func() error { return nil }, "Visit Notes: trial one planned, and 1 file more"},
		{func() error { _, err := s.KeepTrial(ctx, visit, "one", "Ida", []byte(more), nil); return err },
			"Visit Notes: the plan of trial one changed (machine Old changed, machine Third added and how often)"},
		{func() error {
			_, err := s.KeepTrial(ctx, visit, "one", "Ida", []byte(strings.Replace(more, "cloth = ", "difference = 3.0\ncloth = ", 1)), nil)
			return err
		},
			"Visit Notes: the plan of trial one changed (what is the same for all)"},
		{func() error { _, err := s.KeepTrial(ctx, visit, "one", "Ida", kept, nil); return err },
			"Visit Notes: the plan of trial one changed (machine Old changed, how often, what is the same for all and machine Third taken out)"},
		{func() error { _, err := s.TakeReturns(ctx, visit, "one", "Ida", []trial.Given{sheet("1")}); return err }, "Visit Notes: times 1.csv came back to trial one"},
		{func() error {
			_, err := s.TakeReturns(ctx, visit, "one", "Ida", []trial.Given{sheet("2"), sheet("3")})
			return err
		},
			"Visit Notes: times 2.csv came back to trial one, and 1 file more"},
		{func() error {
			_, err := s.TakeReturns(ctx, visit, "one", "Ida", []trial.Given{{Name: "quay-1.jpg", Bytes: shot.Bytes()}})
			return err
		},
			"Visit Notes: photograph quay-1.jpg came to trial one"},
		{func() error {
			return s.KeepGrades(ctx, visit, "one", "Ida", []trial.Grade{{Design: "gull", Machine: "Old", Grader: "Ann B.", Block: 1, By: map[trial.Aspect]int{trial.Pull: 3}}})
		},
			"Visit Notes: grades given in trial one (by Ann B.)"},
		{func() error {
			return s.Visits.Put(shop.Detailed(ctx, "photo quay-1.jpg"), visit, "Ida", visits.File{Name: "trials/one/returns/scales.csv", As: []byte("x")})
		},
			"Visit Notes: a length laid on a photograph in trial one (quay-1.jpg)"},
		{func() error { return s.Visits.TakeOut(ctx, visit, "trials/one/returns/times 1.csv") }, "Visit Notes: times 1.csv, that came back to trial one, taken out"},
		{func() error {
			return s.Visits.Put(ctx, visit, "Ida", visits.File{Name: "notes/a.txt", As: []byte("x")})
		}, "Visit Notes: a.txt put into notes"},
		{func() error {
			return s.Visits.Put(ctx, visit, "Ida", visits.File{Name: "notes/a.txt", As: []byte("y")})
		}, "Visit Notes: a.txt in notes replaced"},
		{func() error { return s.Visits.TakeOut(ctx, visit, "notes/a.txt") }, "Visit Notes: a.txt taken out of notes"},
		{func() error { _, err := s.KeepCall(ctx, visit, "any", "Ida", []byte(call), nil); return err }, "Visit Notes: open call any written"},
		{func() error { _, err := s.Visits.OpenCallPage(ctx, visit, "any", 0); return err }, "Visit Notes: the page of open call any opened"},
		{func() error { return s.Visits.ShutCallPage(ctx, visit, "any") }, "Visit Notes: the page of open call any shut"},
		{func() error { _, err := s.Visits.Describe(ctx, visit, 0, "Notes", "Quay", ""); return err }, "Name, client or note of visit Notes changed"},
	} {
		must(t, c.do())
		all, _, err := s.Changes.List(ctx, shop.Owner, shop.ChangeQuery{Thing: "visit", Ref: visit})
		must(t, err)
		if got := strings.ReplaceAll(act.ChangeSays(all[0]).Text(nil), "\u00a0", " "); got != c.says {
			t.Errorf("it says %q, want %q (kept: %q)", got, c.says, all[0].What)
		}
		english := act.ChangeSays(all[0]).Text(nil)
		for _, l := range words.Languages()[1:] {
			if got := act.ChangeSays(all[0]).Text(&words.Writer{Language: l}); got == english {
				t.Errorf("%s: %q is English", l.Tag, got)
			}
		}
	}
	// What older versions noted is the file's name alone.
	if got := act.ChangeSays(&shop.Changed{Thing: "visit", Verb: "changed", Name: "Notes", What: "notes/put me.txt", Things: 1}).Text(nil); got != "Visit Notes changed" {
		t.Error(got)
	}
}
