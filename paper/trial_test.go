package paper

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"image"
	"image/jpeg"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/trial"
	"needlepace/words"
)

// twoPlaces: one machine at each of two places and one without a price, of different classes, speeds, heads and formats.
const twoPlaces = `name = "two places"
repeats = 2
cloth = "c"
thread = "t"
needle = "n"
[[place]]
name = "quay"
called = "The quay"
people = ["Ann"]
[[place]]
name = "hall"
called = "The hall"
[[design]]
name = "gull"
file = "gull-cap.dst"
year = 1000
[[design]]
name = "oars"
file = "saltmere-oars.dst"
year = 3000
[[machine]]
name = "Old"
sheet = "compact-8"
place = "quay"
speed = 700
price = 1234
upkeep_per_year = 77
owned = true
[[machine]]
name = "Six"
sheet = "multi-6"
place = "hall"
speed = 900
format = "exp"
price = 30500
upkeep_per_year = 990
life_years = 10
[[machine]]
name = "Lent"
sheet = "single-15-1200"
place = "hall"
speed = 1100
format = "exp"
[money]
currency = "CHF"
source = "made up"
labour_per_hour = 31
machines_per_person = 2
interest_percent = 4
hours_per_year = 1500
handling_seconds = 45
`

// trialOf answers a trial of designs of the demo whose runs took what was predicted, times
// more in the second block; came: what else came back. With times 0 nothing came.
func trialOf(t *testing.T, text string, times float64, came ...trial.Given) *ask.TrialAnswer {
	t.Helper()
	from := floor.Sources{Design: func(ref string) (*stitch.Design, error) {
		files, err := stitchfile.ReadFile("../demo/designs/" + ref)
		if err != nil {
			return nil, err
		}
		return files[0].Design, nil
	}, Sheet: func(name string) (*machine.Sheet, error) { s, _ := machine.Class(name); return s, nil }}
	q := ask.TrialQuestion{Name: "T.toml", TOML: []byte(text)}
	plan, err := ask.Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	if times == 0 {
		return plan
	}
	sheet := strings.Join(trial.SheetColumns, ",") + "\n"
	for _, p := range plan.Places {
		for _, x := range p.Turns {
			for _, c := range plan.Cells {
				if c.Design == x.Design && c.Machine == x.Machine {
					s := c.Predicted
					if x.Block == 2 {
						s *= times
					}
					sheet += fmt.Sprintf(",%s,%d,,,,,,,%.4f,,,\n", p.Name, x.Number, s)
				}
			}
		}
	}
	q.Returned = append(came, trial.Given{Name: "times.csv", Bytes: []byte(sheet)})
	a, err := ask.Trial(context.Background(), q, from)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// asText is what a paper's HTML form says, without its marks, with plain spaces.
func asText(t *testing.T, d *Document) string {
	t.Helper()
	var b bytes.Buffer
	if err := d.HTML(&b); err != nil {
		t.Fatal(err)
	}
	out, in := strings.Builder{}, false
	for _, r := range b.String() {
		switch {
		case r == '<':
			in = true
			out.WriteByte(' ')
		case r == '>':
			in = false
		case !in:
			out.WriteRune(r)
		}
	}
	return strings.Join(strings.Fields(strings.NewReplacer("\u00a0", " ", "&#39;", "'").Replace(out.String())), " ")
}

// Each machine stands with its own class, price, years and upkeep, one without a price with a dash, and
// the labour is what the file says.
func TestThePaperHasEachMachinesOwnMoney(t *testing.T) {
	a := trialOf(t, twoPlaces, 1.004)
	says := asText(t, TrialOf(a, nil, nil, nil, "test", letterDay, &words.Writer{}))
	if strings.Contains(says, "The work needs") {
		t.Error("one Old is enough, and the paper says that the work needs several")
	}
	several := trialOf(t, strings.Replace(twoPlaces, "hours_per_year = 1500", "hours_per_year = 150", 1), 1.004)
	if s := asText(t, TrialOf(several, nil, nil, nil, "test", letterDay, &words.Writer{})); !strings.Contains(s, "of Old: so many are reckoned with") {
		t.Error("that several of what the client has are reckoned with is not said")
	}
	for _, want := range []string{"Old 1,234.00 CHF 8 77.00 CHF", "Six 30,500.00 CHF 10 990.00 CHF", "Lent – 8", "Labour, an hour 31.00 CHF",
		"Old compact commercial, 8 needles", "Six multi-head, 6 heads", "Lent single head, 15 needles, commercial", "Six has 6 heads and Lent 1 head"} {
		if !strings.Contains(says, want) {
			t.Errorf("the paper does not say %q:\n%s", want, says[:min(len(says), 6000)])
		}
	}
}

// A card names its place's own machines at their own speeds, says how long it takes, and
// first of all what of a design may break a needle.
func TestACardSaysWhatItsPlaceSews(t *testing.T) {
	a := trialOf(t, twoPlaces, 0)
	a.Dangers = append(a.Dangers, words.Plain(words.Say("trial.danger", words.Args{"design": words.Name("gull"), "what": words.Name("a heap")})))
	says := asText(t, TrialCard(a, &a.Places[0], "", letterDay, &words.Writer{}))
	danger, first := strings.Index(says, "gull: a heap. A needle may break or strike"), strings.Index(says, "Needles and frame move fast")
	if danger < 0 || first < danger {
		t.Errorf("the danger stands at %d, the cautions at %d", danger, first)
	}
	// Two designs twice on one machine: four runs, and each once more beforehand is half of that.
	sum := 0.0
	for _, c := range a.Cells {
		if c.Machine == "Old" {
			sum += c.Predicted
		}
	}
	takes := fmt.Sprintf("At The quay the 4 runs take about %s of sewing, and the pieces before them that are not timed %s more",
		words.Seconds(2*sum).Text(nil), words.Seconds(sum).Text(nil))
	if !strings.Contains(says, strings.ReplaceAll(takes, "\u00a0", " ")) || !strings.Contains(says, "Old 700/min") ||
		strings.Contains(says, "Six") || strings.Contains(says, "Lent") || strings.Contains(says, ".exp") {
		t.Errorf("the card of the quay, want %q: %s", takes, says[:min(len(says), 3500)])
	}
}

// A pack has its place's own: the designs in the formats that its machines read, each turn with the digest of its
// design and the speed of its machine, and a sheet of grades that names no machine.
func TestAPackIsItsPlacesOwn(t *testing.T) {
	a := trialOf(t, twoPlaces, 0)
	var b bytes.Buffer
	if err := TrialPack(&b, a, "hall", "", A4, letterDay, &words.Writer{}); err != nil {
		t.Fatal(err)
	}
	files, said := trial.Unpack("hall.zip", b.Bytes())
	if len(said) > 0 {
		t.Fatal(said)
	}
	got := map[string]string{}
	for _, f := range files {
		got[strings.TrimPrefix(f.Name, "hall.zip/")] = string(f.Bytes)
	}
	names := slices.Sorted(maps.Keys(got))
	if strings.Join(names, " ") != "card.pdf grades-hall.csv gull.exp oars.exp times-hall.csv times-hall.xlsx" {
		t.Errorf("the pack has %v", names)
	}
	digest := map[string]string{}
	for _, d := range a.Designs {
		digest[d.Name] = trial.Digest(d.Of.Design)
	}
	rows, err := csv.NewReader(strings.NewReader(strings.TrimPrefix(got["times-hall.csv"], "\ufeff"))).ReadAll()
	if err != nil || len(rows) != 1+8 { // two designs on two machines, twice
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	for i, row := range rows[1:] {
		x := a.Places[1].Turns[i]
		want := []string{a.Trial, "hall", strconv.Itoa(i + 1), strconv.Itoa(x.Block), x.Design, digest[x.Design], x.Machine, x.Person,
			map[string]string{"Six": "900", "Lent": "1100"}[x.Machine], "", "", "", ""}
		if strings.Join(row[:9], "|") != strings.Join(want[:9], "|") {
			t.Errorf("row %d is %v, want %v", i+1, row, want)
		}
	}
	grades := got["grades-hall.csv"]
	if n := strings.Count(grades, "\n"); n != 1+8 || strings.Contains(grades, "Six") || strings.Contains(grades, "Lent") || strings.Contains(grades, "machine") {
		t.Errorf("the sheet of grades: %s", grades)
	}
	says := asText(t, TrialCard(a, &a.Places[1], "", letterDay, &words.Writer{}))
	for i, x := range a.Places[1].Turns {
		if want := fmt.Sprintf(" %d %d %s %s", i+1, x.Block, x.Design, x.Machine); !strings.Contains(says, want) {
			t.Errorf("the card does not have the turn %q", want)
		}
	}
}

// The figures of the first page are those of the machine that is first, and the lead of the
// cheapest; without money how much less it takes than the slowest.
func TestThePapersFirstFigures(t *testing.T) {
	a := trialOf(t, twoPlaces, 1.004)
	first, last := a.Ranks[0], a.Ranks[len(a.Ranks)-1]
	text := func(v words.Value) string { return strings.ReplaceAll(v.Text(nil), "\u00a0", " ") }
	says := asText(t, TrialOf(a, nil, nil, nil, "test", letterDay, &words.Writer{}))
	lead, err := strconv.ParseFloat(a.Money.Lead, 64)
	if err != nil || first.Machine != "Six" || a.Money.Costs[0].Machine == "Lent" {
		t.Fatalf("%v; %+v", err, a.Ranks)
	}
	one, _ := strconv.ParseFloat(a.Money.Costs[0].Year, 64)
	other, _ := strconv.ParseFloat(a.Money.Costs[1].Year, 64)
	if math.Abs(lead-(other-one)) > 0.011 {
		t.Errorf("the lead is %v of %v and %v", lead, one, other)
	}
	for _, want := range []string{"First on the mix Six ", "A piece, mean over the mix " + text(words.FineSeconds(first.Piece)) + " " + text(words.FineSeconds(first.Low)) + " to " + text(words.FineSeconds(first.High)),
		"Cheapest, by " + thousands(math.Round(lead)) + " CHF a year, " + a.Money.Costs[0].Machine + " over " + a.Money.Costs[1].Machine} {
		if !strings.Contains(says, want) {
			t.Errorf("the first page does not say %q: %s", want, says[:min(len(says), 2500)])
		}
	}
	turns := false
	for _, s := range a.Money.Swings {
		turns = turns || s.Low < 0 || s.High < 0
	}
	if strings.Contains(says, "None of these alone makes another machine the cheapest") == turns || strings.Contains(says, "Another machine becomes the cheapest within") != turns {
		t.Errorf("another becomes the cheapest: %v", turns)
	}
	bare := trialOf(t, twoPlaces[:strings.Index(twoPlaces, "[money]")], 1.004)
	says = asText(t, TrialOf(bare, nil, nil, nil, "test", letterDay, &words.Writer{}))
	if want := fmt.Sprintf("Less time %.0f %% than %s", 100*(1-first.Piece/last.Piece), last.Machine); !strings.Contains(says, want) {
		t.Errorf("without money it does not say %q: %s", want, says[:min(len(says), 2500)])
	}
}

func thousands(v float64) string {
	s := strconv.Itoa(int(v))
	if len(s) > 3 {
		s = s[:len(s)-3] + "," + s[len(s)-3:]
	}
	return s
}

// A photograph stands under what its name says it is of; the commands at the end read all that came
// and write the paper in its language.
func TestWhatAPhotographIsOfAndHowItIsMadeAgain(t *testing.T) {
	var photo bytes.Buffer
	if err := jpeg.Encode(&photo, image.NewGray(image.Rect(0, 0, 300, 200)), nil); err != nil {
		t.Fatal(err)
	}
	a := trialOf(t, twoPlaces, 1.004, trial.Given{Name: "hall-3.jpg", Bytes: photo.Bytes()},
		trial.Given{Name: "grades.csv", Bytes: []byte("grader,design,machine,block,pull\nAnn,gull,Six,1,4\n")})
	x := a.Places[1].Turns[2]
	says := asText(t, TrialOf(a, nil, nil, nil, "test", letterDay, &words.Writer{}))
	if want := x.Design + " on " + x.Machine + ", turn 3 at The hall"; !strings.Contains(says, want) || !strings.Contains(says, "trial read TRIAL.toml times.csv grades.csv trial report") {
		t.Errorf("the paper does not say %q, or not how it is made again: %s", want, says[max(0, len(says)-4000):])
	}
	es, _ := words.LanguageOf("es")
	says = asText(t, TrialOf(a, nil, nil, nil, "test", letterDay, &words.Writer{Language: es}))
	if !strings.Contains(says, "--pdf again.pdf --language es") {
		t.Error("the commands do not make the Spanish paper")
	}
}

// What gives the paper again gives it in its own language, also where that is not the file's; a life that nobody stated is said to be taken.
func TestThePaperIsMadeAgainInItsLanguage(t *testing.T) {
	for _, c := range []struct{ file, paper, want string }{{"", "en", ""}, {"", "tr", " --language tr"}, {"vi", "vi", " --language vi"}, {"vi", "en", " --language en"}} {
		text := twoPlaces
		if c.file != "" {
			text = "language = \"" + c.file + "\"\n" + text
		}
		l, _ := words.LanguageOf(c.paper)
		says := asText(t, TrialOf(trialOf(t, text, 1.004), nil, nil, nil, "test", letterDay, &words.Writer{Language: l}))
		_, after, _ := strings.Cut(says, "--pdf again.pdf")
		if got := strings.HasPrefix(after, " --language"); got != (c.want != "") || !strings.HasPrefix(after, c.want) {
			t.Errorf("a file in %q, its paper in %q: %q", c.file, c.paper, after[:min(len(after), 30)])
		}
	}
	a := trialOf(t, twoPlaces, 1.004)
	if says := asText(t, TrialOf(a, nil, nil, nil, "test", letterDay, &words.Writer{})); !strings.Contains(says, "Nobody stated how long Old and Lent will last: 8 years are taken.") {
		t.Error("it does not say whose life nobody stated")
	}
}

// Each machine stands with its own place and speed, each design with its own stitches, pieces and digest; the paper and the card
// have the client, the seed, the digests, the caution and the inputs of their own file and not those of another row.
func TestThePapersRowsAreTheirOwn(t *testing.T) {
	text := "client = \"Clara Quill\"\nadviser = \"Ann Marl\"\nseed = 90210\nbacking = \"felt\"\nnote = \"Hoop once.\"\n" +
		strings.NewReplacer(`cloth = "c"`, `cloth = "twill"`, `thread = "t"`, `thread = "forty"`, `needle = "n"`, `needle = "eleven"`).Replace(twoPlaces)
	a := trialOf(t, text, 1.004)
	says := asText(t, TrialOf(a, nil, nil, nil, "7.7", letterDay, &words.Writer{}))
	chance := strings.ReplaceAll(words.Chance(a.Money.Costs[0].Cheapest).Text(nil), "\u00a0", " ")
	want := []string{"For Clara Quill By Ann Marl Cloth twill Backing felt Thread forty Needle eleven", "800/min The quay 700/min", "1,000/min The hall 900/min", "1,200/min The hall 1,100/min",
		"in the order drawn with seed 90210.", "Version 7.7 Seed 90210 Digest of the trial’s file " + a.Digest, "Handling between two runs 45 s", "A machine’s safety, noise, floor and power: see its manual",
		a.Money.Costs[0].Machine + " over " + a.Money.Costs[1].Machine + ", chance " + chance}
	for i, d := range a.Designs {
		want = append(want, fmt.Sprintf("%s %s %s %s", d.Name, thousands(float64(d.Of.Design.Count().Stitches)), []string{"1,000", "3,000"}[i], trial.Digest(d.Of.Design)))
	}
	for _, w := range want {
		if !strings.Contains(says, w) {
			t.Errorf("the paper does not say %q: %s", w, says[:min(len(says), 3500)])
		}
	}
	if other := words.Chance(a.Money.Costs[1].Cheapest); chance == strings.ReplaceAll(other.Text(nil), "\u00a0", " ") {
		t.Error("both machines are the cheapest with one chance: the test tells nothing")
	}
	if head, _, _ := strings.Cut(says, "How it was done"); !strings.Contains(head, "Clara Quill") {
		t.Errorf("the head does not name the client: %s", head)
	}
	card := asText(t, TrialCard(a, &a.Places[1], "https://trial.example/x", letterDay, &words.Writer{}))
	for _, w := range []string{"Cloth twill Backing felt Thread forty Needle eleven", "Hoop once.", "https://trial.example/x",
		"digest " + trial.Digest(a.Designs[0].Of.Design), "digest " + trial.Digest(a.Designs[1].Of.Design)} {
		if !strings.Contains(card, w) {
			t.Errorf("the card does not say %q: %s", w, card[:min(len(card), 3500)])
		}
	}
	for _, c := range book.Cautions() {
		if s := strings.ReplaceAll(c.Text(nil), "\u00a0", " "); !strings.Contains(card, s) {
			t.Errorf("the card leaves out %q", s)
		}
	}
}

// Each chart of the paper has a form for a phone, on which 340 px are not made smaller; what a design looks like has one form.
func TestAPhoneHasChartsOfItsOwn(t *testing.T) {
	d := TrialOf(trialOf(t, twoPlaces, 1.004), nil, nil, nil, "test", letterDay, &words.Writer{})
	charts := 0
	for _, part := range d.Parts {
		x, ok := part.(Drawing)
		if !ok {
			continue
		}
		if x.Narrow == nil {
			t.Errorf("%q has none", x.Pic.Title())
			continue
		}
		if w, _ := x.Narrow.Size(); w > 350 || x.Narrow.Title() != x.Pic.Title() {
			t.Errorf("%q is %v px wide, for %q", x.Narrow.Title(), w, x.Pic.Title())
		}
		charts++
	}
	var b bytes.Buffer
	if err := d.HTML(&b); err != nil {
		t.Fatal(err)
	}
	if got := strings.Count(b.String(), `<div class="narrow"><svg`); charts < 4 || got != charts {
		t.Errorf("%d charts, of which %d have two forms in the file", charts, got)
	}
}
