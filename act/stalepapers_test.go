package act_test

import (
	"bytes"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/readback"
	"needlepace/paper"
	"needlepace/picture"
	"needlepace/words"
)

// A plan that is not of what is known now says so on all that is made from it, in the words of the page.
func TestPapersOfAStalePlanSayThatItIs(t *testing.T) {
	b := fresh(t)
	o := b.order(t, "gull-cap.dst", 40, "2026-03-06", book.Agreed)
	p := b.plan(t).Plan
	const say = "1 thing changed since the plan was made."
	papers := func() map[string]string {
		since := b.since(t)
		r, err := b.MakeRunSheet(bg, o.ID, 1, "", 0)
		if err != nil {
			t.Fatal(err)
		}
		facts := ""
		for _, f := range ask.RunSheetFacts(r, words.Zone{}, b.at) {
			facts += f[0].Text(nil) + ": " + f[1].Text(nil) + "\n"
		}
		sheet, err := paper.RunSheetOf(bg, b.Asked(), r, b.at, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		onPaper := ""
		for _, f := range sheet.Facts {
			onPaper += f[0] + ": " + f[1] + "\n"
		}
		var ics, svg bytes.Buffer
		if err := paper.PlanCalendar(p, since, "Quay").ICS(&ics); err != nil {
			t.Fatal(err)
		}
		g := picture.PlanGantt(p, &words.Writer{}, b.at, nil)
		g.Note = since.Line().Text(nil)
		if err := picture.SVG(&svg, g, picture.Light()); err != nil {
			t.Fatal(err)
		}
		events := readback.ICS(t, ics.Bytes())
		unfolded := strings.ReplaceAll(ics.String(), "\r\n ", "")
		if said := strings.Count(unfolded, say); said != 0 && said != 1+len(events) {
			t.Errorf("the calendar and its %d appointments say it %d times", len(events), said)
		}
		return map[string]string{"the sheet": facts, "its paper": onPaper, "the calendar": unfolded, "the picture": svg.String()}
	}
	for on, text := range papers() {
		if strings.Contains(text, "since") || strings.Contains(text, "changed") {
			t.Errorf("nothing changed, and %s says so: %s", on, text)
		}
	}
	b.workshop(t, "speed = 900", "speed = 300")
	for on, text := range papers() {
		if !strings.Contains(text, say) {
			t.Errorf("%s says nothing of what changed: %s", on, text)
		}
	}
	if r, err := b.MakeRunSheet(bg, o.ID, 1, "", 0); err != nil || r.Since.Raw() != say {
		t.Errorf("the answer says %q, %v", r.Since.Raw(), err)
	}
}
