package machine

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// modelSheet is the example of MODEL section 6, as it stands there.
const modelSheet = `name = "Bay 2"                     # the shop's own name
class = "single-head, 15 needles"
heads = 1
needles = 15
max_speed = 1000                   # stitches/min
[shaft]
accel_up = 18.0                    # rev/s²
accel_down = 24.0                  # rev/s²
creep_speed = 120                  # stitches/min: first and last boundary of a run
soft_start_stitches = 3
soft_start_speed = 300             # stitches/min
[frame]
window = 0.44                      # fraction of a revolution
accel_x = 13800                    # mm/s²
accel_y = 13800
speed_x = 123                      # mm/s
speed_y = 123
settle = 0.0                       # s
turn = 0.0                         # κ
[ladder]
length = []                        # mm, ascending
speed = []                         # stitches/min
[travel]
mode = "frame"                     # or "shaft"
accel = 1500                       # mm/s²
speed = 150                        # mm/s
shaft_speed = 400                  # stitches/min, shaft mode
return_to_start = false
[rest]                             # seconds
start = 3.0
trim = 4.0
colour_stop = 6.0
per_needle = 0.3
stop = 0.0
end = 3.0
[reading]
trim_after_jumps = 3
`

func modelExample() *Sheet {
	return &Sheet{
		Name: "Bay 2", Class: "single-head, 15 needles", Heads: 1, Needles: 15, MaxSpeed: 1000,
		Shaft:   Shaft{AccelUp: 18, AccelDown: 24, CreepSpeed: 120, SoftStartStitches: 3, SoftStartSpeed: 300},
		Frame:   Frame{Window: 0.44, AccelX: 13800, AccelY: 13800, SpeedX: 123, SpeedY: 123},
		Turns:   Turns{To: 180},
		Travel:  TravelLaw{Mode: FrameTravel, Accel: 1500, Speed: 150, ShaftSpeed: 400},
		Rest:    Rest{Start: 3, Trim: 4, ColourStop: 6, PerNeedle: 0.3, End: 3},
		Reading: Reading{TrimAfterJumps: 3},
	}
}

func TestParseReadsTheModelExample(t *testing.T) {
	for name, text := range map[string]string{
		"as written":      modelSheet,
		"Windows ends":    strings.ReplaceAll(modelSheet, "\n", "\r\n"),
		"byte-order mark": "\xEF\xBB\xBF" + modelSheet,
		"inline and dotted": strings.Replace(modelSheet, "[reading]\ntrim_after_jumps = 3\n",
			"[sd]\nframe.accel_x = 0.25\nrest = {trim = 0.3}\n", 1),
	} {
		got, err := Parse("bay2.toml", []byte(text))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		want := modelExample()
		if strings.HasPrefix(name, "inline") {
			want.SD = map[string]float64{"frame.accel_x": 0.25, "rest.trim": 0.3}
		}
		if d := cmp.Diff(want, got); d != "" {
			t.Errorf("%s: (-want +got)\n%s", name, d)
		}
	}
}

func TestSecondsOfASheetAreWrittenAsPeopleDo(t *testing.T) {
	was := modelExample().Rest.Trim
	for text, want := range map[string]float64{`"1.5 s"`: 1.5, `"0:04"`: 4, `"1 min 15 s"`: 75, "4": 4, "4.0": 4} {
		s, err := Parse("x", []byte(strings.Replace(modelSheet, "trim = 4.0", "trim = "+text, 1)))
		if err != nil || s.Rest.Trim != want {
			t.Errorf("trim = %s: %v (was %g), want %g", text, err, was, want)
		}
	}
	for _, text := range []string{`"-4 s"`, `"soon"`, `"5 min"`, `""`} { // a trim takes 120 s at most
		if _, err := Parse("x", []byte(strings.Replace(modelSheet, "trim = 4.0", "trim = "+text, 1))); err == nil ||
			!strings.Contains(err.Error(), "rest.trim") {
			t.Errorf("trim = %s: %v", text, err)
		}
	}
	// Only what is in seconds: a length of time is no speed.
	if _, err := Parse("x", []byte(strings.Replace(modelSheet, "creep_speed = 120", `creep_speed = "1:15"`,
		1))); err == nil {
		t.Error("a speed of 1:15 was taken")
	}
}

