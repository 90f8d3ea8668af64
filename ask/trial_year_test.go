package ask

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
)

// busyTrial is handTrial where every machine is needed more than once: 10 hours a year each.
var busyTrial = strings.Replace(handTrial, "hours_per_year = 70", "hours_per_year = 10", 1)

// busyYear is handYear with as many machines as 10 hours each need.
func busyYear(a *TrialAnswer, name string) (year, running, needed float64) {
	heads := map[string]float64{"Six": 6, "One": 1, "Single": 1}[name]
	hours := (8000*(a.cellOf("bars", name).Seconds+60) + 2000*(a.cellOf("long", name).Seconds+60)) / heads / 3600
	needed = math.Ceil(hours / 10)
	price := map[string]float64{"Six": 26000, "One": 600, "Single": 7000}[name]
	life := map[string]float64{"Six": 10, "One": 5, "Single": 8}[name]
	running = hours*30/2 + needed*map[string]float64{"Six": 1100, "One": 90, "Single": 240}[name]
	return running + needed*price*0.01*math.Pow(1.01, life)/(math.Pow(1.01, life)-1), running, needed
}

// Where several of each machine are needed, each of them is bought, kept up and pays its share: the price to tie at is
// of one machine. It is what it says: at that price the year costs what the cheapest other does.
func TestThePriceToTieIsOfOneMachine(t *testing.T) {
	a := handAnswer(t, busyTrial, 1.02, nil)
	tied := 0
	for _, c := range a.Money.Costs {
		year, running, needed := busyYear(a, c.Machine)
		if got, _ := strconv.ParseFloat(c.Year, 64); math.Abs(got-year) > 0.011 || float64(c.Needed) != needed || needed < 2 {
			t.Errorf("%d of %s cost %s, by hand %v cost %.2f", c.Needed, c.Machine, c.Year, needed, year)
		}
		rival := math.Inf(1)
		for _, m := range []string{"Six", "One", "Single"} {
			if y, _, _ := busyYear(a, m); m != c.Machine {
				rival = math.Min(rival, y)
			}
		}
		n := map[string]float64{"Six": 10, "Single": 8}[c.Machine]
		if rival <= running || n == 0 {
			continue
		}
		tied++
		want := (rival - running) * (1 - math.Pow(1.01, -n)) / 0.01 / needed
		if got, _ := strconv.ParseFloat(c.Tie, 64); math.Abs(got-want) > 0.011 {
			t.Errorf("%s ties at %s a machine, %.2f by hand for %v", c.Machine, c.Tie, want, needed)
		}
	}
	if tied == 0 {
		t.Error("no machine ties")
	}
}

