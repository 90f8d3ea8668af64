package money

import (
	"strings"
	"testing"

	"needlepace/floor"
)

func amount(s string) Amount { return Amount{Dec: dec(s), written: true} }

// rates with round numbers, to follow by hand.
func plainRates() *Rates {
	r := &Rates{Currency: "EUR", Labour: amount("20"), Overhead: amount("1000"), Energy: amount(".5"), TopThread: amount("2"), BobbinThread: amount("1"),
		Backing: amount("1"), BackingEdge: amount("50"), Needle: amount(".8"), Garment: amount("10"), Digitizing: amount("30"), Margin: amount("50"),
		PriceStep: amount(".05"), SalesTax: amount("20"), Shifts: 250}
	if err := r.Check(); err != nil {
		panic(err)
	}
	return r
}

func plainMade() Made {
	m := Made{Heads: 4, Stitches: 10_000, Top: 50, Bobbin: 30, Width: 100, Height: 100, Spoilt: .02, Setup: 900, Crew: .5, Shift: 8}
	m.Seconds[floor.Running] = 270 // a run of 18 min on four heads
	m.Seconds[floor.Loading] = 60
	m.Seconds[floor.Waiting] = 30
	m.Seconds[floor.Pausing] = 1000 // must not be counted
	return m
}

func TestCostLinesByHand(t *testing.T) {
	r := plainRates()
	o := Owned{Price: amount("20000"), Life: 10, Salvage: amount("2000"), Upkeep: amount("600"), KW: amount("1.5")}
	c, err := r.Of(plainMade(), o, 40)
	if err != nil {
		t.Fatal(err)
	}
	// 2,000 planned hours a year; a piece holds the machine 0.1 h; no interest:
	// (20000 − 2000)/10 a year.
	want := map[string]string{
		"machine": ".09", "upkeep": ".03", "overhead": ".05", "labour": "1", "energy": ".05625", "top thread": ".1", "bobbin thread": ".03",
		"backing": ".04", "needles": ".03", "digitizing": ".75",
		// 2 % spoilt: (1.42625 + 10)·.02/.98
		"spoilage": ".23318877551020408163265306",
		// 900 s at .9 + .3 + .5 + 10 an hour over 40 pieces
		"set-up": ".073125",
	}
	total := zero
	for _, l := range c.Lines {
		w, ok := want[l.Name]
		if !ok {
			t.Errorf("line %s not expected", l.Name)
			continue
		}
		delete(want, l.Name)
		if l.Amount.Sub(dec(w)).Abs().GreaterThan(dec("1e-12")) {
			t.Errorf("%s = %s, want %s", l.Name, l.Amount, w)
		}
		total = total.Add(l.Amount)
	}
	if len(want) > 0 {
		t.Errorf("lines missing: %v", want)
	}
	if !total.Equal(c.Total) {
		t.Errorf("lines add up to %s, total %s", total, c.Total)
	}
	printed(t, "total", c.Total, "2.482564")
	printed(t, "per 1,000 stitches", c.PerThousand, "0.2482564")
	// 40 pieces hold the machine 4 h and a quarter of an hour of set-up.
	printed(t, "hours", c.Hours, "4.25")
	printed(t, "per hour", c.PerHour, "23.3653")
	// Half the price is margin: 4.965…, up to the next 0.05.
	if !c.Price.Equal(dec("5")) || !c.PriceTax.Equal(dec("6")) {
		t.Errorf("price %s, with tax %s; want 5 and 6", c.Price, c.PriceTax)
	}
}

func TestEmptyHeadsAreCarriedByThePiecesThereAre(t *testing.T) {
	r := plainRates()
	o := Owned{Price: amount("20000"), Life: 10}
	labour := func(q int) Dec {
		c, err := r.Of(plainMade(), o, q)
		if err != nil {
			t.Fatal(err)
		}
		return c.Lines[3].Amount
	}
	// A run sews and waits 1,200 s whoever is there, and each piece is loaded
	// for 60 s: 1,260 s alone, 1,440 s by four.
	if !labour(4).Equal(dec("1")) || !labour(1).Equal(dec("3.5")) || labour(5).Round(9).Cmp(dec("1.5")) != 0 {
		t.Errorf("labour a piece in orders of 4, 1 and 5: %s %s %s; want 1, 3.5 and 1.5", labour(4), labour(1), labour(5))
	}
}

