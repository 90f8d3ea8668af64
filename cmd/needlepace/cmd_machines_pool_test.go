package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"needlepace/machine"
)

const sharedSheets = "../../demo/shared"

// Sheets of other shops become a class that says what it is from, that the next
// machine is learned from, and that says so when it is checked.
func TestSheetsBecomeAClass(t *testing.T) {
	at := filepath.Join(t.TempDir(), "class.toml")
	out, errs, code := machines(t, "pool", sharedSheets, "-o", at)
	if code != exitOK || !strings.Contains(out, "5 machines of 2 shops") || !strings.Contains(out, "written: "+at) {
		t.Fatalf("status %d\n%s%s", code, out, errs)
	}
	if out, errs, code = machines(t, "check", at); code != exitOK || !strings.Contains(out, "a class from 5 machines of 2 shops") {
		t.Errorf("status %d\n%s%s", code, out, errs)
	}
	if _, errs, code = machines(t, "pool", sharedSheets, "-o", at); code != exitUsage || !strings.Contains(errs, "--overwrite") {
		t.Errorf("status %d: %s", code, errs)
	}
	out, _, code = invoke(t, "learn", "-m", at, "../../demo/runs/skipper.csv", "-o", "-")
	s, err := machine.Parse("learned", []byte(out))
	if code != exitOK || err != nil || s.Fit == nil || s.Pool == nil || s.Pool.Machines != 5 {
		t.Fatalf("status %d: %v", code, err)
	}
}

func TestPoolJSONIsTheContract(t *testing.T) {
	out, _, code := machines(t, "pool", sharedSheets, "--json")
	var got struct {
		Sheet, Class, About string
		Machines, Shops     int
		Verdict, Caveats    []any
		Constants, Terms    []map[string]any
		Members             []map[string]any
	}
	if err := json.Unmarshal([]byte(out), &got); err != nil || code != exitOK {
		t.Fatalf("status %d: %v", code, err)
	}
	if got.Class != "compact-8" || got.Machines != 5 || got.Shops != 2 || len(got.Members) != 5 || got.Members[0]["shop"] != 1.0 {
		t.Errorf("%+v", got)
	}
	for _, k := range []string{"path", "unit", "before", "sd_before", "value", "sd", "between", "told"} {
		if _, ok := got.Constants[0][k]; !ok {
			t.Errorf("a constant has no %s: %v", k, got.Constants[0])
		}
	}
	for _, k := range []string{"term", "believed", "of", "chance", "in_law", "values"} {
		if _, ok := got.Terms[0][k]; !ok {
			t.Errorf("a term has no %s: %v", k, got.Terms[0])
		}
	}
}

// What cannot be pooled is named with why, and nothing is written.
func TestABadSheetStopsThePool(t *testing.T) {
	dir := t.TempDir()
	files, err := filepath.Glob(filepath.Join(sharedSheets, "*.toml"))
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	changed, same := filepath.Join(dir, "changed.toml"), filepath.Join(dir, "same.toml")
	for at, text := range map[string]string{changed: strings.Replace(string(b), "\ntrim = ", "\ntrim = 1", 1), same: string(b)} {
		if err := os.WriteFile(at, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	class := filepath.Join(dir, "class.toml")
	_, errs, code := machines(t, "pool", files[0], same, changed, "multi-6", "-o", class)
	for _, want := range []string{same + ": the very same evidence is in " + files[0], changed + ": it was changed after it was learned",
		"multi-6: this sheet was never learned"} {
		if !strings.Contains(errs, want) {
			t.Errorf("no word of %q in\n%s", want, errs)
		}
	}
	if _, err := os.Stat(class); err == nil || code == exitOK {
		t.Errorf("status %d, and a class was written", code)
	}
}

// A shop's sheet goes out under another name, with the shop's number, and counts
// once with those that it exported before.
func TestExportHoldsNothingOfTheShop(t *testing.T) {
	dir := t.TempDir()
	own := filepath.Join(dir, "anna.toml")
	if out, errs, code := invoke(t, "learn", "-m", "../../demo/shop/skipper.toml", "--name", "Anna's", "../../demo/runs/skipper.csv", "-o", own); code != exitOK {
		t.Fatal(out, errs)
	}
	number := strings.Repeat("0f", 16)
	out, errs, code := machines(t, "export", own, "-o", filepath.Join(dir, "out"), "--shop-number", number)
	files, err := filepath.Glob(filepath.Join(dir, "out", "*"))
	if code != exitOK || err != nil || len(files) != 1 || strings.Contains(out, number) {
		t.Fatalf("status %d, %v: %s%s", code, files, out, errs)
	}
	b, err := os.ReadFile(files[0])
	if err != nil {
		t.Fatal(err)
	}
	for _, of := range []string{"Anna", "Skipper", "skipper", "ostrel", "2026", "Pellsand"} {
		if strings.Contains(string(b), of) || strings.Contains(filepath.Base(files[0]), of) {
			t.Errorf("%s went along", of)
		}
	}
	if !strings.Contains(string(b), number) {
		t.Error("the shop's number is not in it")
	}
	if out, errs, code = machines(t, "pool", files[0], sharedSheets); code != exitOK || !strings.Contains(out, "6 machines of 3 shops") {
		t.Errorf("status %d: %s%s", code, out, errs)
	}
	if out, _, code = machines(t, "export", own, "-o", filepath.Join(dir, "new")); code != exitOK || !strings.Contains(out, "--shop-number") {
		t.Errorf("status %d, no word of the new number: %s", code, out)
	}
	for _, bad := range []string{"Pellsand", strings.Repeat("0F", 16)} {
		if _, errs, code = machines(t, "export", own, "-o", filepath.Join(dir, "bad"), "--shop-number", bad); code == exitOK ||
			!strings.Contains(errs, "32 hexadecimal digits") {
			t.Errorf("status %d: %s", code, errs)
		}
	}
}
