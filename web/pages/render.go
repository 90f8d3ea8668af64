package pages

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"needlepace/ask"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

//go:embed templates
var templateFiles embed.FS

// page is what a template shows. Tables and pictures go to files too: a page's
// address with ?csv=ID or ?picture=NAME.svg (.png) gives them.
type page struct {
	Title  string        // of the window
	Nav    string        // which entry of the navigation it belongs to
	Told   *told         // a message on top
	W      *words.Writer // how the reader wants figures and sentences
	Data   any
	Form   *form    // what was sent, where it is to be shown again
	Paper  *onPaper // what it was worked out from, for the printed page; nil: nothing to say
	Tables map[string]*table
	Pics   map[string]pic
	Take   part // the menu of what can be taken away, of a page in parts

	template string // its file's name

	// filled in by show
	Path, Query string
	Account     *shop.Account
	Accounts    bool
	may         func(shop.Right) bool
	ShopName    string
	Demo        bool
	Visits      bool   // the shop advises others
	Roof        string // this shop's name, where there are other shops under one roof
	Version     string
	Bare        bool // without navigation
	now         time.Time
	Undo        *undoBar
	At          string            // the state of the shop that it was made from
	Others      []*words.Language // that the page may be read in, besides its own
	Help        string            // where the help has what the page is about
}

// Sent is the page's form of a name as it was sent; else one without anything
// typed.
func (p *page) Sent(name string) *form {
	if p.Form != nil && p.Form.name == name {
		return p.Form
	}
	return &form{}
}

// Say is a sentence by its key, with the names and values of its arguments in
// turn.
func (p *page) Say(key string, args ...any) (string, error) {
	all := words.Args{}
	for i := 0; i+1 < len(args); i += 2 {
		switch v := args[i+1].(type) {
		case words.Value:
			all[fmt.Sprint(args[i])] = v
		case string:
			all[fmt.Sprint(args[i])] = words.Name(v)
		case int:
			all[fmt.Sprint(args[i])] = words.Whole(v)
		default:
			return "", fmt.Errorf("%s: %v is a %T, which has no unit", key, args[i], v)
		}
	}
	return words.Message{Key: key, Args: all}.Text(p.W), nil
}

// SayLinked is a sentence of which some arguments are links.
func (p *page) SayLinked(key string, args ...any) (template.HTML, error) {
	var links []template.HTML
	for i := range args {
		l, ok := args[i].(link)
		if !ok {
			continue
		}
		// The sentence is escaped as a whole; a link is then put where its mark is.
		args[i] = words.Name(linkMark(len(links)))
		what, ok := l.What.(string)
		if v, is := l.What.(words.Value); is {
			what, ok = v.Text(p.W), true
		}
		if !ok {
			return "", fmt.Errorf("%s: a link to %s says %v, a %T", key, l.To, l.What, l.What)
		}
		links = append(links, template.HTML(fmt.Sprintf(`<a href="%s">%s</a>`,
			template.HTMLEscapeString(l.To), template.HTMLEscapeString(what))))
	}
	s, err := p.Say(key, args...)
	s = template.HTMLEscapeString(s)
	for i, l := range links {
		s = strings.ReplaceAll(s, linkMark(i), string(l))
	}
	return template.HTML(s), err
}

// link is a link within a sentence: a place on this site, and a name or a
// sentence.
type link struct {
	To   string
	What any
}

func linkMark(i int) string { return "\x01" + strconv.Itoa(i) + "\x02" }

// PaperHead is what stands on top of every printed sheet of the page.
func (p *page) PaperHead() string {
	head := p.Title
	if p.ShopName != "" {
		head = p.ShopName + " · " + head
	}
	if p.W == nil {
		return head
	}
	return head + " · " + p.W.Zone.Day(p.now).Text(p.W)
}

// Now is when the page was made.
func (p *page) Now() words.Value { return words.Moment{Time: p.now} }

// Len is a length given in mm.
func (p *page) Len(mm float64) string { return words.MM(mm).Text(p.W) }

// Size is width × height given in mm.
func (p *page) Size(w, h float64) string { return words.Size{W: w, H: h}.Text(p.W) }

