package serve

import (
	"net/http"
	"strings"

	"golang.org/x/text/language"

	"needlepace/shop"
	"needlepace/words"
)

// LanguageCookie holds the language that was chosen in a browser.
const LanguageCookie = "needlepace-language"

// languageDays is as long as browsers keep a cookie (RFC 6265bis: 400 days).
const languageDays = 400

// Chosen is the language that who asks has chosen for what operators read: in this
// browser, else with their account; nil where they chose none.
func (c *Call) Chosen() *words.Language {
	tag := ""
	if k, err := c.Cookie(LanguageCookie); err == nil {
		tag = k.Value
	}
	if a := c.Account(); tag == "" && a != nil {
		tag = a.Language
	}
	l, _ := words.LanguageOf(tag)
	return l
}

// Wished is the language that was chosen, or else the one that the browser asks for, of
// those there are: what a stranger reads who has had no occasion to choose. nil: neither.
func (c *Call) Wished() *words.Language {
	if l := c.Chosen(); l != nil {
		return l
	}
	c.W.Header().Add("Vary", "Accept-Language")
	tags, _, err := language.ParseAcceptLanguage(c.Header.Get("Accept-Language"))
	if err != nil {
		return nil
	}
	for _, t := range tags { // the dearest first
		base, _ := t.Base()
		if l, ok := words.LanguageOf(base.String()); ok {
			return l
		}
	}
	return nil
}

// Choose remembers a language: in this browser, and with the account of who is
// signed in. One that there is not is Invalid.
func (c *Call) Choose(tag string) error {
	if _, ok := words.LanguageOf(tag); !ok {
		var all []string
		for _, l := range words.Languages() {
			all = append(all, l.Tag.String())
		}
		return shop.At("language", shop.Invalidf("there is no language %q; there are %s", tag, strings.Join(all, ", ")))
	}
	if a := c.Account(); a != nil && a.Hash != "" /* a person: phones and programs have none */ {
		if err := c.Shop.Accounts.Speak(c.Ctx, a.ID, tag); err != nil {
			return err
		}
	}
	http.SetCookie(c.W, &http.Cookie{Name: LanguageCookie, Value: tag, Path: "/", MaxAge: languageDays * 24 * 60 * 60,
		HttpOnly: true, Secure: c.Secure, SameSite: http.SameSiteLaxMode})
	return nil
}

// speaks is the language of the answer.
func (c *Call) speaks() *words.Language {
	if c.Spoken != nil {
		return c.Spoken
	}
	return c.Language
}
