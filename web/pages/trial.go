package pages

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/internal/cells"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/shop/visits"
	"needlepace/trial"
	"needlepace/words"
)

// trialData is a trial as its page shows it.
type trialData struct {
	Visit   *shop.Visit
	Short   string
	At      string // the page's address
	A       *ask.TrialAnswer
	Refused words.Sentences // what of the upload that was just sent could not be kept
	Came    []shop.VisitFile
	Orders  []string // IDs of tables: the order of the runs of each place
	Strips  []string // names of pictures
	Money   bool
	// Crossings are names of pictures.
	Crossings []string
	Photos    []trialPhoto
	Grader    string
	Unit      words.LengthUnit
	Languages []option // that the paper may be in
	Language  string   // that is chosen
}

// trialPhoto is a photograph as the page shows it.
type trialPhoto struct {
	Name, File string // as a return is called; its address
	Says       words.Message
	Width      words.Value // of what it shows; nil: nobody laid a length on it
}

func (c *call) trial() (*shop.Visit, *ask.TrialAnswer, error) {
	v, err := c.Shop.Visits.Get(c.Ctx, c.PathValue("visit"))
	if err != nil {
		return nil, nil, err
	}
	a, err := c.Shop.Trial(c.Ctx, v.ID, c.PathValue("trial"))
	return v, a, err
}

func showTrial(c *call) error { return c.trialPage(nil) }

func (c *call) trialPage(refused words.Sentences) error {
	v, a, err := c.trial()
	if err != nil {
		return err
	}
	short := c.PathValue("trial")
	w := c.writer()
	data := &trialData{Visit: v, Short: short, At: "/visits/" + v.ID + "/trials/" + short, A: a, Refused: refused, Money: a.Money != nil, Languages: c.languages(false),
		Language: cmp.Or(a.File.Language, w.Tag())}
	p := &page{Title: a.Trial, Nav: "visits", Data: data}
	files, err := c.Shop.Visits.Files(c.Ctx, v.ID)
	if err != nil {
		return err
	}
	returns := act.TrialFolder(short) + "returns/"
	for _, f := range files {
		if strings.HasPrefix(f.Name, returns) {
			data.Came = append(data.Came, f)
		}
	}
	for i := range a.Places {
		t := a.RunTable(&a.Places[i])
		p.addTables(w, t)
		data.Orders = append(data.Orders, t.Key)
	}
	for i := range a.Designs {
		name := "strips-" + strconv.Itoa(i+1)
		wide, narrow := picture.TrialStrips(a, i, w, 700), picture.TrialStrips(a, i, w, 340)
		p.draw(name, wide, narrow)
		data.Strips = append(data.Strips, name)
	}
	for _, t := range []*ask.Table{a.ApartTable(), a.CellTable(), a.RankTable(), a.PartTable(), a.CostTable(), a.GradeTable()} {
		if t != nil && len(t.Rows) > 0 {
			p.addTables(w, t)
		}
	}
	if len(a.Ranks) > 0 {
		p.draw("lead", picture.TrialLead(a, w, 700), picture.TrialLead(a, w, 340))
	}
	crossings, err := a.Crossings(c.Ctx)
	if err != nil {
		return err
	}
	for i := range crossings {
		name := "cross-" + strings.ReplaceAll(crossings[i].Input, "_", "-")
		p.draw(name, picture.TrialCrossed(&crossings[i], w, 700), picture.TrialCrossed(&crossings[i], w, 340))
		data.Crossings = append(data.Crossings, name)
	}
	if a.Money != nil {
		p.draw("hangs-on", picture.TrialTornado(a, w, 700), picture.TrialTornado(a, w, 340))
	}
	for _, x := range a.Photos {
		i := slices.IndexFunc(a.Places, func(p ask.TrialPlace) bool { return p.Name == x.Place })
		t := a.Places[i].Turns[x.Turn-1]
		ph := trialPhoto{Name: x.File, File: "/visits/" + v.ID + "/files/" + (&url.URL{Path: returns + x.File}).EscapedPath(),
			Says: words.Say("visit.photo", words.Args{"design": words.Name(t.Design), "machine": words.Name(t.Machine), "turn": words.Whole(x.Turn),
				"place": words.Name(a.Places[i].Called)})}
		if x.WidthMM > 0 {
			ph.Width = words.MM(x.WidthMM)
		}
		data.Photos = append(data.Photos, ph)
	}
	return c.show("trial.html", p)
}

