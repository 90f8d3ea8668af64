package pages

import (
	"net/url"
	"strings"
	"testing"

	"needlepace/money"
)

type tried struct {
	Price  *money.Amount `toml:"price"`
	Heads  *count        `toml:"heads"`
	Hours  *amount       `toml:"hours"`
	Walk   *seconds      `toml:"walk"`
	More   *int          `toml:"more"`
	Lists  []triedEntry  `toml:"machine"`
	Ticked bool          `toml:"ticked"`
}

type triedEntry struct {
	entryOwn
	Name  string  `toml:"name"`
	Speed *amount `toml:"speed"`
}

func TestAFormTakesNoBadNumberForAnother(t *testing.T) {
	for field, typed := range map[string]map[string]string{
		"price":            {"-5": "0 or more", "abc": "1234.56", "1e9": "1234.56", "1,250": "thousands or decimals"},
		"heads":            {"-1": "0 or more", "1.5": "whole number", "six": "whole number"},
		"hours":            {"-0.1": "0 or more", "8h": "a number", "1,250": "thousands or decimals", "NaN": "a number", "12,34.5": "thousands or decimals", "1e99": "a number"},
		"walk":             {"-3": "seconds", "soon": "seconds"},
		"more":             {"x": "whole number", "99999999999": "whole number"},
		"machine[1].speed": {"fast": "a number"},
	} {
		for text, want := range typed {
			var v tried
			f, err := readForm(url.Values{field: {text}}, &v, nil)
			if err != nil {
				t.Fatal(err)
			}
			if !strings.Contains(f.wrong[field], want) || len(f.wrong) != 1 || f.message() == nil {
				t.Errorf("%s %q: %v, want %q", field, text, f.wrong, want)
			}
			if shown := f.show(field, "x", (*amount)(nil)); shown.Value != text || shown.Wrong == "" {
				t.Errorf("%s %q is shown again as %q, %q", field, text, shown.Value, shown.Wrong)
			}
			if v.Price != nil || v.Heads != nil || v.Hours != nil || v.More != nil {
				t.Errorf("%s %q was taken for %+v", field, text, v)
			}
		}
	}
}

func TestAnEmptiedFieldIsMissingAndNotNothing(t *testing.T) {
	var v tried
	f, err := readForm(url.Values{"price": {" "}, "heads": {""}, "hours": {"7,5"}, "walk": {"1 min 15 s"}, "more": {"-2"}, "ticked": {"1"}, "machine[0].name": {"Gannet"}}, &v, nil)
	if err != nil || f.bad() {
		t.Fatal(err, f.wrong)
	}
	if v.Price != nil || v.Heads != nil || v.Hours == nil || *v.Walk != 75 || *v.Hours != 7.5 || *v.More != -2 || !v.Ticked || len(v.Lists) != 1 {
		t.Errorf("%+v", v)
	}
	zero := money.Amount{}
	if err := zero.UnmarshalText([]byte("0")); err != nil {
		t.Fatal(err)
	}
	v = tried{Price: &zero, Lists: []triedEntry{{entryOwn: entryOwn{Drop: true}}, {Name: "Skipper"}}}
	b, err := overFile([]byte("price = 5\nheads = 3\nkept = 9\n[[machine]]\nname = 'Gannet'\nkw = 1\n[[machine]]\nname = 'x'\nspeed = 800\nkw = 2\n"), &v)
	if err != nil {
		t.Fatal(err)
	}
	got := string(b)
	for _, want := range []string{"price = '0'", "kept = 9", "kw = 2", "name = 'Skipper'"} {
		if !strings.Contains(got, want) {
			t.Errorf("the file lacks %s:\n%s", want, got)
		}
	}
	for _, gone := range []string{"heads", "kw = 1", "speed"} {
		if strings.Contains(got, gone) {
			t.Errorf("the file still has %s:\n%s", gone, got)
		}
	}
}

// The decoder panics on brackets that are not in pairs.
func FuzzAForm(f *testing.F) {
	for _, key := range []string{"machine[0].name", "machine[", "machine]", "]a[", "[0]", "machine[0][1].x", "machine[999].speed", "machine[1000].speed", "a.b.c"} {
		f.Add(key, "1")
	}
	f.Fuzz(func(t *testing.T, key, value string) {
		var v tried
		if form, err := readForm(url.Values{key: {value}}, &v, nil); err == nil {
			form.message()
		}
	})
}
