package serve

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"mime"
	"net"
	"net/http"
	"net/url"
	"path"
	"strings"

	"needlepace/ask"
	"needlepace/paper"
	"needlepace/shop"
	"needlepace/trial"
	"needlepace/words"
)

// VisitFile answers with a file of the visit in the address.
func (c *Call) VisitFile(name string) error {
	b, err := c.Shop.Visits.Read(c.Ctx, c.PathValue("visit"), name)
	if err != nil {
		return err
	}
	kind := "application/octet-stream" // never shown as a page of ours
	switch ext := strings.ToLower(path.Ext(name)); ext {
	case ".jpg", ".jpeg":
		kind = "image/jpeg"
	case ".png", ".pdf", ".csv", ".xlsx":
		kind = mediaTypes[ext]
	}
	c.Download(path.Base(name), kind, b, shop.Digest(b)[:24])
	return nil
}

// VisitWhole answers with the visit in the address as one file.
func (c *Call) VisitWhole() error {
	v, err := c.Shop.Visits.Get(c.Ctx, c.PathValue("visit"))
	if err != nil {
		return err
	}
	return c.file("visit "+v.Name+".zip", func(out io.Writer) error { return c.Shop.Visits.Export(c.Ctx, v.ID, out) })
}

// ImportVisit takes in a visit that is one file.
func (c *Call) ImportVisit(r io.Reader) (*shop.Visit, error) {
	b, err := io.ReadAll(r)
	if err != nil {
		return nil, Cut(err)
	}
	return c.Shop.ImportVisit(c.Ctx, b)
}

// Cut is an upload that did not come whole, or was too large.
func Cut(err error) error {
	if StatusOf(err) == http.StatusRequestEntityTooLarge {
		return err
	}
	return BadRequest("the file did not come whole: %v", err)
}

// TrialPack answers with the pack for the place that the file in the address names.
func (c *Call) TrialPack() error {
	a, err := c.Shop.Trial(c.Ctx, c.PathValue("visit"), c.PathValue("trial"))
	if err != nil {
		return err
	}
	size, when, err := c.paperFor()
	if err != nil {
		return err
	}
	if err := c.speakAs(a.File.Speaks(), when); err != nil {
		return err
	}
	place, ok := strings.CutSuffix(c.PathValue("file"), ".zip")
	for _, p := range a.Places {
		if ok && p.Name == place {
			return c.file(c.PathValue("trial")+" "+place+".zip", func(out io.Writer) error {
				return paper.TrialPack(out, a, place, c.reached("/visits/"+c.PathValue("visit")+"/trials/"+c.PathValue("trial")), size, c.Shop.Now(), when.W)
			})
		}
	}
	return shop.Saying(shop.NotFound, words.Say("refused.no-pack", words.Args{"file": words.Name(c.PathValue("file"))}))
}

// speakAs writes in the language that the address asks for, else in a trial's own.
func (c *Call) speakAs(own *words.Language, when When) error {
	if own != nil {
		when.W.Language = own
	}
	tag := c.URL.Query().Get("language")
	if tag == "" {
		return nil
	}
	l, ok := words.LanguageOf(tag)
	if !ok {
		return shop.Invalidf("there is no language %q; there are %s", tag, words.Tags())
	}
	when.W.Language = l
	return nil
}

// TrialPaper answers with the paper of a trial: trial.pdf or trial.html.
func (c *Call) TrialPaper() error {
	name := c.PathValue("file")
	if name != "trial.pdf" && name != "trial.html" {
		return shop.Errorf(shop.NotFound, "the paper is trial.pdf and trial.html, not %q", name)
	}
	a, err := c.Shop.Trial(c.Ctx, c.PathValue("visit"), c.PathValue("trial"))
	if err != nil {
		return err
	}
	letters, err := a.Letters(c.Ctx)
	if err != nil {
		return err
	}
	crossings, err := a.Crossings(c.Ctx)
	if err != nil {
		return err
	}
	when, w, err := c.When()
	if err != nil {
		return err
	}
	if err := c.speakAs(a.File.Speaks(), when); err != nil {
		return err
	}
	logo, err := c.Shop.Asked().Logo(c.Ctx)
	if err != nil {
		return err
	}
	doc := paper.TrialOf(a, letters, crossings, logo, c.Version, w.Zone.In(c.Shop.Now()), when.W)
	return c.file(c.PathValue("trial")+path.Ext(name), func(out io.Writer) error {
		if name == "trial.html" {
			return doc.HTML(out)
		}
		return c.pdf(out, doc, nil)
	})
}

