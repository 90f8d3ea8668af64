package paper

import (
	"bytes"
	"image"
	"path"
	"slices"
	"strconv"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/ask"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/trial"
	"needlepace/words"
)

// onPhone is how wide a picture of the HTML form is on a phone.
const onPhone = 340

// TrialOf is the paper of a trial that an adviser hands over: the answer with three
// figures and one picture, then how it was found, the results, money with every input,
// what it hangs on, the designs' audits, what was not measured, room to sign, and what
// is needed to reckon it again. version is that of the program.
func TrialOf(a *ask.TrialAnswer, letters []*ask.Letter, crossings []ask.TrialCrossing, logo []byte, version string, made time.Time, by *words.Writer) *Document {
	f := a.File
	d := &Document{Shop: adviser(f), Number: f.Client, Made: made, W: by}
	d.Shop.Logo = logo
	d.Kind, d.Title = d.Say("trialpaper.kind"), a.Trial
	d.Foot = d.Say("trial.foot", words.Args{"trial": words.Name(a.Trial), "digest": words.Name(a.Digest), "day": words.NewDay(made.Date())})
	d.Add(Heading{Text: a.Trial})
	d.unchecked(d.Say("trialpaper.unchecked"))
	if a.Invented {
		d.Add(Paragraph{Text: d.Say("trial.invented"), Quiet: true})
	}
	for i, s := range a.Verdict {
		d.Add(Paragraph{Text: s.Text(by), Lead: i == 0})
	}
	trialFigures(d, a)
	d.Add(Drawing{Pic: picture.TrialLead(a, by, 640), Narrow: picture.TrialLead(a, by, onPhone), High: 0.24})
	d.Text(a.Caveats.Text(by))
	trialProtocol(d, a)
	trialResults(d, a)
	if len(crossings) > 0 {
		d.Add(Heading{Text: d.Say("visit.crossings"), Level: 2})
		d.Text(d.Say("trialpaper.crossings"))
		for i := range crossings {
			d.Add(Drawing{Pic: picture.TrialCrossed(&crossings[i], by, 640), Narrow: picture.TrialCrossed(&crossings[i], by, onPhone), High: 0.22})
		}
	}
	trialGrades(d, a)
	trialMoney(d, a)
	trialAudit(d, letters)
	trialLimits(d, a)
	trialAgain(d, a, version)
	return d
}

func trialFigures(d *Document, a *ask.TrialAnswer) {
	if len(a.Ranks) == 0 {
		return
	}
	best, _, _, said := a.First()
	last := a.Ranks[len(a.Ranks)-1]
	chance := d.Say("trialpaper.chance", words.Args{"chance": words.Chance(best.First)})
	if best.Further >= 0 {
		chance = d.Say("trialpaper.chance-further", words.Args{"chance": words.Chance(best.First), "further": words.Chance(best.Further)})
	}
	first, of := best.Machine, "" // of: whose the other figures are, where the first does not say
	if !said {
		first, chance, of = d.Say("trialpaper.none"), best.Machine+": "+chance, best.Machine+": "
	}
	f := Figures{{d.Say("trialpaper.first-on-mix"), first, chance},
		{d.Say("trialpaper.per-piece"), words.FineSeconds(best.Piece).Text(d.W), of + d.Say("trialpaper.range", words.Args{"low": words.FineSeconds(best.Low),
			"high": words.FineSeconds(best.High), "level": words.Level(a.Level)})}}
	if m := a.Money; m != nil {
		lead, _ := decimal.NewFromString(m.Lead)
		f = append(f, Figure{d.Say("trialpaper.cheapest-by"), words.Money{Amount: lead, Code: m.Currency, Round: true}.Text(d.W),
			d.Say("trialpaper.a-year", words.Args{"machine": words.Name(m.Costs[0].Machine), "rival": words.Name(m.Costs[1].Machine),
				"chance": words.Chance(m.Costs[0].Cheapest)})})
	} else {
		f = append(f, Figure{d.Say("trialpaper.spread"), words.Share(1 - best.Piece/last.Piece).Text(d.W), of + d.Say("trialpaper.less-than",
			words.Args{"machine": words.Name(last.Machine)})})
	}
	d.Add(f)
}

