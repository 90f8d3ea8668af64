package pages

import (
	"context"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"needlepace/shop"
	"needlepace/web/door"
	"needlepace/web/serve"
	"needlepace/words"
)

// phoneRow is a phone in the list of those let in.
type phoneRow struct {
	*shop.Phone
	Says  words.Message
	Mine  bool // who looks may take it out
	Waits bool // its code is good still: it may come in at any moment
}

// phonesData is what the page of all phones shows.
type phonesData struct {
	Can         bool // the program has a door
	Open        bool
	At          []string // addresses of the app behind it
	LeafEnds    time.Time
	Add         *phoneFields
	RoleNames   []option // empty: only operators
	All         []phoneRow
	Fingerprint []string
	Ends        time.Time // of the authority
}

// phoneFields is the form of a phone to let in.
type phoneFields struct {
	Name string `toml:"name"`
	Role string `toml:"role"`
}

func showPhones(c *call) error { return c.phonesPage(&phoneFields{Role: string(shop.Operator)}, nil) }

func (c *call) phonesPage(add *phoneFields, f *form) error {
	w := c.writer()
	data := &phonesData{Can: c.Door != nil, Add: add}
	if c.Door != nil && c.Door.Port() != "" {
		a, err := c.Door.Authority()
		if err != nil {
			return err
		}
		leaf, err := c.Door.Leaf()
		if err != nil {
			return err
		}
		data.Open, data.Fingerprint, data.Ends, data.LeafEnds = true, pairs(a), a.Cert.NotAfter, leaf.NotAfter
		for _, h := range c.Door.Reachable() {
			data.At = append(data.At, c.Door.Origin("https", h))
		}
	}
	if c.May(shop.KeepAccounts) {
		for _, r := range []shop.Role{shop.Operator, shop.Planner, shop.Owner} {
			data.RoleNames = append(data.RoleNames, option{string(r), words.Say("role." + string(r)).Text(w)})
		}
	}
	all, err := c.Shop.Phones.List(c.Ctx)
	if err != nil {
		return err
	}
	for _, p := range all {
		data.All = append(data.All, phoneRow{p, c.phoneSays(p), c.Account().Role.MayLetIn(p.Role), c.Now().Before(p.CodeUntil)})
	}
	return c.show("phones.html", &page{Title: words.Say("phones.phones").Text(w), Nav: "settings", Data: data, Form: f})
}

// pairs is the authority's fingerprint as telephones show it.
func pairs(a *door.Authority) []string { return strings.Fields(a.Fingerprint()) }

// phoneSays is what a phone may do, and when it was here.
func (c *call) phoneSays(p *shop.Phone) words.Message {
	role, in, seen := words.Say("role."+string(p.Role)), words.Moment{Time: p.LetIn}, words.Moment{Time: p.Seen}
	switch {
	case !p.LetIn.IsZero() && p.By != "":
		return words.Say("phones.in-by", words.Args{"role": role, "by": words.Name(p.By), "since": in, "seen": seen})
	case !p.LetIn.IsZero():
		return words.Say("phones.in", words.Args{"role": role, "since": in, "seen": seen})
	case c.Now().Before(p.CodeUntil):
		return words.Say("phones.waits", words.Args{"role": role, "until": words.Moment{Time: p.CodeUntil}})
	}
	return words.Say("phones.waited", words.Args{"role": role})
}

func askPhoneForm(c *call) error {
	var in phoneFields
	return c.sent(&in, func(*form) (string, error) {
		if in.Role == "" { // who may let in operators only is not asked
			in.Role = string(shop.Operator)
		}
		if c.Door == nil || c.Door.Port() == "" {
			return "", shop.Errorf(shop.Conflict, "the door for phones is shut: no phone could come in; open it first")
		}
		p, err := c.Shop.Phones.Ask(c.Ctx, c.Account(), in.Name, shop.Role(in.Role))
		if err != nil {
			return "", err
		}
		return "/settings/phones/" + p.ID, nil
	}, func(f *form) error { return c.phonesPage(&in, f) })
}

func phoneCodeForm(c *call) error {
	p, err := c.Shop.Phones.NewCode(c.Ctx, c.Account(), c.PathValue("phone"))
	if err != nil {
		return err
	}
	return c.see("/settings/phones/" + p.ID)
}

func takePhoneOutForm(c *call) error {
	return c.seeOr("/settings/phones", c.Shop.Phones.TakeOut(c.Ctx, c.Account(), c.PathValue("phone")))
}

// doorForm opens or shuts the door, now and at the next start.
func doorForm(c *call) error {
	var in struct {
		Open bool `toml:"open"`
	}
	if err := c.pressed(&in); err != nil {
		return err
	}
	if c.Door == nil {
		return shop.Errorf(shop.Unsupported, "the program was started without a door for phones")
	}
	if in.Open {
		if err := c.Door.Open(); err != nil {
			return shop.Errorf(shop.Conflict, "the door for phones stays shut: %w", err)
		}
	}
	if err := c.Shop.Settings.KeepDoor(c.Ctx, in.Open); err != nil {
		return err
	}
	if !in.Open {
		// Apart: who asks may have come by the door, and is answered first.
		go func() {
			ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
			defer cancel()
			c.Door.Shut(ctx) //nolint:errcheck // what took longer was cut off
		}()
	}
	return c.see("/settings/phones")
}