// A piece with a name of its own sews it alone, the other heads at rest: those seconds are of the pieces that are there, in a last run with
// empty heads too. By hand: four heads, 12 s a piece of which 2 s alone; five pieces are two runs of (12 − 2) × 4 s, and 5 × 2 s alone: 90 s,
// 18 s a piece; its own needle sews 10 × 4 + 2 = 42 s.
func TestWhatAPieceSewsAloneIsItsOwn(t *testing.T) {
	m := Made{Heads: 4, Stitches: 1000, Shift: 8, Alone: 2}
	m.Seconds[floor.Running] = 12
	r := plainRates()
	c, err := r.Of(m, Owned{Price: amount("7300"), Life: 10, KW: amount("1")}, 5)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]Dec{"held": c.Held}
	for _, l := range c.Lines {
		got[l.Name] = l.Amount
	}
	for name, want := range map[string]Dec{"held": dec("18").Div(dec("3600")), "energy": r.Energy.Mul(dec("18").Div(dec("3600"))),
		"needles": r.Needle.Mul(dec("42").Div(dec("3600"))).Div(r.NeedleHours.Dec)} {
		if !want.IsPositive() || got[name].Sub(want).Abs().GreaterThan(dec("1e-9")) {
			t.Errorf("%s: %s, by hand %s", name, got[name], want)
		}
	}
}

func TestOnePieceOnSixHeadsIsLoadedOnce(t *testing.T) {
	// 60 s a head, 20 min of sewing. Six pieces are loaded in 360 s by one, in
	// 180 s by two; one piece in 60 s by whoever is there.
	r := plainRates()
	o := Owned{Price: amount("0"), Life: 10}
	for loaders, loadOfSix := range map[int]float64{1: 360, 2: 180, 6: 60} {
		m := Made{Heads: 6, Stitches: 9000, Crew: 1, Shift: 8, Loaders: loaders}
		m.Seconds[floor.Running] = 200
		m.Seconds[floor.Loading] = loadOfSix / 6
		m.Seconds[floor.Repair] = 5
		for q, want := range map[int]float64{1: 1200 + 60 + 5, 6: 1200 + loadOfSix + 30, 7: 2400 + loadOfSix + 60 + 35, 12: 2400 + 2*loadOfSix + 60} {
			c, err := r.Of(m, o, q)
			if err != nil {
				t.Fatal(err)
			}
			got := c.Hours.Mul(dec("3600")).InexactFloat64()
			if d := got - want; d > 1e-6 || d < -1e-6 {
				t.Errorf("%d pieces, %d load: %g s of the machine, want %g", q, loaders, got, want)
			}
			if idle := map[int]int{1: 5, 6: 0, 7: 5, 12: 0}[q]; c.Idle != idle {
				t.Errorf("%d pieces: %d heads idle, want %d", q, c.Idle, idle)
			}
		}
	}
}

func TestASetUpAskedForApartIsChargedOnce(t *testing.T) {
	r := plainRates() // half of a price is margin, prices in steps of 0.05
	o := Owned{Price: amount("20000"), Life: 10}
	c, err := r.Of(plainMade(), o, 40)
	if err != nil {
		t.Fatal(err)
	}
	o.KW = amount("0")
	s, err := r.Standards([]Share{{Made: plainMade(), Own: o, Part: one}}, []int{40}, true)
	if err != nil {
		t.Fatal(err)
	}
	price, fee := s[0].Price, s[0].Fee
	// 900 s at 1 + 0 + .5 + 10 an hour are 2.875; twice that, up to the step.
	if !c.Setup.Mul(dec("40")).Sub(dec("2.875")).Abs().LessThan(dec("1e-12")) || !fee.Equal(dec("5.75")) {
		t.Errorf("set-up of %s a piece, fee %s; want 5.75", c.Setup, fee)
	}
	if !price.Equal(r.Price(c.Total.Sub(c.Setup))) || !price.LessThan(c.Price) {
		t.Errorf("price %s without the set-up, %s with it", price, c.Price)
	}
	// Both ways the customer pays the same but for rounding up.
	whole, apart := c.Price.Mul(dec("40")), price.Mul(dec("40")).Add(fee)
	if d := whole.Sub(apart).Abs(); d.GreaterThan(dec("2.05")) {
		t.Errorf("the order is %s in one price, %s with the fee apart", whole, apart)
	}
}

