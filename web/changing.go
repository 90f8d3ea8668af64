package web

import (
	"net/http"

	"needlepace/shop"
	"needlepace/web/serve"
)

// changing is an answer to what may change something. With the answer the browser
// is told which change it was, so that the next page can offer to take it back.
type changing struct {
	http.ResponseWriter
	site  *serve.Site
	act   *shop.Act
	begun bool
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
	c.site.TellChange(c.ResponseWriter, id)
}

// Unwrap lets http.ResponseController reach the connection.
func (c *changing) Unwrap() http.ResponseWriter { return c.ResponseWriter }
