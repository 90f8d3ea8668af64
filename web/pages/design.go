package pages

import (
	"fmt"
	"html/template"
	"math"
	"net/url"
	"strconv"
	"strings"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/report"
	"needlepace/shop"
	"needlepace/web/answer"
	"needlepace/web/serve"
)

// designData is what the page of one design shows.
type designData struct {
	D        *shop.Design
	Same     []*shop.Design // others that sew exactly the same
	A        *report.Clock
	Machines []machineRow
	Of       string // "machines" or "classes": what is to choose from
	Ask      askRun
	Top      float64 // seconds at the right end of the machines' axis
	Run      runView
	Short    string // what stitches ÷ rated speed leaves out
	Why      []whyRow
	Assumed  bool
	Knee     string
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
	Machine            string
	Speed, Max         int
	Least              int
	CapFrame, Metallic bool
	Heavy              string
}

// runView is the drawing with its trace, lane and strip on one time axis.
type runView struct {
	URL       string // the stitches, binary
	Seconds   float64
	Low, High float64 // ends of the speed scale, stitches/min
	Top       float64 // seconds at the right end
	Lane      template.HTML
	Rises     template.HTML
	Bar       bar
	Scale     template.HTML
	Label     string
}

type whyRow struct{ Name, Share, Seconds string }

// runQuery is the query that asks for the same run again.
func (c *call) runQuery() (q *serve.Query, machineID string, job clock.Job) {
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
	all, err = c.Shop.Machines(c.Ctx)
	if err != nil || len(all) > 0 {
		return all, "machines", err
	}
	for _, sheet := range machine.Classes() {
		all = append(all, &shop.Machine{ID: sheet.Name, Name: sheet.Class, Sheet: sheet})
	}
	return all, "classes", nil
}

func showDesign(c *call) error {
	p, d, err := c.designRun()
	if err != nil {
		return err
	}
	_ = d
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
	d, same, err := c.Shop.Design(c.Ctx, id)
	if err != nil {
		return nil, nil, err
	}
	all, of, err := c.choices()
	if err != nil {
		return nil, nil, err
	}
	data := &designData{D: d, Of: of}
	for _, other := range same {
		if o, _, err := c.Shop.Design(c.Ctx, other); err == nil {
			data.Same = append(data.Same, o)
		}
	}
	if machineID == "" {
		machineID = all[0].ID
		if of == "classes" && len(all) > 2 {
			machineID = all[2].ID
		}
	}
	for _, m := range all {
		k, err := c.Shop.Clock(c.Ctx, id, m.ID, job)
		if err != nil {
			return nil, nil, err
		}
		data.Machines = append(data.Machines, machineRow{
			ID: m.ID, Name: m.Name, Note: fmt.Sprintf("set to %s", perMin(k.Result.SetSpeed)), On: m.ID == machineID,
			Seconds: k.Result.Seconds, Low: k.How.Low, High: k.How.High,
			Bar: bar{Parts: report.Strip(k.Result.Parts), Low: k.How.Low, High: k.How.High},
		})
		data.Top = max(data.Top, k.How.High, k.Result.Seconds)
	}
	for i := range data.Machines {
		data.Machines[i].Bar.Max = data.Top
	}
	if data.A, err = answer.Clock(c.Ctx, c.Shop, id, machineID, job); err != nil {
		return nil, nil, err
	}
	k, err := c.Shop.Clock(c.Ctx, id, machineID, job)
	if err != nil {
		return nil, nil, err
	}
	data.Assumed = k.Sheet.Fit == nil
	data.Ask = askRun{
		Machine: machineID, Speed: int(data.A.SetSpeed + 0.5), Max: int(k.Sheet.MaxSpeed), Least: min(200, int(k.Sheet.MaxSpeed)/2),
		CapFrame: q.Yes("cap_frame"), Metallic: q.Yes("metallic"), Heavy: q.Get("heavy"),
	}
	if over := data.A.Seconds - data.A.NaiveSeconds; over > 0 {
		data.Short = picture.LongTime(over)
	}
	p := &page{Title: d.Name, Nav: "designs", Data: data, Tables: map[string]*table{}, Pics: map[string]pic{}}
	if err := c.runView(data, p, machineID, job); err != nil {
		return nil, nil, err
	}
	p.Tables["seconds"] = partsTable(data.A)
	p.Tables["blocks"] = blocksTable(d, data.A)
	data.knee(p)
	for i, w := range data.A.Why {
		if i == 3 {
			break
		}
		name := "what the model leaves out"
		if con, ok := machine.ConstantAt(w.Constant); ok {
			name = con.Means
		}
		data.Why = append(data.Why, whyRow{name, share(w.Share, 1), picture.LongTime(math.Abs(w.Seconds))})
	}
	return p, data, nil
}

