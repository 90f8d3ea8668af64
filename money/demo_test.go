package money

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"

	"needlepace/floor"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// demoSources reads what the demo shop's files name.
func demoSources() floor.Sources {
	dir := filepath.Join("..", "demo", "floor")
	return floor.Sources{
		Design: func(path string) (*stitch.Design, error) {
			b, err := os.ReadFile(filepath.Join(dir, path))
			if err != nil {
				return nil, errors.New("no such file")
			}
			return stitchfile.Decode(b, path)
		},
		Sheet: func(name string) (*machine.Sheet, error) {
			if s, ok := machine.Class(name); ok {
				return s, nil
			}
			b, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				return nil, errors.New("no such file")
			}
			return machine.Parse(name, b)
		},
	}
}

func demoText(t testing.TB, file string) string {
	b, err := os.ReadFile(filepath.Join("..", "demo", "floor", file))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func mixOf(text string) (*Mix, error) {
	mf, f, err := ParseMix("MIX.toml", []byte(text))
	if err != nil {
		return nil, err
	}
	return mf.Resolve(f, demoSources())
}

func shopOf(text string) (*floor.Resolved, *ShopFile, error) {
	sf, f, err := ParseShop("SHOP.toml", []byte(text))
	if err != nil {
		return nil, nil, err
	}
	r, err := sf.Resolve(f, demoSources())
	return r, sf, err
}

// at is the place "SHOP.toml:LINE:" of the first line that holds what.
func at(t testing.TB, file, text, what string) string {
	for i, l := range strings.Split(text, "\n") {
		if strings.Contains(l, what) {
			return file + ":" + itoa(i+1) + ":"
		}
	}
	t.Fatalf("no line holds %q", what)
	return ""
}

func itoa(n int) string { return dec("0").Add(dec("1").Mul(Measured(float64(n)))).String() }

func TestBadShopFilesNameKeyAndLine(t *testing.T) {
	good := demoText(t, "SHOP.toml")
	if _, _, err := shopOf(good); err != nil {
		t.Fatal(err)
	}
	for _, e := range []struct{ old, new, key string }{
		{"breaks_per_1000 = 0.006", "breaks_per_1000 = -1", "breaks_per_1000"},
		{"repair = { mean = 70, cv = 0.6 }", "repair = { mean = -70, cv = 0.6 }", "repair.mean"},
		{"hoop_sets = 2", "hoop_sets = 0", "hoop_sets"},
		{"hours = 8", "hours = 0.0001", "shift.hours"},
		{`rule = "first-called"`, `rule = "loudest"`, "shift.rule"},
		{"minutes = 30", "minutes = 3000", "pause[2].minutes"},
		{`sheet = "../shop/skipper.toml"`, `sheet = "../shop/kipper.toml"`, "machine[2].sheet"},
		{`name = "Tam"`, `name = "Maud"`, "operator[2].name"},
		{"speed = 900", "speed = 9", "machine[1].speed"},
		{"speed = 900", "heads = 0", "machine[1].heads"},
		{"speed = 900", "heads = 99", "machine[1].heads is 99; Gannet has 1"},
		{"speed = 900", "place = [1]", "machine[1].place"},
		{"quantity = 90", "quantity = -90", "job[1].quantity"},
		{`machines = ["Six Sisters"]`, `machines = ["Seven Sisters"]`, "job[1].machines"},
		{`design = "../designs/ostrel-light.dst"`, `design = "../designs/none.dst"`, "job[2].design"},
		{"cap_frame = true", "heavy = -1", "job[3]"},
		{"cap_frame = true", "cap_farme = true", "cap_farme"},
		{"waste = 0.10", "waste = -0.10", "thread.waste"},
		{"labour_per_hour = 19.50", "labour_per_hour = -19.50", "money.labour_per_hour"},
		{"labour_per_hour = 19.50", "labour_per_hour = 19,50", ""},
		{"labour_per_hour = 19.50", "labour_per_hour = 1e3", `money.labour_per_hour is "1e3", which is no plain number`},
		{"hours = 8", `hours = "8 h"`, "shift.hours is a text; it takes hours as a plain number"},
		{"minutes = 30", `minutes = "30"`, `pause[2].minutes "30" does not say its unit; it takes minutes (15)`},
		{"walk_seconds = 10", `walk_seconds = "soon"`, `shift.walk_seconds "soon" is no time`},
		{"load = { mean = 60, cv = 0.3 }", "load = -45", "work.load is -45 s; give 0 to 86400"},
		{"load = { mean = 60, cv = 0.3 }", `load = "later"`, `work.load "later" is no time`},
		{"load = { mean = 60, cv = 0.3 }", "load = [60]", "work.load is a list; it takes seconds"},
		{"margin_percent = 35", "margin_percent = 100", "money.margin_percent"},
		{"shifts_per_year = 240", "shifts_per_year = 0", "money.shifts_per_year"},
		{"salvage = 600", "salvage = -600", "money.machines.Skipper.salvage"},
		{"[money.machines.Skipper]", "[money.machines.Slipper]", "money.machines.Slipper"},
		{"price = 7200", `price = "a lot"`, "price"},
	} {
		text := strings.Replace(good, e.old, e.new, 1)
		if text == good {
			t.Fatalf("%q is not in the file", e.old)
		}
		_, _, err := shopOf(text)
		where := at(t, "SHOP.toml", text, e.new)
		switch e.key {
		case "job[3]", "operator[2].name": // the table's own line, or a line that is there twice
			where = "SHOP.toml:"
		}
		if err == nil || !strings.Contains(err.Error(), where) || !strings.Contains(err.Error(), e.key) {
			t.Errorf("%q: want %s and %s, got: %v", e.new, where, e.key, err)
		}
	}
	// Tables that are not there at all.
	cut := func(table string) string {
		var out []string
		skip := false
		for _, l := range strings.Split(good, "\n") {
			if strings.HasPrefix(l, "[") {
				skip = l == table
			}
			if !skip {
				out = append(out, l)
			}
		}
		return strings.Join(out, "\n")
	}
	for table, want := range map[string]string{"[[machine]]": "machine", "[[operator]]": "operator", "[[job]]": "job is missing", "[shift]": "shift.hours is missing"} {
		if _, _, err := shopOf(cut(table)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("without %s: want %q, got %v", table, want, err)
		}
	}
	if _, _, err := shopOf(""); err == nil {
		t.Error("an empty file gave no error")
	}
}

func TestDurationsOfAShopAreWrittenAsPeopleDo(t *testing.T) {
	good := demoText(t, "SHOP.toml")
	for written, want := range map[string]floor.Spread{
		"45": {Mean: 45, CV: .3}, `"45 s"`: {Mean: 45, CV: .3}, `"1 min 15 s"`: {Mean: 75, CV: .3}, `"1:15"`: {Mean: 75, CV: .3}, "{ mean = 45 }": {Mean: 45},
		`{ mean = "1 min 15 s", cv = 0.5, law = "gamma" }`: {Mean: 75, CV: .5, Law: floor.Gamma},
	} {
		r, _, err := shopOf(strings.Replace(good, "load = { mean = 60, cv = 0.3 }", "load = "+written, 1))
		if err != nil {
			t.Errorf("load = %s: %v", written, err)
			continue
		}
		got := r.Shop.Machines[0].Load
		if got.Mean != want.Mean || got.CV != want.CV || got.Law != want.Law {
			t.Errorf("load = %s: %+v, want %+v", written, got, want)
		}
	}
	// Kept and read again it is the same, and so is what was written as 0 or left out.
	text := good
	for _, e := range [][2]string{{"load = { mean = 60, cv = 0.3 }", "load = 45"}, {"energy_per_kwh = 0.31", "energy_per_kwh = 0"}, {"garment_each = 7.50\n", ""}} {
		text = strings.Replace(text, e[0], e[1], 1)
	}
	for _, from := range []string{"as written", "as kept"} {
		sf, _, err := ParseShop("x", []byte(text))
		if err != nil {
			t.Fatalf("%s: %v", from, err)
		}
		if sf.Work.Load.Mean != 45 || sf.Work.Load.CV != .3 || !slices.Equal(sf.Money.Missing(), []string{"money.garment_each"}) {
			t.Errorf("%s: %+v, missing %v", from, sf.Work.Load, sf.Money.Missing())
		}
		b, err := toml.Marshal(sf)
		if err != nil {
			t.Fatal(err)
		}
		text = string(b)
	}
	// A machine's own plain number varies as the shop's does.
	r, _, err := shopOf(strings.Replace(good, "speed = 900", "speed = 900\nrepair = \"2 min\"", 1))
	if err != nil || r.Shop.Machines[0].Repair.Mean != 120 || r.Shop.Machines[0].Repair.CV != .6 || r.Shop.Machines[1].Repair.Mean != 70 {
		t.Errorf("repair of a machine: %+v, %v", r.Shop.Machines[0].Repair, err)
	}
	// Hours and minutes become seconds once.
	if r, _, err = shopOf(good); err != nil {
		t.Fatal(err)
	}
	want := []floor.Pause{{At: 2 * 3600, For: 15 * 60}, {At: 4 * 3600, For: 30 * 60}}
	if r.Shop.Seconds != 28_800 || !reflect.DeepEqual(r.Shop.Pauses, want) {
		t.Errorf("a shift of %g s with pauses %+v", r.Shop.Seconds, r.Shop.Pauses)
	}
	r, _, err = shopOf(strings.Replace(good, "walk_seconds = 10", `walk_seconds = "1:10"`, 1))
	if err != nil || r.Shop.Walk.Seconds != 70 {
		t.Errorf("walk: %+v, %v", r.Shop.Walk, err)
	}
}

func TestBadMixFilesNameKeyAndLine(t *testing.T) {
	good := demoText(t, "MIX.toml")
	for _, e := range []struct{ old, new, key string }{
		{"shifts = 5", "shifts = 50", "week.shifts"},
		{"hours = 7.25", "hours = -7.25", "week.hours"},
		{"operators = 1 ", "operators = -1 ", "week.operators"},
		{"price = 5900", "price = -5900", "machine[2].price"},
		{"life_years = 8", "life_years = 0", "machine[3].life_years"},
		{`sheet = "compact-8"`, `sheet = "compact-9"`, "machine[2].sheet"},
		{`sheet = "compact-8"`, `heads = -3`, "machine[2].sheet"},
		{"kilowatts = 0.25", "heads = 3", "machine[2].heads is 3; the sheet of offer 1 has 1"},
		{"kilowatts = 0.25", "heads_in_use = 2", "machine[2].heads_in_use is 2; offer 1 has 1"},
		{"weekly = 60", "weekly = -60", "design[1].weekly"},
		{"order = 20", "order = 200", "design[1].order"},
		{"hoop_sets = 2", "hoop_sets = -2", "hoop_sets"},
		{"energy_per_kwh = 0.31", "energy_per_kwh = -0.31", "money.energy_per_kwh"},
		{"energy_per_kwh = 0.31", "energie = 0.31", "energie"},
	} {
		text := strings.Replace(good, e.old, e.new, 1)
		if text == good {
			t.Fatalf("%q is not in the file", e.old)
		}
		_, err := mixOf(text)
		where := at(t, "MIX.toml", text, e.new)
		if e.key == "machine[2].sheet" && e.new == "heads = -3" {
			where = "MIX.toml:" // missing: the table's own line
		}
		if err == nil || !strings.Contains(err.Error(), where) || !strings.Contains(err.Error(), e.key) {
			t.Errorf("%q: want %s and %s, got: %v", e.new, where, e.key, err)
		}
	}
	i := strings.Index(good, "[[design]]")
	if _, err := mixOf(good[:i]); err == nil || !strings.Contains(err.Error(), "design is missing") {
		t.Errorf("empty mix: %v", err)
	}
	i = strings.Index(good, "[[machine]]")
	if _, err := mixOf(good[:i] + good[strings.Index(good, "[[design]]"):]); err == nil || !strings.Contains(err.Error(), "machine is missing") {
		t.Errorf("no machines: %v", err)
	}
}

func TestDemoMixComparesTheSameForTheSameSeed(t *testing.T) {
	m, err := mixOf(demoText(t, "MIX.toml"))
	if err != nil {
		t.Fatal(err)
	}
	c, err := Compare(context.Background(), m, CompareOptions{Seed: 3, Weeks: 60})
	if err != nil {
		t.Fatal(err)
	}
	again, err := Compare(context.Background(), m, CompareOptions{Seed: 3, Weeks: 60})
	if err != nil {
		t.Fatal(err)
	}
	for i := range c.Machines {
		if !c.Machines[i].YearCost.Mid.Equal(again.Machines[i].YearCost.Mid) {
			t.Errorf("%s: %s, then %s", c.Machines[i].Name, c.Machines[i].YearCost.Mid, again.Machines[i].YearCost.Mid)
		}
		sum := zero
		for _, l := range c.Machines[i].Year {
			sum = sum.Add(l.Amount)
		}
		if !sum.Equal(c.Machines[i].YearCost.Mid) {
			t.Errorf("%s: lines add up to %s of %s", c.Machines[i].Name, sum, c.Machines[i].YearCost.Mid)
		}
		if x := c.Machines[i]; x.Hours.Mean < x.RunHours || x.OEE.OEE <= 0 || x.OEE.OEE >= 1 {
			t.Errorf("%s: %g hours, of them %g sewing, OEE %g", x.Name, x.Hours.Mean, x.RunHours, x.OEE.OEE)
		}
		for j := range c.Machines {
			p, not := c.Beats(i, j), c.Beats(j, i)
			if s := p.P() + not.P(); math.Abs(s-1) > 1e-12 || p.Not() != not || p.Of != 60 {
				t.Errorf("chances of %d and %d: %+v and %+v", i, j, p, not)
			}
		}
	}
	if _, err := Compare(context.Background(), m, CompareOptions{Base: "none"}); err == nil {
		t.Error("a base that is not there gave no error")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Compare(ctx, m, CompareOptions{}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

func TestAtTheTiePriceNeitherIsCheaper(t *testing.T) {
	m, err := mixOf(demoText(t, "MIX.toml"))
	if err != nil {
		t.Fatal(err)
	}
	opt := CompareOptions{Seed: 3, Weeks: 30}
	c, err := Compare(context.Background(), m, opt)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range c.Pairs {
		// The share of weeks with fewer hours, counted again.
		mine, _ := c.Machines[p.Machine].Draws()
		base, _ := c.Machines[p.Base].Draws()
		fewer := 0
		for k := range mine {
			if base[k] > mine[k] {
				fewer++
			}
		}
		if want := (Chance{Won: fewer, Of: len(mine)}); p.Faster != want || 2*fewer == len(mine) {
			t.Errorf("%s: fewer hours in %+v, counted %+v", c.Machines[p.Machine].Name, p.Faster, want)
		}
		o := &m.Offers[p.Machine]
		was := o.Owned
		share := div(was.Salvage.Dec, was.Price.Dec)
		o.Owned.Price.Dec = p.Tie.Mid
		o.Owned.Salvage.Dec = p.Tie.Mid.Mul(share)
		tied, err := Compare(context.Background(), m, opt)
		if err != nil {
			t.Fatal(err)
		}
		gap := tied.Machines[p.Machine].YearCost.Mid.Sub(tied.Machines[p.Base].YearCost.Mid)
		if gap.Abs().GreaterThan(dec(".01")) {
			t.Errorf("%s at its tie price of %s: years differ by %s", o.Name, p.Tie.Mid, gap)
		}
		o.Owned = was
	}
}

func TestAMachineAgainstItselfGainsNothing(t *testing.T) {
	text := demoText(t, "MIX.toml")
	text = strings.Replace(text, `sheet = "compact-8"`, `sheet = "../shop/gannet.toml"`, 1)
	m, err := mixOf(text)
	if err != nil {
		t.Fatal(err)
	}
	m.Offers[1].Owned = m.Offers[0].Owned
	c, err := Compare(context.Background(), m, CompareOptions{Seed: 1, Weeks: 40})
	if err != nil {
		t.Fatal(err)
	}
	p := c.Pairs[0]
	if !p.Saving.Mid.IsZero() || !p.Invest.IsZero() || len(p.Payback) != 0 || len(p.Discounted) != 0 || !p.NPV.Mid.IsZero() {
		t.Errorf("against itself: %+v", p)
	}
	for what, chance := range map[string]Chance{"cheaper": p.Cheaper, "faster": p.Faster, "worth": p.Worth} {
		if chance.Verdict() != Alike || chance.P() != .5 {
			t.Errorf("%s than itself: %+v, %s", what, chance, chance.Verdict())
		}
	}
	for _, turning := range p.Turns {
		if s := turning.Stretches(); len(s) != 1 || s[0].Is != Alike {
			t.Errorf("%s: %+v", turning.Shape, s)
		}
	}
}

func TestShopCostsOnTheDemoFloor(t *testing.T) {
	r, sf, err := shopOf(demoText(t, "SHOP.toml"))
	if err != nil {
		t.Fatal(err)
	}
	d := r.Designs[1]
	q, err := OnFloor(context.Background(), r, &sf.Money, d, "light", 2, 850, floor.Goods{}, []int{1, 48}, floor.Options{Seed: 1, Min: 64, Max: 64})
	if err != nil {
		t.Fatal(err)
	}
	// Six heads: a piece holds the machine for a sixth of a run, and more for
	// loading; the interval holds the cost.
	if run := q.Made.Seconds[floor.Running] * 6; run < q.Clock.Seconds*.97 || run > q.Clock.Seconds*1.03 {
		t.Errorf("run of %g s on the floor, %g s by the clock", run, q.Clock.Seconds)
	}
	if q.Made.Seconds[floor.Loading] < 15 || q.Made.Occupied() <= q.Clock.Seconds/6 {
		t.Errorf("a piece holds the machine for %g s", q.Made.Occupied())
	}
	last := q.Steps[1].Total
	if !q.Low.LessThan(last) || !q.High.GreaterThan(last) || !q.Steps[0].Total.GreaterThan(last) {
		t.Errorf("cost %s between %s and %s; single piece %s", last, q.Low, q.High, q.Steps[0].Total)
	}
	// By hand: 240 s of set-up (SHOP.toml), and 25 s (the usual) for each of five cones on each of six heads.
	if q.Made.Setup != 240+25*5*6 {
		t.Errorf("a changeover of %g s, by hand 990 s", q.Made.Setup)
	}
	// The share of spoilt pieces is the expected one, whatever the draws; at most as many load a machine as there are operators; what is
	// bought goes by the machine's own bobbins.
	other := r.Shop.Machines[2]
	r.Shop.Machines[2].Loaders, r.Shop.Machines[2].Bobbin.Metres = 9, other.Bobbin.Metres/4
	again, err := OnFloor(context.Background(), r, &sf.Money, d, "light", 2, 850, floor.Goods{}, []int{48}, floor.Options{Seed: 2, Min: 4, Max: 4})
	if err != nil {
		t.Fatal(err)
	}
	if r.Shop.Machines[2] = other; again.Made.Spoilt != q.Made.Spoilt || again.Made.Loaders != 2 || q.Thread.Bobbins < 6 || again.Thread.Bobbins < 3*q.Thread.Bobbins {
		t.Errorf("spoilt %g and %g, %d load, %d bobbins and %d", q.Made.Spoilt, again.Made.Spoilt, again.Made.Loaders, q.Thread.Bobbins, again.Thread.Bobbins)
	}
	// A machine whose reports say that it takes half as long again does so in all that a piece holds it.
	run, err := floor.NewRun(d, r.Sheets[2], floor.Goods{}.Clock(850), r.Works[2], 6, r.Law, nil)
	if err != nil {
		t.Fatal(err)
	}
	var held []float64
	for _, pace := range []float64{1, 1.5} {
		made, err := Makes(context.Background(), r.Shop, []Sewn{{Machine: 2, Design: d, Run: run, Pace: pace, Law: r.Law, AtJumps: 3}}, floor.Options{Seed: 1, Min: 4, Max: 4})
		if err != nil {
			t.Fatal(err)
		}
		held = append(held, made[0].Occupied())
	}
	if math.Abs(held[1]/held[0]-1.5) > 1e-9 {
		t.Errorf("a piece holds the machine %g s, by its reports %g s", held[0], held[1])
	}
	delete(sf.Money.Machines, "Six Sisters")
	if _, err := OnFloor(context.Background(), r, &sf.Money, d, "light", 2, 850, floor.Goods{}, []int{1}, floor.Options{Seed: 1}); err == nil || !strings.Contains(err.Error(), "Six Sisters") {
		t.Errorf("a machine without a price: %v", err)
	}
}

// Draws gives a machine's simulated weeks: machine hours, and a year's cost
// at that pace.
func (m *MachineResult) Draws() (hours []float64, yearly []Dec) { return m.hours, m.yearly }
