package machine

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"needlepace/internal/tomlfile"
	"needlepace/words"
)

// maxSheetBytes is far above the largest sheet (a fit of all constants is
// some 20 kB); anything longer is another kind of file.
const maxSheetBytes = 1 << 20

// Parse reads a sheet file (MODEL section 6, TOML). name is the file's name
// and is used in errors only. It returns a valid sheet, or a *SheetError with
// every problem at once: unknown keys (with the nearest one there is), values
// of the wrong kind, numbers out of range, a ladder that does not ascend,
// spreads of constants that do not exist, correlations that cannot be.
//
// A sheet must give name, needles, max_speed and every constant that is not
// Optional; the rest have the defaults in Constants. Without [ladder] there
// is no ladder, without travel.mode it is FrameTravel; a constant without
// [sd] is exact, one without [basis] is assumed.
func Parse(name string, b []byte) (*Sheet, error) {
	r := &sheetReader{s: &Sheet{}, line: map[string]int{}, bad: map[string]bool{}, given: map[string]bool{}}
	if !r.read(b) {
		return nil, &SheetError{name, r.problems}
	}
	if !r.given["turns.to"] {
		r.s.Turns.To = 180 // the other kinds of machine in fit.also are checked with it
	}
	for _, p := range check(r.s) {
		switch {
		case r.bad[p.Path], p.Path == "name" && !r.given["name"],
			p.Path == "ladder" && (r.bad["ladder.length"] || r.bad["ladder.speed"]),
			p.Path == "correction" && (r.bad["correction.length"] || r.bad["correction.factor"] ||
				r.bad["correction.turn_angle"] || r.bad["correction.turn_factor"]),
			p.Path == "fit.correlation" && r.bad["fit.constants"],
			strings.HasPrefix(p.Path, "fit.evidence.") && r.badIn("fit.evidence."),
			strings.HasPrefix(p.Path, "pool.") && r.badIn("pool."):
			continue // said already, follows from what was said, or is missing and said below
		}
		p.Line = r.line[p.Path]
		r.problems = append(r.problems, p)
	}
	r.missing()
	if len(r.problems) > 0 {
		slices.SortStableFunc(r.problems, func(a, b Problem) int {
			// Line 0, what is missing, comes last.
			return cmp.Compare(uint(a.Line)-1, uint(b.Line)-1)
		})
		return nil, &SheetError{name, r.problems}
	}
	return r.s, nil
}

// sheetReader gathers a sheet and what is wrong with it. Paths are keys
// joined by dots.
type sheetReader struct {
	s        *Sheet
	line     map[string]int  // where a path first stands
	given    map[string]bool // constants and keys that the file gives
	bad      map[string]bool // paths with a problem
	problems []Problem
}

func (r *sheetReader) add(path, format string, args ...any) {
	r.bad[path] = true
	r.problems = append(r.problems, Problem{Line: r.line[path], Path: path, Text: fmt.Sprintf(format, args...)})
}

// read fills the sheet; false means the file could not be understood at all.
func (r *sheetReader) read(b []byte) bool {
	b = bytes.TrimPrefix(b, []byte("\xEF\xBB\xBF")) // some editors' mark of UTF-8
	switch {
	case len(b) > maxSheetBytes:
		r.add("", "the file is %d bytes long and a machine sheet is never over %d: is this another file?", len(b),
			maxSheetBytes)
		return false
	case bytes.HasPrefix(b, []byte("\xFF\xFE")) || bytes.HasPrefix(b, []byte("\xFE\xFF")):
		r.add("", "the file is UTF-16 text: save it again as UTF-8")
		return false
	}
	var doc map[string]any
	if err := toml.Unmarshal(b, &doc); err != nil {
		p := Problem{Text: "this is not valid TOML (" + strings.TrimPrefix(err.Error(), "toml: ") +
			"): correct the line; a line is  key = number  and a text is in \"quotes\""}
		if de := (*toml.DecodeError)(nil); errors.As(err, &de) {
			p.Line, _ = de.Position()
		}
		r.problems = append(r.problems, p)
		return false
	}
	findLines(b, r.line)

	constants := map[string]Constant{}
	for _, c := range AllConstants {
		constants[c.Path] = c
	}
	isTable := map[string]bool{}
	for _, t := range tables() {
		isTable[t] = true
	}
	r.table("", doc, constants, isTable)
	return true
}

