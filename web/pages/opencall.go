package pages

import (
	"html/template"
	"net/http"
	"net/url"
	"path"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"needlepace/act"
	"needlepace/ask"
	"needlepace/machine"
	"needlepace/paper"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/shop/visits"
	"needlepace/trial"
	"needlepace/words"
)

// callForm is what the form of an open call turns: keys of its file.
type callForm struct {
	Short   string       `toml:"short" own:"1"`
	Base    string       `toml:"base" own:"1"` // digest of the file that it was made from
	Name    string       `toml:"name" says:"name-printed"`
	Adviser string       `toml:"adviser" says:"adviser"`
	Address string       `toml:"address" says:"address"`
	Mail    string       `toml:"mail" says:"mail"`
	Cloth   string       `toml:"cloth" says:"cloth"`
	Backing string       `toml:"backing" says:"backing"`
	Thread  string       `toml:"thread" says:"thread"`
	Needle  string       `toml:"needle" says:"needle"`
	Note    string       `toml:"note" says:"note"`
	Design  []callDesign `toml:"design"`
}

type callDesign struct {
	entryOwn
	Name string `toml:"name" says:"design-short"`
	File string `toml:"file" says:"own-file"`
}

// callPlan is the page of an open call's form.
type callPlan struct {
	Visit  *shop.Visit
	Short  string
	Base   string
	Groups []fieldGroup
}

func showCallPlan(c *call) error {
	v, err := c.Shop.Visits.Get(c.Ctx, c.PathValue("visit"))
	if err != nil {
		return err
	}
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	in := &callForm{Short: c.asks("call"), Adviser: set.ShopName}
	if in.Short != "" {
		b, err := c.Shop.Visits.Read(c.Ctx, v.ID, act.CallFolder(in.Short)+"CALL.toml")
		if err != nil {
			return err
		}
		short := in.Short
		in = &callForm{}
		if err := toml.Unmarshal(b, in); err != nil {
			return shop.Errorf(shop.Storage, "the kept call cannot be read: %w", err)
		}
		in.Short, in.Base = short, shop.Digest(b)[:16]
	}
	return c.callPlanPage(v, in, &form{w: c.writer()})
}

func keepCallForm(c *call) error {
	v, err := c.Shop.Visits.Get(c.Ctx, c.PathValue("visit"))
	if err != nil {
		return err
	}
	var in callForm
	return c.sent(&in, func(*form) (string, error) {
		was, err := c.Shop.Visits.Read(c.Ctx, v.ID, act.CallFolder(in.Short)+"CALL.toml")
		switch {
		case shop.CodeOf(err) == shop.NotFound:
			was = nil
		case err != nil:
			return "", err
		case in.Base != shop.Digest(was)[:16]:
			return "", shop.Saying(shop.Conflict, words.Say("refused.call-there", words.Args{"name": words.Name(in.Short)}))
		}
		b, err := overFile(was, &in)
		if err != nil {
			return "", err
		}
		if _, err = c.Shop.KeepCall(c.Ctx, v.ID, in.Short, c.By(), b, nil); err != nil {
			return "", err
		}
		return "/visits/" + v.ID + "/calls/" + in.Short, nil
	}, func(f *form) error { return c.callPlanPage(v, &in, f) })
}

func (c *call) callPlanPage(v *shop.Visit, in *callForm, f *form) error {
	designs, err := c.visitDesigns(v)
	if err != nil {
		return err
	}
	if len(in.Design) == 0 {
		in.Design = make([]callDesign, 1)
	}
	w := c.writer()
	data := &callPlan{Visit: v, Short: in.Short, Base: in.Base}
	about := []field{}
	if in.Base == "" {
		about = append(about, f.show("short", words.Say("visit.short").Text(w), in.Short))
	}
	data.Groups = []fieldGroup{
		{Title: words.Say("visit.about").Text(w), Rows: []fieldRow{{Fields: append(about, f.fields("", *in, nil)...)}}},
		{Title: words.Say("call.design").Text(w), Rows: entryRows(f, "design", in.Design, choices{"file": designs}, func(callDesign) fieldRow { return fieldRow{} })},
	}
	for i := range data.Groups[1].Rows {
		data.Groups[1].Rows[i].Drop = ""
	}
	return c.show("call_plan.html", &page{Title: words.Say("call.plan-title").Text(w), Nav: "visits", Data: data, Form: f, Told: f.message()})
}

