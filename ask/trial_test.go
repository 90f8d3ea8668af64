package ask

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"needlepace/floor"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/trial"
	"needlepace/words"
)

const plainTrial = `name = "plain"
repeats = 3
cloth = "c"
thread = "t"
needle = "n"
[[place]]
name = "here"
[[design]]
name = "bars"
file = "bars.dst"
year = 1200
[[machine]]
name = "Six"
sheet = "multi-6"
place = "here"
speed = 900
price = 8000
upkeep_per_year = 100
[[machine]]
name = "One"
sheet = "home-1"
place = "here"
speed = 700
price = 800
owned = true
[money]
currency = "EUR"
source = "made up"
labour_per_hour = 20
machines_per_person = 2
handling_seconds = 60
`

// A year by hand: 1,200 pieces; the times of all runs of a machine are the same but for
// half a per cent up and down, so that their middle is what was given.
func TestTheClientsYearByHand(t *testing.T) {
	from := floor.Sources{Design: func(string) (*stitch.Design, error) { return bars([2]bool{true, true}, 0), nil },
		Sheet: func(name string) (*machine.Sheet, error) {
			s, ok := machine.Class(name)
			if !ok {
				return nil, fmt.Errorf("no class %s", name)
			}
			return s, nil
		}}
	q := TrialQuestion{Name: "T.toml", TOML: []byte(plainTrial)}
	plan, err := Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	run := map[string]float64{}
	sheet := strings.Join(trial.SheetColumns, ",") + "\n"
	seen := map[string]int{}
	for _, x := range plan.Places[0].Turns {
		c := plan.cellOf(x.Design, x.Machine)
		run[x.Machine] = math.Round(c.Predicted*100) / 100
		s := run[x.Machine] * []float64{0.995, 1, 1 / 0.995}[seen[x.Machine]]
		seen[x.Machine]++
		sheet += fmt.Sprintf(",here,%d,,,,,,,%.4f,,,\n", x.Number, s)
	}
	q.Returned = []trial.Given{{Name: "times.csv", Bytes: []byte(sheet)}}
	a, err := Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	if a.Used != 6 || a.Money == nil {
		t.Fatalf("%d runs are used, %v apart", a.Used, a.Apart)
	}
	heads := map[string]float64{"Six": 6, "One": 1}
	chances := 0.0
	for _, r := range a.Ranks {
		chances += r.First
	}
	if chances != 1 {
		t.Errorf("one is first with a chance of %v", chances)
	}
	year := map[string]float64{}
	for _, r := range a.Ranks {
		if want := run[r.Machine] / heads[r.Machine]; math.Abs(r.Piece/want-1) > 0.003 {
			t.Errorf("%s takes %.2f s a piece, %.2f by hand", r.Machine, r.Piece, want)
		}
	}
	near := func(what, got string, want float64) {
		t.Helper()
		v, err := strconv.ParseFloat(got, 64)
		if err != nil || math.Abs(v-want) > 0.004*math.Abs(want)+0.02 {
			t.Errorf("%s is %s, %.2f by hand", what, got, want)
		}
	}
	owning := map[string]float64{"Six": 8000. / 8, "One": 800. / 8}
	upkeep := map[string]float64{"Six": 100, "One": 0}
	labour := map[string]float64{}
	for _, c := range a.Money.Costs {
		// To the cent what the times say that the answer gives, at 20 an hour for two machines.
		says := 1200 * (a.cellOf("bars", c.Machine).Seconds + 60) / heads[c.Machine] / 3600
		if fmt.Sprintf("%.2f", says*20/2) != c.Labour || math.Abs(c.Hours-says) > 1e-9*says {
			t.Errorf("%s takes %v hours and %s of labour, by its time %v and %.2f", c.Machine, c.Hours, c.Labour, says, says*20/2)
		}
		hours := 1200 * (run[c.Machine] + 60) / heads[c.Machine] / 3600
		labour[c.Machine] = hours * 20 / 2
		near(c.Machine+"'s labour", c.Labour, labour[c.Machine])
		near(c.Machine+"'s owning", c.Owning, owning[c.Machine])
		year[c.Machine] = labour[c.Machine] + owning[c.Machine] + upkeep[c.Machine]
		near(c.Machine+"'s year", c.Year, year[c.Machine])
	}
	for _, c := range a.Money.Costs {
		if c.Machine == "Six" { // interest is 0: eight years of what One's year leaves
			if room := year["One"] - labour["Six"] - 100; room > 0 {
				near("Six's price to tie", c.Tie, 8*room)
			} else if c.Tie != "" {
				t.Errorf("Six may cost %s", c.Tie)
			}
			near("Six's present value", c.Worth, 8*(labour["One"]-labour["Six"]-100)-(8000-800))
		}
	}
	near("the lead", a.Money.Lead, math.Abs(year["One"]-year["Six"]))
}