// phoneData is what the page of one phone shows: its code, while it waits.
type phoneData struct {
	P                    *shop.Phone
	Says                 words.Message
	In                   bool
	Code                 []string // in groups to be typed; empty: none
	Trust, Enter         string   // addresses to scan; Enter without the code
	TrustCode, EnterCode template.HTML
	Fingerprint          []string
	Ways                 []trustWay
	Others               []string // other places of this computer
}

func showPhone(c *call) error {
	p, err := c.Shop.Phones.Get(c.Ctx, c.Account(), c.PathValue("phone"))
	if err != nil {
		return err
	}
	w := c.writer()
	data := &phoneData{P: p, Says: c.phoneSays(p), In: !p.LetIn.IsZero() && p.CodeUntil.IsZero()}
	if code := c.Shop.Phones.Code(p); code != "" && c.Door != nil && c.Door.Port() != "" {
		all := c.Door.Reachable()
		at := c.asks("at")
		if !slices.Contains(all, at) && len(all) > 0 {
			at = all[0]
		}
		data.Others = slices.DeleteFunc(all, func(h string) bool { return h == at })
		data.Trust, data.Enter = c.Door.Origin("http", at)+"/trust", c.Door.Origin("https", at)+"/phone"
		for part := range slices.Chunk([]byte(code), 4) {
			data.Code = append(data.Code, string(part))
		}
		a, err := c.Door.Authority()
		if err != nil {
			return err
		}
		data.Fingerprint, data.Ways = pairs(a), trustWays
		if data.TrustCode, err = qrSVG(data.Trust, words.Say("phones.trust-code").Text(w)); err != nil {
			return err
		}
		// After #, the code goes into no request for the page and no log.
		if data.EnterCode, err = qrSVG(data.Enter+"#"+code, words.Say("phones.enter-code").Text(w)); err != nil {
			return err
		}
	}
	return c.show("phone.html", &page{Title: p.Name, Nav: "settings", Data: data})
}

// trustData is what a phone shows that does not trust the shop yet.
type trustData struct {
	Ways   []trustWay
	Page   string // where to go on
	Others []*words.Language
}

func showTrust(c *call) error {
	if c.Door == nil || c.Door.Port() == "" {
		return shop.Errorf(shop.NotFound, "the door for phones is shut")
	}
	// Without HTTPS no choice is kept: it is asked for by the address.
	if l, ok := words.LanguageOf(c.asks("language")); ok {
		c.Spoken = l
	}
	data := &trustData{Ways: trustWays, Page: "/phone"}
	for _, l := range words.Languages() {
		if l.Tag.String() != c.writer().Tag() {
			data.Others = append(data.Others, l)
		}
	}
	if !c.Secure { // by the same name, where it can be trusted
		data.Page = c.Door.Origin("https", (&url.URL{Host: c.Host}).Hostname()) + "/phone"
	}
	return c.show("trust.html", &page{Title: words.Say("trust.title").Text(c.writer()), Bare: true, Data: data})
}

// trustFile gives the authority's certificate in the form that a telephone
// takes. It is shown at once, not saved, so that the telephone asks what to do.
func trustFile(c *call) error {
	kinds := map[string]string{"authority.crt": door.CertType, "authority.mobileconfig": door.ProfileType}
	kind := kinds[c.PathValue("file")]
	if kind == "" || c.Door == nil || c.Door.Port() == "" {
		return shop.Errorf(shop.NotFound, "there is no such file, or the door for phones is shut")
	}
	a, err := c.Door.Authority()
	if err != nil {
		return err
	}
	b := a.Cert.Raw
	if kind == door.ProfileType {
		b = a.Profile()
	}
	c.W.Header().Set("Content-Type", kind)
	c.W.Header().Set("Content-Disposition", `inline; filename="needlepace-`+c.PathValue("file")+`"`)
	c.W.Header().Set("Cache-Control", "no-store")
	if _, err := c.W.Write(b); err != nil {
		c.Log.Debug("the client went away", "path", c.URL.Path, "error", err)
	}
	return nil
}

// showLetIn is where a phone brings its code.
func showLetIn(c *call) error {
	if !c.Behind {
		return c.see("/settings/phones")
	}
	return c.letIn("phone_in.html", words.Say("phones.come-in"), words.Say("phones.wrong"))
}

// letInForm lets a phone in (fields code, next). A wrong code comes back to the
// page with ?wrong=1, too many tries with ?wait=SECONDS.
func letInForm(c *call) error {
	if !c.Behind {
		return c.see("/settings/phones")
	}
	c.Body = http.MaxBytesReader(c.W, c.Body, 16<<10)
	next := serve.LocalPath(c.PostForm.Get("next"))
	err := c.Sessions.LetIn(c.Call, c.PostForm.Get("code"))
	switch shop.CodeOf(err) {
	case shop.SignIn:
		return c.see("/phone?wrong=1&next=" + url.QueryEscape(next))
	case shop.Busy:
		return c.see("/phone?wait=" + c.W.Header().Get("Retry-After") + "&next=" + url.QueryEscape(next))
	}
	// What the phone itself is set to is read on it until another language is chosen.
	if l := c.Wished(); err == nil && l != nil && c.Chosen() == nil {
		err = c.Choose(l.Tag.String())
	}
	return c.seeOr(next, err)
}