// openCallData is an open call as its page shows it to the adviser.
type openCallData struct {
	Visit   *shop.Visit
	Short   string
	At      string
	A       *ask.OpenCallAnswer
	Refused words.Sentences
	Came    []shop.VisitFile
	Page    *shop.CallPage // nil: never opened
	Reached paper.CallPage
	Code    template.HTML
	Most    int
}

func showCall(c *call) error { return c.openCallPage(nil) }

func (c *call) openCallPage(refused words.Sentences) error {
	v, err := c.Shop.Visits.Get(c.Ctx, c.PathValue("visit"))
	if err != nil {
		return err
	}
	short := c.PathValue("call")
	a, err := c.Shop.OpenCall(c.Ctx, v.ID, short)
	if err != nil {
		return err
	}
	data := &openCallData{Visit: v, Short: short, At: "/visits/" + v.ID + "/calls/" + short, A: a, Refused: refused, Most: visits.DefaultEntries}
	if data.Page, err = c.Shop.Visits.CallPage(c.Ctx, v.ID, short); err != nil {
		return err
	}
	w := c.writer()
	if data.Page != nil {
		data.Most = data.Page.Most
		if data.Reached = c.CallPage(data.Page); data.Reached.Address != "" {
			if data.Code, err = qrSVG(data.Reached.Address, words.Say("call.code").Text(w)); err != nil {
				return err
			}
		}
	}
	files, err := c.Shop.Visits.Files(c.Ctx, v.ID)
	if err != nil {
		return err
	}
	for _, f := range files {
		if strings.HasPrefix(f.Name, act.CallFolder(short)+"entries/") {
			data.Came = append(data.Came, f)
		}
	}
	p := &page{Title: a.Call, Nav: "visits", Data: data}
	expected, err := a.ExpectTable(c.Ctx)
	if err != nil {
		return err
	}
	for _, t := range []*ask.Table{a.ClassTable(), a.EntryTable(), a.ApartTable(), expected} {
		if len(t.Rows) > 0 {
			p.addTables(w, t)
		}
	}
	return c.show("call.html", p)
}

func entriesForm(c *call) error {
	came, err := c.Parts(func(string, string) {})
	if err != nil {
		return err
	}
	refused, err := c.Shop.TakeEntries(c.Ctx, c.PathValue("visit"), c.PathValue("call"), c.By(), came)
	if err != nil {
		return err
	}
	if len(refused) == 0 {
		return c.see("/visits/" + c.PathValue("visit") + "/calls/" + c.PathValue("call") + "#came")
	}
	return c.openCallPage(refused)
}

