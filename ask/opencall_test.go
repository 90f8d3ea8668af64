package ask

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
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
	for _, want := range []string{"belongs to “Other”", "is the same file as a.csv", "x.doc is no sheet", "bad.xlsx", "no columns class and time"} {
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

// Two classes by hand: of two entries of one the middle is their mean, the range Student's t with 1 degree of freedom (6.314 at 95 %, a
// printed table, from memory); a machine is reckoned at what it is rated for and set to. What one or two shops sent of a class nobody else sees.
func TestClassesOfAnOpenCallByHand(t *testing.T) {
	from := filesOf(bars([2]bool{true, true}, 0))
	six, _ := machine.Class("multi-6")
	home, _ := machine.Class("home-1")
	eight, _ := machine.Class("compact-8")
	twelve, _ := machine.Class("multi-12")
	of := NewDesign(bars([2]bool{true, true}, 0), "bars.dst", "bars")
	clocked := func(class *machine.Sheet, rated, speed float64) *ClockAnswer {
		s := *class
		s.MaxSpeed = rated
		c, err := Clock(t.Context(), Given{Stitches: of, On: &s}, ClockQuestion{Job: Job{Speed: speed}, Level: 0.9})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	sheet := "class,rated,speed,time,day\n"
	type sent struct {
		class        *machine.Sheet
		rated, speed float64
		times        float64
	}
	for _, x := range []sent{{six, 700, 500, 1.5}, {six, 1100, 900, 1.4}, {home, 800, 600, 0.9}, {home, 900, 700, 0.9}, {home, 700, 500, 0.898},
		{eight, 800, 600, 0.97}, {eight, 800, 700, 1}, {eight, 800, 500, 0.99}, {twelve, 1000, 500, 0.8}} {
		sheet += fmt.Sprintf("%s,%v,%v,%.3f,2026-02-03\n", x.class.Name, x.rated, x.speed, clocked(x.class, x.rated, x.speed).Seconds*x.times)
	}
	a, err := OpenCall(t.Context(), OpenCallQuestion{TOML: []byte(aCall), Level: 0.9, Came: []trial.Given{{Name: "a.csv", Bytes: []byte(sheet)}}}, from)
	if err != nil || len(a.Used) != 9 || len(a.Classes) != 4 {
		t.Fatalf("%v, %+v, %+v", err, a.Classes, a.Apart)
	}
	one, other := clocked(six, 700, 500), clocked(six, 1100, 900)
	k := a.Classes[slices.IndexFunc(a.Classes, func(c CalledClass) bool { return c.Class == "multi-6" })]
	mean := math.Sqrt(1.5 * 1.4)
	half := 6.314 * math.Abs(math.Log(1.5/1.4)) / math.Sqrt2 / math.Sqrt2
	inside := 0
	for c, times := range map[*ClockAnswer]float64{one: 1.5, other: 1.4} {
		if s := c.Seconds * times; s >= c.Interval.Low && s <= c.Interval.High {
			inside++
		}
	}
	for what, v := range map[string][2]float64{
		"the speed": {k.Speed, 700}, "the middle": {k.Seconds, (one.Seconds*1.5 + other.Seconds*1.4) / 2},
		"the shortest": {k.Least, min(one.Seconds*1.5, other.Seconds*1.4)}, "the longest": {k.Most, max(one.Seconds*1.5, other.Seconds*1.4)},
		"what was predicted": {k.Predicted, (one.Seconds + other.Seconds) / 2}, "its low": {k.PredictedLow, (one.Interval.Low + other.Interval.Low) / 2},
		"its high": {k.PredictedHigh, (one.Interval.High + other.Interval.High) / 2}, "how far off": {k.Off, mean},
		"from": {k.OffLow, mean * math.Exp(-half)}, "to": {k.OffHigh, mean * math.Exp(half)}, "inside": {float64(k.Inside), float64(inside)}, "entries": {float64(k.Entries), 2},
	} {
		if math.Abs(v[0]/max(v[1], 1e-9)-1) > 3e-4 && math.Abs(v[0]-v[1]) > 1e-9 {
			t.Errorf("%s is %.4f, by hand %.4f", what, v[0], v[1])
		}
	}
	if rows := a.PublicTable().Rows; len(rows) != 2 || rows[0][0].Raw() != "home-1" {
		t.Errorf("everybody sees %d classes", len(rows))
	}
	for _, c := range a.Classes { // far below what was predicted
		if c.Class == "multi-12" && (c.Inside != 0 || c.Most > c.PredictedLow) {
			t.Errorf("%d entries of at most %.1f s lie inside what begins at %.1f s", c.Inside, c.Most, c.PredictedLow)
		}
	}
	// 1.449 times from 1.17 to 1.80 is slower; three entries of 0.9 are 10 % faster; of 0.97, 1 and 0.99 the range is
	// 0.961 to 1.013 (2.920 × 0.0155 / √3 about the logarithm's mean of −0.0135), and one alone says nothing.
	says := strings.ReplaceAll(a.Verdict.Text(nil), "\u00a0", " ")
	if keys := keysOf(a.Verdict); !slices.Contains(keys, "call.slower") || !slices.Contains(keys, "call.faster") || !slices.Contains(keys, "call.as-said") || !strings.Contains(says, "10 % less") || !strings.Contains(says, "45 % longer") || !slices.Contains(keysOf(a.Caveats), "call.who-sends") {
		t.Errorf("it says %v %v: %s", keys, keysOf(a.Caveats), says)
	}
	for last, told := range map[words.Day]int{words.NewDay(2026, 2, 3): 0, words.NewDay(2026, 2, 2): 1} {
		late, err := OpenCall(t.Context(), OpenCallQuestion{TOML: []byte(aCall), Level: 0.9, Last: last, Came: []trial.Given{{Name: "a.csv", Bytes: []byte(sheet)}}}, from)
		if err != nil || strings.Count(saidOf(late.Said), "still to come") != told || len(late.Used) != 9 {
			t.Errorf("%v: days up to %v: %q, %d count", err, last.Text(nil), late.Said, len(late.Used))
		}
	}
	lines := strings.SplitAfter(sheet, "\n")
	a, err = OpenCall(t.Context(), OpenCallQuestion{TOML: []byte(aCall), Level: 0.9, Came: []trial.Given{{Name: "a.csv", Bytes: []byte(lines[0] + lines[1])}}}, from)
	if err != nil || !slices.Contains(keysOf(a.Verdict), "call.one") || len(a.PublicTable().Rows) != 0 {
		t.Errorf("%v: one entry says %v", err, keysOf(a.Verdict))
	}
	expected, err := a.ExpectTable(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for i, class := range machine.Classes() {
		if want := clocked(class, class.MaxSpeed, class.MaxSpeed).Seconds; expected.Rows[i][2].Raw() != words.Seconds(want).Raw() {
			t.Errorf("%s is expected to take %s, by its sheet %v", class.Name, expected.Rows[i][2].Raw(), want)
		}
	}
}

func keysOf(all words.Sentences) (keys []string) {
	for _, m := range all {
		keys = append(keys, m.Key)
	}
	return keys
}

// What somebody sends by the page is text in the sheet, whatever a spreadsheet would make of it; each row has its own digest.
func TestTheSheetOfACallHasNoFormulas(t *testing.T) {
	var b bytes.Buffer
	if err := CalledSheet(&b, "=1+1", "dcall", CalledRow{Class: "@x", Time: "+cmd", Digest: "dother"}, CalledRow{Class: "multi-6", Rated: 1000.5}); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		for _, cell := range r {
			if cell != "" && strings.ContainsAny(cell[:1], "=+-@") {
				t.Errorf("%q is a formula", cell)
			}
		}
	}
	if rows[1][1] != "dother" || rows[2][1] != "dcall" || rows[2][3] != "1000.5" || rows[2][4] != "" {
		t.Errorf("%q", rows)
	}
}

// What of an entry could not be read stands in its row with nothing, not as a speed or a time of 0.
func TestWhatCouldNotBeReadIsNoFigure(t *testing.T) {
	sheet := "call,class,rated,speed,time\nBars,multi-6,1000,9000,9:00\nBars,multi-6,1000,900,soon\n"
	a, err := OpenCall(t.Context(), OpenCallQuestion{TOML: []byte(aCall), Came: []trial.Given{{Name: "e.csv", Bytes: []byte(sheet)}}}, filesOf(bars([2]bool{true, true}, 0)))
	if err != nil || len(a.Apart) != 2 {
		t.Fatalf("%v: %+v", err, a)
	}
	for _, row := range a.ApartTable().Rows {
		for _, cell := range row[1:3] {
			if cell != nil && strings.HasPrefix(cell.Text(nil), "0") {
				t.Errorf("it stands as %q: %v", cell.Text(nil), row[3].Text(nil))
			}
		}
	}
	if rows := a.ApartTable().Rows; rows[0][1] != nil || rows[0][2] == nil || rows[1][1] == nil || rows[1][2] != nil {
		t.Errorf("a speed and a time that cannot be read: %v", rows)
	}
}