// When is a day with the time of day, by the shop's clocks.
func (p *page) When(t time.Time) string { return words.Moment{Time: t}.Text(p.W) }

// Day is the day of an instant, by the shop's calendar.
func (p *page) Day(t time.Time) string { return p.W.Zone.Day(t).Text(p.W) }

// Moment is an instant, as an argument of a sentence.
func (p *page) Moment(t time.Time) words.Value { return words.Moment{Time: t} }

// Unit is the unit of lengths: mm or inch.
func (p *page) Unit() string {
	if p.W.Inch {
		return "inch"
	}
	return "mm"
}

// May reports whether who asks has a right: pages leave out what would be
// refused.
func (p *page) May(right shop.Right) bool { return p.may(right) }

// pic is a picture in the width of a page and of a phone.
type pic struct{ Wide, Narrow picture.Picture }

// draw puts a picture on the page.
func (p *page) draw(name string, wide, narrow picture.Picture) {
	if p.Pics == nil {
		p.Pics = map[string]pic{}
	}
	p.Pics[name] = pic{wide, narrow}
}

// tell puts what happened on top of the page.
func (p *page) tell(lines ...string) { p.Told = &told{Lines: lines} }

// told is a message: what happened, and whether something is wrong.
type told struct {
	Bad   bool
	Lines []string
}

// show answers with a page, or with one of its tables or pictures.
func (c *call) show(name string, p *page) error {
	if id := c.asks("csv"); id != "" {
		t, ok := p.Tables[id]
		if !ok {
			return shop.Errorf(shop.NotFound, "this page has no table %q", id)
		}
		c.W.Header().Set("Content-Type", "text/csv; charset=utf-8")
		c.W.Header().Set("Content-Disposition", serve.SaveAs(p.Title+" "+id, ".csv"))
		return t.writeCSV(c.W)
	}
	if file := c.asks("picture"); file != "" {
		return c.showPicture(p, file, c.asks("theme"))
	}
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return err
	}
	p.At, p.Help = c.at, helpOf(name)
	if c.back != nil {
		p.Form = c.back
	}
	if p.Form != nil && p.Told == nil {
		p.Told = p.Form.message()
	}
	p.W = c.writer()
	p.Path, p.Query = c.URL.Path, c.URL.RawQuery
	p.Account, p.Accounts, p.may = c.Account(), c.Accounts, c.May
	if c.Others != nil {
		p.Roof = c.Others.Name()
	}
	p.ShopName, p.Demo, p.Visits, p.Version, p.now = set.ShopName, set.Demo, set.Visits, c.Version, c.Shop.Now()
	p.Undo = c.offerUndo(p)
	if slices.Contains(spokenPages, name) {
		p.Others = slices.DeleteFunc(slices.Clone(words.Languages()), func(l *words.Language) bool { return l.Tag.String() == p.W.Tag() })
	}
	for _, t := range p.Tables {
		t.hideEmpty()
		if c.Method == http.MethodGet { // else its address is no way back to it
			t.sort(c.URL)
		}
	}
	status := http.StatusOK
	if c.Method == http.MethodPost && p.Told != nil && p.Told.Bad { // a form shown again
		status = http.StatusUnprocessableEntity
	}
	c.render(status, name, p)
	return nil
}

// buffers are what pages are written to, again and again.
var buffers = sync.Pool{New: func() any { return new(bytes.Buffer) }}

func (c *call) render(status int, name string, p *page) {
	p.template = name
	t, err := templates()
	if err == nil {
		b := buffers.Get().(*bytes.Buffer)
		b.Reset()
		defer buffers.Put(b)
		if err = t.ExecuteTemplate(b, "layout.html", p); err == nil {
			body := bytes.ReplaceAll(b.Bytes(), []byte(`"/assets/`), []byte(`"`+c.Assets+`/`))
			body = firm(body)
			if !p.Bare && p.Nav != "help" {
				body = explained(body, p.W)
			}
			sum := sha256.Sum256(body)
			tag := `"` + hex.EncodeToString(sum[:12]) + `"`
			if c.keep && status == http.StatusOK {
				c.written = serve.NewWritten(body, tag)
				return
			}
			h := c.W.Header()
			h.Set("Content-Type", "text/html; charset=utf-8")
			h.Set("Cache-Control", "private, no-cache")
			if c.Accounts { // nothing stays for who sits here next
				h.Set("Cache-Control", "no-store")
			}
			h.Set("ETag", tag)
			if status == http.StatusOK && c.Header.Get("If-None-Match") == tag {
				c.W.WriteHeader(http.StatusNotModified)
				return
			}
			c.W.WriteHeader(status)
			c.W.Write(body) //nolint:errcheck // whoever asked is gone
			return
		}
	}
	c.Log.ErrorContext(c.Context(), "a page could not be written", "page", name, "err", err)
	http.Error(c.W, "This page could not be written; it was logged.", http.StatusInternalServerError)
}

