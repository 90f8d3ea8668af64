package paper

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"

	"needlepace/ask"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/stitchfile"
	"needlepace/trial"
	"needlepace/words"
)

// CallPage is where an open call has its page; the zero value: it has none.
type CallPage struct {
	Address string // whole, https://…/call/CODE
	Code    string // as it is typed
}

// CallPack writes what anybody needs who sews for an open call, as a zip: the stitch file
// in every format that holds all of it, the card, and the sheet that is mailed back.
func CallPack(w io.Writer, a *ask.OpenCallAnswer, page CallPage, size Size, made time.Time, by *words.Writer) error {
	p := newPack(w, made)
	card, err := CallCard(a, page, made, by)
	if err != nil {
		return err
	}
	p.put("card.pdf", func(w io.Writer) error { return card.PDF(w, size) })
	written := 0
	for _, ext := range stitchfile.Writable() {
		name := a.Design + ext
		var b bytes.Buffer
		if _, err := stitchfile.EncodeFor(&b, a.Of.Design, strings.TrimPrefix(ext, "."), stitchfile.Readers{}); err != nil {
			continue // a format that this design does not fit
		}
		if back, err := stitchfile.Decode(b.Bytes(), name); err != nil || trial.Digest(back) != a.Digest {
			continue
		}
		written++
		p.put(name, func(w io.Writer) error { _, err := w.Write(b.Bytes()); return err })
	}
	if written == 0 {
		return fmt.Errorf("design %s cannot be written in any format without sewing otherwise", a.Design)
	}
	s := Sheet{Name: "entry"}
	for _, c := range trial.EntryColumns {
		s.Columns = append(s.Columns, Column{Head: trial.Head(c, by)})
	}
	for range 6 { // for so many runs
		s.Rows = append(s.Rows, []any{a.Call, a.Digest})
	}
	p.put("entry.csv", func(w io.Writer) error { return sheetCSV(w, s) })
	p.put("entry.xlsx", func(w io.Writer) error { return XLSX(w, s) })
	return p.close()
}

// CallCard is what anybody sews by who answers an open call.
func CallCard(a *ask.OpenCallAnswer, page CallPage, made time.Time, by *words.Writer) (*Document, error) {
	f := a.File
	d := &Document{Shop: adviser(&trial.File{Adviser: f.Adviser, Address: f.Address}), Made: made, W: by}
	d.Kind, d.Title = d.Say("callcard.kind"), d.Say("callcard.title", words.Args{"call": words.Name(a.Call)})
	d.Foot = d.Say("trial.foot", words.Args{"trial": words.Name(a.Call), "digest": words.Name(a.Version), "day": words.NewDay(made.Date())})
	d.Add(Heading{Text: d.Title})
	d.unchecked(d.Say("paper.unchecked"))
	if a.Invented {
		d.Add(Paragraph{Text: d.Say("trial.invented"), Quiet: true})
	}
	d.Text(d.Say("callcard.what", words.Args{"adviser": words.Name(f.Adviser)}))
	pic := picture.SewOutOf(a.Of.Design, 3, a.Design, drawingWidth)
	pic.W = by
	d.Add(Drawing{Pic: pic, High: 0.25, Caption: d.Say("trialcard.design", words.Args{"design": words.Name(a.Design),
		"stitches": words.Count(a.Stitches, "stitch"), "digest": words.Name(a.Digest)})})
	d.Add(Heading{Text: d.Say("trialcard.cautions"), Level: 2})
	d.Add(cautionsOf(a.Dangers, by), Heading{Text: d.Say("callcard.on-what"), Level: 2},
		Facts{{d.Say("trialcard.cloth"), f.Cloth}, {d.Say("trialcard.backing"), f.Backing}, {d.Say("trialcard.thread"), f.Thread},
			{d.Say("trialcard.needle"), f.Needle}, {d.Say("trialcard.note"), f.Note}},
		Heading{Text: d.Say("trialcard.how"), Level: 2},
		Bullets{d.Say("callcard.how-waste"), d.Say("trialcard.how-watch"), d.Say("trialcard.how-stood"), d.Say("callcard.how-speed"),
			d.Say("callcard.how-record"), d.Say("callcard.how-photo")},
		Heading{Text: d.Say("callcard.send"), Level: 2})
	if f.Mail != "" {
		d.Text(d.Say("callcard.mail", words.Args{"mail": words.Name(f.Mail)}))
	}
	if page.Address != "" {
		d.Text(d.Say("callcard.page", words.Args{"address": words.Name(page.Address), "code": words.Name(page.Code)}))
		d.Add(Code{Text: page.Address, Caption: page.Address})
	}
	if f.Mail == "" && page.Address == "" {
		d.Text(d.Say("callcard.back"))
	}
	d.Text(d.Say("callcard.private"))
	d.Add(Heading{Text: d.Say("callcard.classes"), Level: 2})
	g := Grid{Columns: []GridColumn{{Head: d.Say("call.class"), Share: 0.28, Bold: true}, {Head: d.Say("callcard.class-is"), Share: 0.72, Wraps: true}}}
	for _, c := range machine.Classes() {
		g.Rows = append(g.Rows, []string{c.Name, ask.ClassSays(c).Text(d.W)})
	}
	d.Add(g, Blanks{d.Say("call.class"), d.Say("call.rated"), d.Say("trial.speed"), d.Say("trialcard.time"), d.Say("trialcard.stood")})
	return d, nil
}
