package pages

import (
	"context"
	"fmt"
	"html/template"
	"math"
	"net/url"
	"strconv"

	"needlepace/act"
	"needlepace/audit"
	"needlepace/book"
	"needlepace/jobs"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/stitch"
	"needlepace/web/answer"
	"needlepace/words"
)

// auditData is a design's audit beside its run.
type auditData struct {
	*designData
	Report   *act.Audited
	Findings []auditRow
	Pieces   int
	Hoop     [2]string
	Off      []string
	Mend     template.URL // the query for the mend
	Held     bool         // blocks whose thread nobody knows
}

// auditRow is one finding as the page lists and marks it. From and To are
// revolutions, as the drawing counts.
type auditRow struct {
	audit.Finding
	Number   int
	First    int
	Past     int
	PerPiece string
	PerOrder string
}

// revolutions gives for each stitch of a design its revolution: short jumps
// that are sewn through take a revolution and are no stitch.
func revolutions(d *stitch.Design, trimAfter int) []int {
	var out []int
	n := 0
	for e := range d.Events(trimAfter) {
		if e.Kind != stitch.Run {
			continue
		}
		for i := e.From; i < e.To; i++ {
			if d.Records[i].Op.Penetrates() {
				out = append(out, n)
			}
			n++
		}
	}
	return append(out, n)
}

func showAudit(c *call) error {
	p, run, err := c.designRun()
	if err != nil {
		return err
	}
	q, machineID, job := c.runQuery()
	clocked, err := job.Clock()
	if err != nil {
		return err
	}
	ask := act.AuditAsked{Job: clocked, Pieces: q.Integer("pieces", 1), HoopX: q.Number("hoop_x"), HoopY: q.Number("hoop_y")}
	if q.Err != nil {
		return q.Err
	}
	if machineID == "" {
		machineID = run.Ask.Machine
	}
	report, err := c.Shop.Audit(c.Ctx, run.D.ID, machineID, ask)
	if err != nil {
		return err
	}
	data := &auditData{designData: run, Report: report, Pieces: max(ask.Pieces, 1), Hoop: [2]string{q.Get("hoop_x"), q.Get("hoop_y")}}
	for _, off := range report.Off {
		data.Off = append(data.Off, sentence(off))
	}
	at := revolutions(report.Design, report.Sheet.Reading.TrimAfterJumps)
	rev := func(stitch int) int { return at[min(max(stitch, 0), len(at)-1)] }
	t := &table{ID: "findings", Caption: "Findings, dearest first", Full: true, Cols: []col{
		{Name: "Number"}, {Name: "Kind"}, {Name: "What"}, {Name: "Ask for"}, {Name: "Block"}, {Name: "From stitch"}, {Name: "To stitch"}, {Name: "X", CSV: "x_mm"}, {Name: "Y", CSV: "y_mm"},
		{Name: "A run", CSV: "seconds"}, {Name: "The order", CSV: "order_seconds"}, {Name: "Risk"},
	}}
	var marked []picture.Mark
	for i, f := range report.Findings {
		row := auditRow{Finding: f, Number: i + 1, First: rev(f.From), Past: rev(f.To), PerPiece: "no time", PerOrder: "–"}
		if f.To == f.From { // between two stitches: show the one before
			row.First = max(0, rev(f.From)-1)
			row.Past = row.First + 1
		}
		if f.Seconds >= 0.05 {
			row.PerPiece, row.PerOrder = words.Seconds(f.Seconds).Text(nil), words.Seconds(f.OrderSeconds).Text(nil)
		}
		row.What, row.Ask = sentence(f.What), sentence(f.Ask)
		data.Findings = append(data.Findings, row)
		marked = append(marked, picture.Mark{Number: i + 1, X: f.X, Y: f.Y, From: row.First, To: row.Past, Text: row.What, Value: row.PerPiece})
		t.Rows = append(t.Rows, []cell{whole(i + 1), text(string(f.Kind)), text(row.What), text(row.Ask), whole(f.Block + 1), whole(f.From), whole(f.To),
			figure("", fixed(f.X, 1)), figure("", fixed(f.Y, 1)), figure(row.PerPiece, fixed(f.Seconds, 3)), figure(row.PerOrder, fixed(f.OrderSeconds, 1)), text(string(f.Risk))})
	}
	p.Tables["findings"] = t
	if r, ok := p.Pics["run"].Wide.(*picture.Run); ok {
		p.Pics["findings"] = pic{Wide: &picture.Marked{Name: "Audit of " + run.D.Name, Segs: r.Segs, Marks: marked}}
		heat := report.Penetrations
		values := make([]float32, len(heat.Counts))
		for i, n := range heat.Counts {
			values[i] = float32(n)
		}
		map_ := func(w float64) picture.Picture {
			return &picture.HeatMap{Name: "Needle penetrations", Segs: r.Segs, Grid: picture.Grid{X0: heat.X0, Y0: heat.Y0, Cell: 1, NX: heat.NX, NY: heat.NY, Values: values}, Limit: audit.DefaultLimits().Density, Width: w}
		}
		p.Pics["density"] = pic{map_(640), map_(340)}
	}
	mend := url.Values{}
	for _, name := range []string{"speed", "cap_frame", "metallic", "heavy"} {
		if v := q.Get(name); v != "" {
			mend.Set(name, v)
		}
	}
	mend.Set("machine", machineID)
	data.Mend = template.URL(mend.Encode())
	for i := range data.A.Blocks {
		data.Held = data.Held || i >= len(run.D.Threads) || run.D.Threads[i].Name == "" && run.D.Threads[i].Colour == ""
	}
	p.Title, p.Data = "Audit of "+run.D.Name, data
	return c.show("audit.html", p)
}