// returnsForm takes in what came back, and shows the page with what could not be kept.
func returnsForm(c *call) error {
	came, err := c.Parts(func(string, string) {})
	if err != nil {
		return err
	}
	at := "/visits/" + c.PathValue("visit") + "/trials/" + c.PathValue("trial")
	refused, err := c.Shop.TakeReturns(c.Ctx, c.PathValue("visit"), c.PathValue("trial"), c.By(), came)
	if err != nil {
		return err
	}
	if len(refused) == 0 {
		return c.see(at + "#came")
	}
	return c.trialPage(refused)
}

// poolTrialForm keeps what the trial tells of its machines for the shop's own classes, and
// shows the page with what could not be kept.
func poolTrialForm(c *call) error {
	said, err := c.Shop.PoolTrial(c.Ctx, c.PathValue("visit"), c.PathValue("trial"))
	if err != nil {
		return err
	}
	if len(said) == 0 {
		return c.see("/classes#others")
	}
	return c.trialPage(said)
}

// scaleForm lays a length on a photograph: the sheet of scales has a row more.
func scaleForm(c *call) error {
	var in struct {
		Photo string   `toml:"photo"`
		X1    *float64 `toml:"x1"`
		Y1    *float64 `toml:"y1"`
		X2    *float64 `toml:"x2"`
		Y2    *float64 `toml:"y2"`
		MM    *float64 `toml:"mm"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	v, a, err := c.trial()
	if err != nil {
		return err
	}
	row := []string{a.Trial, in.Photo}
	for _, x := range []*float64{in.X1, in.Y1, in.X2, in.Y2} {
		if x == nil || *x < 0 || *x > 100 {
			return shop.Saying(shop.Invalid, words.Say("refused.two-places"))
		}
		row = append(row, strconv.FormatFloat(*x/100, 'f', 4, 64))
	}
	w := c.writer()
	if in.MM == nil || !(*in.MM > 0 && w.MMOf(*in.MM) <= 2000) {
		return shop.Saying(shop.Invalid, words.Say("refused.how-far", words.Args{"unit": words.LengthUnit{}, "most": words.MM(2000)}))
	}
	row = append(row, raw(w.MMOf(*in.MM)))
	if !slices.ContainsFunc(a.Photos, func(p trial.Photo) bool { return p.File == in.Photo }) {
		return shop.Saying(shop.NotFound, words.Say("refused.no-photo", words.Args{"file": words.Name(in.Photo)}))
	}
	at := act.TrialFolder(c.PathValue("trial")) + "returns/scales.csv"
	rows := [][]string{trial.ScaleColumns}
	b, err := c.Shop.Visits.Read(c.Ctx, v.ID, at)
	switch {
	case err == nil:
		if was, err := cells.Read("scales.csv", b); err == nil && len(was) > 0 {
			for _, r := range was[1:] {
				if len(r) == len(row) && r[1] != in.Photo {
					rows = append(rows, r)
				}
			}
		}
	case shop.CodeOf(err) != shop.NotFound:
		return err
	}
	return c.seeOr("/visits/"+v.ID+"/trials/"+c.PathValue("trial")+"#photographs",
		c.Shop.Visits.Put(shop.Detailed(c.Ctx, "photo "+in.Photo), v.ID, c.By(), visits.File{Name: at, As: act.SheetCSV(append(rows, row))}))
}

// gradeData is the page on which sew-outs are graded.
type gradeData struct {
	At, Grader string
	Samples    []gradeSample
	Aspects    []gradeAspect
	Begun      bool
}

type gradeSample struct {
	Of     string
	Says   words.Message
	Photo  bool
	Fields []field
}

type gradeAspect struct {
	Title words.Message
	Steps []words.Message // the best first
	Pic   string
}

// sample is a sew-out to be graded, as nobody sees it on the page.
type sample struct {
	design, machine string
	block           int
	mark            string // that stands on its back: the place and the turn
	photo           *trial.Photo
}

// samplesOf are the sew-outs that are graded: those with photographs, and the first of each
// design on each machine that came back and has none, or of all where nothing did; for each grader
// in an order of their own.
func samplesOf(a *ask.TrialAnswer, grader string) (out []sample) {
	taken := map[string]bool{} // has a sew-out to grade
	for _, x := range a.Photos {
		if i := slices.IndexFunc(a.Places, func(p ask.TrialPlace) bool { return p.Name == x.Place }); i >= 0 {
			t := a.Places[i].Turns[x.Turn-1]
			taken[trial.Key(t.Design, t.Machine)] = true
		}
	}
	for _, p := range a.Places {
		for _, t := range p.Turns {
			s := sample{design: t.Design, machine: t.Machine, block: t.Block, mark: p.Name + " " + strconv.Itoa(t.Number)}
			for i := range a.Photos {
				if x := &a.Photos[i]; x.Place == p.Name && x.Turn == t.Number {
					s.photo = x
				}
			}
			came := len(a.Runs) == 0 || slices.ContainsFunc(a.Runs, func(r trial.Run) bool { return r.Place == p.Name && r.Number == t.Number })
			if key := trial.Key(t.Design, t.Machine); s.photo != nil || came && !taken[key] {
				taken[key] = true
				out = append(out, s)
			}
		}
	}
	h := fnv.New64a()
	h.Write([]byte(strings.ToLower(grader))) // never fails
	rng := rand.New(rand.NewPCG(a.Seed, h.Sum64()))
	rng.Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// of says which sew-out it is, and not on which machine.
func (s *sample) of(a *ask.TrialAnswer) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d\x00%s\x00%s\x00%d", a.Seed, s.design, s.machine, s.block))
	return hex.EncodeToString(sum[:8])
}

func (s *sample) at(g *trial.Grade) bool {
	return g.Design == s.design && g.Machine == s.machine && g.Block == s.block
}

// gradeForm is what is sent: a grade for each aspect of each sample.
type gradeForm struct {
	Grader string     `toml:"grader"`
	Sample []gradeRow `toml:"sample"`
}

type gradeRow struct {
	Of           string `toml:"of"` // which sew-out: what comes meanwhile changes their order
	Registration *count `toml:"registration"`
	Pull         *count `toml:"pull"`
	Loops        *count `toml:"loops"`
	Breaks       *count `toml:"breaks"`
	CutEnds      *count `toml:"cut-ends"`
	Coverage     *count `toml:"coverage"`
	Puckering    *count `toml:"puckering"`
}

// by are the grades in the order of trial.Aspects.
func (r *gradeRow) by() []**count {
	return []**count{&r.Registration, &r.Pull, &r.Loops, &r.Breaks, &r.CutEnds, &r.Coverage, &r.Puckering}
}

func showGrade(c *call) error {
	grader := strings.TrimSpace(c.asks("grader"))
	_, a, err := c.trial()
	if err != nil {
		return err
	}
	if of := c.asks("photo"); of != "" { // its name would say where it is from
		for _, s := range samplesOf(a, grader) {
			if s.of(a) == of && s.photo != nil {
				c.Bytes("image/jpeg", s.photo.JPEG, "")
				return nil
			}
		}
		return shop.Saying(shop.NotFound, words.Say("refused.no-such-photo"))
	}
	return c.gradePage(a, givenBy(a, grader), &form{})
}

// givenBy is what a grader gave already, and nobody else: a second grader sees no grade of the first.
func givenBy(a *ask.TrialAnswer, grader string) *gradeForm {
	in := &gradeForm{Grader: grader}
	for _, s := range samplesOf(a, grader) {
		row := gradeRow{Of: s.of(a)}
		for i := range a.Grades {
			if g := &a.Grades[i]; strings.EqualFold(g.Grader, grader) && s.at(g) {
				for k, to := range row.by() {
					if v, ok := g.By[trial.Aspects[k]]; ok {
						n := count(v)
						*to = &n
					}
				}
			}
		}
		in.Sample = append(in.Sample, row)
	}
	return in
}

func (c *call) gradePage(a *ask.TrialAnswer, in *gradeForm, f *form) error {
	data := &gradeData{At: "/visits/" + c.PathValue("visit") + "/trials/" + c.PathValue("trial"), Grader: in.Grader, Begun: in.Grader != ""}
	p := &page{Title: words.Say("visit.grade").Text(c.writer()), Nav: "visits", Data: data, Form: f, Told: f.message()}
	choices := []option{{"", words.Say("visit.grade-none").Text(c.writer())}}
	for g := trial.BestGrade; g >= trial.WorstGrade; g-- {
		choices = append(choices, option{strconv.Itoa(g), strconv.Itoa(g)})
	}
	for _, x := range trial.Aspects {
		g := gradeAspect{Title: words.Say("trial.aspect." + string(x)), Pic: "grade-" + string(x)}
		for n := trial.BestGrade; n >= trial.WorstGrade; n-- {
			g.Steps = append(g.Steps, picture.GradeSay(x, n))
		}
		p.draw(g.Pic, &picture.GradeSteps{Of: x, W: c.writer(), Width: 460}, &picture.GradeSteps{Of: x, W: c.writer(), Width: 320})
		data.Aspects = append(data.Aspects, g)
	}
	if data.Begun {
		for i, s := range samplesOf(a, in.Grader) {
			row := gradeSample{Of: s.of(a), Photo: s.photo != nil,
				Says: words.Say("visit.grade-sample", words.Args{"n": words.Whole(i + 1), "design": words.Name(s.design)})}
			if s.photo == nil { // only its mark says which one it is
				row.Says = words.Say("visit.grade-marked", words.Args{"n": words.Whole(i + 1), "design": words.Name(s.design), "mark": words.Name(s.mark)})
			}
			var given gradeRow
			if k := slices.IndexFunc(in.Sample, func(r gradeRow) bool { return r.Of == row.Of }); k >= 0 {
				given = in.Sample[k]
			}
			for k, v := range given.by() {
				value := shownAs(*v, func(n count) string { return strconv.Itoa(int(n)) })
				row.Fields = append(row.Fields, f.show(fmt.Sprintf("sample[%d].%s", i, trial.Aspects[k]), capital(data.Aspects[k].Title.Text(c.writer())), value, choices...))
			}
			data.Samples = append(data.Samples, row)
		}
	}
	return c.show("trial_grade.html", p)
}

// keepGradesForm keeps what one person graded, as a sheet of its own.
func keepGradesForm(c *call) error {
	_, a, err := c.trial()
	if err != nil {
		return err
	}
	var in gradeForm
	return c.sent(&in, func(f *form) (string, error) {
		in.Grader = strings.TrimSpace(in.Grader)
		if err := shop.CheckText("grader", in.Grader, 60, true); err != nil {
			return "", shop.At("grader", err)
		}
		all := map[string]sample{} // of all turns: one that is not asked for any more was graded all the same
		for _, p := range a.Places {
			for _, t := range p.Turns {
				s := sample{design: t.Design, machine: t.Machine, block: t.Block}
				all[s.of(a)] = s
			}
		}
		var sheet []trial.Grade
		for _, row := range in.Sample {
			s, ok := all[row.Of]
			if !ok {
				return "", shop.Saying(shop.Conflict, words.Say("refused.trial-anew"))
			}
			g := trial.Grade{Design: s.design, Machine: s.machine, Block: s.block, Grader: in.Grader, By: map[trial.Aspect]int{}}
			for k, v := range row.by() {
				if *v != nil {
					g.By[trial.Aspects[k]] = int(**v)
				}
			}
			if len(g.By) > 0 {
				sheet = append(sheet, g)
			}
		}
		if len(sheet) == 0 {
			return "", shop.Saying(shop.Invalid, words.Say("refused.not-graded"))
		}
		return "/visits/" + c.PathValue("visit") + "/trials/" + c.PathValue("trial") + "#grades",
			c.Shop.KeepGrades(c.Ctx, c.PathValue("visit"), c.PathValue("trial"), c.By(), sheet)
	}, func(f *form) error { return c.gradePage(a, &in, f) })
}
