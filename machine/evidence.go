package machine

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"needlepace/words"
)

// Evidence is what the timed runs of a learned sheet told by themselves: what
// was known before them is not in it. Sheets of several machines become a class
// from it (package learn, Pool), and no prior is counted twice.
type Evidence struct {
	// Constants are the paths of the constants; Told[j] weighs the natural
	// logarithm of each. Σ Told[j][k]·ln constant k was read as Read[j], with a
	// standard error of 1.
	Constants []string
	Told      [][]float64
	Read      []float64
	// Terms are, for each term of the law that was tried, the natural
	// logarithm of how much likelier the runs are with it than without.
	Terms map[string]float64
	// Rows are digests of the timed rows, 16 hexadecimal digits each: rows that
	// two sheets share are seen by them.
	Rows []string
	// Shop is a random number that a shop has, 32 hexadecimal digits; empty in
	// a sheet that never left its shop.
	Shop string
	// Seal is Sheet.SealNow of the time when the sheet was learned or exported.
	Seal string
}

// Pool says what a class sheet that was made of learned sheets is from.
type Pool struct {
	Machines, Shops int
	ModelVersion    int
	From            []string // Fit.Digest of each machine
	Terms           []PooledTerm
	Constants       []string    // paths, in the order of Told and Correlation
	Told            []int       // how many of the machines told something of it
	Correlation     [][]float64 // of the logarithms, symmetric, diagonal 1
}

// PooledTerm is how often the machines of a class were believed to have a term
// of the law.
type PooledTerm struct {
	Term         string
	Believed, Of int     // machines
	Odds         float64 // natural logarithm, for the next machine of the class
	// Values and SD are what the term's constants are likely to be, by path;
	// SD is relative.
	Values, SD map[string]float64
}

// Words say what the class is from: "from 14 machines of 5 shops".
func (p *Pool) Words() words.Message {
	return words.Say("pool.from", words.Args{"machines": words.Count(p.Machines, "machine"),
		"shops": words.Count(p.Shops, "shop")})
}

// Term is what the class says of a term; nil where it says nothing.
func (p *Pool) Term(key string) *PooledTerm {
	if p == nil {
		return nil
	}
	for i := range p.Terms {
		if p.Terms[i].Term == key {
			return &p.Terms[i]
		}
	}
	return nil
}

// Correlated are the constants whose logarithms are known to hang together,
// by learning or, before that, by the machines of the class. Both are nil where
// nothing is known.
func (s *Sheet) Correlated() (paths []string, correlation [][]float64) {
	switch {
	case s.Fit != nil && len(s.Fit.Correlation) == len(s.Fit.Constants):
		return s.Fit.Constants, s.Fit.Correlation
	case s.Fit == nil && s.Pool != nil && len(s.Pool.Correlation) == len(s.Pool.Constants):
		return s.Pool.Constants, s.Pool.Correlation
	}
	return nil, nil
}

// SealNow is a SHA-256 over what the evidence rests on: the constants, how sure
// they are, the fit and the evidence. The sheet's name, its field, the bases, the
// day of the fit and the shop are not in it. It finds what was changed by
// hand, not what somebody seals anew. Empty where there is no evidence.
func (s *Sheet) SealNow() string {
	if s.Fit == nil || s.Fit.Evidence == nil {
		return ""
	}
	var b strings.Builder
	say := func(key string, v any) {
		// Numbers as the file has them: a negative zero, for one, is 0 there.
		switch n := v.(type) {
		case float64:
			v = number(n)
		case []float64:
			v = numberList(n)
		case [][]float64:
			rows := make([]string, len(n))
			for i := range n {
				rows[i] = numberList(n[i])
			}
			v = rows
		}
		fmt.Fprintf(&b, "%s=%v\n", key, v)
	}
	say("class", s.Class)
	say("travel", s.Travel.Mode)
	say("home", s.Travel.ReturnToStart)
	for c := range s.Constants() {
		// A constant at its default says nothing: later versions may add some.
		if v := c.Get(s); !strings.HasPrefix(c.Path, "field.") && !(c.Optional && v == c.Default) {
			say(c.Path, v)
			say("sd", s.SD[c.Path])
		}
	}
	for _, t := range tableColumns {
		if column := *t.at(s); len(column) > 0 {
			say(t.name, column)
		}
	}
	f, e := s.Fit, s.Fit.Evidence
	for _, v := range []any{f.Runs, f.ModelVersion, f.Digest, f.Residual, f.Terms, f.Weight, f.Constants, f.Correlation,
		e.Constants, e.Told, e.Read, e.Rows} {
		say("fit", v)
	}
	if f.Changes > 0 { // sheets of before have none
		say("changes", f.Changes)
	}
	for i := range f.Also {
		say("also", f.Also[i].String())
	}
	for _, t := range slices.Sorted(maps.Keys(e.Terms)) {
		say(t, e.Terms[t])
	}
	sum := sha256.Sum256([]byte(b.String()))
	return hex.EncodeToString(sum[:])
}

