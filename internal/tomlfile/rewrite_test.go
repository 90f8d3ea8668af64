package tomlfile

import (
	"errors"
	"strings"
	"testing"
)

func TestRewriteChangesWhatItIsToldAndNothingElse(t *testing.T) {
	in := `# a comment
name = "x" # stays
[[machine]]
  name = "Bay 1"   # the first
  sheet = 'Bay 1'
  heads = 4
[work]
sheet = "Bay 1"
[[job]]
design = """gull"""
[[machine]]
"sheet" = "Bay 1"
repair = { mean = 3 }
`
	want := `# a comment
name = "x" # stays
[[machine]]
  name = "Bay 1"   # the first
  sheet = "id-1"
  heads = 4
[work]
sheet = "Bay 1"
[[job]]
name = "the \"gull\" <1>"
design = "id-2"
[[machine]]
"sheet" = "id-2"
repair = { mean = 3 }
`
	change := func(e *Entry) (map[string]string, error) {
		switch {
		case e.List == "job":
			return map[string]string{"design": "id-2", "name": `the "gull" <1>`}, nil
		case e.Text("sheet") != "Bay 1" || e.Text("heads") != "":
			t.Errorf("%s[%d] has sheet %q, heads %q", e.List, e.Number, e.Text("sheet"), e.Text("heads"))
		}
		put := map[string]string{"sheet": "id-1", "heads": "not text"}
		if e.Number == 2 {
			put = map[string]string{"sheet": "id-2"}
		}
		return put, nil
	}
	got, err := Rewrite([]byte(in), change)
	if err != nil || string(got) != want {
		t.Errorf("%v\n%s\nwant\n%s", err, got, want)
	}
	in = `machine = [{sheet = "A"}, { heads = 3, sheet = "B" }]`
	got, err = Rewrite([]byte(in), func(e *Entry) (map[string]string, error) {
		return map[string]string{"sheet": strings.ToLower(e.Text("sheet")), "name": "n"}, nil
	})
	if want := `machine = [{name = "n", sheet = "a"}, { name = "n", heads = 3, sheet = "b" }]`; err != nil || string(got) != want {
		t.Errorf("%v\n%s\nwant\n%s", err, got, want)
	}
}

func TestRewriteLeavesWhatIsNoTOML(t *testing.T) {
	nothing := func(*Entry) (map[string]string, error) { return map[string]string{"a": "b"}, nil }
	for _, in := range []string{"[[machine]]\nname = ", "", "[[machine]]\n", "\x00", "[[a]]\nb = [[[["} {
		if got, err := Rewrite([]byte(in), nothing); err != nil || string(got) != in {
			t.Errorf("%q became %q, %v", in, got, err)
		}
	}
	wrong := errors.New("no such machine")
	if _, err := Rewrite([]byte("[[m]]\na = \"x\""), func(*Entry) (map[string]string, error) { return nil, wrong }); err != wrong {
		t.Errorf("the error of change is %v", err)
	}
}

func FuzzRewrite(f *testing.F) {
	f.Add("[[machine]]\nname = \"a\"\n")
	f.Add("m = [{a = \"x\", b = 'y'}]")
	f.Fuzz(func(t *testing.T, in string) {
		same, err := Rewrite([]byte(in), func(*Entry) (map[string]string, error) { return nil, nil })
		if err != nil || string(same) != strings.TrimPrefix(in, "\xEF\xBB\xBF") {
			t.Fatalf("nothing to change, but %q became %q, %v", in, same, err)
		}
	})
}

func TestRekeyChangesTheKeysOfATableAndNothingElse(t *testing.T) {
	for in, want := range map[string]string{
		"[money.machines.Gannet] # ours\nprice = 3\n":                        "[money.machines.GANNET] # ours\nprice = 3\n",
		"[ money . machines . \"Bay 1\" ]\nprice = 3\n[money.Gannet]\na = 1": "[ money . machines . \"BAY 1\" ]\nprice = 3\n[money.Gannet]\na = 1",
		"[money]\nmachines.'Bay 1'.price = 3\nmachines.b = { c = 1 }":        "[money]\nmachines.\"BAY 1\".price = 3\nmachines.B = { c = 1 }",
		"[money.machines]\na = { price = 3 }\nb.price = 2":                   "[money.machines]\nA = { price = 3 }\nB.price = 2",
		"money = { machines = { a = { price = 3 } }, a = 1 }":                "money = { machines = { A = { price = 3 } }, a = 1 }",
		"[[machine]]\nmoney.machines.a = 1":                                  "[[machine]]\nmoney.machines.a = 1",
		"[money.machines.a\nprice":                                           "[money.machines.a\nprice",
	} {
		got, err := Rekey([]byte(in), []string{"money", "machines"}, func(key string) (string, error) { return strings.ToUpper(key), nil })
		if err != nil || string(got) != want {
			t.Errorf("%v\n%s\nwant\n%s", err, got, want)
		}
	}
	no := errors.New("no")
	if _, err := Rekey([]byte("money.machines.a.b = 1"), []string{"money", "machines"}, func(string) (string, error) { return "", no }); err != no {
		t.Error(err)
	}
}
