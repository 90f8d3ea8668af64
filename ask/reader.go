package ask

import (
	"context"
	"fmt"
	"sync"
	"time"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/floor"
	"needlepace/internal/memo"
	"needlepace/machine"
	"needlepace/money"
	"needlepace/plan"
	"needlepace/stitch"
)

// Machine is a machine of a shop with its present sheet.
type Machine struct {
	ID, Name string
	Sheet    *machine.Sheet
	Digest   string // of the sheet
}

// LineFrom is what a line of an order on a machine is reckoned from. What it
// gives is shared: nobody may change it.
type LineFrom interface {
	// Workshop says when and how the shop works; given is false where nobody
	// has said it yet and hours are assumed. It is the caller's to change.
	Workshop(ctx context.Context) (w *book.Workshop, given bool, err error)
	// Machines are those on the list, by name.
	Machines(ctx context.Context) ([]Machine, error)
	// Reports are what the floor reported, oldest first.
	Reports(ctx context.Context) ([]book.Report, error)
	// Heard are the recordings of runs that were kept, oldest first.
	Heard(ctx context.Context) ([]book.Heard, error)
	Design(ctx context.Context, id string) (*book.Design, error)
	// Stitches is the design itself.
	Stitches(ctx context.Context, id string) (*stitch.Design, error)
	// Memory remembers what was reckoned before; it is never nil.
	Memory() *Memory
}

// PlanFrom is what a plan is made from.
type PlanFrom interface {
	LineFrom
	// Planned are the orders that are agreed or being sewn.
	Planned(ctx context.Context) ([]*book.Order, error)
	Order(ctx context.Context, id string) (*book.Order, error)
	// LastPlan is the plan that is kept; nil where none was made yet.
	LastPlan(ctx context.Context) (*book.Plan, error)
	// Seen is the state of all this.
	Seen(ctx context.Context) (book.Seen, error)
	// State is another word wherever anything that this gives is another; a design that
	// is new is not.
	State(ctx context.Context) (string, error)
}

// QuoteFrom is what a quote is made from.
type QuoteFrom interface {
	PlanFrom
	// ShopName is what customers know the shop by; empty: the workshop's name.
	ShopName(ctx context.Context) (string, error)
	// KeptQuotes are an order's quotes, newest first.
	KeptQuotes(ctx context.Context, orderID string) ([]*book.Quote, error)
	// Slot waits for room for a heavy computation; free gives it back.
	Slot(ctx context.Context) (free func(), err error)
}

// Memory keeps what was clocked for lines on machines, and the plan that moves
// by hand are asked about, so that a question that comes again is answered at
// once. The zero value is empty. It may be used from many goroutines.
type Memory struct {
	// runs of lines: what changes with the floor's reports (breaks, pace) is not in them.
	runs    recall[*floor.Run]
	clocked recall[clocked] // runs with how sure they are
	timed   recall[*clock.Result]
	knees   recall[float64]      // set speeds past which a run gains little, stitches/min
	made    recall[[]money.Made] // what a piece took in simulated shifts
	figures recall[float64]
	sheets  recall[sheetDigests] // by the digests of sheets
	laws    recall[*LawAnswer]
	moves   recall[*runMoves]
	// promises are remembered for a moment: they look from now.
	promises recall[*PromiseAnswer]
	// problems are all planned orders at a time, which those promises are sought in.
	problems recall[*problem]

	// drawn are the courses' draws, lot by lot.
	drawn plan.Drawn

	since recall[*SinceAnswer]

	mu    sync.Mutex
	rough map[string]roughKnown // what designs show, by their IDs

	hand sync.Mutex // a desk answers one at a time
	dear *DearAnswer
	// dearSeen is what dear was made from.
	dearSeen book.Seen
	seen     book.Seen
	p        *problem
	desk     *plan.Desk
	deskAt   time.Time // as of when
}

// recall remembers answers by what they are of. The zero value is empty; it may be used
// from many goroutines. What it gives is shared: nobody may change it.
type recall[T any] struct{ memo.Memo[string, T] }

// How many answers of a kind are remembered.
const (
	mostLines    = 200_000 // a plan asks for every line on every machine
	mostClocked  = 4000    // a page, for a few
	mostFigures  = 10_000
	mostPromises = 30 // each may tell of every order that it makes late
	mostLaws     = 500
	mostMoves    = 200 // runs stitch by stitch: what is on machines and comes next
	mostSince    = 8
	mostSheets   = 500
)

// get is what was reckoned before, else what reckon gives; so many at most are remembered.
func (k *recall[T]) get(ctx context.Context, most int, key string, reckon func() (T, error)) (T, error) {
	v, err := k.Get(ctx, most, key, reckon)
	if err != nil && ctx.Err() != nil {
		err = stopped(ctx)
	}
	return v, err
}

// clocked is a run with how sure it is.
type clocked struct {
	*clock.Result
	how *clock.Uncertainty // nil: not asked
}

// timedOn is clockOn without how sure it is, which takes three times as long to find.
func timedOn(ctx context.Context, from LineFrom, design string, st *station, job clock.Job) (*clock.Result, error) {
	key := fmt.Sprint(design, " ", st.Digest, " ", job)
	return from.Memory().timed.get(ctx, mostClocked, key, func() (*clock.Result, error) {
		d, err := from.Stitches(ctx, design)
		if err != nil {
			return nil, err
		}
		return clock.Run(d, st.Sheet, job), nil
	})
}

// clockOn is a run of a design on a station, with how sure it is.
func clockOn(ctx context.Context, from LineFrom, design string, st *station, job clock.Job) (clocked, error) {
	key := fmt.Sprint(design, " ", st.Digest, " ", job)
	return from.Memory().clocked.get(ctx, mostClocked, key, func() (c clocked, err error) {
		d, err := from.Stitches(ctx, design)
		if err == nil {
			c.Result, c.how = clock.How(d, st.Sheet, job, clock.DefaultLevel)
		}
		return c, err
	})
}
