package study

import (
	"io"
	"os"
	"path/filepath"
	"testing"
)

// The study in small: intervals hold, errors are small, and another number of
// workers changes nothing. The full one is ./dev study coverage.
func TestSmallStudy(t *testing.T) {
	if testing.Short() {
		t.Skip("ten seconds")
	}
	opt := Options{Classes: []string{"single-15-1200", "multi-6", "compact-8"}, Machines: 24, Designs: 6, Seed: 3, Workers: 2}
	o, err := Run(t.Context(), opt)
	if err != nil {
		t.Fatal(err)
	}
	med := Quantile(o.Errors, 0.5)
	t.Logf("%d runs: %.1f %% inside, median error %.2f %%", o.Runs, 100*o.Share(), 100*med)
	// 144 runs of 24 machines, those of one machine alike: about ±8 %.
	if o.Share() < 0.8 || o.Share() > 0.985 {
		t.Errorf("%.1f %% of runs inside their 90 %% interval", 100*o.Share())
	}
	if med > 0.02 || med > Quantile(o.Before, 0.5)/2 {
		t.Errorf("median error %.2f %%, by the class sheet %.2f %%", 100*med, 100*Quantile(o.Before, 0.5))
	}
	opt.Machines, opt.Workers = 3, 1
	one, err := Run(t.Context(), opt)
	if err != nil {
		t.Fatal(err)
	}
	for i, e := range one.Errors {
		if e != o.Errors[i] {
			t.Fatalf("run %d: error %v with one worker, %v with two", i, e, o.Errors[i])
		}
	}
}

func TestInsertKeepsThePage(t *testing.T) {
	page := filepath.Join(t.TempDir(), "page.md")
	if err := os.WriteFile(page, []byte("before\n"+markBegin+"old\n"+markEnd+"after\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Insert(page, func(w io.Writer) { io.WriteString(w, "new\n") }); err != nil {
		t.Fatal(err)
	}
	b, _ := os.ReadFile(page)
	if string(b) != "before\n"+markBegin+"new\n"+markEnd+"after\n" {
		t.Errorf("%q", b)
	}
	if err := Insert(filepath.Join(t.TempDir(), "none"), nil); err == nil {
		t.Error("no page, no error")
	}
}