func trialProtocol(d *Document, a *ask.TrialAnswer) {
	f := a.File
	first, last, people := a.Sewn()
	days, by := "", words.List{}
	if !first.IsZero() {
		if days = first.Text(d.W); last != first {
			days = d.Say("trialpaper.from-day", words.Args{"from": first, "to": last})
		}
	}
	for _, p := range people {
		by = append(by, words.Name(p))
	}
	d.Add(Heading{Text: d.Say("trialpaper.protocol"), Anew: true}, Facts{{d.Say("trialpaper.client"), f.Client}, {d.Say("trialpaper.adviser"), f.Adviser},
		{d.Say("trialcard.cloth"), f.Cloth}, {d.Say("trialcard.backing"), f.Backing}, {d.Say("trialcard.thread"), f.Thread},
		{d.Say("trialcard.needle"), f.Needle}, {d.Say("trialpaper.days"), days}, {d.Say("trialpaper.people"), by.Text(d.W)}})
	d.Text(d.Say("trial.plan", words.Args{"designs": words.Count(len(a.Designs), "design"),
		"machines": words.Count(len(f.Machines), "machine"), "repeats": words.Whole(f.Repeats), "runs": words.Count(a.Planned, "run"),
		"places": words.Count(len(a.Places), "place"), "seed": words.Name(strconv.FormatUint(a.Seed, 10))}), d.Say("trialpaper.blocks"))
	m := Grid{Caption: d.Say("trialpaper.machines"), Columns: []GridColumn{{Head: d.Say("clock.machine"), Share: 0.24, Bold: true},
		{Head: d.Say("trialpaper.class"), Share: 0.36, Wraps: true}, {Head: d.Say("trial.place"), Share: 0.26}, {Head: d.Say("trial.speed"), Share: 0.14, Right: true}}}
	for i, k := range f.Machines {
		place := f.Places[slices.IndexFunc(f.Places, func(p trial.PlaceKeys) bool { return p.Name == k.Place })].Called
		m.Rows = append(m.Rows, []string{k.Name, ask.ClassSays(a.Sheets[i]).Text(d.W), place, words.PerMinute(k.Speed).Text(d.W)})
	}
	g := Grid{Caption: d.Say("trialpaper.designs"), Columns: []GridColumn{{Head: d.Say("clock.design"), Share: 0.3, Bold: true},
		{Head: d.Say("trialpaper.stitches"), Share: 0.16, Right: true}, {Head: d.Say("trialpaper.pieces-year"), Share: 0.2, Right: true}, {Share: 0.03},
		{Head: d.Say("trialpaper.digest"), Share: 0.31}}}
	for _, x := range a.Designs {
		year := words.Value(words.None{})
		if x.Year > 0 {
			year = words.Fixed(x.Year, 0)
		}
		g.Rows = append(g.Rows, []string{x.Name, words.Whole(x.Stitches).Text(d.W), year.Text(d.W), "", x.Digest})
	}
	d.Add(m, g)
}

func trialResults(d *Document, a *ask.TrialAnswer) {
	d.Add(Heading{Text: d.Say("trialpaper.results"), Anew: true})
	d.Text(d.Say("trialpaper.strips"))
	for i := range a.Designs {
		d.Add(Drawing{Pic: picture.TrialStrips(a, i, d.W, 0), Narrow: picture.TrialStrips(a, i, d.W, onPhone), High: 0.3})
	}
	d.Add(gridOf(d.W, a.CellTable(), map[string]float64{"design": 0.15, "machine": 0.2, "runs": 0.07, "predicted_seconds": 0.12,
		"seconds": 0.12, "low": 0.11, "high": 0.11, "first": 0.12}))
	if len(a.Ranks) > 0 {
		d.Add(gridOf(d.W, a.RankTable(), map[string]float64{"machine": 0.19, "heads": 0.06, "first": 0.1, "first_elsewhere": 0.12,
			"seconds_per_piece": 0.11, "low": 0.11, "high": 0.11, "pieces_in_8_hours": 0.08, "measured_over_predicted": 0.12}))
		if slices.ContainsFunc(a.Ranks, func(r ask.TrialRank) bool { return r.Heads != a.Ranks[0].Heads }) {
			d.Text(d.Say("trialpaper.by-the-piece"))
		}
		d.Text(d.Say("trialpaper.spreads", words.Args{"run": words.Share(a.RunSD), "lead": words.Share(a.LeadSD),
			"setup": words.Share(a.File.Known().Setup)}))
	}
	if t := a.PartTable(); len(t.Rows) > 0 {
		shares := map[string]float64{"machine": 0.2}
		for _, c := range t.Columns[1:] {
			shares[c.Key] = 0.8 / float64(len(t.Columns)-1)
		}
		d.Add(gridOf(d.W, t, shares))
		d.Text(a.Gains().Text(d.W))
	}
	if t := a.ApartTable(); len(t.Rows) > 0 {
		d.Add(gridOf(d.W, t, map[string]float64{"place": 0.1, "turn": 0.06, "design": 0.14, "machine": 0.16, "seconds": 0.12, "why": 0.42}))
	}
	if len(a.Said) > 0 {
		var said Bullets
		for _, x := range a.Said {
			said = append(said, x.Text(d.W))
		}
		d.Add(Heading{Text: d.Say("trialpaper.said"), Level: 2}, said)
	}
}