// runView makes the drawing's surroundings; the stitches come in binary.
func (c *call) runView(data *designData, p *page, machineID string, job clock.Job) error {
	run, err := c.Shop.RunPicture(c.Ctx, data.D.ID, machineID, job)
	if err != nil {
		return err
	}
	p.Pics["run"] = pic{Wide: run}
	scale := picture.ScaleFor(run.Speeds, run.SetSpeed)
	v := runView{Seconds: run.Seconds, Low: scale.Low, High: scale.High, Top: max(run.High, run.Seconds)}
	ask := url.Values{"machine": {machineID}}
	for _, name := range []string{"speed", "cap_frame", "metallic", "limit", "heavy", "needles"} {
		if s := c.URL.Query().Get(name); s != "" {
			ask.Set(name, s)
		}
	}
	v.URL = serve.APIRoot + "/designs/" + data.D.ID + "/run.bin?" + ask.Encode()
	v.Lane, v.Rises = lane(run.Rests, v.Top)
	v.Bar = bar{Parts: run.Parts, Max: v.Top, Low: run.Low, High: run.High, Label: (&picture.Strips{Rows: []picture.StripRow{{Parts: run.Parts, Low: run.Low, High: run.High}}}).Desc()}
	v.Scale = speedScale(scale)
	v.Label = fmt.Sprintf("%s drawn to scale, every stitch coloured by the speed the shaft holds on it, from %s to %s", data.D.Name, perMin(scale.Low), perMin(scale.High))
	data.Run = v
	return nil
}

// lane draws when the shaft stood and for what, and the lines that rise from
// the colour stops through the trace above it.
func lane(rests []picture.Rest, top float64) (in, up template.HTML) {
	var b, r strings.Builder
	at := func(v float64) float64 { return min(max(v/top*100, 0), 100) }
	b.WriteString(`<svg class="lane" aria-hidden="true">`)
	r.WriteString(`<svg class="rises" aria-hidden="true">`)
	last := -10.0
	for _, k := range []picture.Key{picture.StartEnd, picture.Travel, picture.Stops, picture.Trims, picture.ColourStops} {
		y, h := "70%", "30%"
		switch k {
		case picture.ColourStops, picture.Stops:
			y, h = "0", "100%"
		case picture.Trims:
			y, h = "35%", "65%"
		}
		for _, rest := range rests {
			if rest.Key != k || !(top > 0) {
				continue
			}
			fmt.Fprintf(&b, `<rect class="p-%s" x="%.3f%%" width="%.3f%%" y="%s" height="%s"/>`, k, at(rest.From), at(rest.To-rest.From), y, h)
			if k == picture.ColourStops || k == picture.Stops {
				x := at((rest.From + rest.To) / 2)
				fmt.Fprintf(&r, `<line x1="%.3f%%" x2="%.3f%%" y1="16" y2="100%%"/>`, x, x)
				if rest.Label != "" && x-last > 2.5 {
					fmt.Fprintf(&r, `<text x="%.3f%%" y="12">%s</text>`, x, template.HTMLEscapeString(rest.Label))
					last = x
				}
			}
		}
	}
	b.WriteString("</svg>")
	r.WriteString("</svg>")
	return template.HTML(b.String()), template.HTML(r.String())
}