// mendForm begins a mend.
func mendForm(c *call) error {
	q, machineID, job := c.runQuery()
	if q.Err != nil {
		return q.Err
	}
	id := c.PathValue("design")
	if _, err := c.Shop.Clock(c.Ctx, id, machineID, job); err != nil {
		return err
	}
	seconds, err := strconv.ParseFloat(c.FormValue("seconds"), 64)
	if err != nil || math.IsNaN(seconds) {
		seconds = 5
	}
	clocked, err := job.Clock()
	if err != nil {
		return err
	}
	keep := c.FormValue("keep_colours") == "1"
	then := url.Values{"machine": {machineID}}
	for _, name := range []string{"speed", "cap_frame", "metallic", "heavy"} {
		if v := q.Get(name); v != "" {
			then.Set(name, v)
		}
	}
	return c.beginPage("mend", "/designs/"+id+"/mended?"+then.Encode(), func(ctx context.Context, s jobs.Step) (any, error) {
		s(0, "looking for a better order")
		return c.Shop.Mend(ctx, id, machineID, act.MendAsked{Job: clocked, KeepColours: keep, Seconds: seconds}, func(f float64) { s(f, "looking for a better order") })
	})
}

// mendedData is a mend: before and after.
type mendedData struct {
	D             *shop.Design
	Machine       string
	M             *act.MendedDesign
	A             *answer.Mend
	Before, After bar
	Top           float64
	Work          string
	Query         template.URL
	Gap           string
	Needles       []string
}

func showMended(c *call) error {
	d, _, err := c.Shop.Designs.Get(c.Ctx, c.PathValue("design"))
	if err != nil {
		return err
	}
	m, shown, err := result[*act.MendedDesign](c)
	if err != nil || shown {
		return err
	}
	a := answer.MendOf(m)
	data := &mendedData{D: d, M: m, A: a, Work: c.URL.Query().Get("work"), Query: template.URL(c.URL.Query().Encode()), Top: max(a.Before.Seconds, a.After.Seconds), Machine: c.URL.Query().Get("machine")}
	if all, _, err := c.choices(); err == nil {
		for _, k := range all {
			if k.ID == data.Machine {
				data.Machine = k.Name
			}
		}
	}
	data.Before = bar{Parts: picture.PartsOf(a.Before.Parts), Max: data.Top}
	data.After = bar{Parts: picture.PartsOf(a.After.Parts), Max: data.Top, Saved: max(a.Saved, 0)}
	if m.Objects > 0 {
		data.Gap = fmt.Sprintf("%s were ordered.", answer.Count(m.Objects, "object", "objects"))
		if m.Search.Optimal {
			data.Gap += " No order is faster: proven."
		} else {
			data.Gap += " The search was stopped in time; a better order may exist."
		}
	}
	for i, n := range a.Needles {
		data.Needles = append(data.Needles, fmt.Sprintf("block %d on needle %d", i+1, n))
	}
	p := &page{Title: "Mended: " + d.Name, Nav: "designs", Data: data, Tables: map[string]*table{}, Pics: map[string]pic{}}
	t := &table{ID: "changes", Caption: "What was done", Full: true, Cols: []col{{Name: "Change", CSV: "kind"}, {Name: "How many", CSV: "count", Num: true}, {Name: "What", CSV: "what"}, {Name: "Saved", CSV: "seconds", Num: true}}}
	for _, x := range a.Changes {
		t.Rows = append(t.Rows, []cell{text(x.Kind), whole(x.Count), text(sentence(x.What)), figure(words.Seconds(x.Seconds).Text(nil), fixed(x.Seconds, 3))})
	}
	p.Tables["changes"] = t
	strips := &picture.Strips{Name: "Before and after the mend: " + d.Name, Rows: []picture.StripRow{{Label: "before", Parts: data.Before.Parts}, {Label: "after", Parts: data.After.Parts, Saved: data.After.Saved}}}
	p.Pics["mend"] = pic{Wide: strips}
	return c.show("mended.html", p)
}

// mendedFile is the mended design as a file.
func mendedFile(c *call) error {
	m, shown, err := result[*act.MendedDesign](c)
	if err != nil || shown {
		return err
	}
	c.Download(m.File, "application/octet-stream", m.Content, "")
	return nil
}

// keepMendedForm adds the mended file to the designs.
func keepMendedForm(c *call) error {
	m, shown, err := result[*act.MendedDesign](c)
	if err != nil || shown {
		return err
	}
	added, err := c.Shop.AddFile(c.Ctx, m.File, m.Content)
	if err != nil {
		return err
	}
	if len(added) == 0 || added[0].Design == nil {
		return shop.Errorf(shop.Invalid, "the mended file could not be added")
	}
	old, _, err := c.Shop.Designs.Get(c.Ctx, c.PathValue("design"))
	if err != nil {
		return err
	}
	desc := shop.Description{Name: old.Name + ", mended", Customer: old.Customer, Note: old.Note, Threads: []book.Thread{}}
	for _, b := range m.Blocks {
		if b < len(old.Threads) {
			desc.Threads = append(desc.Threads, old.Threads[b])
		}
	}
	if added[0].New {
		if _, err := c.Shop.Designs.Describe(c.Ctx, added[0].Design.ID, desc); err != nil {
			return err
		}
	}
	return c.see("/designs/" + added[0].Design.ID)
}