// A machine of which nothing came back leaves the others their ranks and costs. One design
// tells nothing of others. The cheapest is said first where it is not the fastest.
func TestAPlaceThatSendsNothingLeavesTheOthersTheirRanks(t *testing.T) {
	from := floor.Sources{Design: func(string) (*stitch.Design, error) { return bars([2]bool{true, true}, 0), nil },
		Sheet: func(name string) (*machine.Sheet, error) { s, _ := machine.Class(name); return s, nil }}
	text := strings.Replace(plainTrial, "[money]", "[[machine]]\nname = \"Mute\"\nsheet = \"compact-8\"\nplace = \"far\"\nspeed = 800\nprice = 1\n[[place]]\nname = \"far\"\n[money]", 1)
	text = strings.Replace(text, "price = 8000", "price = 90000", 1)
	q := TrialQuestion{Name: "T.toml", TOML: []byte(text)}
	plan, err := Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	sheet := strings.Join(trial.SheetColumns, ",") + "\n"
	for _, x := range plan.Places[0].Turns {
		sheet += fmt.Sprintf(",here,%d,,,,,,,%.4f,,,\n", x.Number, plan.cellOf(x.Design, x.Machine).Predicted*(1+0.003*float64(x.Block)))
	}
	q.Returned = []trial.Given{{Name: "times.csv", Bytes: []byte(sheet)}}
	a, err := Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Ranks) != 2 || len(a.Money.Costs) != 2 || a.Ranks[0].Machine != "Six" || a.Money.Costs[0].Machine != "One" || len(a.Missing) != 3 {
		t.Fatalf("ranks %+v, costs %+v, %d missing", a.Ranks, a.Money.Costs, len(a.Missing))
	}
	if says := a.Caveats.Text(nil); !strings.Contains(says, "Of Mute nothing came back") {
		t.Errorf("it says %s", says)
	}
	if says := a.Verdict[0].Text(nil); !strings.Contains(says, "One costs the least in the client’s year, although Six") {
		t.Errorf("it says first %s", says)
	}
	if a.Ranks[0].Further != -1 || !strings.Contains(a.Verdict.Text(nil), "Of designs that nobody sewed it says nothing") {
		t.Errorf("one design tells of others: %v, %s", a.Ranks[0].Further, a.Verdict.Text(nil))
	}
	k, err := a.Crossings(context.Background())
	if err != nil || len(k) == 0 || len(k[0].Curves) != 2 {
		t.Errorf("crossings %+v, %v", k, err)
	}
}

func TestTrialsThatMakeNoSense(t *testing.T) {
	for _, c := range []struct{ from, to, says string }{
		{"repeats = 3", "repeats = 1", "give 2 to 20"},
		{"repeats = 3", "repeats = 3\nlanguage = \"xx\"", "give one of en, es"},
		{`place = "here"`, `place = "there"`, "is “there”, which is none of the trial’s places: here"},
		{"speed = 900", "speed = 9", "50 to 3000"},
		{`name = "One"`, `name = "Six"`, "a name of its own"},
		{`name = "bars"`, `name = "Bars!"`, "short name"},
		{"year = 1200", "year = 0", "at least one [[design]] its year"},
		{`source = "made up"`, "", "where the figures are from"},
		{`speed = 700`, "speed = 700\nformat = \"xyz\"", "stitch files can be written as"},
		{"labour_per_hour = 20", "labour_per_hour = -1", "below 0"},
	} {
		text := strings.Replace(plainTrial, c.from, c.to, 1)
		_, err := Trial(context.Background(), TrialQuestion{Name: "T.toml", TOML: []byte(text)}, floor.Sources{})
		if err == nil || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), "T.toml") {
			t.Errorf("%s: %v", c.to, err)
		}
		// The page says it in the reader's language, with where it stands.
		says := words.Why(err)
		for _, l := range words.Languages()[1:] {
			if got := says.Text(&words.Writer{Language: l}); !strings.HasPrefix(got, "T.toml:") || got == says.Text(nil) {
				t.Errorf("%s in %s: %q", c.to, l.Tag, got)
			}
		}
	}
}

