package pages

import (
	"fmt"
	"html/template"
	"strings"

	"needlepace/ask"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// designData is what the page of one design shows.
type designData struct {
	D        *shop.Design
	Same     []*shop.Design // others that sew exactly the same
	A        *ask.ClockAnswer
	Machines []machineRow
	Of       string // "machines" or "classes": what is to choose from
	Ask      askRun
	Top      float64 // seconds at the right end of the machines' axis
	Run      runView
	With     *besideView // another machine's run on the same axis; nil: none asked
}

// besideView is another machine's run of the design, beside the one shown.
type besideView struct {
	URL     string
	Seconds float64
	Bar     bar
	Verdict words.Message
}

// machineRow is one machine's strip for a design.
type machineRow struct {
	ID, Name, Note string
	Seconds        float64
	Low, High      float64
	Bar            bar
	On             bool
}

// askRun is what the form asks: the same names as the API's parameters.
type askRun struct {
	Machine    string
	Speed, Max int
	Least      int
	Kinds      machine.Jobs
	With       string // another machine to show beside it
	Heavy      string // a factor of the asker's own; empty: the machine's
}

// runView is the drawing with its trace, lane and strip on one time axis.
type runView struct {
	URL       string // the stitches, binary
	Picture   string // of the run, where no script draws it
	Seconds   float64
	Low, High float64 // ends of the speed scale, stitches/min
	Top       float64 // seconds at the right end
	Lane      template.HTML
	KindLane  template.HTML // which kind of stitches is sewn when, on the same axis
	// The legend of the kinds of stitches, and their colours in the order in which
	// the run's stitches count them, for the script.
	KindLegend  template.HTML
	KindColours string
	// Which of the run's revolutions are jumps, for the script: stitches are
	// counted without them.
	Jumps string
	Rises template.HTML
	Bar   bar
	Scale template.HTML
	Label string
}

// runQuery is the query that asks for the same run again.
func (c *call) runQuery() (q *serve.Query, machineID string, job ask.Job) {
	q = c.Query()
	if q.Get("machine") == "" {
		q.Set("machine", "-")
	}
	machineID, job = q.Job()
	if machineID == "-" {
		machineID = ""
	}
	return q, machineID, job
}

// choices are the machines to choose from: the shop's own, or the built-in
// classes where it has none yet.
func (c *call) choices() (all []*shop.Machine, of string, err error) {
	all, err = c.Shop.Machines.List(c.Ctx)
	if err != nil || len(all) > 0 {
		return all, "machines", err
	}
	for _, sheet := range machine.Classes() {
		all = append(all, &shop.Machine{ID: sheet.Name, Name: sheet.Class, Sheet: sheet, Digest: shop.Digest(sheet.TOML())})
	}
	return all, "classes", nil
}

func showDesign(c *call) error { return c.designPage(nil) }

// designPage shows a design, with a form that was sent before.
func (c *call) designPage(f *form) error {
	p, data, err := c.designRun()
	if err != nil {
		return err
	}
	p.Form = f
	sheets, err := c.sheetsOf([]string{""}, []string{data.Ask.Machine})
	if err != nil {
		return err
	}
	p.Paper = runPaper(data, sheets, c.writer())
	return c.show("design.html", p)
}

// designRun fills a page with one design on one machine: all that the page of
// a design and its audit have in common.
func (c *call) designRun() (*page, *designData, error) {
	q, machineID, job := c.runQuery()
	if q.Err != nil {
		return nil, nil, q.Err
	}
	id := c.PathValue("design")
	d, err := c.Shop.Designs.Get(c.Ctx, id)
	if err != nil {
		return nil, nil, err
	}
	same := c.same
	if same == nil {
		if same, err = c.Shop.Designs.Same(c.Ctx, d); err != nil {
			return nil, nil, err
		}
	}
	all, of, err := c.choices()
	if err != nil {
		return nil, nil, err
	}
	data := &designData{D: d, Of: of}
	for _, other := range same {
		if o, err := c.Shop.Designs.Get(c.Ctx, other); err == nil {
			data.Same = append(data.Same, o)
		}
	}
	if machineID == "" {
		machineID = all[0].ID
		if of == "classes" {
			machineID = ask.DefaultMachine
		}
	}
	runs, err := c.Shop.Runs(c.Ctx, d, all, job)
	if err != nil {
		return nil, nil, err
	}
	for i, m := range all {
		r := &runs[i]
		data.Machines = append(data.Machines, machineRow{
			ID: m.ID, Name: m.Name, Note: words.Say("design-page.set-to", words.Args{"speed": words.PerMinute(r.SetSpeed)}).Text(c.writer()), On: m.ID == machineID,
			Seconds: r.Seconds, Low: r.Low, High: r.High,
			Bar: bar{Parts: picture.PartsOf(r.Parts), Low: r.Low, High: r.High, W: c.writer()},
		})
		data.Top = max(data.Top, r.High, r.Seconds)
	}
	for i := range data.Machines {
		data.Machines[i].Bar.Max = data.Top
	}
	if data.A, err = c.Shop.Clock(c.Ctx, id, machineID, job); err != nil {
		return nil, nil, err
	}
	most := int(data.A.RatedSpeed)
	data.Ask = askRun{
		Machine: machineID, Speed: int(data.A.SetSpeed + 0.5), Max: most, Least: min(200, most/2),
		Kinds: data.A.Job.Kinds, Heavy: q.Get("heavy"), With: q.Get("with"),
	}
	var with *ask.ClockAnswer
	if data.Ask.With != "" && data.Ask.With != machineID {
		if with, err = c.Shop.Clock(c.Ctx, id, data.Ask.With, job); err != nil {
			return nil, nil, err
		}
	}
	p := &page{Title: d.Name, Nav: "designs", Data: data}
	if err := c.runView(data, p, machineID, job, with); err != nil {
		return nil, nil, err
	}
	p.addTables(c.writer(), data.A.SecondsTable(), data.A.KindsTable(), data.A.BlocksTable(), data.A.WhyTable(),
		data.A.Swept.Table())
	for _, row := range p.Tables["seconds"].Rows {
		if k, ok := picture.KeyNamed(row[0].Raw); ok {
			row[0].HTML = key(k)
		}
	}
	if data.A.Best != nil {
		p.addTables(c.writer(), data.A.Best.Table())
	}
	blockStrips(p.Tables["blocks"], data.A, c.writer())
	data.sweep(p, c.writer())
	return p, data, nil
}

// runView makes the drawing's surroundings; the stitches come in binary.
func (c *call) runView(data *designData, p *page, machineID string, job ask.Job, with *ask.ClockAnswer) error {
	run, err := c.RunPicture(data.D.ID, machineID, job)
	if err != nil {
		return err
	}
	run.W, run.Machine = c.writer(), words.Say("clock.machine-at", words.Args{"machine": words.Name(data.A.Machine),
		"speed": words.PerMinute(data.A.SetSpeed)}).Text(c.writer())
	p.draw("run", run, nil)
	scale := picture.ScaleFor(run.Speeds, run.SetSpeed)
	v := runView{Seconds: run.Seconds, Low: scale.Low, High: scale.High, Top: max(run.High, run.Seconds)}
	params := jobValues(c.Query(), machineID, append(mendJob, "limit", "needles")...)
	stitches := func() string { return serve.APIRoot + "/designs/" + data.D.ID + "/run.bin?" + params.Encode() }
	v.URL = stitches()
	drawn := c.URL.Query()
	drawn.Set("picture", "run.svg")
	v.Picture = c.URL.Path + "?" + drawn.Encode()
	if with != nil {
		v.Top = max(v.Top, with.Interval.High, with.Seconds)
		params.Set("machine", data.Ask.With)
		data.With = &besideView{URL: stitches(), Seconds: with.Seconds, Verdict: data.A.Beside(with),
			Bar: bar{Parts: picture.PartsOf(with.Parts), Max: v.Top, Low: with.Interval.Low, High: with.Interval.High, W: c.writer()}}
	}
	v.Jumps = strings.Trim(fmt.Sprint(run.Jumps), "[]")
	v.Lane, v.Rises = lane(run.Rests, v.Top)
	v.KindLane = kindLane(run.Kinds, v.Top)
	v.KindLegend, v.KindColours = kindLegend(data.A.Kinds, c.writer())
	v.Bar = bar{Parts: run.Parts, W: c.writer(), Max: v.Top, Low: run.Low, High: run.High,
		Label: (&picture.Strips{W: c.writer(), Rows: []picture.StripRow{{Parts: run.Parts, Low: run.Low, High: run.High}}}).Desc()}
	v.Scale = speedScale(scale, c.writer())
	v.Label = words.Say("drawing.label", words.Args{"design": words.Name(data.D.Name), "low": words.PerMinute(scale.Low),
		"high": words.PerMinute(scale.High)}).Text(c.writer())
	data.Run = v
	return nil
}

// lane draws when the shaft stood and for what, and the lines that rise from
// the colour stops through the trace above it.
func lane(rests []picture.Rest, top float64) (in, up template.HTML) {
	var b, r svg
	at := func(v float64) float64 { return min(max(v/top*100, 0), 100) }
	b.WriteString(`<svg class="lane" aria-hidden="true">`)
	r.WriteString(`<svg class="rises" aria-hidden="true">`)
	last := -10.0
	for _, k := range picture.RestKeys() {
		y, h := fmt.Sprintf("%.0f%%", 100*(1-k.Lane())), fmt.Sprintf("%.0f%%", 100*k.Lane())
		for _, rest := range rests {
			if rest.Key != k || !(top > 0) {
				continue
			}
			b.add(`<rect class="p-%s" x="%.3f%%" width="%.3f%%" y="%s" height="%s"/>`, k, at(rest.From),
				at(rest.To-rest.From), y, h)
			if k.Lane() == 1 {
				x := at((rest.From + rest.To) / 2)
				r.add(`<line x1="%.3f%%" x2="%.3f%%" y1="16" y2="100%%"/>`, x, x)
				if rest.Label != "" && x-last > 2.5 {
					r.add(`<text x="%.3f%%" y="12">%s</text>`, x, template.HTMLEscapeString(rest.Label))
					last = x
				}
			}
		}
	}
	return b.end(), r.end()
}

// speedScale is the legend of the drawing: the colours from slow to fast.
func speedScale(sc picture.SpeedScale, w *words.Writer) template.HTML {
	var b svg
	b.add(`<svg class="speeds" role="img" aria-label="%s">`, template.HTMLEscapeString(words.Say("drawing.scale", words.Args{
		"low": words.PerMinute(sc.Low), "high": words.PerMinute(sc.High)}).Text(w)))
	const n = 32
	for i := range n {
		b.add(`<rect x="%.3f%%" width="%.3f%%" height="9" fill="%s"/>`, float64(i)*100/n, 100.0/n+0.3,
			picture.Cividis(float64(i)/(n-1)).Hex())
	}
	for i := range 3 {
		v := sc.Low + (sc.High-sc.Low)*float64(i)/2
		anchor := [3]string{"start", "middle", "end"}[i]
		b.add(`<text x="%d%%" y="23" text-anchor="%s">%s</text>`, i*50, anchor, words.Fixed(v, 0).Text(w))
	}
	return b.end()
}

// blockStrips adds to the table of blocks what only a page can show: a swatch
// of each thread, and where the block's seconds go.
func blockStrips(t *table, a *ask.ClockAnswer, w *words.Writer) {
	t.Full, t.Blocks = true, true
	t.Cols = append(t.Cols, col{Name: words.Say("design-page.where").Text(w), Strip: true})
	most := 0.0
	for _, b := range a.Blocks {
		most = max(most, b.Seconds)
	}
	for i, b := range a.Blocks {
		row := t.Rows[i]
		if i < len(a.Of.Threads) && a.Of.Threads[i].Known {
			th := a.Of.Threads[i]
			name := &row[len(row)-1]
			name.HTML = template.HTML(fmt.Sprintf(`<svg class="swatch" aria-hidden="true"><rect width="100%%" height="100%%" fill="#%02x%02x%02x"/></svg>`, th.R, th.G, th.B))
			name.Text = " " + th.Name
		}
		t.Rows[i] = append(row, markup(bar{Parts: picture.PartsOf(b.Parts), Max: most, Thin: true, W: w}.HTML()))
	}
}

// sweep draws the run time against the set speed.
func (data *designData) sweep(p *page, w *words.Writer) {
	a := data.A
	if len(a.Sweep) < 2 {
		return
	}
	var run picture.Curve
	for _, s := range a.Sweep {
		run.X = append(run.X, s.SetSpeed)
		run.Mid = append(run.Mid, s.Seconds)
	}
	name := p.Tables["sweep"].Caption
	chart := func(wide, high float64) picture.Picture {
		ch := picture.Sweep(name, "", run, nil, a.KneeSpeed, w)
		ch.Width, ch.Height = wide, high
		return ch
	}
	p.draw("sweep", chart(720, 300), chart(340, 260))
}