func trialGrades(d *Document, a *ask.TrialAnswer) {
	if len(a.Graded) == 0 && len(a.Photos) == 0 {
		return
	}
	d.Add(Heading{Text: d.Say("trial.grades"), Anew: len(a.Graded) > 0 && len(a.Photos) > 1})
	if len(a.Graded) > 0 {
		shares := map[string]float64{"design": 0.15, "machine": 0.17, "grades": 0.07}
		for _, x := range trial.Aspects {
			shares[map[bool]string{true: "cut_ends", false: string(x)}[x == trial.CutEnds]] = 0.087
		}
		g := gridOf(d.W, a.GradeTable(), shares)
		g.Caption = "" // the heading says it
		d.Add(g)
		d.Text(a.Agrees().Text(d.W), d.Say("trialpaper.grades"))
	}
	var photos Photographs
	for _, p := range a.Photos {
		i := slices.IndexFunc(a.Places, func(x ask.TrialPlace) bool { return x.Name == p.Place })
		t := a.Places[i].Turns[p.Turn-1]
		says := d.Say("trialpaper.photo", words.Args{"design": words.Name(t.Design), "machine": words.Name(t.Machine),
			"turn": words.Whole(p.Turn), "place": words.Name(a.Places[i].Called)})
		if p.WidthMM > 0 {
			says += ", " + d.Say("visit.wide", words.Args{"width": words.MM(p.WidthMM)})
		}
		photos = append(photos, Photograph{JPEG: p.JPEG, Caption: says})
	}
	d.Add(photos)
}