// Three graders: the agreement is that of the two who graded most of the same things, and
// not of one against all others as if these were one. A trial without pieces a year says so.
func TestAgreementIsOfTwoGraders(t *testing.T) {
	from := floor.Sources{Design: func(string) (*stitch.Design, error) { return bars([2]bool{true, true}, 0), nil },
		Sheet: func(name string) (*machine.Sheet, error) {
			s, _ := machine.Class(name)
			return s, nil
		}}
	text := plainTrial[:strings.Index(plainTrial, "[money]")]
	sheet := "grader,design,machine,block,pull,loops,breaks\n" +
		"Ann,bars,Six,1,4,3,5\nAnn,bars,One,1,2,3,4\nBo,bars,Six,1,1,,\nCem,bars,Six,1,4,3,5\nCem,bars,One,1,2,3,4\n"
	q := TrialQuestion{Name: "T.toml", TOML: []byte(strings.Replace(text, "year = 1200\n", "", 1)), Returned: []trial.Given{{Name: "grades.csv", Bytes: []byte(sheet)}}}
	a, err := Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	if a.Agreement == nil || a.Agreement.Pairs != 6 || a.Agreement.Plain < 0.999 {
		t.Fatalf("the agreement is %+v, said %v", a.Agreement, a.Said)
	}
	if says := a.Agrees().Raw(); !strings.HasPrefix(says, "Ann and Cem agree") {
		t.Error(says)
	}
	if !strings.Contains(a.Caveats.Text(nil), "all designs count alike") {
		t.Errorf("no word of the mix: %s", a.Caveats.Text(nil))
	}
	q.TOML = []byte(text)
	if a, err = Trial(context.Background(), q, from); err != nil || strings.Contains(a.Caveats.Text(nil), "count alike") {
		t.Errorf("a mix is stated: %s, %v", a.Caveats.Text(nil), err)
	}
}

// Two grades that one person gave one sew-out count in nothing until one is taken out: not in the means, and
// no answer is lost where there are no others.
func TestGradesThatContradictEachOtherCountInNothing(t *testing.T) {
	from := floor.Sources{Design: func(string) (*stitch.Design, error) { return bars([2]bool{true, true}, 0), nil },
		Sheet: func(name string) (*machine.Sheet, error) { s, _ := machine.Class(name); return s, nil }}
	const head, twice = "grader,design,machine,block,pull\n", "Ann,bars,Six,1,1\nAnn,bars,Six,1,2\n"
	for sheet, want := range map[string]map[string]float64{
		head + twice:                       nil,
		head + twice + "Bo,bars,Six,1,5\n": {"pull": 5},
	} {
		a, err := Trial(t.Context(), TrialQuestion{Name: "T.toml", TOML: []byte(plainTrial), Returned: []trial.Given{{Name: "grades.csv", Bytes: []byte(sheet)}}}, from)
		if err != nil {
			t.Fatal(err)
		}
		var got map[string]float64
		for _, g := range a.Graded {
			got = g.Mean
		}
		if !maps.Equal(got, want) || len(a.Grades) < 2 {
			t.Errorf("%q: means %v, want %v; %d grades are kept", sheet, got, want, len(a.Grades))
		}
	}
}

