package ask

import (
	"bytes"
	"context"
	"encoding/gob"
	"errors"

	"needlepace/words"
)

// Elsewhere has heavy computations made by other programs of this very build.
type Elsewhere interface {
	// Make has parts of a kind made as Help makes them, and gives what came of each, in
	// their order; there is false where nobody is there to make them. tell hears how far
	// it is: of one part what Help told, of several how many are done of how many.
	Make(ctx context.Context, kind string, parts [][]byte, tell func(done, of float64)) (came [][]byte, there bool, err error)
}

// Room is what a computation holds while it is made here and others may have while it
// is made elsewhere: a slot.
type Room interface {
	Leave()
	// Return waits for it; an error says that it is not had again.
	Return(ctx context.Context) error
}

type (
	elsewhereKey struct{}
	roomKey      struct{}
	rooms        struct {
		Room
		outer *rooms
	}
)

// WithElsewhere lets questions have their heavy computations made elsewhere. What cannot
// be made there is made here: the answer is the same.
func WithElsewhere(ctx context.Context, e Elsewhere) context.Context {
	return context.WithValue(ctx, elsewhereKey{}, e)
}

// InRoom says what is held while ctx is computed in.
func InRoom(ctx context.Context, r Room) context.Context {
	outer, _ := ctx.Value(roomKey{}).(*rooms)
	return context.WithValue(ctx, roomKey{}, &rooms{r, outer})
}

// leave leaves all rooms, the inner ones first.
func (r *rooms) leave() {
	for ; r != nil; r = r.outer {
		r.Leave()
	}
}

// back returns to all of them, the outer ones first.
func (r *rooms) back(ctx context.Context) error {
	if r == nil {
		return nil
	}
	if err := r.outer.back(ctx); err != nil {
		return err
	}
	return r.Return(ctx)
}

// heavy is a computation that other programs of this build make as well as this one: its
// question and what comes of it are plain data, and it changes nothing. What is written
// of them is read as it was, to the last digit; a list without any is read as none.
type heavy[Q, A any] struct {
	kind string
	here func(ctx context.Context, q *Q, tell func(done, of float64)) (A, error)
}

// Helper is where those who help find the book of the shop that they help.
type Helper interface{ HindsightFrom }

// make makes it elsewhere where that can be, else here.
func (h heavy[Q, A]) make(ctx context.Context, q *Q, tell func(done, of float64)) (A, error) {
	came, ok, err := h.away(ctx, []Q{*q}, tell)
	if ok || err != nil {
		var a A
		if ok {
			a = came[0]
		}
		return a, err
	}
	return h.here(ctx, q, tell)
}

// ErrStopped is the error of a computation that somebody stopped where it was made.
var ErrStopped error = Errorf("it was stopped where it was made")

// away makes parts elsewhere; ok is false where that cannot be. The error is ctx's, or ErrStopped.
func (h heavy[Q, A]) away(ctx context.Context, parts []Q, tell func(done, of float64)) (came []A, ok bool, err error) {
	e, _ := ctx.Value(elsewhereKey{}).(Elsewhere)
	if e == nil {
		return nil, false, nil
	}
	written := make([][]byte, len(parts))
	for i := range parts {
		if written[i], err = pack(&parts[i]); err != nil {
			return nil, false, nil // it can be made here all the same
		}
	}
	held, _ := ctx.Value(roomKey{}).(*rooms)
	held.leave()
	all, there, failed := e.Make(ctx, h.kind, written, tell)
	if err := held.back(ctx); err != nil {
		return nil, false, err
	}
	if ctx.Err() != nil {
		return nil, false, ctx.Err()
	}
	if errors.Is(failed, ErrStopped) {
		return nil, false, failed
	}
	if !there || failed != nil || len(all) != len(parts) {
		return nil, false, nil
	}
	came = make([]A, len(all))
	for i, b := range all {
		if err := unpack(b, &came[i]); err != nil {
			return nil, false, nil // not as it was written
		}
	}
	return came, true, nil
}

// help makes a part for another program.
func (h heavy[Q, A]) help(ctx context.Context, part []byte, tell func(done, of float64)) ([]byte, error) {
	var q Q
	if err := unpack(part, &q); err != nil {
		return nil, err
	}
	a, err := h.here(ctx, &q, tell)
	if err != nil {
		return nil, err
	}
	return pack(&a)
}

func pack(v any) ([]byte, error) {
	var b bytes.Buffer
	err := gob.NewEncoder(&b).Encode(v)
	return b.Bytes(), err
}

func unpack(b []byte, v any) error { return gob.NewDecoder(bytes.NewReader(b)).Decode(v) }

// helps are the kinds of heavy computations, by their names.
var helps = map[string]func(ctx context.Context, part []byte, tell func(done, of float64)) ([]byte, error){
	shifts.kind: shifts.help, crewed.kind: crewed.help, searched.kind: searched.help, fitted.kind: fitted.help, pieced.kind: pieced.help,
	heard.kind: heard.help, ordered.kind: ordered.help, audited.kind: audited.help, courses.kind: courses.help, weighed.kind: weighed.help,
}

// Help makes a part for another program of this build, which gets an error as its text
// and then makes it itself.
func Help(ctx context.Context, from Helper, kind string, part []byte, tell func(done, of float64)) ([]byte, error) {
	h := helps[kind]
	if kind == fleets {
		h = heavy[HindsightQuestion, *HindsightAnswer]{fleets, func(ctx context.Context, q *HindsightQuestion, tell func(done, of float64)) (*HindsightAnswer, error) {
			if tell != nil {
				q.Progress = func(done float64) { tell(done, 1) }
			}
			return Hindsight(ctx, from, *q)
		}}.help
	}
	if h == nil {
		return nil, Errorf("nobody here knows heavy work called %s", words.Name(kind).Raw())
	}
	return h(ctx, part, tell)
}
