package learn

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// The least share of a prior spread that must go for a constant to count as
// partly learned, and as determined.
const (
	partlyBelow     = 0.85
	determinedBelow = 0.5
	fittedBelow     = 0.97 // below this the sheet calls the constant fitted
)

// finish writes the new sheet and the sentences.
func (po *posterior) finish(sheet *machine.Sheet, res *Result) error {
	f := po.f
	p := len(po.z)
	theta := make([]float64, p)
	f.prior.theta(po.z, theta)

	s := f.model.sheetAt(theta).Clone()
	run := po.frameOfTheRun()
	res.Frame = run.size
	cov := run.widen(po.thetaCov())
	if s.SD == nil {
		s.SD = map[string]float64{}
	}
	if s.BasisOf == nil {
		s.BasisOf = map[string]machine.Basis{}
	}
	fit := &machine.Fit{Runs: res.Used, ModelVersion: machine.ModelVersion, Digest: digest(f.model.obs, f.aside)}
	fit.Jobs = jobRuns(sheet.Fit, f.model.obs, f.aside)
	fit.Changes = round(f.changes, 3)
	fit.Residual = min(math.Hypot(RunToRun, po.lawError(sheet, res.Misfit)), machine.MaxSD)
	sds := make([]float64, p)
	for k, c := range f.model.free {
		sds[k] = math.Sqrt(max(cov.At(k, k), 1e-12))
		l := Learned{Path: c.Path, Unit: c.Unit, Prior: c.Get(sheet), Value: c.Get(s), PriorSD: sheet.SD[c.Path],
			SD: min(relSD(sds[k]), machine.MaxSD)}
		ratio := sds[k] / f.prior.sd[k]
		if isLimit(&c) {
			ratio = sds[k] / logSD(sheet.SD[c.Path]) // the prior may have been cut off
		}
		switch {
		case ratio < determinedBelow:
			l.Reach = Determined
		case ratio < partlyBelow:
			l.Reach = Partly
		}
		if moved := math.Abs(theta[k]-f.prior.mean[k]) / f.prior.sd[k]; moved > 4 {
			l.Far = true
			res.Warnings = append(res.Warnings, Problem{Text: fmt.Sprintf("%s came out at %.4g %s, more than four "+
				"spreads from the sheet's %.4g: is it the right class of machine, and are the set speeds what the "+
				"operator had set?", c.Path, l.Value, c.Unit, l.Prior)})
		}
		s.SD[c.Path] = round(l.SD, 4)
		if ratio < fittedBelow {
			s.BasisOf[c.Path] = machine.Fitted
		}
		c.Set(s, round(c.Get(s), 5))
		res.Constants = append(res.Constants, l)
		res.Learned += 1 - po.normal.At(k, k)
		fit.Constants = append(fit.Constants, c.Path)
	}
	for i := range p {
		row := make([]float64, p)
		for j := range p {
			row[j] = math.Round(1e6*cov.At(i, j)/(sds[i]*sds[j])) / 1e6
		}
		row[i] = 1
		fit.Correlation = append(fit.Correlation, row)
	}
	for i := range f.model.obs {
		if d := f.model.obs[i].Date; !f.aside[i] && d.After(fit.Date) {
			fit.Date = d
		}
	}
	if sheet.Fit != nil {
		if sheet.Fit.Digest == fit.Digest {
			res.Warnings = append(res.Warnings, Problem{Text: "these very runs are in the sheet already: learning " +
				"from them again counts them twice. Start from the sheet the machine had before, with all runs in " +
				"one file"})
		} else {
			res.Warnings = append(res.Warnings, Problem{Text: fmt.Sprintf("the sheet was fitted before (%d runs): "+
				"these runs are added to that. If some of them are in it already they count twice; safer is the "+
				"class sheet with all runs in one file", sheet.Fit.Runs)})
		}
		fit.Runs += sheet.Fit.Runs
	}
	if res.WarmUp = f.model.letIn(s); res.WarmUp > 0 {
		res.Warnings = append(res.Warnings, Problem{Text: words.Say("learn.warm-up", words.Args{
			"seconds": words.Seconds(res.WarmUp)}).Text(nil)})
	}
	s.Fit = fit
	po.also(s)
	po.unsaid.doubt(s)
	po.seal(sheet, s)
	res.Sheet = s
	res.Held = heldList(sheet)
	po.pace(sheet, res)
	if res.Set > 0 && res.Set >= res.Used {
		// Before the rows' own sentences: it is about all of them.
		res.Warnings = append(res.Warnings, Problem{Text: fmt.Sprintf("%d of %d rows were set aside: most likely the "+
			"whole file belongs to another machine, set speed or design, or its times are in another unit", res.Set,
			res.Set+res.Used)})
	}
	res.Drift = po.drift()
	po.forgive(res)
	po.suspects(sheet, res)
	res.Verdict = po.judge(res, sheet, s)
	po.reach(res, sheet)
	res.Next = po.advise(s)
	if res.Verdict.Fits == FitsNot && pieces(f.model.obs) < 2 {
		// What it does is not known: sewing of every sort tells more than what tells most of the law's constants. A second piece
		// has what the first has not; a third would not.
		slices.SortStableFunc(res.Next, func(a, b Suggestion) int { return cmp.Compare(b.piece(), a.piece()) })
	}
	if next, ok := po.unsaid.ask(s); ok && !slices.ContainsFunc(po.found, func(s Slip) bool { return s.Kind == NeedlesSlip }) {
		res.Next = append(res.Next, next)
	}
	return nil
}