// MaxEvidenceRows is how many timed rows a sheet's evidence may be from.
const MaxEvidenceRows = 10_000

// Shared is the sheet for other shops: the constants, the fit and the evidence,
// with the random number that the shop counts by, and nothing of the shop: another
// name, no day, no field, no basis but what was fitted, not the class it was
// pooled from. The class text goes along. The sheet must have evidence.
func (s *Sheet) Shared(shop string) *Sheet {
	c := s.Clone()
	c.Name, c.Field, c.Pool = "machine "+s.Fit.Digest[:min(8, len(s.Fit.Digest))], Field{}, nil
	for path, b := range c.BasisOf {
		if b != Fitted {
			delete(c.BasisOf, path)
		}
	}
	delete(c.BasisOf, "field.width")
	delete(c.BasisOf, "field.height")
	e := *c.Fit.Evidence
	e.Shop = shop
	c.Fit.Evidence, c.Fit.Date = &e, words.Day{}
	e.Seal = c.SealNow()
	return c
}

// ClassOf is the built-in class with a sheet's class text.
func ClassOf(text string) (*Sheet, bool) {
	for _, s := range Classes() {
		if s.Class == text {
			return s, true
		}
	}
	return nil, false
}

// Limits of evidence.
const (
	maxWeight  = 1e6 // a constant known to a millionth: no watch is so good
	rowDigits  = 16
	shopDigits = 32
)

func isHex(s string, n int) bool {
	return len(s) == n && strings.Trim(s, "0123456789abcdef") == ""
}

func checkEvidence(e *Evidence, add adder) {
	const again = "; learn the sheet again from its timed runs, or remove the whole [fit] table"
	for i, path := range e.Constants {
		spreadable("fit.evidence", path, func(_, format string, args ...any) { add("fit.evidence.constants", format, args...) })
		if slices.Contains(e.Constants[:i], path) {
			add("fit.evidence.constants", "fit.evidence.constants names %s twice: name each constant once"+again, path)
		}
	}
	if len(e.Told) != len(e.Read) {
		add("fit.evidence.told", "fit.evidence has %d rows in told and %d numbers in read: each row needs one"+again,
			len(e.Told), len(e.Read))
	}
	if len(e.Told) > len(e.Constants) {
		add("fit.evidence.told", "fit.evidence.told has %d rows for %d constants: they tell so many things at most"+again,
			len(e.Told), len(e.Constants))
	}
	if len(e.Told) > len(e.Rows) {
		add("fit.evidence.rows", "fit.evidence tells %d things from %d timed rows: that cannot be"+again, len(e.Told),
			len(e.Rows))
	}
	for i, row := range e.Told {
		if len(row) != len(e.Constants) {
			add("fit.evidence.told", "fit.evidence.told, row %d has %d numbers: it needs %d, one for each constant"+again,
				i+1, len(row), len(e.Constants))
			continue
		}
		for j, v := range row {
			if !(math.Abs(v) <= maxWeight) {
				add("fit.evidence.told", "fit.evidence.told, row %d, number %d is %s: no timing tells so much (at most "+
					"%s)"+again, i+1, j+1, number(v), number(maxWeight))
			}
		}
	}
	for i, v := range e.Read {
		if !(math.Abs(v) <= 1e9) {
			add("fit.evidence.read", "fit.evidence.read, number %d is %s: that is no reading"+again, i+1, number(v))
		}
	}
	for t, v := range e.Terms {
		if !(math.Abs(v) <= 1000) {
			add("fit.evidence.terms", "fit.evidence.terms has %s for %s: write the natural logarithm of odds"+again,
				number(v), plain(t))
		}
	}
	if len(e.Rows) > MaxEvidenceRows {
		add("fit.evidence.rows", "fit.evidence.rows has %d digests: at most %d"+again, len(e.Rows), MaxEvidenceRows)
	}
	for i, d := range e.Rows {
		if !isHex(d, rowDigits) {
			add("fit.evidence.rows", "fit.evidence.rows[%d] is %q: it is %d hexadecimal digits in lower case"+again, i,
				plain(d), rowDigits)
			break
		}
	}
	if e.Shop != "" && !isHex(e.Shop, shopDigits) {
		add("fit.evidence.shop", "fit.evidence.shop is %q: it is empty or %d hexadecimal digits in lower case", plain(e.Shop),
			shopDigits)
	}
	if !isDigest(e.Seal) {
		add("fit.evidence.seal", "fit.evidence.seal is %q: it is empty or 64 hexadecimal digits in lower case"+again,
			plain(e.Seal))
	}
}