func TestLabourIsSharedByMinutesOfWork(t *testing.T) {
	// Two machines, three operators; one machine takes 5 of the 6 hours of work.
	shop := &floor.Shop{Machines: []floor.Machine{{Heads: 6, Loaders: 2}, {Heads: 1}}, Operators: make([]floor.Operator, 3)}
	r := &floor.Result{Shop: shop, Length: 8 * 3600, Machines: []floor.MachineResult{
		{Name: "six", Pieces: floor.Estimate{Mean: 100}, Good: 99, Attended: 5 * 3600},
		{Name: "one", Pieces: floor.Estimate{Mean: 20}, Good: 20, Attended: 3600}}}
	six, err := MadeFrom(r, 0)
	if err != nil {
		t.Fatal(err)
	}
	single, err := MadeFrom(r, 1)
	if err != nil {
		t.Fatal(err)
	}
	if six.Crew != 2.5 || single.Crew != .5 {
		t.Errorf("the machines pay for %g and %g operators; want 2.5 and 0.5", six.Crew, single.Crew)
	}
	if six.Loaders != 2 || single.Loaders != 0 {
		t.Errorf("loaders %d and %d", six.Loaders, single.Loaders)
	}
	if six.Spoilt < .0099 || six.Spoilt > .0101 {
		t.Errorf("spoilt %g", six.Spoilt)
	}
	r.Machines[0].Attended, r.Machines[1].Attended = 0, 0
	if six, _ = MadeFrom(r, 0); six.Crew != 1.5 {
		t.Errorf("without work each machine pays for %g of three operators", six.Crew)
	}
}

func TestAPieceUnderWayCountsByHowFarItIs(t *testing.T) {
	shop := &floor.Shop{Machines: []floor.Machine{{Heads: 2}}, Operators: make([]floor.Operator, 1)}
	r := &floor.Result{Shop: shop, Length: 3600, Machines: []floor.MachineResult{{Name: "m", Pieces: floor.Estimate{Mean: 9}, Good: 9, Left: 1}}}
	r.Machines[0].Seconds[floor.Running] = 3000
	if m, err := MadeFrom(r, 0); err != nil || m.Seconds[floor.Running] != 300 {
		t.Errorf("%g s a piece, %v; want 300", m.Seconds[floor.Running], err)
	}
	r.Machines[0].Pieces.Mean, r.Machines[0].Good = 0, 0
	if m, err := MadeFrom(r, 0); err != nil || m.Seconds[floor.Running] != 3000 || m.Spoilt != 0 {
		t.Errorf("only one under way: %g s a piece, %g spoilt, %v", m.Seconds[floor.Running], m.Spoilt, err)
	}
	r.Machines[0].Left = 0
	if m, err := MadeFrom(r, 0); err == nil || !strings.Contains(err.Error(), "m sews nothing") {
		t.Errorf("nothing sewn: %+v, %v", m, err)
	}
}

func TestTheSmallestAndTheLargestHaveACost(t *testing.T) {
	r := plainRates()
	m := Made{Heads: 1, Stitches: 1, Shift: 8}
	m.Seconds[floor.Running] = 1
	for _, q := range []int{1, floor.MaxQuantity} {
		if _, err := r.Of(m, Owned{Price: amount("1"), Life: 1}, q); err != nil {
			t.Errorf("%d pieces: %v", q, err)
		}
	}
	if _, err := r.Of(m, Owned{Price: amount("1"), Life: 1}, floor.MaxQuantity+1); err == nil {
		t.Error("more pieces than there may be have a cost")
	}
}

func TestPausesAreNoProductiveHours(t *testing.T) {
	r := &floor.Result{Shop: &floor.Shop{Machines: []floor.Machine{{Heads: 1}}, Operators: make([]floor.Operator, 1)}, Length: 8.75 * 3600,
		Machines: []floor.MachineResult{{Pieces: floor.Estimate{Mean: 100}, Good: 100}}}
	r.Machines[0].Seconds[floor.Pausing] = .75 * 3600
	m, err := MadeFrom(r, 0)
	if err != nil || m.Shift != 8 {
		t.Errorf("a shift of %g planned hours, %v; want 8", m.Shift, err)
	}
}

