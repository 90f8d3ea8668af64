package money

import (
	"testing"

	"needlepace/floor"
)

func amount(s string) Amount { return Amount{dec(s)} }

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
	if !labour(4).Equal(dec("1")) || !labour(1).Equal(dec("4")) || labour(5).Round(9).Cmp(dec("1.6")) != 0 {
		t.Errorf("labour a piece in orders of 4, 1 and 5: %s %s %s; want 1, 4 and 1.6", labour(4), labour(1), labour(5))
	}
	steps, err := r.Steps(plainMade(), o)
	if err != nil || len(steps) != len(DefaultQuantities) {
		t.Fatalf("steps: %d, %v", len(steps), err)
	}
	if !steps[0].Total.GreaterThan(steps[len(steps)-1].Total) {
		t.Error("one piece is not dearer than one of many")
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
	if _, _, err := r.BestCrew([]floor.Crew{{Machines: 1}}, cheap, 8); err == nil {
		t.Error("no yield and no error")
	}
}