func checkPool(p *Pool, add adder) {
	const again = "; make the class again from its sheets, or remove the whole [pool] table"
	if p.Machines < 1 || p.Machines > maxRuns || p.Shops < 1 || p.Shops > p.Machines {
		add("pool.machines", "[pool] is from %d machines of %d shops: it needs one at least, and no more shops than "+
			"machines"+again, p.Machines, p.Shops)
	}
	if p.ModelVersion < 1 || p.ModelVersion > maxRuns {
		add("pool.model_version", "pool.model_version is %d: it counts from 1 (this program's is %d)"+again,
			p.ModelVersion, ModelVersion)
	}
	for i, d := range p.From {
		if d == "" || !isDigest(d) {
			add("pool.from", "pool.from[%d] is %q: it is 64 hexadecimal digits in lower case"+again, i, plain(d))
			break
		}
	}
	ok := true
	for i, path := range p.Constants {
		ok = spreadable("pool", path, func(_, format string, args ...any) { add("pool.constants", format, args...) }) && ok
		if slices.Contains(p.Constants[:i], path) {
			add("pool.constants", "pool.constants names %s twice: name each constant once"+again, path)
			ok = false
		}
	}
	if len(p.Correlation) != len(p.Constants) || len(p.Told) != len(p.Constants) {
		add("pool.correlation", "[pool] has %d constants, %d numbers in told and %d rows in correlation: it needs one of "+
			"each for each"+again, len(p.Constants), len(p.Told), len(p.Correlation))
		return
	}
	if ok && checkCorrelation("pool.correlation", p.Correlation, add) && !semidefinite(p.Correlation) {
		add("pool.correlation", "pool.correlation is not positive semidefinite, so no set of constants can hang "+
			"together like that"+again)
	}
	for _, t := range p.Terms {
		if !(math.Abs(t.Odds) <= 1000) || t.Believed < 0 || t.Believed > t.Of || t.Of > p.Machines {
			add("pool.terms", "pool.terms: %s cannot be"+again, plain(t.String()))
		}
		for path, v := range t.Values {
			if c, ok := ConstantAt(path); !ok || !(v >= c.Min && v <= c.Max) || !(t.SD[path] >= 0 && t.SD[path] <= MaxSD) {
				add("pool.terms", "pool.terms: %s of the term %s cannot be %s"+again, plain(path), plain(t.Term), number(v))
			}
		}
	}
}

