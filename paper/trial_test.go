package paper

import (
	"bytes"
	"context"
	"fmt"
	"strings"
	"testing"

	"needlepace/ask"
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
