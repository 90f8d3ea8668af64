package serve

import (
	"net/http"
	"strconv"
	"time"

	"needlepace/shop"
)

// ChangeCookie names the change that the browser made last.
const ChangeCookie = "needlepace_change"

// OfferUndo is how long a page offers to take a change back.
const OfferUndo = 10 * time.Second

// TellChange tells the browser which change it made, so that the next page can offer to take it back.
func (s *Site) TellChange(w http.ResponseWriter, id int64) {
	http.SetCookie(w, &http.Cookie{Name: ChangeCookie, Value: strconv.FormatInt(id, 10), Path: "/",
		MaxAge: int(OfferUndo.Seconds()), HttpOnly: true, Secure: s.Secure, SameSite: http.SameSiteStrictMode})
}

// Worked says which change work made that whoever asks began: the page of its result, or the one that this leads to,
// offers to take it back. 0: none.
func (c *Call) Worked(change int64) {
	if change == 0 {
		return
	}
	c.worked = change
	c.TellChange(c.W, change)
}

// Made is the change that the browser made just now and that whoever asks may
// take back, and for how long that is still offered; nil for none.
func (c *Call) Made() (made *shop.Changed, left time.Duration) {
	id := c.worked
	if cookie, err := c.Cookie(ChangeCookie); err == nil {
		if last, err := strconv.ParseInt(cookie.Value, 10, 64); err == nil {
			id = max(id, last)
		}
	}
	if id == 0 || c.Account() == nil {
		return nil, 0
	}
	made, err := c.Shop.Changes.Get(c.Context(), c.Account().Role, id)
	if err != nil || made.By != c.By() || !made.May(c.Account().Role) {
		return nil, 0
	}
	left = OfferUndo - c.Now().Sub(made.At)
	if left <= 0 || left > OfferUndo {
		return nil, 0
	}
	return made, left
}

// Undo takes the change in the address back.
func (c *Call) Undo() (*shop.Changed, error) {
	id, err := strconv.ParseInt(c.PathValue("change"), 10, 64)
	if err != nil {
		return nil, shop.Errorf(shop.NotFound, "there is no change %q", c.PathValue("change"))
	}
	return c.Shop.Changes.Undo(c.Ctx, c.Account().Role, id)
}