// String is the term as the sheet file has it: "settle 12 of 14, odds 1.6:
// frame.settle 0.0021 0.3".
func (t *PooledTerm) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %d of %d, odds %s:", t.Term, t.Believed, t.Of, number(t.Odds))
	for i, path := range slices.Sorted(maps.Keys(t.Values)) {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, " %s %s %s", path, number(t.Values[path]), number(t.SD[path]))
	}
	return b.String()
}

// parsePooledTerm reads what String writes.
func parsePooledTerm(text string) (PooledTerm, error) {
	bad := fmt.Errorf("is %q: this is machines pool's own record, make the class again or remove the line", plain(text))
	head, tail, ok := strings.Cut(text, ":")
	t := PooledTerm{Values: map[string]float64{}, SD: map[string]float64{}}
	var odds string
	if n, err := fmt.Sscanf(head, "%s %d of %d, odds %s", &t.Term, &t.Believed, &t.Of, &odds); !ok || err != nil || n != 4 {
		return t, bad
	}
	var err error
	if t.Odds, err = strconv.ParseFloat(odds, 64); err != nil {
		return t, bad
	}
	for _, part := range strings.Split(tail, ",") {
		if strings.TrimSpace(part) == "" {
			continue
		}
		f := strings.Fields(part)
		if len(f) != 3 {
			return t, bad
		}
		v, err1 := strconv.ParseFloat(f[1], 64)
		sd, err2 := strconv.ParseFloat(f[2], 64)
		if err1 != nil || err2 != nil || !isValue(f[0], v) {
			return t, bad
		}
		t.Values[f[0]], t.SD[f[0]] = v, sd
	}
	return t, nil
}

// evidence writes [fit.evidence].
func (w *sheetWriter) evidence(e *Evidence) {
	w.flush()
	w.out.WriteByte('\n')
	w.comment("What the timed runs told by themselves, apart from what was known before: from such")
	w.comment("tables machines pool makes a class. It holds no names, designs or customers.")
	w.out.WriteString("[fit.evidence]\n")
	w.line("seal = "+quote(e.Seal), "SHA-256: shows where the sheet was changed afterwards")
	if e.Shop != "" {
		w.line("shop = "+quote(e.Shop), "a random number, not a name")
	}
	if len(e.Terms) > 0 {
		w.line("terms = "+quotedList(oddsTexts(e.Terms)), "ln how much likelier the runs are with the term")
	}
	w.line("constants = "+quotedList(e.Constants), "")
	w.line("read = "+numberList(e.Read), "what the runs have for each row of told, ± 1")
	w.line("told = [", "weights of the natural logarithms of the constants")
	for _, row := range e.Told {
		w.line("  "+numberList(row)+",", "")
	}
	w.line("]", "")
	w.line("rows = [", "digests of the timed rows")
	for some := range slices.Chunk(e.Rows, 5) {
		w.line("  "+strings.Trim(quotedList(some), "[]")+",", "")
	}
	w.line("]", "")
}

func oddsTexts(terms map[string]float64) (out []string) {
	for _, t := range slices.Sorted(maps.Keys(terms)) {
		out = append(out, t+" "+number(terms[t]))
	}
	return out
}

func quotedList(texts []string) string {
	quoted := make([]string, len(texts))
	for i, t := range texts {
		quoted[i] = quote(t)
	}
	return "[" + strings.Join(quoted, ", ") + "]"
}

// pool writes [pool].
func (w *sheetWriter) pool(p *Pool) {
	w.flush()
	w.out.WriteByte('\n')
	w.comment("What this class is from: machines that were learned from timed runs.")
	w.out.WriteString("[pool]\n")
	w.line(fmt.Sprint("machines = ", p.Machines), "")
	w.line(fmt.Sprint("shops = ", p.Shops), "")
	w.line(fmt.Sprint("model_version = ", p.ModelVersion), "another version of the model means: learn and pool again")
	w.line("from = [", "digests of what each machine was learned from")
	for _, d := range p.From {
		w.line("  "+quote(d)+",", "")
	}
	w.line("]", "")
	if len(p.Terms) > 0 {
		w.line("terms = [", "of the law: how many machines were believed to have it, ln odds, its constants and spreads")
		for i := range p.Terms {
			w.line("  "+quote(p.Terms[i].String())+",", "")
		}
		w.line("]", "")
	}
	w.line("constants = "+quotedList(p.Constants), "")
	told := make([]float64, len(p.Told))
	for i, n := range p.Told {
		told[i] = float64(n)
	}
	w.line("told = "+numberList(told), "how many machines told something of it")
	w.line("correlation = [", "of the logarithms of the constants")
	for _, row := range p.Correlation {
		w.line("  "+numberList(row)+",", "")
	}
	w.line("]", "")
}

