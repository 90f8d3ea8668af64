package study

import (
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
)

// The study's machines, told to behave, agree with the clock.
func TestPlainFormAgreesWithTheClock(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	for _, s := range machine.Classes() {
		m := drawn(s, rng)
		m.Frame.Turn, m.Frame.Settle = 0.3, 0.002
		d := design(rng)
		got, blocks := (&Controller{}).run(m, d, 900)
		r := clock.Run(d, m, clock.Job{Speed: 900})
		if math.Abs(got/r.Seconds-1) > 1e-9 {
			t.Errorf("%s: %v s, clock %v s", s.Name, got, r.Seconds)
		}
		if len(blocks) != len(r.Blocks) {
			t.Errorf("%s: %d blocks, clock %d", s.Name, len(blocks), len(r.Blocks))
		}
	}
}

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

// Machines whose controllers depart from the model must be further off than
// those that do not, and not wildly.
func TestWrongModelsAreFurtherOffButNotLost(t *testing.T) {
	for _, k := range Controllers()[1:2] {
		o, err := Run(t.Context(), Options{Classes: []string{"single-15-1200", "multi-6"}, Machines: 6, Designs: 5, Seed: 3, Workers: 2, Controller: k})
		if err != nil {
			t.Fatal(err)
		}
		med := Quantile(o.Errors, 0.5)
		t.Logf("%s: median error %.2f %%", k.Name, 100*med)
		if med < 0.001 || med > 0.05 {
			t.Errorf("%s: median error %.2f %%", k.Name, 100*med)
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