func openCallForm(c *call) error {
	var in struct {
		Most *count `toml:"most"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	if _, err := c.Shop.OpenCall(c.Ctx, c.PathValue("visit"), c.PathValue("call")); err != nil {
		return err
	}
	most := 0
	if in.Most != nil {
		most = int(*in.Most)
	}
	_, err := c.Shop.Visits.OpenCallPage(c.Ctx, c.PathValue("visit"), c.PathValue("call"), most)
	return c.seeOr("/visits/"+c.PathValue("visit")+"/calls/"+c.PathValue("call")+"#page", err)
}

func shutCallForm(c *call) error {
	return c.seeOr("/visits/"+c.PathValue("visit")+"/calls/"+c.PathValue("call")+"#page",
		c.Shop.Visits.ShutCallPage(c.Ctx, c.PathValue("visit"), c.PathValue("call")))
}

// callEntry is what anybody sends to an open call. What is not among it is not asked for.
type callEntry struct {
	Class  string  `toml:"class"`
	Rated  *amount `toml:"rated"`
	Speed  *amount `toml:"speed"`
	Time   string  `toml:"time"`
	Stood  string  `toml:"stood"`
	Day    string  `toml:"day"`
	Digest string  `toml:"digest"`
}

// answerData is the page of an open call that anybody sees who has its code.
type answerData struct {
	Code    string // empty: it is asked for
	A       *ask.OpenCallAnswer
	In      *callEntry
	Classes []option
	Thanks  bool
	Seen    bool // results are shown
}

// showCalled asks for the code of an open call.
func showCalled(c *call) error {
	if code := c.asks("code"); code != "" {
		return c.see("/call/" + url.PathEscape(code))
	}
	return c.show("called.html", &page{Title: words.Say("call.open").Text(c.writer()), Bare: true, Data: &answerData{}})
}

// called finds the call of the code in the address.
func (c *call) called() (*shop.CallPage, error) {
	p, err := c.Sessions.Called(c.Call, c.PathValue("code"))
	if shop.CodeOf(err) == shop.SignIn { // which would lead to the page where people sign in
		return nil, shop.Saying(shop.NotFound, shop.ErrorOf(err).Say)
	}
	return p, err
}

func showAnswer(c *call) error {
	p, err := c.called()
	if err != nil {
		return err
	}
	return c.answerPage(p, &callEntry{}, &form{w: c.writer()})
}

func (c *call) answerPage(of *shop.CallPage, in *callEntry, f *form) error {
	a, seen, err := c.Shop.CalledSoFar(c.Ctx, of)
	if err != nil {
		return err
	}
	w := c.writer()
	data := &answerData{Code: of.Code, A: a, In: in, Thanks: c.asks("sent") != ""}
	for _, k := range machine.Classes() {
		data.Classes = append(data.Classes, option{k.Name, ask.ClassSays(k).Text(w)})
	}
	p := &page{Title: a.Call, Bare: true, Data: data, Form: f, Told: f.message()}
	wide, narrow := picture.SewOutOf(a.Of.Design, 3, a.Design, 420), picture.SewOutOf(a.Of.Design, 3, a.Design, 330)
	wide.W, narrow.W = w, w
	p.draw("drawing", wide, narrow)
	if t := a.PublicTable(); seen && len(t.Rows) > 0 {
		data.Seen = true
		p.addTables(w, t)
	}
	return c.show("called.html", p)
}

// answerForm keeps an entry. It comes with files, as parts.
func answerForm(c *call) error {
	p, err := c.called()
	if err != nil {
		return err
	}
	back, err := c.Sessions.Sends(c.Call)
	if err != nil {
		return err
	}
	kept := false
	defer func() {
		if !kept {
			back()
		}
	}()
	c.Body = http.MaxBytesReader(c.W, c.Body, act.MostEntry+64<<10)
	var files []trial.Given
	if strings.HasPrefix(c.Header.Get("Content-Type"), "multipart/") {
		typed := url.Values{}
		if files, err = c.Parts(func(name, value string) { typed.Add(name, value) }); err != nil {
			return err
		}
		c.PostForm = typed
	} else {
		c.PostForm.Del("file") // a name without a file
	}
	var in callEntry
	return c.sent(&in, func(*form) (string, error) {
		row := ask.CalledRow{Class: in.Class, Time: strings.TrimSpace(in.Time), Stood: strings.TrimSpace(in.Stood), Day: in.Day, Digest: strings.TrimSpace(in.Digest)}
		if in.Rated != nil && in.Speed != nil {
			row.Rated, row.Speed = float64(*in.Rated), float64(*in.Speed)
		}
		ctx := shop.WithAct(c.Ctx, &shop.Act{By: act.CallEntryBy, Right: shop.KeepVisits, At: c.Shop.Now().UTC()})
		if err := c.Shop.SendEntry(ctx, p, row, files); err != nil {
			return "", err
		}
		kept = true
		return "/call/" + p.Code + "?sent=1", nil
	}, func(f *form) error { return c.answerPage(p, &in, f) })
}

func calledPack(c *call) error {
	p, err := c.called()
	if err != nil {
		return err
	}
	a, _, err := c.Shop.CalledSoFar(c.Ctx, p) // who takes the pack has looked at no entry
	if err != nil {
		return err
	}
	return c.PackOfCall(a, p.Name, p)
}

// visitDesigns are the designs of a visit and of the shop, to choose from.
func (c *call) visitDesigns(v *shop.Visit) ([]option, error) {
	files, err := c.Shop.Visits.Files(c.Ctx, v.ID)
	if err != nil {
		return nil, err
	}
	out := []option{{"", "–"}}
	for _, x := range files {
		if strings.HasPrefix(x.Name, "designs/") {
			out = append(out, option{"../../" + x.Name, words.Say("visit.in-visit", words.Args{"file": words.Name(path.Base(x.Name))}).Text(c.writer())})
		}
	}
	ours, _, err := c.Shop.Designs.List(c.Ctx, shop.DesignQuery{Sort: "name", Limit: 500})
	for _, d := range ours {
		out = append(out, option{act.OfShop + d.ID, d.Name})
	}
	return out, err
}