func TestParseFillsInTheDefaultsAndOnlyThose(t *testing.T) {
	short := `name = "A"
needles = 1
max_speed = 800
shaft = {accel_up = 10, accel_down = 12, creep_speed = 100}
frame = {accel_x = 9000, accel_y = 9000}
travel = {accel = 1000, speed = 100}
rest = {start = 2, trim = 4, colour_stop = 60, end = 2}
`
	got, err := Parse("a.toml", []byte(short))
	if err != nil {
		t.Fatal(err)
	}
	want := &Sheet{
		Name: "A", Heads: 1, Needles: 1, MaxSpeed: 800,
		Shaft:   Shaft{AccelUp: 10, AccelDown: 12, CreepSpeed: 100, SoftStartSpeed: 300},
		Frame:   Frame{Window: 0.44, AccelX: 9000, AccelY: 9000, SpeedX: noLimit, SpeedY: noLimit},
		Turns:   Turns{To: 180},
		Travel:  TravelLaw{Mode: FrameTravel, Accel: 1000, Speed: 100, ShaftSpeed: 400},
		Rest:    Rest{Start: 2, Trim: 4, ColourStop: 60, End: 2},
		Reading: Reading{TrimAfterJumps: 3},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("(-want +got)\n%s", d)
	}

	// Two defaults hold only where the constant does nothing.
	for _, c := range []struct{ from, to, missing string }{
		{"creep_speed = 100", "creep_speed = 100, soft_start_stitches = 2", "shaft.soft_start_speed"},
		{"travel = {", "travel = {mode = \"shaft\", ", "travel.shaft_speed"},
	} {
		_, err := Parse("a.toml", []byte(strings.Replace(short, c.from, c.to, 1)))
		wantProblem(t, err, 0, c.missing, "is missing")
	}
	// Each of the others is asked for, one problem each.
	_, err = Parse("empty.toml", nil)
	var all *SheetError
	if !errors.As(err, &all) {
		t.Fatalf("an empty sheet gave %v", err)
	}
	wantPaths := []string{
		"name", "needles", "max_speed", "shaft.accel_up", "shaft.accel_down", "shaft.creep_speed",
		"frame.accel_x", "frame.accel_y", "travel.accel", "travel.speed",
		"rest.start", "rest.trim", "rest.colour_stop", "rest.end",
	}
	var paths []string
	for _, p := range all.Problems {
		paths = append(paths, p.Path)
	}
	if d := cmp.Diff(wantPaths, paths); d != "" {
		t.Errorf("missing keys of an empty sheet (-want +got)\n%s", d)
	}
}

// wantProblem fails unless one of the problems is the one described.
func wantProblem(t *testing.T, err error, line int, path string, words ...string) {
	t.Helper()
	var se *SheetError
	if !errors.As(err, &se) {
		t.Errorf("no *SheetError but %v", err)
		return
	}
	for _, p := range se.Problems {
		if p.Path != path || p.Line != line {
			continue
		}
		for _, w := range words {
			if !strings.Contains(p.Text, w) {
				t.Errorf("line %d, %s: %q does not say %q", line, path, p.Text, w)
			}
		}
		return
	}
	t.Errorf("no problem of %q on line %d in\n%v", path, line, err)
}

