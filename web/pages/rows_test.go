package pages_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"needlepace/shop"
	"needlepace/web"
	"needlepace/web/webtest"
	"needlepace/words"
)

// A row of the list of designs that was written before is given again only where it would be written so: whatever it
// says of the design, the machines and how the shop wants to see it.
func TestKeptRowsAreAsTheyWouldBeWritten(t *testing.T) {
	a := webtest.New(t, web.Options{})
	ctx := t.Context()
	d := a.DemoDesign("gull-cap.dst")
	id := a.Machine("compact-8", "Whelk")
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	row := func(at string) string {
		t.Helper()
		rows := func() string {
			_, body := a.Page(at, nil)
			_, list, _ := strings.Cut(body, `<tbody role="rowgroup">`)
			list, _, _ = strings.Cut(list, `</tbody>`)
			return list
		}
		list := rows()
		if again := rows(); list == "" || again != list {
			t.Fatalf("no row, or another the second time: %.600s; %.600s", list, again)
		}
		return list
	}
	sheet := func(change func(toml string) string) {
		t.Helper()
		m, err := a.Shop.Machines.Get(ctx, id)
		must(err)
		_, err = a.Shop.Machines.ChangeSheet(ctx, id, m.Version, change(string(m.Sheet.TOML())), "", "")
		must(err)
	}
	took := func() string {
		t.Helper()
		all, err := a.Shop.Machines.List(ctx)
		must(err)
		times, err := a.Shop.Times(ctx, []string{d.ID}, all)
		must(err)
		return `<span class="time">` + words.Seconds(times[0][0].Seconds).Text(nil) + `</span>`
	}
	size := func(inch bool) string { return words.Size{W: d.WidthMM, H: d.HeightMM}.Text(&words.Writer{Inch: inch}) }
	has := func(what, list string, all ...string) {
		t.Helper()
		for _, w := range all {
			if !strings.Contains(list, w) {
				t.Errorf("%s: no %q in %.1500s", what, w, list)
			}
		}
	}
	slow := took()
	has("first", row("/designs"), d.File, "Whelk", slow, size(false), "tickone")
	set, err := a.Shop.Settings.Get(ctx)
	must(err)
	set.Length = "inch"
	must(a.Shop.Settings.Save(ctx, set))
	has("in inches", row("/designs"), size(true))
	sheet(func(toml string) string { return strings.Replace(toml, "Whelk", "Limpet", 1) })
	has("another name", row("/designs"), `>Limpet<`, slow)
	m, err := a.Shop.Machines.Get(ctx, id)
	must(err)
	m.Sheet.MaxSpeed /= 2
	sheet(func(string) string { return string(m.Sheet.TOML()) })
	if took() == slow {
		t.Fatal("half the speed takes no longer")
	}
	has("another sheet", row("/designs"), took())
	_, err = a.Shop.Designs.Describe(ctx, d.ID, shop.Description{Name: "Kittiwake", Customer: "Kiosk"})
	must(err)
	has("described", row("/designs"), "Kittiwake", "Kiosk")
	a.Machine("compact-8", "Cockle")
	has("one machine more", row("/designs"), `>Cockle<`, `>Limpet<`)
	// Five machines stand there; with more the quickest do, and the rest in a line.
	for i := range 5 {
		if a.Machine("home-1", fmt.Sprintf("Slow %d", i)); i == 2 {
			if n := strings.Count(row("/designs"), `class="time"`); n != 5 {
				t.Errorf("of five machines %d stand in the row", n)
			}
		}
	}
	all, err := a.Shop.Machines.List(ctx)
	must(err)
	times, err := a.Shop.Times(ctx, []string{d.ID}, all)
	must(err)
	var secs []float64
	for _, one := range times[0] {
		secs = append(secs, one.Seconds)
	}
	slices.Sort(secs)
	list := row("/designs")
	if n := strings.Count(list, `class="time"`); len(secs) != 7 || n != 3 {
		t.Errorf("%d of %d machines stand in the row", n, len(secs))
	}
	for _, s := range secs[:3] {
		has("many machines", list, `<span class="time">`+words.Seconds(s).Text(nil)+`</span>`)
	}
	has("many machines", list, "4 machines more: "+words.Seconds(secs[3]).Text(nil)+" to "+words.Seconds(secs[6]).Text(nil), `>Cockle<`)
	must(a.Shop.Designs.Remove(ctx, d.ID))
	if gone := row("/designs?removed=1"); strings.Contains(gone, "tickone") || !strings.Contains(gone, "Kittiwake") {
		t.Errorf("taken off the list it can be ticked: %.600s", gone)
	}
	must(a.Shop.Designs.Restore(ctx, d.ID))
	has("put back", row("/designs"), "tickone")
}
