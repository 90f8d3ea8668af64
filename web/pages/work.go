package pages

import (
	"context"
	"encoding/json"
	"net/http"
	"strings"
	"time"

	"needlepace/jobs"
	"needlepace/shop"
	"needlepace/words"
)

// ownResult is the result of work that a page asked for. The page reads it in
// Go; the API's own operations give theirs in JSON.
type ownResult struct {
	value  any
	change int64 // what it changed, as it is noted; 0: nothing
}

// MarshalJSON gives nothing away that has no form in the API.
func (ownResult) MarshalJSON() ([]byte, error) { return []byte("{}"), nil }

// beginPage starts long work and sends the browser to where its end is shown: the
// page at then, with the work's ID in ?work=.
func (c *call) beginPage(kind, then string, do func(context.Context, jobs.Step) (any, error)) error {
	w, err := c.Jobs.Begin(kind, c.By(), func(ctx context.Context, s jobs.Step) (any, error) {
		ctx = c.Working(ctx)
		v, err := do(ctx, s)
		if err != nil {
			return nil, err
		}
		if _, ok := v.(jobs.Filed); ok {
			return v, nil // the API serves its files
		}
		return ownResult{v, shop.ActOf(ctx).Change.Load()}, nil
	})
	if err != nil {
		return err
	}
	sep := "?"
	if strings.Contains(then, "?") {
		sep = "&"
	}
	return c.see(then + sep + "work=" + w.ID)
}

// result is the outcome of the work in ?work=. Where it is not done yet the
// page of its progress is shown instead and shown is true; what failed is the
// error.
func result[T any](c *call) (v T, shown bool, err error) {
	id := c.asks("work")
	w, err := c.Work(id, 250*time.Millisecond)
	if err != nil {
		return v, false, err
	}
	switch w.State {
	case jobs.Done:
		if own, ok := w.Result.(ownResult); ok {
			w.Result = own.value
			c.Worked(own.change)
		}
		if v, ok := w.Result.(T); ok {
			return v, false, nil
		}
		return v, false, shop.Errorf(shop.NotFound, "this work was of another kind")
	case jobs.Failed, jobs.Cancel:
		return v, false, &shop.Error{Code: shop.Code(w.Error.Code), Text: w.Error.Text, Say: w.Error.Say}
	}
	if w.State == jobs.Waiting && w.Text == "" {
		w.Text = words.Say("work.waiting").Text(c.writer())
	}
	p := &page{Title: words.Say("work.title").Text(c.writer()), Data: w}
	return v, true, c.show("work.html", p)
}

// showWork tells how far work has come, for the progress on the page.
func showWork(c *call) error {
	w, err := c.Work(c.PathValue("work"), 400*time.Millisecond)
	if err != nil {
		return err
	}
	c.W.Header().Set("Content-Type", "application/json")
	c.W.Header().Set("Cache-Control", "no-store")
	return json.NewEncoder(c.W).Encode(map[string]any{"state": w.State, "progress": w.Progress, "text": w.Text,
		"seconds": w.Seconds})
}

// stopWorkForm cancels work and goes back.
func stopWorkForm(c *call) error {
	if err := c.StopWork(c.PathValue("work")); err != nil {
		return err
	}
	if back := c.FormValue("back"); strings.HasPrefix(back, "/") && !strings.HasPrefix(back, "//") {
		return c.see(back)
	}
	c.W.WriteHeader(http.StatusNoContent)
	return nil
}