func TestParseSaysWhatIsWrongWhereAndWhatToDo(t *testing.T) {
	eye := func(n int) string {
		rows := make([]string, n)
		for i := range rows {
			row := make([]string, n)
			for j := range row {
				row[j] = "0.0"
			}
			row[i] = "1.0"
			rows[i] = "[" + strings.Join(row, ",") + "]"
		}
		return "[" + strings.Join(rows, ",") + "]"
	}
	fit := func(constants, correlation string) string {
		return "[fit]\nruns = 8\ndate = 2026-11-25\nmodel_version = 1\ndigest = \"\"\nconstants = " + constants +
			"\ncorrelation = " + correlation + "\n"
	}
	for name, c := range map[string]struct {
		from, to string // replaced in the model sheet; from "" appends
		line     int
		path     string
		words    []string
	}{
		"wrong key": {"accel_x =", "acel_x =", 14, "frame.acel_x",
			[]string{"did you mean frame.accel_x?"}},
		"other spelling": {"colour_stop =", "color_stop =", 32, "rest.color_stop",
			[]string{"did you mean rest.colour_stop?"}},
		"key in the wrong table": {"trim_after_jumps = 3", "trim_after_jumps = 3\nsettle = 0", 38, "reading.settle",
			[]string{"did you mean frame.settle?"}},
		"key without its table": {"heads = 1", "window = 0.4", 3, "window", []string{"did you mean frame.window?"}},
		"unknown table":         {"[reading]", "[readings]", 36, "readings", []string{"did you mean reading?"}},
		"nothing like it":       {"heads = 1", "zzyzx_qwv = 1", 3, "zzyzx_qwv", []string{"remove it"}},
		"quoted dotted key":     {"heads = 1", `"frame.turn" = 1`, 3, "frame.turn", []string{"without the quotes"}},
		"m/s² for mm/s²": {"accel_x = 13800", "accel_x = 13.8", 14, "frame.accel_x",
			[]string{"100 to 500000 mm/s²", "if 13.8 is in m/s², write 13800"}},
		"degrees for a fraction": {"window = 0.44", "window = 158.4", 13, "frame.window",
			[]string{"0.1 to 0.9", "write 0.44"}},
		"milliseconds": {"trim = 4.0", "trim = 4000", 31, "rest.trim", []string{"0 to 120 s", "write 4"}},
		"stitches/s": {"max_speed = 1000", "max_speed = 16", 5, "max_speed",
			[]string{"50 to 3000 stitches/min", "write 960"}},
		"infinite":     {"trim = 4.0", "trim = inf", 31, "rest.trim", []string{"0 to 120 s"}},
		"not a number": {"trim = 4.0", "trim = nan", 31, "rest.trim", []string{"0 to 120 s"}},
		"negative":     {"settle = 0.0", "settle = -0.001", 18, "frame.settle", []string{"0 to 0.2 s"}},
		"huge count": {"needles = 15", "needles = 9223372036854775807", 4, "needles",
			[]string{"whole number from 1 to 60"}},
		"broken count": {"needles = 15", "needles = 15.5", 4, "needles", []string{"whole number"}},
		"text for a number": {"accel_up = 18.0", `accel_up = "18 rev/s²"`, 7, "shaft.accel_up",
			[]string{"without quotes or unit", "rev/s²"}},
		"list for a number": {"accel_up = 18.0", `accel_up = [18]`, 7, "shaft.accel_up",
			[]string{"a list of 1"}},
		"table for a number": {"heads = 1", "heads = {a = 1}", 3, "heads", []string{"a table"}},
		"number for a table": {"[reading]\ntrim_after_jumps = 3", "", 0, "", nil},
		"number for a text":  {`name = "Bay 2"`, "name = 2", 1, "name", []string{"text in quotes"}},
		"empty name":         {`"Bay 2"`, `"  "`, 1, "name", []string{"the shop calls it by"}},
		"text for yes or no": {"return_to_start = false", `return_to_start = "no"`, 28, "travel.return_to_start",
			[]string{"true or false"}},
		"unknown travel mode": {`mode = "frame"`, `mode = "hoop"`, 24, "travel.mode", []string{`"shaft"`}},
		"ladder not ascending": {"length = []                        # mm, ascending\nspeed = []",
			"length = [3, 3]\nspeed = [900, 800]", 21, "ladder.length", []string{"ascending"}},
		"ladder of unequal parts": {"length = []", "length = [3]", 20, "ladder", []string{"1 lengths and 0 speeds"}},
		"ladder without numbers":  {"length = []", `length = ["a"]`, 21, "ladder.length", []string{"lengths in mm"}},
		"ladder speed":            {"speed = [] ", "speed = [0] ", 22, "ladder.speed", []string{"10 to 3000"}},
		"spread of nothing": {"", "[sd.frame]\nacel_y = 0.2\n", 39, "sd.frame.acel_y",
			[]string{"did you mean sd.frame.accel_y?"}},
		"spread of a count": {"", "[sd]\nheads = 0.2\n", 39, "sd.heads", []string{"no spread"}},
		"spread in per cent": {"", "[sd.frame]\naccel_y = 25\n", 39, "sd.frame.accel_y",
			[]string{"0 to 2", "write 0.25"}},
		"negative spread": {"", "[sd.frame]\naccel_y = -0.1\n", 39, "sd.frame.accel_y", []string{"0 to 2"}},
		"basis of nothing": {"", "[basis.rest]\ntrims = \"spec\"\n", 39, "basis.rest.trims",
			[]string{"did you mean basis.rest.trim?"}},
		"unknown basis": {"", "[basis.rest]\ntrim = \"guess\"\n", 39, "basis.rest.trim",
			[]string{`"measured"`}},
		"fit of nothing": {"", fit(`["frame.acel_x"]`, "[[1]]"), 43, "fit.constants",
			[]string{"did you mean"}},
		"fit of a count": {"", fit(`["heads"]`, "[[1]]"), 43, "fit.constants", []string{"count"}},
		"fit twice": {"", fit(`["rest.trim","rest.trim"]`, eye(2)), 43, "fit.constants",
			[]string{"twice"}},
		"correlation of wrong size": {"", fit(`["rest.trim","rest.end"]`, eye(3)), 44, "fit.correlation",
			[]string{"3 rows for 2 constants"}},
		"correlation not square": {"", fit(`["rest.trim","rest.end"]`, "[[1, 0], [0]]"), 44, "fit.correlation",
			[]string{"row 2 has 1 numbers"}},
		"correlation not symmetric": {"", fit(`["rest.trim","rest.end"]`, "[[1, 0.5], [0.4, 1]]"), 44,
			"fit.correlation", []string{"not symmetric", "row 2, number 1"}},
		"correlation of itself": {"", fit(`["rest.trim","rest.end"]`, "[[1, 0.5], [0.5, 0.9]]"), 44,
			"fit.correlation", []string{"diagonal"}},
		"correlation above 1": {"", fit(`["rest.trim","rest.end"]`, "[[1, 1.5], [1.5, 1]]"), 44,
			"fit.correlation", []string{"-1 to 1"}},
		"correlations impossible": {"", fit(`["rest.trim","rest.end","rest.start"]`,
			"[[1, 0.9, 0.9], [0.9, 1, -0.9], [0.9, -0.9, 1]]"), 44, "fit.correlation", []string{"positive semidefinite"}},
		"fit date": {"", strings.Replace(fit("[]", "[]"), "2026-11-25", `"25.11.2026"`, 1), 40,
			"fit.date", []string{"2026-11-25"}},
		"fit digest": {"", strings.Replace(fit("[]", "[]"), `""`, `"xyz"`, 1), 42, "fit.digest",
			[]string{"64 hexadecimal"}},
		"fit residual": {"", fit("[]", "[]") + "residual = 3\n", 45, "fit.residual",
			[]string{"0 to 2", "write 0.03"}},
		"fit version": {"", strings.Replace(fit("[]", "[]"), "version = 1", "version = 0", 1), 41,
			"fit.model_version", []string{"counts from 1"}},
		"not TOML":    {"[frame]", "[frame", 12, "", []string{"not valid TOML"}},
		"a key twice": {"settle = 0.0 ", "window = 0.4 ", 18, "", []string{"not valid TOML", "window"}},
	} {
		t.Run(name, func(t *testing.T) {
			text := modelSheet + c.to
			if c.from != "" {
				text = strings.Replace(modelSheet, c.from, c.to, 1)
			}
			if name == "number for a table" {
				text = "reading = 3\n" + text
				c.line, c.path, c.words = 1, "reading", []string{"[reading]"}
			}
			_, err := Parse("bay2.toml", []byte(text))
			wantProblem(t, err, c.line, c.path, c.words...)
			var se *SheetError
			if errors.As(err, &se) && name != "key in the wrong table" && len(se.Problems) > 2 {
				t.Errorf("one mistake gave %d problems:\n%v", len(se.Problems), err)
			}
		})
	}
}

