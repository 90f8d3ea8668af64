package pages

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"needlepace/shop"
	"needlepace/web/serve"
)

// keeping is how long a page stays as it was written where nothing changes that was read for it.
type keeping struct {
	// still is how long: what it says of the time of day may be as old. It divides an hour's
	// quarters, so that no page is of yesterday.
	still time.Duration
	also  func(*call) (string, error) // what else it is made from; nil: nothing
}

// keeps are the pages that are kept as they were written. All are made from the address, who reads and what is
// read from the shop, which the store notes; a handler that shows anything else calls passes.
var keeps = map[string]keeping{
	"GET /designs":                 {still: aQuarter},
	"GET /designs/{design}":        {still: aQuarter, also: (*call).sameDesigns},
	"GET /machines":                {still: aQuarter},
	"GET /machines/{machine}":      {still: aQuarter, also: (*call).designsToChoose},
	"GET /orders":                  {still: time.Minute},
	"GET /orders/{order}":          {still: time.Minute},
	"GET /orders/{order}/quote":    {still: time.Minute},
	"GET /orders/{order}/runsheet": {still: time.Minute},
	"GET /orders/{order}/record":   {still: time.Minute},
	"GET /plan":                    {still: time.Minute},
	"GET /today":                   {still: time.Second, also: (*call).heardNow},
	"GET /today/wall":              {still: time.Second, also: (*call).heardNow},
}

const (
	aQuarter = 15 * time.Minute
	mostKept = 16 << 20 // bytes, packed
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
	now, err := c.Shop.Revision(c.Ctx)
	if err != nil {
		return err
	}
	for {
		mine := false
		page, err := c.Kept.Get(c.Ctx, mostKept, key, func() (*serve.Written, error) {
			mine = true
			return c.write(e, now)
		})
		switch {
		case err == nil && page.Is(now), mine && errors.Is(err, errPasses) && page != nil:
			page.Write(c.Call)
			return nil
		case err == nil:
			c.Kept.Drop(key, func(is *serve.Written) bool { return is == page })
			continue
		case mine && errors.Is(err, errPasses):
			return nil
		case mine || c.Ctx.Err() != nil:
			return err
		}
		return e.do(c)
	}
}

// write has a page written; errPasses: it is not kept, or was answered otherwise.
func (c *call) write(e *entry, now shop.Revision) (*serve.Written, error) {
	was := c.Ctx
	defer func() { c.Ctx = was }()
	ctx, read := shop.Noting(was)
	c.Ctx, c.keep = ctx, true
	err := e.do(c)
	if err != nil || c.written == nil {
		return nil, cmp.Or(err, errPasses)
	}
	c.Kept.Made.Add(1)
	c.written.At, c.written.Of = now, read()|partsOf(freshOf(c.URL.Path))
	if c.written.Of&shop.Uncounted != 0 {
		err = errPasses
	}
	return c.written, err
}

// keptBy is all that a page is made from besides what is read from the shop; empty: it is of this request alone.
func (c *call) keptBy(e *entry, k *keeping) (string, error) {
	q := c.URL.Query()
	if _, err := c.Cookie(serve.ChangeCookie); err == nil || c.Method != http.MethodGet || c.Account() == nil || q.Has("work") || q.Has("csv") || q.Has("picture") {
		return "", nil
	}
	also := ""
	if k.also != nil {
		var err error
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
		language, who.ID, who.Name, string(who.Role), also, c.Shop.Now().Truncate(k.still).String(),
		c.Now().Truncate(k.still).String()}, "\x00"), nil
}

// sameDesigns finds the other designs that sew what the design in the address does: looked up before the page is made, so
// that it is not read from all that is added.
func (c *call) sameDesigns() (string, error) {
	d, err := c.Shop.Designs.Get(c.Ctx, c.PathValue("design"))
	if err != nil {
		return "", err
	}
	c.same, err = c.Shop.Designs.Same(c.Ctx, d)
	return fmt.Sprint(c.same), err
}

// designsToChoose are the designs that a form offers, looked up before the page is made: where they are many, all that
// is added changes nothing.
func (c *call) designsToChoose() (key string, err error) {
	c.choice, err = c.designChoice()
	return fmt.Sprint(c.choice.None, c.choice.Few), err
}

// heardNow is what machines tell and what is listened to.
func (c *call) heardNow() (string, error) {
	told, err := c.Shop.Told(c.Ctx)
	return fmt.Sprint(told, c.Recordings.Heard()), err
}