// At the price to tie at it is even who is the cheapest: the chance is what the draws say by hand, what lies between them is
// nothing, and every input turns it at one end, whichever.
func TestAtItsPriceToTieAMachineIsAsCheap(t *testing.T) {
	a := handAnswer(t, handTrial, 1.02, nil)
	tie := ""
	for _, c := range a.Money.Costs {
		if c.Machine == "Six" {
			tie = c.Tie
		}
	}
	if tie == "" {
		t.Fatal("Six ties at no price")
	}
	even := handAnswer(t, strings.Replace(handTrial, "price = 26000", "price = "+tie, 1), 1.02, nil)
	counted := map[string]float64{}
	price := map[string]float64{"Single": 7000, "One": 600}
	price["Six"], _ = strconv.ParseFloat(tie, 64)
	year := func(name string, bars, long float64) float64 { // s a piece
		heads := map[string]float64{"Six": 6, "One": 1, "Single": 1}[name]
		hours := (8000*(bars+60/heads) + 2000*(long+60/heads)) / 3600
		life := map[string]float64{"Six": 10, "One": 5, "Single": 8}[name]
		needed := math.Ceil(hours / 70)
		return hours*15 + needed*(map[string]float64{"Six": 1100, "One": 90, "Single": 240}[name]+price[name]*0.01*math.Pow(1.01, life)/(math.Pow(1.01, life)-1))
	}
	for _, w := range even.draws {
		best, least := "", math.Inf(1)
		for k, name := range []string{"Six", "One", "Single"} {
			if y := year(name, w[0][k], w[1][k]); y < least {
				best, least = name, y
			}
		}
		counted[best] += 1 / float64(len(even.draws))
	}
	for _, c := range even.Money.Costs {
		if math.Abs(c.Cheapest-counted[c.Machine]) > 1e-9 {
			t.Errorf("%s is the cheapest with a chance of %v, by the draws %v", c.Machine, c.Cheapest, counted[c.Machine])
		}
	}
	if counted["Six"] < 0.1 || counted["Six"] > 0.9 {
		t.Errorf("at the price to tie at the chance of Six is %v", counted["Six"])
	}
	if lead, _ := strconv.ParseFloat(even.Money.Lead, 64); math.Abs(lead) > 0.02 {
		t.Errorf("at the price to tie at the lead is %s", even.Money.Lead)
	}
	lows, highs := 0, 0
	for _, s := range even.Money.Swings {
		if s.Turns != (s.Low < 0 || s.High < 0) {
			t.Errorf("%s from %.2f to %.2f: another is the cheapest at an end: %v", s.Input, s.Low, s.High, s.Turns)
		}
		if s.Low < 0 && s.High >= 0 {
			lows++
		}
		if s.High < 0 && s.Low >= 0 {
			highs++
		}
		if s.Input == "times" { // 5 and 95 of a hundred draws, by hand of all: within what a thousand of them leave open
			below, above := 0.0, 0.0
			for _, w := range even.draws {
				mine, next := math.Inf(1), math.Inf(1)
				for k, name := range []string{"Six", "One", "Single"} {
					if y := year(name, w[0][k], w[1][k]); name == even.Money.Costs[0].Machine {
						mine = y
					} else {
						next = math.Min(next, y)
					}
				}
				if next-mine < s.Low {
					below += 1 / float64(len(even.draws))
				}
				if next-mine > s.High {
					above += 1 / float64(len(even.draws))
				}
			}
			if math.Abs(below-0.05) > 0.02 || math.Abs(above-0.05) > 0.02 {
				t.Errorf("the times move the lead from %.2f to %.2f: %.3f of the draws are below, %.3f above", s.Low, s.High, below, above)
			}
		}
	}
	if lows == 0 || highs == 0 {
		t.Errorf("%d turn at the low end alone, %d at the high one: the test tells nothing", lows, highs)
	}
}

// A machine that costs no more than what the one in its place is sold for pays back nothing: it has nothing to pay back.
func TestWhatCostsNothingMorePaysNothingBack(t *testing.T) {
	a := handAnswer(t, strings.Replace(handTrial, "price = 600", "price = 60000", 1), 1.02, nil)
	for _, c := range a.Money.Costs {
		if c.Payback != 0 || c.Machine != "One" && c.Worth == "" {
			t.Errorf("%s pays back in %v years, worth %q", c.Machine, c.Payback, c.Worth)
		}
	}
}

// As many hours as there are take one machine, a second more takes two: 8,000 pieces of 25.2 s and 2,000 of 25.2 s
// are 56 and 14 hours.
func TestHoursThatAreJustEnough(t *testing.T) {
	a := handAnswer(t, handTrial, 1.02, nil)
	for seconds, want := range map[float64]int{25.2: 1, 25.2 + 3600./8000: 2, 0: 1} {
		in := inputs{labour: decimal.NewFromInt(30), price: decimal.NewFromInt(1), pieces: 1, life: 1, seconds: [][]float64{{25.2, 25.2, seconds}, {25.2, 25.2, 25.2}}}
		if c, err := a.year(2, in); err != nil || c.Needed != want {
			t.Errorf("%v hours of 70 take %d machines, %d by hand, %v", c.Hours, c.Needed, want, err)
		}
	}
}

// A currency without cents has none in any amount.
func TestAmountsAreOfTheirCurrency(t *testing.T) {
	a := handAnswer(t, strings.Replace(handTrial, `"CHF"`, `"JPY"`, 1), 1.02, nil)
	all := []string{a.Money.Lead}
	for _, c := range a.Money.Costs {
		all = append(all, c.Labour, c.Owning, c.Upkeep, c.Year, c.Tie, c.Worth)
	}
	for _, s := range all {
		if strings.Contains(s, ".") {
			t.Errorf("%s JPY", s)
		}
	}
}

// What is as wide stays in the order in which it is asked, whatever way the sort goes through it; widths that differ by what
// no paper shows are as wide.
func TestEqualSwingsKeepTheirOrder(t *testing.T) {
	all := []Swing{{Input: "labour", Low: -1, High: 1}, {Input: "pieces", Low: 1, High: -1 + 1e-9}, {Input: "price", Low: 3, High: 5 - 1e-7, lead: 4},
		{Input: "life", Low: 9, High: 0}, {Input: "interest", Low: 5, High: 3, lead: 3.5}, {Input: "handling"}, {Input: "times", Low: 0, High: 2}}
	slices.SortStableFunc(all, widerFirst)
	var got []string
	for _, s := range all {
		got = append(got, s.Input)
	}
	if want := "life labour pieces price interest times handling"; strings.Join(got, " ") != want {
		t.Errorf("%v, want %s", got, want)
	}
}