// table reads one table of the file and those within it.
func (r *sheetReader) table(prefix string, t map[string]any, constants map[string]Constant, isTable map[string]bool) {
	for _, key := range slices.Sorted(maps.Keys(t)) {
		path, v := join(prefix, key), t[key]
		if strings.ContainsRune(key, '.') {
			// Only a key in quotes can have a dot in it, and no sheet's has.
			r.add(path, "%s is one key in quotes: write it without the quotes, or under its [table]", plain(path))
			continue
		}
		if isTable[path] {
			sub, ok := v.(map[string]any)
			if !ok {
				r.add(path, "%s is a table, not a value: write [%s] on a line of its own and its keys under it", path,
					path)
				continue
			}
			r.table(path, sub, constants, isTable)
			continue
		}
		r.given[path] = true
		c, isConstant := constants[path]
		sd, isSD := strings.CutPrefix(path, "sd.")
		basis, isBasis := strings.CutPrefix(path, "basis.")
		switch {
		case isConstant:
			r.constant(c, v)
		case isSD && known(constants, sd):
			if f, ok := r.number(path, "a relative standard deviation such as 0.25", v); ok {
				if r.s.SD == nil {
					r.s.SD = map[string]float64{}
				}
				r.s.SD[sd] = f
			}
		case isBasis && known(constants, basis):
			if text, ok := r.text(path, string(Measured), v); ok {
				if r.s.BasisOf == nil {
					r.s.BasisOf = map[string]Basis{}
				}
				r.s.BasisOf[basis] = Basis(text)
			}
		default:
			if !r.other(path, v) {
				r.unknown(path)
			}
		}
	}
	if prefix == "fit" && r.s.Fit == nil {
		r.s.Fit = &Fit{}
	}
}

func known(constants map[string]Constant, path string) bool {
	_, ok := constants[path]
	return ok
}

func join(prefix, key string) string {
	if prefix == "" {
		return key
	}
	return prefix + "." + key
}

