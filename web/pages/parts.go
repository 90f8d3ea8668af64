package pages

import (
	"fmt"
	"html/template"
	"slices"
	"strings"

	"needlepace/web/serve"
)

// hasHeader names the parts of a page that the browser has already: a live
// answer leaves them out.
const hasHeader = "Needlepace-Has"

// part is a piece of a page that is large and often the same, e.g. a picture.
// Its name changes whenever anything in it does.
type part struct {
	Name string
	Same bool // the browser has it: it is sent empty
}

// part is the piece of the page of that kind, made from nothing but what is
// given.
func (c *call) part(kind string, from ...any) part {
	p := part{Name: kind + "-" + serve.ShortDigest(fmt.Appendf(nil, "%q %v", c.Version, from))}
	p.Same = slices.Contains(strings.Fields(c.Header.Get(hasHeader)), p.Name)
	return p
}

// Attr is how the page names a part.
func (p part) Attr() template.HTMLAttr {
	s := `data-part="` + p.Name + `"`
	if p.Same {
		s += " data-same"
	}
	return template.HTMLAttr(s)
}
