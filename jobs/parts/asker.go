package parts

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"runtime/debug"
	"sync"
	"time"

	"github.com/klauspost/compress/gzip"

	"needlepace/ask"
	"needlepace/jobs"
	"needlepace/shop"
)

// Heavy is the kind of parts that are heavy computations of questions (ask.Elsewhere).
const Heavy = "heavy"

// heavyPart is a part as it is kept.
type heavyPart struct {
	Kind   string `json:"kind"`
	Packed []byte `json:"packed"`
}

// heavyOutput is what came of it.
type heavyOutput struct {
	Packed []byte `json:"packed,omitempty"`
	Failed string `json:"failed,omitempty"` // why it was not made
}

func pack(b []byte) ([]byte, error) {
	var out bytes.Buffer
	z, err := gzip.NewWriterLevel(&out, gzip.BestSpeed)
	if err == nil {
		_, err = z.Write(b)
	}
	if err == nil {
		err = z.Close()
	}
	return out.Bytes(), err
}

func unpack(b []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(z)
}

// DoHeavy does parts of the kind Heavy, of the shop whose book from is. What cannot be made is not tried again: who asked
// makes it itself, and says what is wrong.
func DoHeavy(from ask.Helper) Do {
	return func(ctx context.Context, part json.RawMessage, tell func(done, of float64)) (any, error) {
		return doHeavy(ctx, from, part, tell)
	}
}

func doHeavy(ctx context.Context, from ask.Helper, part json.RawMessage, tell func(done, of float64)) (any, error) {
	var of heavyPart
	if err := json.Unmarshal(part, &of); err != nil {
		return nil, err
	}
	b, err := unpack(of.Packed)
	if err == nil {
		b, err = help(ctx, from, of.Kind, b, tell)
	}
	if ctx.Err() != nil {
		return nil, ctx.Err() // another does it
	}
	var out heavyOutput
	if err == nil {
		out.Packed, err = pack(b)
	}
	if err != nil {
		out = heavyOutput{Failed: err.Error()}
	}
	return out, nil
}

// help is ask.Help, with a panic as its error.
func help(ctx context.Context, from ask.Helper, kind string, part []byte, tell func(done, of float64)) (came []byte, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic in %s: %v\n%s", kind, p, debug.Stack())
		}
	}()
	return ask.Help(ctx, from, kind, part, tell)
}

// Asker has heavy computations of a shop in a database made by those who work for it
// (ask.Elsewhere); where nobody does, it says so. It opens its connections when it is first
// asked. The zero Asker asks nobody.
type Asker struct {
	Address string
	Build   string
	Longest time.Duration // of a part
	Log     *slog.Logger  // nil: nothing is logged
	// Wait, if set, waits for somebody to work where nobody does.
	Wait bool
	// Began, if not nil, hears of work and its parts; Told how it stands.
	Began func(id string, parts int)
	Told  func(jobs.Work)

	mu   sync.Mutex
	open *Parts
	shut bool
}

// Over is an asker by parts that are open already.
func Over(p *Parts) *Asker { return &Asker{open: p} }

// parts opens them.
func (a *Asker) parts(ctx context.Context) (*Parts, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.shut {
		return nil, errors.New("the program ends")
	}
	if a.open == nil {
		p, err := Open(context.WithoutCancel(ctx), a.Address, Options{Build: a.Build, Seldom: true, Log: a.Log})
		if err != nil {
			return nil, err
		}
		a.open = p
	}
	return a.open, nil
}

// Close ends its connections.
func (a *Asker) Close() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.shut = true
	if a.open != nil {
		a.open.Close(context.Background()) //nolint:errcheck // it only asked
		a.open = nil
	}
}

// How often it looks where work stands, for the first while and later, and how often
// whether those who do it live.
const (
	lookSoon  = 20 * time.Millisecond
	lookLater = 250 * time.Millisecond
	liveEvery = time.Second
)

// Make has parts made elsewhere; see ask.Elsewhere. Where all who work die it stops waiting,
// and where ctx ends the parts are stopped. Nothing of them stays in the database.
func (a *Asker) Make(ctx context.Context, kind string, all [][]byte, tell func(done, of float64)) (came [][]byte, there bool, err error) {
	if a == nil || a.open == nil && a.Address == "" {
		return nil, false, nil
	}
	p, err := a.parts(ctx)
	if err != nil {
		return nil, false, a.says(err)
	}
	if there, err := p.Present(ctx); err != nil || !there && !a.Wait {
		return nil, false, a.says(err)
	}
	in := make([]heavyPart, len(all))
	for i, b := range all {
		in[i].Kind = kind
		if in[i].Packed, err = pack(b); err != nil {
			return nil, false, err
		}
	}
	id, err := Begin(ctx, p, Heavy, a.Longest, in)
	if err != nil {
		return nil, false, a.says(err)
	}
	defer func() {
		if e := p.forget(context.WithoutCancel(ctx), id); e != nil {
			a.says(e) //nolint:errcheck // it is logged; River drops it after a week
		}
	}()
	if a.Began != nil {
		a.Began(id, len(all))
	}
	there, err = a.wait(ctx, p, id, tell)
	if err != nil || !there {
		return nil, false, a.says(err)
	}
	outputs, err := p.Outputs(ctx, id)
	for _, o := range outputs {
		var out heavyOutput
		if err = json.Unmarshal(o, &out); err == nil && out.Failed != "" {
			err = errors.New(out.Failed)
		}
		if err != nil {
			return nil, true, a.says(err)
		}
		b, err := unpack(out.Packed)
		if err != nil {
			return nil, true, a.says(err)
		}
		came = append(came, b)
	}
	return came, true, a.says(err)
}

// wait waits until work is done; there is false where all have gone who did it.
func (a *Asker) wait(ctx context.Context, p *Parts, id string, tell func(done, of float64)) (there bool, err error) {
	live, every := time.Now().Add(liveEvery), lookSoon
	for {
		w, told, err := p.look(ctx, id)
		if err != nil {
			return true, err
		}
		if a.Told != nil {
			a.Told(w)
		}
		if tell != nil && told[1] > 0 {
			tell(told[0], told[1])
		}
		switch w.State {
		case jobs.Done:
			return true, nil
		case jobs.Failed:
			return true, errors.New(w.Error.Text)
		case jobs.Cancel:
			return true, ask.ErrStopped
		}
		select {
		case <-time.After(every):
		case <-ctx.Done():
			return true, ctx.Err()
		}
		every = min(every*5/4, lookLater)
		if time.Now().Before(live) {
			continue
		}
		live = time.Now().Add(liveEvery)
		if err := p.Recover(ctx, id); err != nil {
			return true, err
		}
		if there, err := p.Present(ctx); err != nil || !there && !a.Wait {
			return false, err
		}
	}
}

// says logs an error and gives it.
func (a *Asker) says(err error) error {
	if err != nil && a.Log != nil && !errors.Is(err, context.Canceled) {
		a.Log.Warn("heavy work is done here: elsewhere it was not", "error", err)
	}
	return err
}

// forget stops what is not done of work, and takes all of it out of the database.
func (p *Parts) forget(ctx context.Context, id string) error {
	if err := p.Stop(ctx, id); err != nil && shop.CodeOf(err) != shop.NotFound {
		return err
	}
	if _, err := p.pool.Exec(ctx, `DELETE FROM river_job WHERE metadata @> jsonb_build_object('work', $1::text)`, id); err != nil {
		return &shop.Error{Code: shop.Storage, Text: "the work cannot be taken away; River does it after a week", Err: err}
	}
	return nil
}