// other reads the keys that are no constants; false if there is no such key.
func (r *sheetReader) other(path string, v any) bool {
	s := r.s
	if strings.HasPrefix(path, "fit.") && s.Fit == nil {
		s.Fit = &Fit{}
	}
	switch path {
	case "name":
		s.Name, _ = r.text(path, "Bay 2", v)
	case "class":
		s.Class, _ = r.text(path, "single-head, 15 needles", v)
	case "ladder.length":
		s.Ladder.Length = r.numbers(path, "lengths in mm, such as [3, 6, 12.7]", v)
	case "ladder.speed":
		s.Ladder.Speed = r.numbers(path, "speeds in stitches/min, such as [1000, 750, 500]", v)
	case "correction.length":
		s.Correction.Length = r.numbers(path, "lengths in mm, such as [1, 3, 8]", v)
	case "correction.factor":
		s.Correction.Factor = r.numbers(path, "factors, such as [1, 1.02, 1.05]", v)
	case "correction.turn_angle":
		s.Correction.TurnAngle = r.numbers(path, "angles in degrees, such as [0, 90, 180]", v)
	case "correction.turn_factor":
		s.Correction.TurnFactor = r.numbers(path, "factors, such as [1, 1.02, 1.05]", v)
	case "travel.mode":
		s.Travel.Mode, _ = r.text(path, FrameTravel, v)
	case "travel.return_to_start":
		on, ok := v.(bool)
		if !ok {
			r.add(path, "%s is %s: write true or false, without quotes", path, show(v))
		}
		s.Travel.ReturnToStart = on
	case "fit.runs":
		s.Fit.Runs = r.whole(path, v)
	case "fit.model_version":
		s.Fit.ModelVersion = r.whole(path, v)
	case "fit.date":
		s.Fit.Date = r.day(path, v)
	case "fit.digest":
		s.Fit.Digest, _ = r.text(path, "", v)
	case "fit.residual":
		s.Fit.Residual, _ = r.number(path, "a relative standard deviation such as 0.02", v)
	case "fit.changes":
		s.Fit.Changes, _ = r.number(path, "a relative standard deviation such as 0.1", v)
	case "fit.constants":
		s.Fit.Constants = r.texts(path, `a list of keys, such as ["frame.accel_x", "rest.trim"]`, `a key in quotes, such as "rest.trim"`, v)
	case "fit.terms":
		s.Fit.Terms = r.texts(path, `a list of terms, such as ["settle"]`, "a term in quotes", v)
	case "fit.weight":
		s.Fit.Weight, _ = r.number(path, "a chance such as 0.6", v)
	case "fit.also":
		for _, text := range r.texts(path, "a list of texts", "a text in quotes", v) {
			a, err := parseAlternative(text)
			if err != nil {
				r.add(path, "%s %v", path, err)
				break
			}
			s.Fit.Also = append(s.Fit.Also, a)
		}
	case "fit.jobs":
		for _, text := range r.texts(path, `a list of texts, such as ["4 cap-frame"]`, "a text in quotes", v) {
			j, err := parseRunsOfJob(text)
			if err != nil {
				r.add(path, "%s %v", path, err)
				break
			}
			s.Fit.Jobs = append(s.Fit.Jobs, j)
		}
	case "fit.correlation":
		s.Fit.Correlation = r.rows(path, "numbers from -1 to 1", v)
	default:
		return r.sharedKey(path, v)
	}
	return true
}

// texts reads a list of texts; list and one say what to write.
func (r *sheetReader) texts(path, list, one string, v any) (out []string) {
	all, ok := v.([]any)
	if !ok {
		r.add(path, "%s is %s: write %s", path, show(v), list)
	}
	for i, e := range all {
		text, ok := e.(string)
		if !ok {
			r.add(path, "%s[%d] is %s: write %s", path, i, show(e), one)
			break
		}
		out = append(out, text)
	}
	return out
}

// unknown reports a key that no sheet has, and marks nothing else as read.
func (r *sheetReader) unknown(path string) {
	what := "is no key of a machine sheet"
	if strings.HasPrefix(path, "sd.") || strings.HasPrefix(path, "basis.") {
		what = "names no constant of a machine sheet"
	}
	r.add(path, "%s %s%s", plain(path), what, didYouMean(path))
}

// plain keeps odd or very long keys readable in a sentence.
func plain(path string) string {
	const enough = 60
	for i, c := range path {
		if i > enough {
			return strconv.QuoteToASCII(path[:i]) + "…"
		}
		if c < ' ' || c == '"' || c == '\uFFFD' {
			return strconv.QuoteToASCII(path[:min(len(path), enough)])
		}
	}
	return path
}

func (r *sheetReader) constant(c Constant, v any) {
	unit := "a number"
	if c.Whole {
		unit = "a whole number"
	}
	if c.Unit != "" {
		unit += " of " + c.Unit
	}
	if text, ok := v.(string); ok && c.Unit == "s" {
		if s, _, err := words.ParseSeconds(text); err == nil { // "1.5 s", "1 min 15 s"
			v = s
		}
	}
	f, ok := r.number(c.Path, unit+" from "+number(c.Min)+" to "+number(c.Max), v)
	if !ok {
		return
	}
	if c.Whole && !(f >= c.Min && f <= c.Max) { // before it is cut to an int
		r.add(c.Path, "%s", outOfRange(c, f))
		return
	}
	if c.Whole && f != math.Trunc(f) {
		r.add(c.Path, "%s is %s: write a whole number from %s", c.Path, number(f), c.Range())
		return
	}
	c.Set(r.s, f)
}

