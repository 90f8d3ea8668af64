package web

import (
	"net/http"
	"strconv"

	"needlepace/shop"
	"needlepace/web/serve"
)

// changing is an answer to what may change something. With the answer the browser
// is told which change it was, so that the next page can offer to take it back.
type changing struct {
	http.ResponseWriter
	act    *shop.Act
	secure bool
	begun  bool
}

func (c *changing) WriteHeader(code int) {
	c.tell()
	c.ResponseWriter.WriteHeader(code)
}

func (c *changing) Write(b []byte) (int, error) {
	c.tell()
	return c.ResponseWriter.Write(b)
}

func (c *changing) tell() {
	id := c.act.Change.Load()
	if c.begun || id == 0 {
		return
	}
	c.begun = true
	http.SetCookie(c.ResponseWriter, &http.Cookie{Name: serve.ChangeCookie, Value: strconv.FormatInt(id, 10), Path: "/",
		MaxAge: int(serve.OfferUndo.Seconds()), HttpOnly: true, Secure: c.secure, SameSite: http.SameSiteStrictMode})
}

// Unwrap lets http.ResponseController reach the connection.
func (c *changing) Unwrap() http.ResponseWriter { return c.ResponseWriter }
