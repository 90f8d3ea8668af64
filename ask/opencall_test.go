package ask

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"needlepace/clock"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/sound/synth"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/trial"
	"needlepace/words"
)

const aCall = `name = "Bars"
adviser = "a"
cloth = "c"
thread = "t"
needle = "n"
design = [{name = "bars", file = "bars.dst"}]
`

func filesOf(d *stitch.Design) floor.Sources {
	return floor.Sources{Design: func(string) (*stitch.Design, error) { return d, nil },
		Sheet: func(name string) (*machine.Sheet, error) {
			s, ok := machine.Class(name)
			if !ok {
				return nil, fmt.Errorf("no class %s", name)
			}
			return s, nil
		}}
}

// Each entry that cannot be, or is in doubt, is kept apart and says why; the others say
// how far the class is off. 2.920 is Student's t with 2 degrees of freedom at 95 % (a
// printed table, from memory).
func TestAnOpenCallSaysHowFarAClassIsOff(t *testing.T) {
	from := filesOf(bars([2]bool{true, true}, 0))
	put := func(came ...trial.Given) *OpenCallAnswer {
		t.Helper()
		a, err := OpenCall(t.Context(), OpenCallQuestion{TOML: []byte(aCall), Came: came}, from)
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	none := put()
	class, _ := machine.Class("multi-6")
	sheet := "call,digest,class,rated,speed,time,stood,day,photo,recording\n"
	row := func(class string, rated, speed float64, time, rest string) {
		sheet += fmt.Sprintf("Bars,%s,%s,%v,%v,%s,%s\n", none.Digest, class, rated, speed, time, rest)
	}
	factors := []float64{1.04, 1.10, 1.06}
	for i, f := range factors {
		c, err := Clock(t.Context(), Given{Stitches: none.Of, On: ratedAt(class, 1000)}, ClockQuestion{Job: Job{Speed: 900 - 50*float64(i)}})
		if err != nil {
			t.Fatal(err)
		}
		row("multi-6", 1000, 900-50*float64(i), fmt.Sprintf("%.3f", c.Seconds*f+12), "12,2026-02-03,,")
	}
	alone := sheet
	row("multi-6", 1000, 900, "0:30", ",,a.jpg,")
	row("multi-6", 1000, 900, "0:31", ",,b.jpg,")
	shot := []byte("one photograph")
	if x := put(trial.Given{Name: "a.csv", Bytes: []byte(sheet)}, trial.Given{Name: "a.jpg", Bytes: shot}, trial.Given{Name: "b.jpg", Bytes: shot}); len(x.Apart) != 1 ||
		!strings.Contains(x.Apart[0].Why.Raw(), "its b.jpg is the same file as that of a.csv, row 5") {
		t.Errorf("one photograph of two entries: %+v", x.Apart)
	}
	sheet = alone
	why := []string{"less than the 19 s that the stitches take", "is a sixtieth of", "far from the", "over the", "no class of machines", "its rated speed is", "its time cannot be read",
		"its file gone.jpg did not come", "it says the same as", "another design was sewn", "nothing is left of its time"}
	row("multi-6", 1000, 900, "5", ",,,")
	row("multi-6", 1000, 900, "0.7", ",,,")
	row("multi-6", 1000, 900, "9:00", ",,,")
	row("multi-6", 800, 900, "0:45", ",,,")
	row("a brand we sew on", 1000, 900, "0:45", ",,,")
	row("multi-6", 0, 900, "0:45", ",,,")
	row("multi-6", 1000, 900, "soon", ",,,")
	row("multi-6", 1000, 900, "0:45", ",,gone.jpg,")
	sheet += strings.Split(sheet, "\n")[2] + "\n"
	sheet += "Bars,d00000000,multi-6,1000,900,0:45,,,,\n"
	row("multi-6", 1000, 900, "0:45", "0:45,,,")
	sheet += "Other,,multi-6,1000,900,0:45,,,,\n"
	a := put(trial.Given{Name: "a.csv", Bytes: []byte(sheet)}, trial.Given{Name: "again.csv", Bytes: []byte(sheet)}, trial.Given{Name: "x.doc", Bytes: []byte("x")},
		trial.Given{Name: "bad.xlsx", Bytes: []byte("x")}, trial.Given{Name: "other.csv", Bytes: []byte("a,b\n1,2\n")})
	for _, want := range []string{"is of another, “Other”", "is the same file as a.csv", "x.doc is no sheet", "bad.xlsx", "no columns class and time"} {
		if !strings.Contains(saidOf(a.Said), want) {
			t.Errorf("%q does not say %q", a.Said, want)
		}
	}
	if len(a.Apart) != len(why) {
		t.Fatalf("%d are apart: %+v", len(a.Apart), a.Apart)
	}
	for i, want := range why {
		if !strings.Contains(a.Apart[i].Why.Raw(), want) {
			t.Errorf("entry %d is apart for %q, want %q", i, a.Apart[i].Why.Raw(), want)
		}
	}
	var sum, squares float64
	for _, f := range factors {
		sum += math.Log(f) / 3
	}
	for _, f := range factors {
		squares += (math.Log(f) - sum) * (math.Log(f) - sum)
	}
	sd := math.Sqrt(squares / 2)
	half := 2.920 * sd / math.Sqrt(3)
	c := a.Classes[0]
	for what, v := range map[string][2]float64{"off": {c.Off, math.Exp(sum)}, "low": {c.OffLow, math.Exp(sum - half)}, "high": {c.OffHigh, math.Exp(sum + half)}, "spread": {c.Spread, sd}} {
		if math.Abs(v[0]-v[1]) > 2e-4 {
			t.Errorf("%s is %.5f, by hand %.5f", what, v[0], v[1])
		}
	}
	if len(a.Classes) != 1 || c.Entries != 3 || len(a.PublicTable().Rows) != 1 || len(none.PublicTable().Rows) != 0 {
		t.Errorf("%+v", a.Classes)
	}
	// People read what a class is; files have what is typed.
	for what, cell := range map[string]words.Value{"public": a.PublicTable().Rows[0][0], "used": a.EntryTable().Rows[0][0], "apart": a.ApartTable().Rows[0][0]} {
		if cell.Text(nil) != ClassSays(class).Text(nil) || cell.Raw() != "multi-6" {
			t.Errorf("%s: shown %q, in files %q", what, cell.Text(nil), cell.Raw())
		}
	}
	if said := a.Verdict.Raw(); !strings.Contains(said, ClassSays(class).Text(nil)+": takes") {
		t.Errorf("%q does not name the class", said)
	}
	if unknown := a.ApartTable().Rows[4][0]; unknown.Text(nil) != "a brand we sew on" {
		t.Errorf("a class that is none is shown as %q", unknown.Text(nil))
	}
}

// A recording stands beside the sheets: it says a turn's time, agrees, contradicts, or is
// of another design; the same for an open call.
func TestRecordingsAreAmongWhatComesBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var file bytes.Buffer
	if err := stitchfile.Encode(&file, synth.Design(160, rng), "dst"); err != nil {
		t.Fatal(err)
	}
	d, err := stitchfile.Decode(file.Bytes(), "bars.dst")
	if err != nil {
		t.Fatal(err)
	}
	class, _ := machine.Class("single-15-light")
	run := synth.Perform(d, class, synth.Script{Job: clock.Job{Speed: 900}, Jitter: 0.0006, Phase: 0.5, Lead: 3, Tail: 2}, rng)
	var wav bytes.Buffer
	if err := synth.WAV(&wav, run.Record(synth.Quiet, rng), synth.Rate); err != nil {
		t.Fatal(err)
	}
	predicted := clock.Run(d, class, clock.Job{Speed: 900}).Seconds
	heard := map[string]float64{}
	keep := Hearing(func(b []byte, on string, do func() (float64, error)) (float64, error) {
		key := string(b)
		if !testing.Short() {
			key += on // heard anew for the call
		}
		if v, ok := heard[key]; ok {
			return v, nil
		}
		v, err := do()
		if err == nil {
			heard[key] = v
		}
		return v, err
	})
	toml := strings.NewReplacer(`sheet = "multi-6"`, `sheet = "single-15-light"`).Replace(plainTrial)
	f, err := trial.Parse("t", []byte(toml))
	if err != nil {
		t.Fatal(err)
	}
	turns := f.Turns("here")
	on := func(machine string) (n int) { // the first turn of a machine
		for _, x := range turns {
			if x.Machine == machine {
				return x.Number
			}
		}
		return 0
	}
	six := on("Six")
	wavOf := trial.Given{Name: fmt.Sprintf("here-%d.wav", six), Bytes: wav.Bytes()}
	put := func(time string, came ...trial.Given) *TrialAnswer {
		t.Helper()
		if time != "" {
			came = append(came, trial.Given{Name: "times.csv", Bytes: fmt.Appendf(nil, "place,turn,time\nhere,%d,%s\n", six, time)})
		}
		a, err := Trial(t.Context(), TrialQuestion{TOML: []byte(toml), Returned: came, Heard: keep}, filesOf(d))
		if err != nil {
			t.Fatal(err)
		}
		return a
	}
	a := put("", wavOf)
	if len(a.Runs) != 1 || !a.Runs[0].Apart.IsZero() || math.Abs(a.Runs[0].Seconds/predicted-1) > 0.01 {
		t.Fatalf("heard %+v, %q; a watch would say %.1f s", a.Runs, a.Said, predicted)
	}
	if a := put(fmt.Sprintf("%.1f", predicted), wavOf); len(a.Runs) != 1 || a.Runs[0].Heard == 0 || a.Used != 1 {
		t.Errorf("a recording that agrees: %+v", a.Runs)
	}
	if a := put(fmt.Sprintf("%.1f", predicted*1.2), wavOf); len(a.Runs) != 2 || a.Used != 0 || !strings.Contains(a.Apart[0].Why.Raw(), "came back twice") {
		t.Errorf("a recording that says something else: %+v", a.Apart)
	}
	cut := trial.Given{Name: fmt.Sprintf("here-%d.wav", six), Bytes: wav.Bytes()[:len(wav.Bytes())/2]}
	for _, c := range []struct {
		came trial.Given
		says string
	}{{trial.Given{Name: "there-1.wav", Bytes: wav.Bytes()}, "does not say what is heard"}, {cut, "ends before its file says"},
		{trial.Given{Name: "here-1.flac", Bytes: []byte("fLaC")}, "cannot be heard"}} {
		if a := put("", c.came); len(a.Runs) != 0 || !strings.Contains(saidOf(a.Said), c.says) {
			t.Errorf("%s: %+v, %q", c.says, a.Runs, a.Said)
		}
	}
	if !testing.Short() {
		other, err := Trial(t.Context(), TrialQuestion{TOML: []byte(toml), Returned: []trial.Given{wavOf}}, filesOf(bars([2]bool{true, true}, 0)))
		if err != nil || len(other.Runs) != 0 || len(other.Said) != 1 {
			t.Errorf("another design's recording: %+v, %q, %v", other.Runs, other.Said, err)
		}
	}

	called, err := OpenCall(t.Context(), OpenCallQuestion{TOML: []byte(aCall), Heard: keep, Came: []trial.Given{{Name: "run.wav", Bytes: wav.Bytes()},
		{Name: "a.csv", Bytes: []byte("class,rated,speed,time,recording\nsingle-15-light,1000,900,,run.wav\nsingle-15-light,1000,900,,RUN.wav\n")}}}, filesOf(d))
	if err != nil || len(called.Used) != 1 || !called.Used[0].Heard || math.Abs(called.Used[0].Seconds/predicted-1) > 0.01 {
		t.Fatalf("%+v, %v", called, err)
	}
	if !strings.Contains(called.Apart[0].Why.Raw(), "is the same file as that of") {
		t.Errorf("one recording for two entries: %+v", called.Apart)
	}
}

// saidOf is sentences a line each.
func saidOf(all []words.Plain) string {
	var t []string
	for _, x := range all {
		t = append(t, x.Raw())
	}
	return strings.Join(t, "\n")
}