func (r *sheetReader) number(path, want string, v any) (float64, bool) {
	switch v := v.(type) {
	case int64:
		return float64(v), true
	case float64:
		return v, true
	case string:
		r.add(path, "%s is the text %s: write %s, as the number alone, without quotes or unit", path, show(v), want)
	default:
		r.add(path, "%s is %s: write %s", path, show(v), want)
	}
	return 0, false
}

func (r *sheetReader) whole(path string, v any) int {
	n, ok := v.(int64)
	if !ok || n < math.MinInt32 || n > math.MaxInt32 {
		r.add(path, "%s is %s: write a whole number", path, show(v))
		return 0
	}
	return int(n)
}

func (r *sheetReader) numbers(path, want string, v any) []float64 {
	list, ok := v.([]any)
	if !ok {
		r.add(path, "%s is %s: write a list of %s", path, show(v), want)
		return nil
	}
	var fs []float64
	for i, e := range list {
		switch e := e.(type) {
		case int64:
			fs = append(fs, float64(e))
		case float64:
			fs = append(fs, e)
		default:
			r.add(path, "%s[%d] is %s: write a list of %s", path, i, show(e), want)
			return nil
		}
	}
	return fs
}

func (r *sheetReader) text(path, example string, v any) (string, bool) {
	s, ok := v.(string)
	if !ok {
		r.add(path, "%s is %s: write a text in quotes, such as %q", path, show(v), example)
	}
	return s, ok
}

// day is a day, with or without quotes.
func (r *sheetReader) day(path string, v any) words.Day {
	s := ""
	if d, ok := v.(toml.LocalDate); ok {
		s = d.String()
	} else if s, ok = r.text(path, "2026-11-25", v); !ok {
		return words.Day{}
	}
	d, err := words.ParseDay(s)
	if err != nil {
		r.add(path, "%s is %q: write a date like 2026-11-25", path, s)
	}
	return d
}

// show is a value as a person would recognise it in the file.
func show(v any) string {
	const enough = 40
	s := ""
	switch v := v.(type) {
	case string:
		s = strconv.Quote(v)
	case []any:
		return fmt.Sprintf("a list of %d", len(v))
	case map[string]any:
		return "a table"
	case float64:
		s = number(v)
	default:
		s = fmt.Sprint(v)
	}
	if len(s) > enough {
		s = strings.ToValidUTF8(s[:enough], "") + "…"
	}
	return s
}

// badIn reports whether a key of a table has a problem already.
func (r *sheetReader) badIn(table string) bool {
	for path := range r.bad {
		if strings.HasPrefix(path, table) {
			return true
		}
	}
	return false
}

// missing fills in the defaults and reports what has none.
func (r *sheetReader) missing() {
	s := r.s
	if !r.given["name"] {
		r.add("name",
			"name is missing: give the machine the name the shop calls it by, e.g. name = \"Bay 2\" on the first line")
	}
	if s.Travel.Mode == "" && !r.given["travel.mode"] {
		s.Travel.Mode = FrameTravel
		r.dropped("travel.mode")
	}
	for _, c := range Constants {
		if r.given[c.Path] {
			continue
		}
		r.dropped(c.Path)
		if !c.neededBy(s) {
			c.Set(s, c.Default)
			continue
		}
		table, leaf := tomlfile.Split(c.Path)
		where := "above the first [table]"
		if table != "" {
			where = "under [" + table + "]"
		}
		r.add(c.Path, "%s is missing: add %s = … %s, %s, from %s (`needlepace machines show CLASS` prints a "+
			"complete sheet to start from)",
			c.Path, leaf, where, c.Means().Raw(), c.Range())
	}
}

// dropped forgets what check said of a key that the file does not give.
func (r *sheetReader) dropped(path string) {
	r.problems = slices.DeleteFunc(r.problems, func(p Problem) bool { return p.Path == path && p.Line == 0 })
}