// A machine without a price is in no cost, and is not said to be dearer than what has one: said is up to which price its year costs no
// more than the cheapest, by hand from the years of the others.
func TestWhatHasNoPriceMayCostSoMuch(t *testing.T) {
	told := func(text string) (verdict string, caveats []string) {
		a := handAnswer(t, text, 1.02, nil)
		for _, m := range a.Caveats {
			caveats = append(caveats, m.Key+": "+strings.ReplaceAll(m.Text(nil), "\u00a0", " "))
		}
		return a.Verdict[0].Key + ": " + a.Verdict[0].Text(nil), caveats
	}
	a := handAnswer(t, handTrial, 1.02, nil)
	as := handInputs{1, 1, 1, 1, 1, 1}
	one, _, _ := handYear(a, "One", as)
	single, _, _ := handYear(a, "Single", as)
	_, running, needed := handYear(a, "Six", as)
	want := (math.Min(one, single) - running) * (1 - math.Pow(1.01, -10)) / 0.01 / needed
	least := map[bool]string{true: "One", false: "Single"}[one < single]
	whole := strconv.Itoa(int(math.Round(want)))
	whole = whole[:len(whole)-3] + "," + whole[len(whole)-3:]
	bare := strings.Replace(handTrial, "price = 26000\n", "", 1)
	verdict, caveats := told(bare)
	if says := "Up to " + whole + " CHF, if it lasts 10 years and its upkeep is 1,100 CHF a year, its year costs no more than that of " + least; !strings.Contains(strings.Join(caveats, "\n"), says) {
		t.Errorf("it does not say %q: %v", says, caveats)
	}
	if !strings.Contains(verdict, "Of the machines with a price "+least) || !strings.Contains(verdict, "Six, which is faster, has no price") {
		t.Error(verdict)
	}
	if _, caveats = told(strings.Replace(bare, "upkeep_per_year = 1100", "upkeep_per_year = 900000", 1)); !strings.Contains(strings.Join(caveats, "\n"), "With an upkeep of 900,000 CHF a year its year costs more than that of "+least+" even if it is a gift") {
		t.Errorf("what costs too much as a gift: %v", caveats)
	}
	if verdict, caveats = told(handTrial); strings.Contains(verdict, "with a price") || strings.Contains(strings.Join(caveats, "\n"), "No price") {
		t.Errorf("all have a price: %s, %v", verdict, caveats)
	}
}

// Where machines have other numbers of heads, it is said that what is done between two runs is taken to be as long on all.
func TestHandlingIsOfAllHeads(t *testing.T) {
	for _, c := range []struct {
		from, to string
		want     bool
	}{{"", "", true}, {"handling_seconds = 60", "handling_seconds = 0", false}, {"multi-6", "single-15-1200", false}} {
		says := strings.ReplaceAll(handAnswer(t, strings.Replace(handTrial, c.from, c.to, 1), 1.02, nil).Caveats.Text(nil), "\u00a0", " ")
		if strings.Contains(says, "as long on 6 heads as on one") != c.want || strings.Contains(says, "Handling between two runs") != c.want {
			t.Errorf("%q: %s", c.to, says)
		}
	}
}

// Where more pieces and fewer both save whole machines, the lead moves from where it is to the farther end: it is drawn
// over all of that, and is as wide as that.
func TestASwingMovesFromWhereItIs(t *testing.T) {
	a := handAnswer(t, busyTrial, 1.02, nil)
	now, _ := strconv.ParseFloat(a.Money.Lead, 64)
	for _, s := range a.Money.Swings {
		low, high := s.Span()
		if math.Abs(low-min(s.Low, s.High, now)) > 0.01 || math.Abs(high-max(s.Low, s.High, now)) > 0.01 {
			t.Errorf("%s from %.2f by %.2f to %.2f spans %.2f to %.2f", s.Input, s.Low, now, s.High, low, high)
		}
	}
	all := []Swing{{Input: "between", Low: 90, High: 110, lead: 100}, {Input: "either way", Low: 282, High: 292, lead: 100}}
	slices.SortStableFunc(all, widerFirst)
	if all[0].Input != "either way" {
		t.Error("what moves the lead from 100 to 292 stands under what moves it from 90 to 110")
	}
}