func TestProductiveHoursOfAYearMayBeGiven(t *testing.T) {
	r := plainRates() // 250 shifts
	if h := r.YearHours(8); !h.Equal(dec("2000")) {
		t.Errorf("%s hours a year", h)
	}
	r.Hours, r.Shifts = amount("1600"), 0
	if err := r.Check(); err != nil {
		t.Errorf("hours without shifts: %v", err)
	}
	if h := r.YearHours(8); !h.Equal(dec("1600")) {
		t.Errorf("%s hours a year, written 1600", h)
	}
	capital, upkeep, overhead, err := r.MachineHour(Owned{Price: amount("16000"), Life: 10, Upkeep: amount("800")}, 8)
	if err != nil || !capital.Equal(dec("1")) || !upkeep.Equal(dec(".5")) || !overhead.Equal(dec(".625")) {
		t.Errorf("an hour costs %s, %s and %s, %v; want 1, 0.5 and 0.625", capital, upkeep, overhead, err)
	}
	r.Hours = amount("0")
	if err := r.Check(); err == nil {
		t.Error("neither shifts nor hours, and no error")
	}
}

func TestTheEdgesOfWhatRatesMayBe(t *testing.T) {
	rates := func(change func(*Rates)) error {
		r := plainRates()
		r.PriceStep, r.NeedleHours = Amount{}, Amount{}
		change(r)
		err := r.Check()
		if err == nil && (!r.PriceStep.IsPositive() || !r.NeedleHours.Equal(dec("8")) || r.Quantities == nil) {
			t.Errorf("defaults %s, %s, %v", r.PriceStep, r.NeedleHours, r.Quantities)
		}
		return err
	}
	r := &Rates{Currency: "EUR", Labour: amount("0"), Shifts: 1}
	if err := r.Check(); err != nil || !r.PriceStep.Equal(dec("0.01")) || r.Depreciation != StraightLine {
		t.Errorf("prices in steps of %s, %v", r.PriceStep, err)
	}
	for name, e := range map[string]struct {
		good, bad func(*Rates)
		key       string
	}{
		"interest":   {func(r *Rates) { r.Interest = amount("100") }, func(r *Rates) { r.Interest = amount("100.01") }, "interest_percent"},
		"nothing":    {func(r *Rates) { r.Interest = amount("0") }, func(r *Rates) { r.Interest = amount("-0.01") }, "interest_percent"},
		"margin":     {func(r *Rates) { r.Margin = amount("99") }, func(r *Rates) { r.Margin = amount("99.01") }, "margin_percent"},
		"hours":      {func(r *Rates) { r.Hours = amount("8784") }, func(r *Rates) { r.Hours = amount("8785") }, "productive_hours_per_year"},
		"shifts":     {func(r *Rates) { r.Shifts = 1100 }, func(r *Rates) { r.Shifts = 1101 }, "shifts_per_year"},
		"few shifts": {func(r *Rates) { r.Shifts = 1 }, func(r *Rates) { r.Shifts = -1 }, "shifts_per_year"},
		"quantities": {func(r *Rates) { r.Quantities = []int{1, 2, floor.MaxQuantity} }, func(r *Rates) { r.Quantities = []int{1, floor.MaxQuantity + 1} }, "quantities"},
		"rising":     {func(r *Rates) { r.Quantities = []int{1, 2} }, func(r *Rates) { r.Quantities = []int{2, 2} }, "quantities"},
		"life": {func(r *Rates) { r.Machines = map[string]Owned{"m": {Price: amount("1"), Life: 50}} },
			func(r *Rates) { r.Machines = map[string]Owned{"m": {Price: amount("1"), Life: 51}} }, "machines.m.life_years"},
		"salvage": {func(r *Rates) {
			r.Machines = map[string]Owned{"m": {Price: amount("1"), Salvage: amount("1"), Life: 1}}
		},
			func(r *Rates) {
				r.Machines = map[string]Owned{"m": {Price: amount("1"), Salvage: amount("1.01"), Life: 1}}
			}, "machines.m.price"},
		"depreciation": {func(r *Rates) { r.Depreciation = "macrs-7" }, func(r *Rates) { r.Depreciation = "macrs-8" }, "depreciation"},
	} {
		if err := rates(e.good); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if err := rates(e.bad); err == nil || !strings.Contains(err.Error(), "money."+e.key) {
			t.Errorf("%s: want an error of %s, got %v", name, e.key, err)
		}
	}
	if err := rates(func(r *Rates) { r.Quantities = []int{1, 5, 5} }); err == nil || !strings.Contains(err.Error(), "has 5 in place 3") {
		t.Errorf("the third quantity: %v", err)
	}
	var a Amount
	if err := a.UnmarshalText([]byte("0." + strings.Repeat("1", 38))); err != nil {
		t.Errorf("forty signs: %v", err)
	}
	if err := a.UnmarshalText([]byte("0." + strings.Repeat("1", 39))); err == nil {
		t.Error("an amount of 41 signs was taken")
	}
	if err := a.UnmarshalText([]byte("1000000000000")); err != nil {
		t.Errorf("a million million: %v", err)
	}
}

