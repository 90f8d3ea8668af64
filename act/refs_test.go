package act_test

import (
	"strings"
	"testing"
	"time"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/shop"
	"needlepace/shop/setups"
)

const namedShift = `
name = "by name"
[shift]
hours = 2
[[machine]]
name = "the left one"   # where it stands
sheet = "Bay 1"
[[operator]]
name = "Ada"
[[job]]
design = "gull-cap.dst"
`

const namedHours = `
[[shift]]
from = "08:00"
to = "16:00"
operators = 1
[[down]]
machine = "Bay 1"
from = "2026-03-05"
to = "2026-03-06"
[[machine]]
name = "Bay 1"
heads = 3
[money]
currency = "EUR"
labour_per_hour = 20
price_step = 0.05
shifts_per_year = 230
[money.machines."Bay 1"]
price = 7000
life_years = 7
`

// pieces is what a shift yields, by the same draws.
func pieces(t *testing.T, s *act.Shop, toml string) float64 {
	t.Helper()
	r, err := act.Answer(t.Context(), s, ask.Shift, ask.ShiftQuestion{TOML: []byte(toml), Simulation: ask.Simulation{Seed: 7},
		Precision: .02})
	must(t, err)
	return r.Good.Mean
}

// rename gives a machine another name.
func rename(t *testing.T, s *act.Shop, m *shop.Machine, name string) {
	t.Helper()
	now, err := s.Machines.Get(t.Context(), m.ID)
	must(t, err)
	sheet := now.Sheet.Clone()
	sheet.Name = name
	_, err = s.Machines.ChangeSheet(t.Context(), m.ID, now.Version, string(sheet.TOML()), "", "")
	must(t, err)
}

func TestAKeptShiftMeansTheMachineItWasMadeFor(t *testing.T) {
	s, _ := newShop(t)
	ctx := t.Context()
	add(t, s, "gull-cap.dst")
	bay, err := s.Machines.AddOfClass(ctx, "compact-8", "Bay 1", "")
	must(t, err)
	kept, err := s.Setups.Save(ctx, shop.Setup{Kind: shop.FloorSetup, Name: "Early", TOML: namedShift})
	must(t, err)
	for _, want := range []string{`sheet = "` + bay.ID + `"`, "# where it stands", `name = "gull-cap"`} {
		if !strings.Contains(kept.TOML, want) {
			t.Errorf("the kept shift has no %q:\n%s", want, kept.TOML)
		}
	}
	was := pieces(t, s, kept.TOML)

	other, err := s.Machines.AddOfClass(ctx, "single-15-light", "Bay 1", "")
	must(t, err)
	if is := pieces(t, s, kept.TOML); is != was {
		t.Errorf("with a second machine of the name the shift yields %v pieces, %v before", is, was)
	}
	_, err = s.Setups.Save(ctx, shop.Setup{Kind: shop.FloorSetup, Name: "Late", TOML: namedShift})
	if shop.CodeOf(err) != shop.Invalid || !strings.Contains(err.Error(), bay.ID) || !strings.Contains(err.Error(), other.ID) {
		t.Errorf("a name that two machines have was kept: %v", err)
	}

	rename(t, s, bay, "Bay 9")
	if is := pieces(t, s, kept.TOML); is != was {
		t.Errorf("renamed, the shift yields %v pieces, %v before", is, was)
	}
	must(t, s.Machines.Remove(ctx, bay.ID))
	_, err = act.Answer(ctx, s, ask.Shift, ask.ShiftQuestion{TOML: []byte(kept.TOML)})
	if err == nil || !strings.Contains(err.Error(), "Bay 9 was taken off the list") {
		t.Errorf("a shift with a machine taken off the list: %v", err)
	}
}