// surelyThere is how strongly kinds of machine with a constant that the class does not have must be believed for rows to
// determine it (assumed).
const surelyThere = 0.9

// reach takes back what rows cannot have determined: how large a term is that may as well not be there, or that nothing is left
// to tell by.
func (po *posterior) reach(res *Result, class *machine.Sheet) {
	own := freeConstants(class)
	for i := range res.Constants {
		l := &res.Constants[i]
		has := func(free []machine.Constant) bool {
			return slices.ContainsFunc(free, func(c machine.Constant) bool { return c.Path == l.Path })
		}
		if l.Reach != Determined || has(own) {
			continue
		}
		sure := 0.0
		for _, b := range po.believed {
			if has(b.f.model.free) || sameTerms(b.terms, po.believed[0].terms) { // of the same terms: it differs by where they begin
				sure += b.weight
			}
		}
		if sure < surelyThere || res.Verdict.Fits == FitsOpen {
			l.Reach = Partly
		}
	}
}

// round keeps n significant digits: a sheet is read by people.
func round(v float64, n int) float64 {
	if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return v
	}
	scale := math.Pow(10, float64(n-1)-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*scale) / scale
}

// heldList says which constants were held, and why.
func heldList(s *machine.Sheet) []string {
	out := []string{"frame.window: timing shows only window·sqrt(accel), so it stays as the sheet has it"}
	for _, path := range []string{"frame.settle", "frame.turn"} {
		if c, ok := machine.ConstantAt(path); ok && c.Get(s) == 0 {
			out = append(out, path+
				": 0 in the sheet, so it stays 0; to learn it give it a small value and a spread of 1")
		}
	}
	for c := range s.Constants() {
		if !c.Whole && !held(c.Path) && c.Get(s) > 0 && s.SD[c.Path] <= 0 && strings.HasPrefix(c.Path, "frame.") {
			out = append(out, c.Path+": exact in the sheet (no spread)")
		}
	}
	return out
}

// pace says what a single timing teaches.
func (po *posterior) pace(sheet *machine.Sheet, res *Result) {
	f := po.f
	if f.used != 1 {
		return
	}
	at := -1
	for i, a := range f.aside {
		if !a {
			at = i
		}
	}
	if f.model.obs[at].Kind == DisplayReading {
		return
	}
	m := f.model.like(sheet, f.model.free, f.model.obs)
	m.move(f.prior.mean)
	if before := m.prediction(at); before > nothing {
		res.OnlyPace = true
		res.Pace = f.pred[at] / before
	}
}