func (c *call) showPicture(p *page, file, theme string) error {
	name, ext := strings.TrimSuffix(file, path.Ext(file)), path.Ext(file)
	one, ok := p.Pics[name]
	if !ok || ext != ".svg" && ext != ".png" {
		return shop.Errorf(shop.NotFound, "this page has no picture %q; names end in .svg or .png", file)
	}
	b, kind, err := serve.Drawn(one.Wide, ext, theme)
	if err != nil {
		return err
	}
	c.W.Header().Set("Content-Disposition", serve.SaveAs(p.Title+" "+name, ext))
	c.W.Header().Set("Content-Type", kind)
	c.W.Write(b)
	return nil
}

// failPage answers with a page that says what was wrong and what to do.
func (c *call) failPage(err error) {
	status := serve.StatusOf(err)
	if status == http.StatusInternalServerError {
		c.Log.ErrorContext(c.Context(), "a page failed", "path", c.URL.Path, "err", err)
	}
	c.W.Header().Del("Content-Disposition")
	set, _ := c.Shop.Settings.Get(c.Context())
	if c.Spoken == nil {
		c.Spoken = c.Chosen()
	}
	p := &page{Title: words.Say("error.title").Text(c.writer()), W: c.writer(), Path: c.URL.Path, Help: helpOf("error.html"),
		Data:     c.failed(err),
		Account:  c.Account(),
		Accounts: c.Accounts, may: c.May, ShopName: set.ShopName, Version: c.Version, now: c.Shop.Now()}
	c.render(status, "error.html", p)
}

// failData says what was wrong.
type failData struct {
	Text    string
	English bool   // Text is, on a page in another language
	Back    string // the page that it was asked from; empty where that is not known
	Then    string // a page that a new plan leads to; empty: none would help
	Kept    string // the ID of the kept list that asks for what cannot be; empty: none does
}

// failed says what was wrong. Where a plan would help it is one press away.
func (c *call) failed(err error) *failData {
	w, said := c.writer(), serve.Saying(err)
	d := &failData{Text: words.Sentence(said.In(w)), English: said.Say.IsZero() && w.Tag() != "en", Back: c.from()}
	if of := strings.TrimPrefix(c.URL.Path, "/"); c.Method == http.MethodGet && (of == shop.ListOfDesigns || of == shop.ListOfOrders) && c.Account() != nil {
		d.Back = c.URL.Path
		if k, err := c.keptLists(of); err == nil && k.Now != nil {
			d.Kept = k.Now.ID
		}
		return d
	}
	if c.planHelps(err) && c.May(shop.MakePlans) {
		q := c.URL.Query()
		q.Del("work")
		d.Then = c.URL.Path + "?" + q.Encode()
	}
	return d
}

// planHelps reports whether what was wrong would not be so with a plan that can be made now.
func (c *call) planHelps(err error) bool {
	if e := shop.ErrorOf(err); e != nil && e.Key == ask.Unplanned {
		o, err := c.Order()
		return err == nil && o.State.Planned()
	}
	if c.Method != http.MethodGet || serve.Saying(err).Say.Key != words.Say("refused.no-plan").Key {
		return false
	}
	n, err := c.readyToPlan()
	return err == nil && n > 0
}

// from is the page of ours that led to this one; empty where none did.
func (c *call) from() string {
	at, err := url.Parse(c.Referer())
	if err != nil || at.Host != c.Host || at.Path == c.URL.Path && c.Method == http.MethodGet {
		return ""
	}
	return serve.LocalPath(at.RequestURI())
}