// sharedKey reads a key of [fit.evidence] or [pool]; false if there is none.
func (r *sheetReader) sharedKey(path string, v any) bool {
	s := r.s
	if strings.HasPrefix(path, "fit.evidence.") {
		if s.Fit.Evidence == nil {
			s.Fit.Evidence = &Evidence{}
		}
		return r.evidenceKey(s.Fit.Evidence, path, v)
	}
	if !strings.HasPrefix(path, "pool.") {
		return false
	}
	if s.Pool == nil {
		s.Pool = &Pool{}
	}
	p := s.Pool
	switch path {
	case "pool.machines":
		p.Machines = r.whole(path, v)
	case "pool.shops":
		p.Shops = r.whole(path, v)
	case "pool.model_version":
		p.ModelVersion = r.whole(path, v)
	case "pool.from":
		p.From = r.texts(path, "a list of digests", "a digest in quotes", v)
	case "pool.terms":
		for _, text := range r.texts(path, "a list of texts", "a text in quotes", v) {
			t, err := parsePooledTerm(text)
			if err != nil {
				r.add(path, "%s %v", path, err)
				break
			}
			p.Terms = append(p.Terms, t)
		}
	case "pool.constants":
		p.Constants = r.texts(path, `a list of keys, such as ["frame.accel_x", "rest.trim"]`,
			`a key in quotes, such as "rest.trim"`, v)
	case "pool.told":
		for _, f := range r.numbers(path, "whole numbers", v) {
			p.Told = append(p.Told, int(max(min(f, maxRuns), -1)))
		}
	case "pool.correlation":
		p.Correlation = r.rows(path, "numbers from -1 to 1", v)
	default:
		return false
	}
	return true
}

func (r *sheetReader) evidenceKey(e *Evidence, path string, v any) bool {
	switch path {
	case "fit.evidence.constants":
		e.Constants = r.texts(path, `a list of keys, such as ["frame.accel_x", "rest.trim"]`,
			`a key in quotes, such as "rest.trim"`, v)
	case "fit.evidence.told":
		e.Told = r.rows(path, "numbers", v)
	case "fit.evidence.read":
		e.Read = r.numbers(path, "numbers", v)
	case "fit.evidence.terms":
		e.Terms = map[string]float64{}
		for _, text := range r.texts(path, "a list of texts", "a text in quotes", v) {
			t, odds, _ := strings.Cut(text, " ")
			f, err := strconv.ParseFloat(odds, 64)
			if err != nil || t == "" {
				r.add(path, "%s has %q: this is learning's own record, learn again or remove [fit.evidence]", path, plain(text))
				break
			}
			e.Terms[t] = f
		}
	case "fit.evidence.rows":
		e.Rows = r.texts(path, "a list of digests", "a digest in quotes", v)
	case "fit.evidence.shop":
		e.Shop, _ = r.text(path, "", v)
	case "fit.evidence.seal":
		e.Seal, _ = r.text(path, "", v)
	default:
		return false
	}
	return true
}

// rows reads a list of lists of numbers.
func (r *sheetReader) rows(path, want string, v any) (out [][]float64) {
	rows, ok := v.([]any)
	if !ok {
		r.add(path, "%s is %s: write a list of rows, each a list of numbers", path, show(v))
	}
	for i, e := range rows {
		if _, ok := e.([]any); !ok {
			r.add(path, "%s, row %d is %s: write a list of numbers", path, i+1, show(e))
			break
		}
		out = append(out, r.numbers(path, want, e))
	}
	return out
}
