package pages

import (
	"context"
	"html/template"
	"maps"
	"net/url"
	"slices"
	"strconv"

	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/stitchfile"
	"needlepace/web/serve"
	"needlepace/words"
)

// auditData is a design's audit beside its run.
type auditData struct {
	*designData
	Audit     *ask.AuditAnswer
	Findings  []auditRow
	Hoop      [2]string
	Field     [2]string    // of the machine, as it was asked
	OfSheet   [2]string    // the field that the machine's sheet says; empty: it does not
	Mend      template.URL // the query for the mend
	In        *mendFields
	Formats   []option
	Final     []ask.Stop // the operator's: they stay
	Spare     []spareStop
	Letter    template.URL   // the query for the letter
	LetterOf  [][2]string    // the same, for a form
	Others    []*shop.Design // that may be an earlier version
	Languages []option       // of the letter
}

// spareStop is a stop that a mend may take out.
type spareStop struct {
	ask.Stop
	On bool
}

// auditRow is one finding as the page lists and marks it.
type auditRow struct {
	*ask.Finding
	First, Past        int         // revolutions, as the drawing counts
	More               bool        // its mark shows only where it is chosen
	Also               []ask.Place // other places of it
	PerPiece, PerOrder string
	Where              string
}

// mendFields is the form of a mend.
type mendFields struct {
	KeepColours bool    `toml:"keep_colours"`
	KeepStops   bool    `toml:"keep_stops"`
	Release     []int   `toml:"release"` // numbers of stops
	Format      string  `toml:"format"`  // of the new file; empty: the usual
	Seconds     *amount `toml:"seconds"` // of searching at most; nil: the usual
}

func showAudit(c *call) error { return c.auditPage(&mendFields{}, nil) }

// auditPage shows an audit, with the form of a mend that was sent before.
func (c *call) auditPage(in *mendFields, f *form) error {
	p, run, err := c.designRun()
	if err != nil {
		return err
	}
	q, machineID, job := c.runQuery()
	if machineID == "" {
		machineID = run.Ask.Machine
	}
	asked := ask.AuditQuestion{Design: run.D.ID, Machine: machineID, Job: job,
		Pieces: q.Integer("pieces", 1), HoopX: q.Number("hoop_x"), HoopY: q.Number("hoop_y"),
		FieldX: q.Number("field_x"), FieldY: q.Number("field_y")}
	if q.Err != nil {
		return q.Err
	}
	a, err := c.Shop.Audit(c.Ctx, asked)
	if err != nil {
		return err
	}
	data := &auditData{designData: run, Audit: a, Languages: c.languages(false), Hoop: [2]string{q.Get("hoop_x"), q.Get("hoop_y")},
		Field: [2]string{q.Get("field_x"), q.Get("field_y")}, In: in}
	if field := run.A.On.Field; field != (machine.Field{}) {
		data.OfSheet = [2]string{strconv.Itoa(field.Width), strconv.Itoa(field.Height)}
	}
	if in.Seconds == nil {
		in.Seconds = some(amount(ask.DefaultMendSeconds))
	}
	p.Form = f
	w := c.writer()
	for i := range a.Findings {
		f := &a.Findings[i]
		data.Findings = append(data.Findings, auditRow{f, f.FirstRev, f.PastRev, i >= picture.MostMarks, f.Places[min(1, len(f.Places)):],
			f.Cost().Text(w),
			f.OrderCost().Text(w), f.Place().Text(w)})
	}
	p.addTables(w, a.FindingsTable(), a.KindTable())
	p.draw("findings", picture.FindingsOf(a, w), nil)
	p.draw("density", picture.DensityOf(a, w, 640), picture.DensityOf(a, w, 340))
	for _, s := range a.Kept {
		if s.Final {
			data.Final = append(data.Final, s)
		} else {
			data.Spare = append(data.Spare, spareStop{s, slices.Contains(in.Release, s.Number)})
		}
	}
	old, own := words.Name("."+run.D.Format), words.Name("."+ask.MendFormat(run.D.Format))
	usual := words.Say("mend.format-own", words.Args{"format": own})
	if own != old {
		usual = words.Say("mend.format-instead", words.Args{"old": old, "format": own})
	}
	data.Formats = formatOptions(usual.Text(w))
	of := jobValues(q, machineID, letterJob...)
	data.Letter = template.URL(of.Encode())
	for _, name := range slices.Sorted(maps.Keys(of)) {
		for _, v := range of[name] {
			data.LetterOf = append(data.LetterOf, [2]string{name, v})
		}
	}
	if data.Others, err = c.otherVersions(run.D); err != nil {
		return err
	}
	data.Mend = template.URL(jobValues(q, machineID, mendJob...).Encode())
	p.Title, p.Data = "Audit of "+run.D.Name, data
	return c.show("audit.html", p)
}

// formatOptions are the formats of a mended file, first the usual one.
func formatOptions(usual string) []option {
	out := []option{{"", usual}}
	for _, f := range stitchfile.Formats() {
		if f.Writes {
			out = append(out, option{f.Name, "." + f.Name})
		}
	}
	return out
}

// letterJob is what a letter is told of the job and the audit.
var letterJob = append(slices.Clone(mendJob), "pieces", "hoop_x", "hoop_y", "field_x", "field_y")

