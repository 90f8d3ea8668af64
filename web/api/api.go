// Package api is the HTTP API: all that the pages show, as JSON. The table of
// its operations is made of the ...Routes functions; their OpenAPI description
// (openapi.go) is made from the same table.
package api

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"strings"
	"sync"

	"needlepace/book"
	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/web/serve"
)

// route is one entry of the API. The description of the API (openapi.go) is
// made from the same table, so neither has what the other has not.
type route struct {
	name    string     // operation, e.g. "listDesigns"
	at      string     // method and path, "GET /designs": under serve.APIRoot, or from / where it begins with "//"
	right   shop.Right // empty: nobody need be signed in
	summary string
	query   []param
	in      any    // a value of the request body's type; nil: none
	inType  string // media type of the request body where it is not JSON
	out     any    // a value of the answer's type; nil: none (204), or see outType
	outType string // media types of the answer where it is not JSON, comma between
	result  any    // of an operation that begins work, and so answers with jobs.Work: a value of its result's type
	status  int    // of success; 0 is 200, or 204 without an answer
	do      func(*call) (any, error)
}

// param is one parameter in the query.
type param struct {
	name, kind string // kind: string, integer, number, boolean
	about      string
	enum       []string
}

// call is one request being answered.
type call struct{ *serve.Call }

// answered is returned by a route that wrote its answer itself.
type answered struct{}

// address is a route's method and whole path.
func (rt *route) address() (method, path string) {
	method, path, _ = strings.Cut(rt.at, " ")
	if p, ok := strings.CutPrefix(path, "//"); ok {
		return method, "/" + p
	}
	return method, serve.APIRoot + path
}

// with is a handler that wants the request's JSON body.
func with[T any](do func(*call, T) (any, error)) func(*call) (any, error) {
	return func(c *call) (any, error) {
		var in T
		if err := c.read(&in); err != nil {
			return nil, err
		}
		return do(c, in)
	}
}

// ofOrder is a handler about the order in the path.
func ofOrder(do func(*call, *book.Order) (any, error)) func(*call) (any, error) {
	return func(c *call) (any, error) {
		o, err := c.Shop.Orders.Get(c.Ctx, c.PathValue("order"))
		if err != nil {
			return nil, err
		}
		return do(c, o)
	}
}

// onOrder is a handler about the order in the path that wants the body, too.
func onOrder[T any](do func(*call, *book.Order, T) (any, error)) func(*call) (any, error) {
	return with(func(c *call, in T) (any, error) {
		return ofOrder(func(c *call, o *book.Order) (any, error) { return do(c, o, in) })(c)
	})
}

// Routes is the API.
func Routes() []serve.Route {
	var all []serve.Route
	for _, rt := range routes() {
		method, path := rt.address()
		all = append(all, serve.Route{Method: method, Path: path, Right: rt.right, Do: rt.serve, Fail: Fail})
	}
	return all
}

// Fail tells what was wrong in the API's form.
func Fail(c *serve.Call, err error) { c.Fail(c.W, c.Request, err) }

// Description is the API's OpenAPI document.
func Description() []byte {
	described.once.Do(func() { described.doc = describe(routes()) })
	return described.doc
}

var described struct {
	once sync.Once
	doc  []byte
}

// serve answers one request of a route.
func (rt *route) serve(c *serve.Call) error {
	c.W.Header().Set("Cache-Control", "no-store")
	out, err := rt.do(&call{c})
	if err != nil {
		return err
	}
	if _, ok := out.(answered); ok {
		return nil
	}
	if out == nil {
		c.W.WriteHeader(http.StatusNoContent)
		return nil
	}
	status := rt.status
	if st, ok := out.(interface{ httpStatus() int }); ok {
		status = st.httpStatus()
	}
	if status == 0 {
		status = http.StatusOK
	}
	c.JSON(c.W, c.Request, status, out)
	return nil
}

// bytes answers with bytes under an ETag; see serve.Call.
func (c *call) bytes(mediaType string, b []byte, tag string) (any, error) {
	c.Bytes(mediaType, b, tag)
	return answered{}, nil
}

// download is bytes that the browser saves under a name.
func (c *call) download(name, mediaType string, b []byte, tag string) (any, error) {
	c.Download(name, mediaType, b, tag)
	return answered{}, nil
}

// work is what the doing of work gets: a context that ends with the time
// limit, a cancel or the program, and how to tell how far it has come.
type work struct {
	ctx  context.Context
	step jobs.Step
}

// begin starts work for whoever asks.
func (c *call) begin(kind string, do func(*work) (any, error)) (any, error) {
	w, err := c.Jobs.Begin(kind, c.By(), func(ctx context.Context, st jobs.Step) (any, error) {
		return do(&work{ctx, st})
	})
	if err != nil {
		return nil, err
	}
	return w, nil
}

// maxJSON is the largest JSON body: a sheet or a setup is a few kilobytes, a
// thousand runs some hundred.
const maxJSON = 4 << 20

// read decodes a JSON body strictly into v.
func (c *call) read(v any) error {
	if t, _, err := mime.ParseMediaType(c.Header.Get("Content-Type")); err != nil || t != "application/json" {
		return shop.Errorf(shop.Unsupported, "send JSON with Content-Type: application/json")
	}
	b, err := io.ReadAll(io.LimitReader(c.Body, maxJSON+1))
	if err != nil {
		var tooLarge *http.MaxBytesError
		if errors.As(err, &tooLarge) {
			return err
		}
		return serve.BadRequest("the body ended early: %w", err)
	}
	if len(b) > maxJSON {
		return shop.Errorf(shop.TooLarge, "the body has more than %d bytes", maxJSON)
	}
	d := json.NewDecoder(strings.NewReader(string(b)))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return serve.BadRequest("the body is not the JSON that is wanted here: %v", err)
	}
	if d.More() {
		return serve.BadRequest("there is something after the JSON value")
	}
	return nil
}
