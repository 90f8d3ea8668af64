package shop

import (
	"context"
	"sync/atomic"
	"time"
)

// Act is one thing that a person or a program does to the shop, however many
// changes it takes. It goes along with the context; a store notes what was
// changed under it, so that it can be taken back.
type Act struct {
	By    string // name of who does it; empty where there are no accounts
	Right Right  // that it needs; taking it back needs the same
	From  string // where it comes from; see Changed
	At    time.Time
	// Final says that it is not offered to be taken back.
	Final bool
	// Thing is what it adds, where that is not found in what was changed.
	Thing string
	// Verb is what is done to Thing; empty: it is added.
	Verb string
	// Change is the number under which a store noted it; 0: nothing was changed.
	Change atomic.Int64
}

type actKey struct{}

// WithAct is a context under which an act is done.
func WithAct(ctx context.Context, a *Act) context.Context { return context.WithValue(ctx, actKey{}, a) }

type byKey struct{}

// WithName is a context whose acts are a person's, as the one who gives a command says.
func WithName(ctx context.Context, by string) context.Context {
	return context.WithValue(ctx, byKey{}, by)
}

// ActOf is the act of a context. One that nobody named is anew.
func ActOf(ctx context.Context) *Act {
	if a, ok := ctx.Value(actKey{}).(*Act); ok {
		return a
	}
	by, _ := ctx.Value(byKey{}).(string)
	return &Act{By: by, From: FromCommand}
}

// What Changed.What of a visit begins with; behind it stands the path of a file in it, or the name of an open
// call, and in further lines the details of Detailed.
const (
	VisitFilePut    = "put "
	VisitReplaced   = "replaced "
	VisitTakenOut   = "taken-out "
	VisitPageOpened = "page-opened "
	VisitPageShut   = "page-shut "
	VisitDescribed  = "described"
)

type detailsKey struct{}

// Detailed is a context whose acts a store notes with details, a line each, that are not found in what is changed.
func Detailed(ctx context.Context, details string) context.Context {
	return context.WithValue(ctx, detailsKey{}, details)
}

// DetailsOf are the details of a context; empty: none.
func DetailsOf(ctx context.Context) string {
	s, _ := ctx.Value(detailsKey{}).(string)
	return s
}

// Where an act comes from; a page, the API (with a sign-in or with a token) and a phone go
// with the client's address.
const (
	FromPage    = "page"
	FromAPI     = "API"
	FromToken   = "token"
	FromPhone   = "phone"
	FromCommand = "command"
	FromMachine = "machine"
)

// Changed is what an act changed, as a store noted it.
type Changed struct {
	ID    int64     `json:"id"`
	At    time.Time `json:"at"`
	By    string    `json:"by" doc:"empty where nobody signs in, and for a command without --who"`
	From  string    `json:"from,omitempty" doc:"where it came from: page, API, token or phone with the client's address, command, machine; for who keeps the accounts, else left out. Empty too for what is older"`
	Right Right     `json:"right" doc:"that it took; taking it back takes the same"`
	Thing string    `json:"thing" doc:"order, design, machine, sheet, run, timing, hours, floor, mix, visit, class, evidence, settings, logo, plan, columns, list, demo, account, token, phone, door, sign-in"`
	Ref   string    `json:"ref" doc:"ID of the thing"`
	Name  string    `json:"name" doc:"of the thing"`
	Verb  string    `json:"verb" doc:"added, changed, gone (taken away), back (put back), erased (for good); after undone- where that was taken back, after redone- where it was done again"`
	What  string    `json:"what" doc:"what was done, where the thing has a history of its own; of a visit what was done to which file, as put trials/x/TRIAL.toml, and in further lines what in it is another"`
	// Things is how many things of the kind it changed, at least 1.
	Things   int   `json:"things"`
	Undoable bool  `json:"undoable"` // it can be taken back, if nothing changed since
	Undoes   int64 `json:"undoes" doc:"the change that it took back; 0 for none"`
	UndoneBy int64 `json:"undone_by" doc:"the change that took it back; 0 for none"`
}

// What a Verb begins with where something was taken back, and where that was.
const (
	TakenBack = "undone-"
	DoneAgain = "redone-"
)

// May reports whether it may still be taken back by a role.
func (c *Changed) May(r Role) bool { return c.Undoable && c.UndoneBy == 0 && r.Has(c.Right) }

// Own reports whether nobody but who made the change may take it back: a list is one
// account's.
func (c *Changed) Own() bool { return c.Thing == "list" }

// ChangeQuery asks for a page of what was changed, newest first.
type ChangeQuery struct {
	Rights     []Right // only what took one of them; none: all
	Thing, Ref string  // only of a thing, where they are given
	Offset     int
	Before     int64 // only what has a lower ID; 0: all
	Limit      int   // 1…500
}

// TrailStore keeps what was changed. It is part of Store.
type TrailStore interface {
	// Changes is a page of what was changed, newest first, and how many there are
	// in all. At most KeptHistory stay.
	Changes(ctx context.Context, q ChangeQuery) (page []*Changed, total int, err error)
	// Change finds one.
	Change(ctx context.Context, id int64) (*Changed, error)
	// Undo takes a change back: all of it is as it was before, under new versions.
	// It is a change itself, of the context's act, and can be taken back too. Where
	// any of it was changed since it is a Conflict and nothing is done.
	Undo(ctx context.Context, id int64) error
	// TakeSampleOut takes out what acts of the Thing demo have added, and nothing that
	// was changed since or that something else is made from.
	TakeSampleOut(ctx context.Context) (SampleGone, error)
}

// SampleGone is what became of the sample.
type SampleGone struct {
	Things int // taken out: designs, machines, orders, set-ups
	Kept   []SampleKept
}

// SampleKept is one thing of the sample that stays.
type SampleKept struct {
	Kind string // order, design, machine, hours, or the kind of a set-up
	Name string // of the thing; of an order its number
	Why  string
}

// Why something of the sample stays.
const (
	SampleChanged = "changed" // it was changed since
	SampleNeeded  = "needed"  // something that stays is made from it
)

// How many changes can be taken back, and how many are told of: that something was
// changed stays long after what it takes to take it back.
const (
	KeptChanges = 10_000
	KeptHistory = 1_000_000
)