// No number of repeats tells less than machines differ by, set up anew: the plan says so, and
// not a number of repeats.
func TestRepeatsDoNotTellWhatASettingHides(t *testing.T) {
	from := floor.Sources{Design: func(string) (*stitch.Design, error) { return bars([2]bool{true, true}, 0), nil },
		Sheet: func(name string) (*machine.Sheet, error) {
			s, _ := machine.Class(name)
			return s, nil
		}}
	for text, want := range map[string]string{
		"difference = 2\nrepeats = 3":                                   "No number of repeats tells 2.0 %",
		"difference = 3\nrepeats = 3\nspread = { setup_percent = 0.1 }": "tells machines apart that differ by 2.5 %",
		"difference = 2\nrepeats = 3\nspread = { setup_percent = 0.1 }": "takes 5 repeats",
	} {
		a, err := Trial(context.Background(), TrialQuestion{Name: "T.toml", TOML: []byte(strings.Replace(plainTrial, "repeats = 3", text, 1))}, from)
		if err != nil {
			t.Fatal(err)
		}
		if says := a.Tells().Raw(); !strings.Contains(says, want) {
			t.Errorf("%s: %s", text, says)
		}
	}
}

// asPredicted is the answer to a trial of which each turn came back as it was predicted, a little
// more in each block.
func asPredicted(t *testing.T, text string) (*TrialAnswer, error) {
	t.Helper()
	from := floor.Sources{Design: func(string) (*stitch.Design, error) { return bars([2]bool{true, true}, 0), nil },
		Sheet: func(name string) (*machine.Sheet, error) { s, _ := machine.Class(name); return s, nil }}
	q := TrialQuestion{Name: "T.toml", TOML: []byte(text)}
	plan, err := Trial(context.Background(), q, from)
	if err != nil {
		return nil, err
	}
	sheet := strings.Join(trial.SheetColumns, ",") + "\n"
	for _, p := range plan.Places {
		if p.Name == "far" { // nothing comes from there
			continue
		}
		for _, x := range p.Turns {
			sheet += fmt.Sprintf(",%s,%d,,,,,,,%.4f,,,\n", p.Name, x.Number, plan.cellOf(x.Design, x.Machine).Predicted*(1+0.003*float64(x.Block)))
		}
	}
	q.Returned = []trial.Given{{Name: "times.csv", Bytes: []byte(sheet)}}
	return Trial(context.Background(), q, from)
}

// Of machines that stood at different places it is said that the place is in what lies between them; of
// machines at one place it is not.
func TestWhatAPlaceHidesIsSaid(t *testing.T) {
	apart := strings.Replace(plainTrial, "sheet = \"home-1\"\nplace = \"here\"", "sheet = \"home-1\"\nplace = \"there\"", 1) + "[[place]]\nname = \"there\"\n"
	for text, want := range map[string]bool{plainTrial: false, apart: true} {
		a, err := asPredicted(t, text)
		if err != nil {
			t.Fatal(err)
		}
		if says := a.Caveats.Text(nil); len(a.Ranks) != 2 || strings.Contains(says, "Six and One stood at different places") != want {
			t.Errorf("%d ranks; it says %s", len(a.Ranks), says)
		}
	}
}

// Where the work needs several machines, all of those that are owned are sold when others are
// bought in their place: eight years of what is saved, less what is paid, by hand at no interest.
func TestSeveralMachinesAreBoughtForSeveralThatAreSold(t *testing.T) {
	a, err := asPredicted(t, strings.NewReplacer("year = 1200", "year = 400000", "[money]", "[money]\nhours_per_year = 1800").Replace(plainTrial))
	if err != nil {
		t.Fatal(err)
	}
	costs := map[string]TrialCost{}
	for _, c := range a.Money.Costs {
		costs[c.Machine] = c
	}
	six, one := costs["Six"], costs["One"]
	if one.Needed < 2 || six.Needed < 1 || six.Needed >= one.Needed {
		t.Fatalf("%d of Six and %d of One are needed", six.Needed, one.Needed)
	}
	worth, _ := strconv.ParseFloat(six.Worth, 64)
	saved := one.running.Sub(six.running).InexactFloat64()
	paid := float64(8000*six.Needed - 800*one.Needed)
	if math.Abs(worth-(8*saved-paid)) > 1 {
		t.Errorf("Six is worth %.2f, %.2f by hand", worth, 8*saved-paid)
	}
	if paid > 0 && math.Abs(six.Payback-paid/saved) > 1e-6 || paid <= 0 && six.Payback != 0 {
		t.Errorf("%.2f is paid, %.2f a year saved: it pays back in %v years", paid, saved, six.Payback)
	}
}