func trialMoney(d *Document, a *ask.TrialAnswer) {
	m := a.Money
	if m == nil {
		return
	}
	f := a.File.Money
	d.Add(Heading{Text: d.Say("trialpaper.money"), Anew: true})
	amount := func(v decimal.Decimal) string { return words.Money{Amount: v, Code: f.Currency}.Text(d.W) }
	facts := Facts{{d.Say("trialpaper.source"), f.Source}, {d.Say("trialpaper.labour"), amount(f.Labour)},
		{d.Say("trialpaper.tends"), words.Fixed(f.Tends, 1).Text(d.W)}, {d.Say("trialpaper.interest"), d.Say("percent.is", words.Args{"n": words.Figure(f.Interest.InexactFloat64())})},
		{d.Say("trialpaper.handling"), words.Seconds(f.Handling).Text(d.W)}}
	if f.Hours > 0 {
		facts = append(facts, [2]string{d.Say("trialpaper.hours"), words.Fixed(f.Hours, 0).Text(d.W)})
	}
	d.Add(facts)
	g := Grid{Caption: d.Say("trialpaper.prices"), Columns: []GridColumn{{Head: d.Say("clock.machine"), Share: 0.34, Bold: true}, {Head: d.Say("trialpaper.price"), Share: 0.2, Right: true},
		{Head: d.Say("trialpaper.life"), Share: 0.14, Right: true}, {Head: d.Say("trialpaper.upkeep"), Share: 0.2, Right: true}}}
	for _, k := range a.File.Machines {
		price := words.Value(words.None{})
		if k.Priced() {
			price = words.Money{Amount: k.Price, Code: f.Currency}
		}
		g.Rows = append(g.Rows, []string{k.Name, price.Text(d.W), strconv.Itoa(k.Life), amount(k.Upkeep)})
	}
	d.Add(g, gridOf(d.W, a.CostTable(), map[string]float64{"machine": 0.16, "hours": 0.07, "labour": 0.09, "owning": 0.09, "upkeep": 0.08, "year": 0.09,
		"cheapest": 0.12, "tie_price": 0.1, "payback_years": 0.1, "present_value": 0.1}))
	var taken words.List
	for _, k := range a.File.Machines {
		if k.LifeTaken {
			taken = append(taken, words.Name(k.Name))
		}
	}
	if len(taken) > 0 {
		d.Text(d.Say("trialpaper.life-taken", words.Args{"machines": taken, "years": words.Count(trial.DefaultLife, "year")}))
	}
	d.Text(d.Say("trialpaper.money-how", words.Args{"currency": words.Name(f.Currency)}))
	for _, c := range m.Costs {
		if i := slices.IndexFunc(a.File.Machines, func(k trial.MachineKeys) bool { return k.Name == c.Machine }); c.Needed > 1 && a.File.Machines[i].Owned {
			d.Text(d.Say("trialpaper.money-several", words.Args{"machine": words.Name(c.Machine), "n": words.Whole(c.Needed)}))
		}
	}
	d.Add(Heading{Text: d.Say("trialpaper.hangs-on"), Level: 2}, Drawing{Pic: picture.TrialTornado(a, d.W, 640), Narrow: picture.TrialTornado(a, d.W, onPhone), High: 0.3})
	turns := words.List{}
	for _, s := range m.Swings {
		if s.Turns {
			turns = append(turns, s.What)
		}
	}
	if len(turns) > 0 {
		d.Text(d.Say("trialpaper.turns", words.Args{"what": turns}))
	} else {
		d.Text(d.Say("trialpaper.holds"))
	}
}

func trialAudit(d *Document, letters []*ask.Letter) {
	if len(letters) == 0 {
		return
	}
	d.Add(Heading{Text: d.Say("trialpaper.audit"), Anew: true})
	d.Text(d.Say("trialpaper.audit-how"))
	letters = slices.Clone(letters) // those that ask for nothing stand together at the end
	slices.SortStableFunc(letters, func(a, b *ask.Letter) int { return min(len(b.Points), 1) - min(len(a.Points), 1) })
	for i, l := range letters {
		d.Add(Heading{Text: d.Say("letter.title", words.Args{"design": words.Name(l.Design)}), Level: 2, Anew: i > 0 && len(l.Points)+len(letters[i-1].Points) > 0})
		letterBody(d, l, false)
	}
}

func trialLimits(d *Document, a *ask.TrialAnswer) {
	d.Add(Heading{Text: d.Say("trialpaper.limits"), Anew: true}, Bullets{d.Say("trialpaper.limit-designs"), d.Say("trialpaper.limit-people"),
		d.Say("trialpaper.limit-breaks"), d.Say("trialpaper.limit-time"), d.Say("trialpaper.limit-buy")},
		Blanks{d.Say("trialpaper.sign-adviser"), d.Say("trialpaper.sign-client"), d.Say("letter.day")})
}