// TrialEvidence answers with a zip of what a trial's runs tell of its machines, for class
// pools.
func (c *Call) TrialEvidence() error {
	all, err := c.Shop.TrialEvidence(c.Ctx, c.PathValue("visit"), c.PathValue("trial"))
	if err != nil {
		return err
	}
	var out []string // what is left out
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	files := 0
	for _, e := range all {
		if e.Sheet == nil {
			out = append(out, e.Machine+": "+e.Why)
			continue
		}
		files++
		w, err := z.Create(fmt.Sprintf("%d-%s", files, ask.SharedName(e.Sheet))) // two of a class have one name
		if err == nil {
			_, err = w.Write(e.Sheet.TOML())
		}
		if err != nil {
			return err
		}
	}
	if files == 0 {
		return shop.Saying(shop.Invalid, words.Say("refused.trial-tells-nothing", words.Args{"why": words.Name(strings.Join(out, "; "))}))
	}
	if err := z.Close(); err != nil {
		return err
	}
	return c.file(c.PathValue("trial")+" evidence.zip", func(w io.Writer) error {
		_, err := b.WriteTo(w)
		return err
	})
}

// reached is a page's address as others can open it; empty where only this computer can.
func (c *Call) reached(page string) string {
	at, err := url.Parse(c.Origin())
	if err != nil {
		return ""
	}
	host := at.Hostname()
	if ip := net.ParseIP(host); host == "localhost" || strings.HasSuffix(host, ".localhost") || ip != nil && ip.IsLoopback() {
		return ""
	}
	return at.String() + page
}

// CallPage is where the page of an open call is reached; the zero value: nowhere.
func (c *Call) CallPage(p *shop.CallPage) (at paper.CallPage) {
	if p != nil && p.Open {
		if at.Address = c.reached("/call/" + p.Code); at.Address != "" {
			at.Code = p.Code
		}
	}
	return at
}

// CallPack answers with the pack of the open call in the address.
func (c *Call) CallPack() error {
	p, err := c.Shop.Visits.CallPage(c.Ctx, c.PathValue("visit"), c.PathValue("call"))
	if err != nil {
		return err
	}
	a, err := c.Shop.OpenCall(c.Ctx, c.PathValue("visit"), c.PathValue("call"))
	if err != nil {
		return err
	}
	return c.PackOfCall(a, c.PathValue("call"), p)
}

// PackOfCall answers with the pack of an open call; page is its page, if it has one.
func (c *Call) PackOfCall(a *ask.OpenCallAnswer, name string, page *shop.CallPage) error {
	size, when, err := c.paperFor()
	if err != nil {
		return err
	}
	if err := c.speakAs(nil, when); err != nil {
		return err
	}
	return c.file(name+".zip", func(out io.Writer) error {
		return paper.CallPack(out, a, c.CallPage(page), size, c.Shop.Now(), when.W)
	})
}

// Parts reads the files of a form, those that are named file, and its fields.
func (c *Call) Parts(field func(name, value string)) (files []trial.Given, err error) {
	parts, err := c.MultipartReader()
	if err != nil {
		return nil, BadRequest("the form cannot be read: %v", err)
	}
	for {
		p, err := parts.NextPart()
		if err == io.EOF {
			return files, nil
		}
		if err != nil {
			return nil, Cut(err)
		}
		var b bytes.Buffer
		if _, err := b.ReadFrom(p); err != nil {
			return nil, Cut(err)
		}
		_, params, _ := mime.ParseMediaType(p.Header.Get("Content-Disposition"))
		switch {
		case params["filename"] != "" && p.FormName() == "file":
			files = append(files, trial.Given{Name: shop.CleanFile(params["filename"]), Bytes: b.Bytes()})
		case p.FormName() != "file":
			field(p.FormName(), b.String())
		}
	}
}
