package words

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"maps"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
)

// everyValue has one value of each kind.
func everyValue(t *testing.T) map[string]Value {
	zone, err := LoadZone("Europe/Lisbon")
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 3, 20, 14, 5, 0, 0, time.UTC)
	out := map[string]Value{}
	for _, v := range []Value{
		None{}, Name("Left chest"), Count(3, "piece"), Mean(1.25, "cone"), Figure(12.345), Share(0.125), GiveOrTake(0.07), Level(0.9), Chance(0.93), Odds(0.34),
		NewDay(2026, 3, 20), NearDay{Day: NewDay(2026, 3, 20), Today: NewDay(2026, 3, 2)}, FullDay{NewDay(2026, 3, 20)}, Moment{at}, zone.Near(at, at.AddDate(0, 0, -3)),
		zone.ClockAt(at), Seconds(1125), FineSeconds(0.25), Clock(1125), Hours(12.5), Span(0.5), MM(48.5), StitchMM(3.2), FineMM(0.35), Size{48.5, 30}, Metres(1204.5),
		AreaMM2(812), PerMinute(850), LengthUnit{}, Money{Amount: decimal.RequireFromString("12.50"), Code: "EUR", Sign: true}, Signed{Seconds(-12)},
		List{Name("a"), Count(2, "piece")}, Sentences{Say("percent.over", Args{"n": Whole(99)})}, Say("plan.none-late", Args{"lines": Count(3, "line"), "machines": Count(2, "machine"),
			"day": NearDay{Day: NewDay(2026, 3, 20), Today: NewDay(2026, 3, 2)}, "time": TimeOfDay(14 * time.Hour)}),
		Plain(Say("percent.exact")), Kept{Say("percent.exact")},
	} {
		out[reflect.TypeOf(v).Name()] = v
	}
	return out
}

// Whatever is an argument of a sentence that is kept is said in every language as it would
// have been at once; no kind of value is left out.
func TestWhatIsKeptIsSaidInEveryLanguage(t *testing.T) {
	values := everyValue(t)
	var all []string
	set := token.NewFileSet()
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(set, name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Name.Name == "Raw" && fn.Recv != nil {
				all = append(all, fn.Recv.List[0].Type.(*ast.Ident).Name)
			}
		}
	}
	for _, name := range all {
		if values[name] == nil {
			t.Errorf("no value of kind %s is kept here: %v", name, slices.Sorted(maps.Keys(values)))
		}
	}
	zone, _ := LoadZone("Asia/Tokyo")
	for name, v := range values {
		b, err := json.Marshal(Kept{Say("plan.without", Args{"sum": v})})
		if err != nil {
			t.Fatal(name, err)
		}
		var k Kept
		if err := json.Unmarshal(b, &k); err != nil {
			t.Fatal(name, err)
		}
		for _, l := range Languages() {
			for _, w := range []*Writer{{Language: l}, {Language: l, Zone: zone, Inch: true, Hours12: true}} {
				if got, want := k.Args["sum"].Text(w), v.Text(w); got != want {
					t.Errorf("%s kept as %s is %q in %s, was %q", name, b, got, l.Tag, want)
				}
			}
		}
	}
}

func TestAKeptSentenceOfAnotherVersionIsRead(t *testing.T) {
	for in, want := range map[string]string{
		`{"key":"gone.long-ago","text":"As it was said."}`:                                                 "As it was said.",
		`{"key":"plan.without","text":"x","args":{"sum":{"is":"of a later version","v":{}}}}`:              "Without it: –",
		`{"key":"plan.without","text":"x","args":{"sum":{"is":"seconds","v":"no number"}}}`:                "Without it: –",
		`{"key":"plan.without","text":"x","args":{"sum":{"is":"name","v":"Gannet"},"more":{"is":"none"}}}`: "Without it: Gannet",
	} {
		var k Kept
		if err := json.Unmarshal([]byte(in), &k); err != nil || k.Text(nil) != want {
			t.Errorf("%s says %q, want %q (%v)", in, k.Text(nil), want, err)
		}
	}
	if b, err := json.Marshal(Kept{Say("plan.without", Args{"sum": Seconds(math.NaN())})}); err != nil || !strings.Contains(string(b), `"none"`) {
		t.Errorf("no number is kept as %s, %v", b, err)
	}
}