// trialAgain is what is needed to reckon it all again.
func trialAgain(d *Document, a *ask.TrialAnswer, version string) {
	d.Add(Heading{Text: d.Say("trialpaper.again")})
	d.Text(d.Say("trialpaper.again-how"))
	d.Add(Facts{{d.Say("trialpaper.version"), version}, {d.Say("trialpaper.seed"), strconv.FormatUint(a.Seed, 10)},
		{d.Say("trialpaper.file-digest"), a.Digest}, {d.Say("trialpaper.level"), words.Level(a.Level).Text(d.W)}})
	texts := []Verbatim{{d.Say("trialpaper.the-file", words.Args{"digest": words.Name(a.Digest)}), "TRIAL.toml", string(a.TOML)}}
	for i, m := range a.File.Machines {
		if _, built := machine.Class(m.Sheet); !built && slices.IndexFunc(a.File.Machines, func(x trial.MachineKeys) bool { return x.Sheet == m.Sheet }) == i {
			texts = append(texts, Verbatim{d.Say("trialpaper.the-sheet", words.Args{"file": words.Name(m.Sheet)}), path.Base(m.Sheet), string(a.Sheets[i].TOML())})
		}
	}
	var times, grades bytes.Buffer
	read := "TRIAL.toml"
	if ask.TrialTimes(&times, a) == nil && len(a.Runs) > 0 { // a bytes.Buffer never fails
		texts = append(texts, Verbatim{d.Say("trialpaper.all-runs"), "times.csv", times.String()})
		read += " times.csv"
	}
	if ask.TrialGrades(&grades, a) == nil && len(a.Grades) > 0 {
		texts = append(texts, Verbatim{d.Say("trialpaper.all-grades"), "grades.csv", grades.String()})
		read += " grades.csv"
	}
	if read != "TRIAL.toml" {
		report := "trial report " + read + " --pdf again.pdf"
		own := words.English().Tag.String()
		if l := a.File.Speaks(); l != nil {
			own = l.Tag.String()
		}
		if tag := d.W.Tag(); tag != own || own != words.English().Tag.String() {
			report += " --language " + tag
		}
		d.Add(Verbatim{Caption: d.Say("trialpaper.commands"), Text: "trial read " + read + "\n" + report})
	}
	for _, v := range texts {
		d.Add(v)
	}
}

// gridOf is a table of an answer on paper: the columns that have a share.
func gridOf(by *words.Writer, t *ask.Table, share map[string]float64) Grid {
	g := Grid{Caption: t.Caption.Text(by)}
	var at []int
	for i, c := range t.Columns {
		if w, ok := share[c.Key]; ok {
			at = append(at, i)
			g.Columns = append(g.Columns, GridColumn{Head: c.Heading.Text(by), Share: w, Right: c.Number, Wraps: c.Key == "why"})
		}
	}
	for _, row := range t.Rows {
		line := make([]string, len(at))
		for k, i := range at {
			if row[i] != nil {
				line[k] = row[i].Text(by)
			}
		}
		g.Rows = append(g.Rows, line)
	}
	return g
}

// Photograph is a photograph with what it shows.
type Photograph struct {
	JPEG    []byte
	Caption string
}

// Photographs stand two in a row.
type Photographs []Photograph

// photographGap is what stands free between two in a row, pt.
const photographGap = 12.0

// photographRow is how large up to two photographs in a row are, and their captions, pt.
func (p *page) photographRow(row []Photograph) (w, h [2]float64, high, says float64) {
	half := (p.width() - photographGap) / 2
	for k, x := range row {
		cfg, _, err := image.DecodeConfig(bytes.NewReader(x.JPEG))
		if err != nil || cfg.Width < 1 || cfg.Height < 1 {
			continue // taken in as a picture before
		}
		by := min(half/float64(cfg.Width), 0.26*p.h/float64(cfg.Height))
		w[k], h[k] = by*float64(cfg.Width), by*float64(cfg.Height)
		high, says = max(high, h[k]), max(says, float64(len(p.wrap(x.Caption, half, small, false)))*small*1.35)
	}
	return w, h, high, says
}

func (all Photographs) onPage(p *page) error {
	half := (p.width() - photographGap) / 2
	for i := 0; i < len(all); i += 2 {
		row := all[i:min(i+2, len(all))]
		w, h, high, says := p.photographRow(row)
		p.need(high + says + 12)
		for k, x := range row {
			at := margin + float64(k)*(half+photographGap)
			if w[k] > 0 {
				p.image(x.JPEG, "jpg", at, p.y, w[k], h[k])
			}
			for n, l := range p.wrap(x.Caption, half, small, false) {
				p.text(at, p.y+high+4+small+float64(n)*small*1.35, l, small, false, quiet)
			}
		}
		p.y += high + says + 12
	}
	return nil
}

func (all Photographs) asHTML(h *html) {
	for _, x := range all {
		x.asHTML(h)
	}
}

func (x Photograph) asHTML(h *html) {
	h.put(`<figure>`)
	h.image(x.JPEG, x.Caption)
	h.put(`<figcaption>%s</figcaption></figure>`, x.Caption)
}