// A currency stands beside every amount: as many letters as "Bosnian mark", no line and no thousands of them.
func TestACurrencyIsShort(t *testing.T) {
	for text, ok := range map[string]bool{"EUR": true, "Bosnian mark": true, "Bosnian marks": false, "-5 xq": false, "EUR 2": false, "kr.": true, "€": true, `E\nR`: false, strings.Repeat("é", 12): true} {
		_, _, err := ParseShop("x", []byte("[[machine]]\nname = \"m\"\n[money]\ncurrency = \""+text+"\"\nshifts_per_year = 240\nlabour_per_hour = 1\n"))
		if ok != (err == nil || !strings.Contains(err.Error(), "money.currency")) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func TestAPriceLeftOutIsNotAPriceOfNothing(t *testing.T) {
	parse := func(text string) (*Rates, error) {
		s, _, err := ParseShop("x", []byte("[[machine]]\nname = \"m\"\n[money]\ncurrency = \"EUR\"\nshifts_per_year = 240\n"+text))
		if err != nil {
			return nil, err
		}
		return &s.Money, nil
	}
	if _, err := parse(""); err == nil || !strings.Contains(err.Error(), "labour_per_hour is missing") {
		t.Errorf("no wage: %v", err)
	}
	r, err := parse("labour_per_hour = 0\nenergy_per_kwh = 0\ngarment_each = 0.0\n")
	if err != nil {
		t.Fatal(err)
	}
	want := "money.interest_percent money.overhead_per_year money.top_thread_per_1000m money.bobbin_thread_per_1000m money.backing_per_m2 money.needle_each"
	if got := strings.Join(r.Missing(), " "); got != want {
		t.Errorf("missing: %s\nwant: %s", got, want)
	}
	o := Owned{Price: amount("0"), Life: 1, KW: amount("0")}
	if got := strings.Join(o.Missing("m"), " "); got != "m.salvage m.upkeep_per_year" {
		t.Errorf("missing: %s", got)
	}
	if err := o.check("m"); err != nil {
		t.Errorf("a price written as 0: %v", err)
	}
	if err := (Owned{Life: 1}).check("m"); err == nil || !strings.Contains(err.Error(), "m.price is missing") {
		t.Errorf("no price: %v", err)
	}
	if err := (Owned{Price: amount("-5"), Life: 1}).check("m"); err == nil || !strings.Contains(err.Error(), "m.price is -5") {
		t.Errorf("a price of -5: %v", err)
	}
	if r, err := parse("labour_per_hour = 20\nplaceholder = true\n"); err != nil || !r.Placeholder {
		t.Errorf("a placeholder: %v", err)
	}
}

func TestPricesRoundUpAndLeaveTheMargin(t *testing.T) {
	r := plainRates()
	for cost, want := range map[string]string{"1": "2", "1.001": "2.05", "0.999": "2", "1.024999": "2.05", "0": "0"} {
		p := r.Price(dec(cost))
		if !p.Equal(dec(want)) {
			t.Errorf("price of %s = %s, want %s", cost, p, want)
		}
		if p.Sub(dec(cost)).LessThan(p.Mul(dec(".5"))) {
			t.Errorf("price %s leaves less than half of it over %s", p, cost)
		}
	}
}

func TestPricesAreAmountsThatCanBePaid(t *testing.T) {
	for _, c := range []struct{ currency, step, cost, price, withTax string }{
		{"JPY", "", "100.2", "201", "216"}, // 200.4 up, 216.477 rounded
		{"JPY", "0.05", "100.2", "201", "216"},
		{"EUR", "", "1.0021", "2.01", "2.16"},
		{"EUR", "0.007", "1.0021", "2.01", "2.16"}, // 2.009 up
		{"BHD", "", "1.0021", "2.005", "2.159"},
	} {
		r := plainRates()
		r.Currency, r.PriceStep, r.SalesTax = c.currency, Amount{}, amount("7.7")
		if c.step != "" {
			r.PriceStep = amount(c.step)
		}
		if err := r.Check(); err != nil {
			t.Fatal(err)
		}
		if p := r.Price(dec(c.cost)); !p.Equal(dec(c.price)) || !r.WithTax(p).Equal(dec(c.withTax)) {
			t.Errorf("%+v: price %s, with tax %s", c, p, r.WithTax(p))
		}
	}
}

func TestMoneyNeverPassesThroughAFloat(t *testing.T) {
	var a Amount
	if err := a.UnmarshalText([]byte("0.1")); err != nil || a.String() != "0.1" {
		t.Errorf("0.1 became %s, %v", a, err)
	}
	sum := zero
	for range 1000 {
		sum = sum.Add(a.Dec)
	}
	if !sum.Equal(dec("100")) {
		t.Errorf("a thousand times 0.1 is %s", sum)
	}
	for _, bad := range []string{"", "1e9", "nan", "inf", "12,5", "0x10", "9999999999999999", "1.2.3"} {
		if err := a.UnmarshalText([]byte(bad)); err == nil {
			t.Errorf("%q was taken as %s", bad, a)
		}
	}
}

func TestNonsenseHasNoCost(t *testing.T) {
	r := plainRates()
	o := Owned{Price: amount("20000"), Life: 10}
	for name, spoil := range map[string]func(*Made, *Owned, *int){
		"no pieces":       func(_ *Made, _ *Owned, q *int) { *q = 0 },
		"no heads":        func(m *Made, _ *Owned, _ *int) { m.Heads = 0 },
		"no stitches":     func(m *Made, _ *Owned, _ *int) { m.Stitches = 0 },
		"all spoilt":      func(m *Made, _ *Owned, _ *int) { m.Spoilt = 1 },
		"no time":         func(m *Made, _ *Owned, _ *int) { m.Seconds = [floor.NumStates]float64{} },
		"no shift":        func(m *Made, _ *Owned, _ *int) { m.Shift = 0 },
		"no life":         func(_ *Made, o *Owned, _ *int) { o.Life = 0 },
		"negative set-up": func(m *Made, _ *Owned, _ *int) { m.Setup = -1 },
	} {
		m, own, q := plainMade(), o, 10
		spoil(&m, &own, &q)
		if c, err := r.Of(m, own, q); err == nil {
			t.Errorf("%s: cost %s", name, c.Total)
		}
	}
}

func TestBestCrewWeighsMachinesAgainstTheOperator(t *testing.T) {
	crews := []floor.Crew{{Machines: 1, Pieces: floor.Estimate{Mean: 100}}, {Machines: 2, Pieces: floor.Estimate{Mean: 190}}, {Machines: 3, Pieces: floor.Estimate{Mean: 210}}}
	r := plainRates()
	r.Overhead = amount("0")
	cheap, dear := Owned{Price: amount("2000"), Life: 10}, Owned{Price: amount("4000000"), Life: 10}
	if best, _, err := r.BestCrew(crews, cheap, 8); err != nil || crews[best].Machines != 3 {
		t.Errorf("cheap machines: %d, %v", best, err)
	}
	if best, _, err := r.BestCrew(crews, dear, 8); err != nil || crews[best].Machines != 1 {
		t.Errorf("dear machines: %d, %v", best, err)
	}
	// The cost lies between those of the interval of the mean yield, the other way round.
	wide := []floor.Crew{{Machines: 1, Pieces: floor.Estimate{Mean: 100, Low: 80, High: 125}}}
	if _, at, err := r.BestCrew(wide, cheap, 8); err != nil || !at[0].Low.Mul(amount("1.25").Dec).Equal(at[0].Mid) ||
		!at[0].High.Mul(amount("0.8").Dec).Equal(at[0].Mid) {
		t.Errorf("the cost is %v, %v", at, err)
	}
	if _, _, err := r.BestCrew([]floor.Crew{{Machines: 1}}, cheap, 8); err == nil {
		t.Error("no yield and no error")
	}
}

// What is paid is rounded half away from zero, as people round, to the currency's own decimals (ISO 4217: EUR 2, JPY 0,
// KWD 3): half to even would be a cent less on every other half.
func TestWhatIsPaidIsRoundedHalfAway(t *testing.T) {
	for _, c := range []struct{ currency, amount, want string }{
		{"EUR", "12.345", "12.35"}, {"EUR", "12.325", "12.33"}, {"EUR", "-12.325", "-12.33"}, {"EUR", "12.3249", "12.32"},
		{"JPY", "1234.5", "1235"}, {"JPY", "1232.5", "1233"}, {"KWD", "1.0005", "1.001"},
	} {
		r := &Rates{Currency: c.currency}
		if got := r.Round(dec(c.amount)); got.String() != c.want {
			t.Errorf("%s %s is %s, want %s", c.currency, c.amount, got, c.want)
		}
	}
}