// suspects asks about the slips and names what else is odd about rows. Of
// several rows that look held up it says one sentence: that many are a sign
// against the model before they are one against the person with the watch.
func (po *posterior) suspects(sheet *machine.Sheet, res *Result) {
	m := po.f.model
	asked := make([]bool, len(res.Runs))
	for k := range po.found {
		s := &po.found[k]
		p := s.problem(m)
		for _, i := range s.Rows {
			res.Runs[i].Suspect, asked[i] = p.Text, true
		}
		res.Warnings = append(res.Warnings, p)
	}
	var held, none []int
	for i := range res.Runs {
		r := &res.Runs[i]
		switch {
		case asked[i] || r.Ignored || res.Drift.explains(i) ||
			slices.ContainsFunc(r.Parts, func(b int) bool { return asked[b] }):
			continue
		case r.Aside || r.Slip > 0.5:
			r.Suspect = unlikely(sheet, m, i, r.Predicted)
			none = append(none, i)
		case r.Paused > 0.5:
			held = append(held, i)
			what := "the machine takes"
			if len(r.Parts) > 0 {
				what = "its blocks and stops take"
			}
			r.Suspect = fmt.Sprintf("%s longer than %s: something unnoticed stopped it (a thread break, the bobbin, "+
				"a pause)? It counts for little", words.Seconds(m.value(i)-po.f.pred[i]).Text(nil), what)
		}
	}
	for _, i := range none[:min(len(none), mostAlike)] {
		r := &res.Runs[i]
		res.Warnings = append(res.Warnings, Problem{r.Row, valueColumn(&r.Observation), r.Suspect})
	}
	if more := len(none) - mostAlike; more > 0 {
		res.Warnings = append(res.Warnings, Problem{Text: words.Say("learn.more-alike",
			words.Args{"rows": words.Count(more, "row"), "list": po.rowsNamed(none[mostAlike:])}).Text(nil)})
	}
	switch len(held) {
	case 0:
	case 1:
		r := &res.Runs[held[0]]
		res.Warnings = append(res.Warnings, Problem{r.Row, valueColumn(&r.Observation), r.Suspect})
	default:
		res.Warnings = append(res.Warnings, Problem{Text: words.Say("learn.held-up", words.Args{
			"rows": po.rowsNamed(held), "count": words.Count(len(held), "row")}).Text(nil)})
	}
}

// mostAlike is how many sentences of one kind are said row by row.
const mostAlike = 3

// rowsNamed names rows in a sentence, the first of them only where there are many.
func (po *posterior) rowsNamed(rows []int) words.List {
	const most = 12
	var out words.List
	for k, i := range rows {
		if k == most {
			return append(out, words.Name("…"))
		}
		out = append(out, words.Name(po.f.model.obs[i].Where()))
	}
	return out
}

// evidence is Laplace's log evidence, up to a constant that all fits of the
// same observations share.
func (po *posterior) evidence() float64 {
	var ch mat.Cholesky
	if !ch.Factorize(po.normal) {
		return math.Inf(-1)
	}
	return -po.f.loss + ch.LogDet()/2
}

// digest is a SHA-256 over the observations that were used, designs included.
func digest(obs []Observation, aside []bool) string {
	h := sha256.New()
	designs := map[*stitch.Design]string{}
	for i := range obs {
		if aside[i] {
			continue
		}
		digestRow(h, &obs[i], designs)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// digestRow puts an observation into a digest; designs keeps those of the
// designs.
func digestRow(h io.Writer, o *Observation, designs map[*stitch.Design]string) {
	if o.Design != nil && designs[o.Design] == "" {
		d := sha256.New()
		buf := make([]byte, 0, 5*len(o.Design.Records))
		for _, r := range o.Design.Records {
			buf = binary.LittleEndian.AppendUint16(buf, uint16(r.DX))
			buf = binary.LittleEndian.AppendUint16(buf, uint16(r.DY))
			buf = append(buf, byte(r.Op))
		}
		d.Write(buf)
		designs[o.Design] = hex.EncodeToString(d.Sum(nil))
	}
	fmt.Fprintf(h, "%s %s %d %s %g %d %g %g %g %v %g %g\n", o.Date, o.Kind, o.Block, designs[o.Design], o.SetSpeed,
		o.Block, o.Seconds, o.Shown, o.LengthMM, o.Zigzag, o.Error, o.Step)
	if len(o.Needles) > 0 || o.With != 0 {
		fmt.Fprintf(h, "needles %v with %v\n", o.Needles, o.With)
	}
	if o.Only != "" {
		fmt.Fprintf(h, "only %s\n", o.Only)
	}
	if o.Job != 0 {
		fmt.Fprintf(h, "job %v\n", o.Job)
	}
}