func TestHoursMeanTheMachineTheyWereMadeFor(t *testing.T) {
	s, store := newShop(t)
	ctx := t.Context()
	bay, err := s.Machines.AddOfClass(ctx, "compact-8", "Bay 1", "")
	must(t, err)
	_, err = s.Setups.SaveWorkshop(ctx, "hours", namedHours, setups.AnyVersion)
	must(t, err)
	raw, err := store.Setup(ctx, shop.WorkshopID)
	must(t, err)
	if n := strings.Count(raw.TOML, bay.ID); n != 3 || strings.Contains(raw.TOML, "Bay 1") {
		t.Fatalf("the kept hours name the machine by its ID %d times:\n%s", n, raw.TOML)
	}
	shown := func() string {
		kept, err := s.Setups.Get(ctx, shop.WorkshopID)
		must(t, err)
		return kept.TOML
	}
	if shown() != namedHours {
		t.Errorf("the hours are shown as\n%s", shown())
	}
	rename(t, s, bay, "Bay 9")
	if want := strings.ReplaceAll(strings.ReplaceAll(namedHours, `."Bay 1"`, `."Bay 9"`), "Bay 1", "Bay 9"); shown() != want {
		t.Errorf("after the machine's new name the hours are shown as\n%s", shown())
	}
	w, _, err := s.Setups.Workshop(ctx)
	must(t, err)
	if w.Machine[0].ID != bay.ID || w.Machine[0].Name != "Bay 9" || w.Down[0].ID != bay.ID {
		t.Errorf("the workshop has %+v and %+v", w.Machine[0], w.Down[0])
	}
	if own, ok := w.Money.Machines[bay.ID]; !ok || own.Price.String() != "7000" || len(w.Money.Machines) != 1 {
		t.Errorf("renamed, the machines cost %+v", w.Money.Machines)
	}
	other, err := s.Machines.AddOfClass(ctx, "single-15-light", "Bay 9", "")
	must(t, err)
	if w, _, err = s.Setups.Workshop(ctx); err != nil || w.Money.Machines[bay.ID].Life != 7 || len(w.Money.Machines) != 1 {
		t.Errorf("with a second machine of the name the machines cost %+v: %v", w.Money.Machines, err)
	}
	_, err = s.Setups.SaveWorkshop(ctx, "hours", strings.Replace(shown(), "[money.machines."+bay.ID, `[money.machines."Bay 9"`, 1), setups.AnyVersion)
	if err == nil || !strings.Contains(err.Error(), "money.machines.Bay 9") || !strings.Contains(err.Error(), other.ID) {
		t.Errorf("prices of a name that two machines have were kept: %v", err)
	}
	must(t, s.Machines.Remove(ctx, other.ID))
	open := w.Calendar(bay.ID).Windows(time.Date(2026, 3, 5, 0, 0, 0, 0, time.UTC), 2)
	if len(open) == 0 || open[0].From < 86400 {
		t.Errorf("the machine is open on the day it is down: %v", open)
	}
	must(t, s.Machines.Remove(ctx, bay.ID))
	if !strings.Contains(shown(), `"Bay 9"`) {
		t.Errorf("a machine taken off the list is not shown by its name:\n%s", shown())
	}
	if _, err := s.Setups.SaveWorkshop(ctx, "hours", raw.TOML, setups.AnyVersion); err == nil || !strings.Contains(err.Error(), "machine[1].name") ||
		!strings.Contains(err.Error(), "Bay 9 was taken off the list") {
		t.Errorf("hours for a machine taken off the list: %v", err)
	}
}

func TestSetupsOfAnOlderVersionAreMigratedOnce(t *testing.T) {
	s, store := newShop(t)
	ctx := t.Context()
	d := add(t, s, "gull-cap.dst")
	bay, err := s.Machines.AddOfClass(ctx, "compact-8", "Bay 1", "")
	must(t, err)
	for _, old := range []shop.Setup{
		{ID: "shift", Kind: shop.FloorSetup, Name: "Early", TOML: namedShift, Version: 1},
		{ID: "gone", Kind: shop.FloorSetup, Name: "Gone", TOML: strings.Replace(namedShift, `"Bay 1"`, `"Bay 2"`, 1), Version: 1},
		{ID: shop.WorkshopID, Kind: shop.PlanSetup, Name: "hours", TOML: namedHours, Version: 1},
	} {
		must(t, store.SaveSetup(ctx, &old))
	}
	must(t, s.Migrate(ctx))
	for id, want := range map[string]string{"shift": bay.ID, "gone": "Bay 2", shop.WorkshopID: bay.ID} {
		kept, err := store.Setup(ctx, id)
		must(t, err)
		if !strings.Contains(kept.TOML, `"`+want+`"`) || kept.Version != 2 {
			t.Errorf("%s was migrated to version %d:\n%s", id, kept.Version, kept.TOML)
		}
		if id == "shift" && !strings.Contains(kept.TOML, d.ID) {
			t.Errorf("its design is still named:\n%s", kept.TOML)
		}
	}
	must(t, s.Migrate(ctx))
	if kept, err := store.Setup(ctx, "shift"); err != nil || kept.Version != 2 {
		t.Errorf("it was migrated again: %v %v", kept, err)
	}
}

// A set-up means the machine that had the name when it was kept, also where an
// older version let a second one take the name before the shop was brought over.
func TestSetupsOfAnOlderVersionMeanTheMachineOfTheirDay(t *testing.T) {
	s, store := newShop(t)
	ctx := t.Context()
	add(t, s, "gull-cap.dst")
	first, err := s.Machines.AddOfClass(ctx, "compact-8", "Bay 1", "")
	must(t, err)
	kept := first.Added.Add(time.Minute)
	for _, old := range []shop.Setup{
		{ID: "shift", Kind: shop.FloorSetup, Name: "Early", TOML: namedShift, Version: 1, Changed: kept},
		{ID: shop.WorkshopID, Kind: shop.PlanSetup, Name: "hours", TOML: namedHours, Version: 1, Changed: kept},
		{ID: "late", Kind: shop.FloorSetup, Name: "Late", TOML: namedShift, Version: 1, Changed: kept.Add(time.Hour)},
	} {
		must(t, store.SaveSetup(ctx, &old))
	}
	second, v, err := store.Machine(ctx, first.ID)
	must(t, err)
	second.ID, v.MachineID, second.Added = "second", "second", kept.Add(time.Minute)
	must(t, store.AddMachine(ctx, second, v))
	must(t, s.Migrate(ctx))
	for id, want := range map[string]string{"shift": first.ID, shop.WorkshopID: first.ID, "late": "Bay 1"} {
		kept, err := store.Setup(ctx, id)
		must(t, err)
		if !strings.Contains(kept.TOML, `"`+want+`"`) || strings.Contains(kept.TOML, "second") {
			t.Errorf("%s was migrated to:\n%s", id, kept.TOML)
		}
	}
	w, _, err := s.Setups.Workshop(ctx)
	must(t, err)
	if w.Money.Machines[first.ID].Life != 7 {
		t.Errorf("the machines cost %+v", w.Money.Machines)
	}
}