func TestParseReportsAllProblemsInTheOrderOfTheFile(t *testing.T) {
	text := strings.NewReplacer("heads = 1", "heds = 1", "accel_x = 13800", "accel_x = 13.8",
		"trim = 4.0", "trim = true", "end = 3.0\n", "", "mode = \"frame\"", "mode = \"x\"").Replace(modelSheet)
	_, err := Parse("bay2.toml", []byte(text))
	var se *SheetError
	if !errors.As(err, &se) {
		t.Fatal(err)
	}
	got := ""
	for _, p := range se.Problems {
		got += fmt.Sprintf("%d %s\n", p.Line, p.Path)
	}
	want := "3 heds\n14 frame.accel_x\n24 travel.mode\n31 rest.trim\n0 rest.end\n"
	if got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	if !strings.Contains(err.Error(), "bay2.toml: 5 problems\n  line 3: ") {
		t.Errorf("the list does not read well:\n%v", err)
	}
	var p Problem
	if !errors.As(err, &p) || p.Path != "heds" {
		t.Errorf("errors.As finds problem %v", p)
	}
}

func TestParseRefusesOtherKindsOfFile(t *testing.T) {
	for name, c := range map[string]struct {
		b    []byte
		word string
	}{
		"too long":  {make([]byte, maxSheetBytes+1), "another file"},
		"UTF-16":    {[]byte("\xFF\xFEn\x00"), "UTF-8"},
		"not UTF-8": {[]byte("name = \"\xFF\xFF\xFF\""), "not valid TOML"},
		"a picture": {[]byte("\x89PNG\r\n\x1a\n\x00\x00"), "not valid TOML"},
		"deep":      {[]byte("frame = " + strings.Repeat("[", 100_000)), "not valid TOML"},
	} {
		if _, err := Parse("x", c.b); err == nil || !strings.Contains(err.Error(), c.word) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestValidateTakesWhatParseTakes(t *testing.T) {
	if err := Validate(modelExample()); err != nil {
		t.Error(err)
	}
	if err := Validate(nil); err == nil {
		t.Error("no sheet is valid")
	}
	if err := Validate(&Sheet{}); err == nil {
		t.Error("an empty sheet is valid")
	}
	s := modelExample()
	s.SD = map[string]float64{"frame.accel_x": 3, "needles": 0.1}
	wantProblem(t, Validate(s), 0, "sd.frame.accel_x", "0 to 2")
	wantProblem(t, Validate(s), 0, "sd.needles", "count")
}
