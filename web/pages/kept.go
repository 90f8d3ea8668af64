package pages

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"needlepace/web/serve"
)

// keeping is how long a page stays as it was written where nothing of the shop changes.
type keeping struct {
	// still is how long: what it says of the time of day may be as old. It divides an hour's
	// quarters, so that no page is of yesterday.
	still time.Duration
	added bool                        // it shows designs that are new, too
	told  bool                        // it shows what machines tell
	also  func(*call) (string, error) // what else it is made from; nil: nothing
}

// keeps are the pages that are kept as they were written. All are made from the address, the
// shop as Revision counts it and who reads; a handler that shows anything else calls passes.
var keeps = map[string]keeping{
	"GET /designs":                 {still: aQuarter, added: true},
	"GET /designs/{design}":        {still: aQuarter, also: (*call).sameDesigns},
	"GET /machines":                {still: aQuarter},
	"GET /machines/{machine}":      {still: aQuarter, added: true},
	"GET /orders":                  {still: time.Minute},
	"GET /orders/{order}":          {still: time.Minute},
	"GET /orders/{order}/quote":    {still: time.Minute},
	"GET /orders/{order}/runsheet": {still: time.Minute},
	"GET /orders/{order}/record":   {still: time.Minute, told: true},
	"GET /plan":                    {still: time.Minute},
	"GET /today":                   {still: time.Second, added: true, told: true, also: (*call).heardNow},
	"GET /today/wall":              {still: time.Second, added: true, told: true, also: (*call).heardNow},
}

const (
	aQuarter = 15 * time.Minute
	mostKept = 48 << 20 // bytes, packed
)

// errPasses is of a page that is not kept.
var errPasses = errors.New("not kept")

// passes says that the page shows what its key does not have: it is not kept.
func (c *call) passes() { c.keep = false }

// kept answers with the page as it was written before, else as do writes it.
func (c *call) kept(e *entry, k *keeping) error {
	key, err := c.keptBy(e, k)
	if err != nil {
		return err
	}
	if key == "" {
		return e.do(c)
	}
	mine := false
	page, err := c.Kept.Get(c.Ctx, mostKept, key, func() (*serve.Written, error) {
		mine, c.keep = true, true
		err := e.do(c)
		if err == nil && c.written == nil {
			err = errPasses // it was answered otherwise
		}
		return c.written, err
	})
	switch {
	case err == nil:
		page.Write(c.Call)
		return nil
	case mine && errors.Is(err, errPasses):
		return nil
	case mine || c.Ctx.Err() != nil:
		return err
	}
	return e.do(c)
}

// keptBy is all that a page is made from; empty: it is of this request alone.
func (c *call) keptBy(e *entry, k *keeping) (string, error) {
	q := c.URL.Query()
	if _, err := c.Cookie(serve.ChangeCookie); err == nil || c.Method != http.MethodGet || c.Account() == nil || q.Has("work") || q.Has("csv") || q.Has("picture") {
		return "", nil
	}
	r, err := c.Shop.Revision(c.Ctx)
	if err != nil {
		return "", err
	}
	if !k.added {
		r.Added = 0
	}
	if !k.told {
		r.Told = 0
	}
	also := ""
	if k.also != nil {
		if also, err = k.also(c); err != nil {
			return "", err
		}
	}
	who := *c.Account()
	language := ""
	if c.Spoken != nil {
		language = c.Spoken.Tag.String()
	}
	return strings.Join([]string{e.at, c.URL.Path, c.URL.RawQuery, c.Host, c.Origin(), fmt.Sprint(c.Behind, c.Accounts), c.Header.Get(hasHeader),
		language, who.ID, who.Name, string(who.Role), fmt.Sprint(r), also, c.Shop.Now().Truncate(k.still).String(),
		c.Now().Truncate(k.still).String()}, "\x00"), nil
}

// sameDesigns are the other designs that sew what the design in the address does.
func (c *call) sameDesigns() (string, error) {
	d, err := c.Shop.Designs.Get(c.Ctx, c.PathValue("design"))
	if err != nil {
		return "", err
	}
	same, err := c.Shop.Designs.Same(c.Ctx, d)
	return fmt.Sprint(same), err
}

// heardNow is what machines tell and what is listened to.
func (c *call) heardNow() (string, error) {
	told, err := c.Shop.Told(c.Ctx)
	return fmt.Sprint(told, c.Recordings.Heard()), err
}