// mostVersions is how many designs are offered as an earlier version.
const mostVersions = 200

// otherVersions are the designs that may be an earlier version of one: those of its
// customer, newest first, it left out.
func (c *call) otherVersions(of *shop.Design) ([]*shop.Design, error) {
	all, _, err := c.Shop.Designs.List(c.Ctx, shop.DesignQuery{Sort: "added", Customer: of.Customer, Limit: mostVersions})
	return slices.DeleteFunc(all, func(d *shop.Design) bool { return d.ID == of.ID }), err
}

// mendJob is what a mend is told of the job.
var mendJob = []string{"speed", "cap_frame", "metallic", "job", "heavy"}

// jobValues is the query for a machine, with what another one says of the job.
func jobValues(q *serve.Query, machineID string, names ...string) url.Values {
	out := url.Values{"machine": {machineID}}
	for _, name := range names {
		if v := q.Get(name); v != "" {
			out[name] = q.Values[name]
		}
	}
	return out
}

// mendForm begins a mend.
func mendForm(c *call) error {
	q, machineID, job := c.runQuery()
	if q.Err != nil {
		return q.Err
	}
	id := c.PathValue("design")
	var in mendFields
	return c.sent(&in, func(*form) (string, error) {
		asked := ask.MendQuestion{Design: id, Machine: machineID, Job: job, KeepColours: in.KeepColours,
			KeepStops: in.KeepStops, Release: in.Release, Format: in.Format, Seconds: float64(or(in.Seconds, 0))}
		if err := c.Shop.MendCheck(c.Ctx, asked); err != nil {
			return "", err
		}
		then := "/designs/" + id + "/mended?" + jobValues(q, machineID, mendJob...).Encode()
		return "", c.beginPage("mend", then, func(ctx context.Context, s jobs.Step) (any, error) {
			asked.Progress = func(f, _ float64) { s(f, "looking for a better order") }
			return c.Shop.Mend(ctx, asked)
		})
	}, func(f *form) error {
		c.URL.Path = "/designs/" + id + "/audit"
		return c.auditPage(&in, f)
	})
}

// mended is the mend of the design in the path: work of its own, or one of many.
func (c *call) mended() (a *ask.MendAnswer, many, shown bool, err error) {
	of, shown, err := result[any](c)
	if err != nil || shown {
		return nil, false, shown, err
	}
	switch of := of.(type) {
	case *ask.MendAnswer:
		return of, false, false, nil
	case *ask.MendManyAnswer:
		d, err := of.Find(c.PathValue("design"))
		if err != nil {
			return nil, true, false, err
		}
		return d.Mend, true, false, nil
	}
	return nil, false, false, shop.Errorf(shop.NotFound, "this work was of another kind")
}

// mendedData is a mend: before and after.
type mendedData struct {
	D             *shop.Design
	A             *ask.MendAnswer
	Before, After bar
	Top           float64
	Work          string
	Query, Again  template.URL // of this page, and of the audit from which it can be mended otherwise
	Many          bool         // others were mended with it
	Spare         int          // stops that may go
}

func showMended(c *call) error {
	d, err := c.Shop.Designs.Get(c.Ctx, c.PathValue("design"))
	if err != nil {
		return err
	}
	a, many, shown, err := c.mended()
	if err != nil || shown {
		return err
	}
	again := c.URL.Query()
	again.Del("work")
	data := &mendedData{D: d, A: a, Work: c.asks("work"), Query: template.URL(c.URL.Query().Encode()),
		Again: template.URL(again.Encode()), Many: many, Spare: len(a.Kept.Spare()),
		Top: max(a.Before.Seconds, a.After.Seconds)}
	data.Before = bar{Parts: picture.PartsOf(a.Before.Parts), Max: data.Top, W: c.writer()}
	data.After = bar{Parts: picture.PartsOf(a.After.Parts), Max: data.Top, Saved: max(a.Saved, 0), W: c.writer()}
	w := c.writer()
	p := &page{Title: "Mended: " + d.Name, Nav: "designs", Data: data,
		Pics: map[string]pic{"mend": {Wide: picture.MendOf(a, w)}}}
	if a.Changed {
		before, after := picture.PathsOf(a, w)
		p.draw("before", before, nil)
		p.draw("after", after, nil)
	}
	p.addTables(w, a.ChangesTable(), a.ColoursTable(), a.MachinesTable(), a.KeptTable())
	p.Tables["machines"].cards()
	p.Tables["kept_stops"].cards()
	return c.show("mended.html", p)
}

// mendedFile is the mended design as a file.
func mendedFile(c *call) error {
	m, _, shown, err := c.mended()
	if err != nil || shown {
		return err
	}
	c.Download(m.NewFile, "application/octet-stream", m.Content, "")
	return nil
}

// keepMendedForm adds the mended file to the designs.
func keepMendedForm(c *call) error {
	m, _, shown, err := c.mended()
	if err != nil || shown {
		return err
	}
	kept, err := c.Shop.KeepMended(c.Ctx, c.PathValue("design"), m)
	if err != nil {
		return err
	}
	return c.see("/designs/" + kept.ID)
}