// speedScale is the legend of the drawing: the colours from slow to fast.
func speedScale(sc picture.SpeedScale) template.HTML {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="speeds" role="img" aria-label="Colour scale of the held speed: dark is %s, bright is %s">`, perMin(sc.Low), perMin(sc.High))
	const n = 32
	for i := range n {
		fmt.Fprintf(&b, `<rect x="%.3f%%" width="%.3f%%" height="9" fill="%s"/>`, float64(i)*100/n, 100.0/n+0.3, picture.Cividis(float64(i)/(n-1)).Hex())
	}
	for i := range 3 {
		v := sc.Low + (sc.High-sc.Low)*float64(i)/2
		anchor := [3]string{"start", "middle", "end"}[i]
		fmt.Fprintf(&b, `<text x="%d%%" y="23" text-anchor="%s">%s</text>`, i*50, anchor, picture.Thousands(v))
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// partsTable says where every second goes.
func partsTable(a *report.Clock) *table {
	t := &table{ID: "seconds", Caption: "Where every second goes", Cols: []col{
		{Name: "Part", CSV: "part"}, {Name: "Time", CSV: "seconds", Num: true}, {Name: "Share", CSV: "percent", Num: true}, {Name: "What it is", CSV: "what"},
	}}
	by := a.LongBy
	var long []string
	for _, l := range []struct {
		name string
		s    float64
	}{{"left and right", by.FrameX}, {"to and fro", by.FrameY}, {"turns", by.Turn}, {"speed ladder", by.Ladder}} {
		if l.s >= 0.05 {
			long = append(long, l.name+" "+picture.LongTime(l.s))
		}
	}
	what := map[picture.Key]string{
		picture.AtSetSpeed:   fmt.Sprintf("%s stitches at %s, nothing lost", thousands(a.Revolutions), perMin(a.SetSpeed)),
		picture.LongStitches: "stitches too long for the set speed: " + strings.Join(long, ", "),
		picture.Ramps:        "slowing down and starting again",
		picture.Trims:        answer.Count(a.Trims, "trim, standing", "trims, standing"),
		picture.ColourStops:  answer.Count(a.ColourStops, "colour stop, standing", "colour stops, standing"),
		picture.Travel:       "the frame moves, nothing is sewn",
		picture.Stops:        "the machine waits for its operator",
		picture.StartEnd:     "from the start button to the first stitch, and the end",
	}
	for _, part := range report.Strip(a.Parts) {
		t.Rows = append(t.Rows, []cell{
			{HTML: key(part.Key), Text: part.Key.Name(), Raw: part.Key.String()},
			figure(picture.LongTime(part.Seconds), fixed(part.Seconds, 3)),
			figure(share(part.Seconds, a.Seconds), fixed(part.Seconds/a.Seconds*100, 2)),
			text(what[part.Key]),
		})
	}
	t.Foot = []cell{text("run time"), text(picture.LongTime(a.Seconds)), text(""), text("")}
	return t
}

// blocksTable is the same by colour block.
func blocksTable(d *shop.Design, a *report.Clock) *table {
	t := &table{ID: "blocks", Caption: "By colour block", Full: true, Blocks: true, Cols: []col{
		{Name: "Block", CSV: "block"}, {Name: "Thread", CSV: "thread"}, {Name: "Needle", CSV: "needle", Num: true}, {Name: "Stitches", CSV: "stitches", Num: true},
		{Name: "Trims", CSV: "trims", Num: true}, {Name: "Held speed", CSV: "held_speed_per_min", Num: true}, {Name: "Time", CSV: "seconds", Num: true}, {Name: "Where it goes", Strip: true},
	}}
	most := 0.0
	for _, b := range a.Blocks {
		most = max(most, b.Seconds)
	}
	for i, b := range a.Blocks {
		thread := cell{Text: "–", Raw: " "}
		if i < len(d.Threads) && (d.Threads[i].Name != "" || d.Threads[i].Colour != "") {
			th := d.Threads[i]
			thread = cell{Text: " " + th.Name, Raw: strings.TrimSpace(th.Name + " " + th.Colour)}
			if th.Colour != "" {
				thread.HTML = template.HTML(fmt.Sprintf(`<svg class="swatch" aria-hidden="true"><rect width="100%%" height="100%%" fill="%s"/></svg>`, template.HTMLEscapeString(th.Colour)))
			}
		}
		t.Rows = append(t.Rows, []cell{
			whole(b.Block), thread, whole(b.Needle), whole(b.Stitches), whole(b.Trims),
			figure(perMin(b.HeldSpeed), fixed(b.HeldSpeed, 1)), figure(picture.LongTime(b.Seconds), fixed(b.Seconds, 3)),
			markup(bar{Parts: report.Strip(b.Parts), Max: most, Thin: true}.HTML()),
		})
	}
	return t
}

// knee says from which set speed on more speed hardly pays.
func (data *designData) knee(p *page) {
	a := data.A
	if len(a.Sweep) < 2 {
		return
	}
	var run picture.Curve
	var at float64
	for _, s := range a.Sweep {
		run.X = append(run.X, s.SetSpeed)
		run.Mid = append(run.Mid, s.Seconds)
		if s.SetSpeed == a.KneeSpeed {
			at = s.Seconds
		}
	}
	last := a.Sweep[len(a.Sweep)-1]
	name, say := "Run time against set speed", ""
	if a.KneeSpeed < last.SetSpeed {
		say = fmt.Sprintf("At %s this design takes %s. Past that, each further 50/min buys less than 1 %%.", perMin(a.KneeSpeed), picture.LongTime(at))
		if gain := at - last.Seconds; gain > 0.5 {
			say += fmt.Sprintf(" All the way up to %s saves %s more.", perMin(last.SetSpeed), picture.LongTime(gain))
		}
	} else {
		say = fmt.Sprintf("More speed keeps paying on this design up to the %s this machine can do.", perMin(last.SetSpeed))
	}
	data.Knee = say
	chart := func(w, h float64) picture.Picture {
		ch := picture.Sweep(name, "", run, nil, a.KneeSpeed)
		ch.Width, ch.Height = w, h
		return ch
	}
	p.Pics["sweep"] = pic{chart(720, 300), chart(340, 260)}
	t := &table{ID: "sweep", Caption: name, Cols: []col{{Name: "Set speed", CSV: "set_speed_per_min", Num: true}, {Name: "Run time", CSV: "seconds", Num: true}, {Name: "Held speed", CSV: "held_speed_per_min", Num: true}}}
	for _, s := range a.Sweep {
		t.Rows = append(t.Rows, []cell{figure(perMin(s.SetSpeed), strconv.Itoa(int(s.SetSpeed))), figure(picture.LongTime(s.Seconds), fixed(s.Seconds, 3)), figure(perMin(s.HeldSpeed), fixed(s.HeldSpeed, 1))})
	}
	p.Tables["sweep"] = t
}