// What the client has is not bought; what has no price is in no cost, and nobody's labour is
// no labour by a line that was forgotten.
func TestWhatHasNoPriceIsInNoCost(t *testing.T) {
	third := func(more string) string {
		return strings.Replace(plainTrial, "[money]", "[[machine]]\nname = \"Third\"\nsheet = \"compact-8\"\nplace = \"here\"\nspeed = 800\n"+more+"[money]", 1)
	}
	of := func(text string) (*TrialAnswer, map[string]TrialCost) {
		t.Helper()
		a, err := asPredicted(t, text)
		if err != nil {
			t.Fatal(err)
		}
		costs := map[string]TrialCost{}
		if a.Money != nil {
			for _, c := range a.Money.Costs {
				costs[c.Machine] = c
			}
		}
		return a, costs
	}
	said := func(a *TrialAnswer, key string) bool {
		return slices.ContainsFunc(a.Caveats, func(m words.Message) bool { return m.Key == key })
	}
	a, costs := of(third("price = 3000\nowned = true\n"))
	if costs["Third"].Worth != "" || costs["Third"].Payback != 0 || costs["Third"].Tie != "" || costs["Six"].Worth == "" || said(a, "trial.no-price") {
		t.Errorf("a second machine that is owned: %+v", costs["Third"])
	}
	a, costs = of(third(""))
	if _, is := costs["Third"]; is || len(costs) != 2 || !said(a, "trial.no-price-up-to") || len(a.Ranks) != 3 {
		t.Errorf("a machine without a price: %+v, %v", costs, a.Caveats)
	}
	if a, _ = of(strings.Replace(plainTrial, "price = 8000\n", "", 1)); a.Money != nil || !said(a, "trial.no-price") {
		t.Errorf("one machine with a price of two: %+v", a.Money)
	}
	if _, costs = of(strings.Replace(plainTrial, "price = 800\n", "", 1)); len(costs) != 2 || costs["One"].Owning != "0.00" {
		t.Errorf("an owned machine that nobody would buy: %+v", costs)
	}
	far := strings.NewReplacer("place = \"here\"\nspeed = 700", "place = \"far\"\nspeed = 700", "[money]", "[[place]]\nname = \"far\"\n[money]")
	if a, costs = of(far.Replace(third("price = 3000\n"))); !said(a, "trial.owned-unknown") || costs["Third"].Worth != "" || len(costs) != 2 {
		t.Errorf("nothing counts of what the client has: %+v, %v", costs, a.Caveats)
	}
	for wrong, why := range map[string]string{
		strings.Replace(plainTrial, "labour_per_hour = 20\n", "", 1):                 "labour_per_hour",
		strings.Replace(plainTrial, "speed = 900", "speed = 1400", 1):                "1400/min",
		strings.Replace(plainTrial, "labour_per_hour = 20", "labour_per_hour=-1", 1): "below 0",
	} {
		if _, err := asPredicted(t, wrong); err == nil || !strings.Contains(err.Error(), why) {
			t.Errorf("want %q: %v", why, err)
		}
	}
	if a, _ = of(strings.Replace(plainTrial, "labour_per_hour = 20", "labour_per_hour = 0", 1)); a.Money == nil {
		t.Error("labour that costs nothing cannot be said")
	}
	// Eight hours of runs with what is done between two: pieces are heads times as many.
	for _, r := range a.Ranks {
		run := r.Piece * float64(r.Heads)
		if want := 8 * 3600 / (run + 60) * float64(r.Heads); math.Abs(r.Shift/want-1) > 1e-9 {
			t.Errorf("%s makes %.1f in 8 h, %.1f by hand", r.Machine, r.Shift, want)
		}
	}
}
