package ask

import (
	"context"
	"sync"

	"needlepace/book"
	"needlepace/floor"
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
}

// QuoteFrom is what a quote is made from.
type QuoteFrom interface {
	PlanFrom
	// ShopName is what customers know the shop by; empty: the workshop's name.
	ShopName(ctx context.Context) (string, error)
	// QuotesOf is how many quotes of an order are kept.
	QuotesOf(ctx context.Context, orderID string) (int, error)
	// Slot waits for room for a heavy computation; free gives it back.
	Slot(ctx context.Context) (free func(), err error)
}

// Memory keeps what was clocked for lines on machines, and the plan that moves
// by hand are asked about, so that a question that comes again is answered at
// once. The zero value is empty. It may be used from many goroutines.
type Memory struct {
	mu      sync.Mutex
	known   map[string]*floor.Run
	runs    map[string]*LineRun
	made    map[string][]money.Made
	figures map[string]float64    // reckoned before, by what they are of
	since   map[bool]*sinceMemory // by whether the effect was asked for

	rough map[string]roughKnown // what designs show, by their IDs

	hand sync.Mutex // a desk answers one at a time
	dear *DearAnswer
	// dearSeen is what dear was made from.
	dearSeen book.Seen
	seen     book.Seen
	p        *problem
	desk     *plan.Desk
}

// mostLines bounds what is remembered of lines; beyond it all is forgotten and
// reckoned anew.
const mostLines = 200_000

// run is a run that was clocked before, nil where it was not. What changes with
// the floor's reports (breaks, pace) is not in it.
func (m *Memory) run(key string) *floor.Run {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.known[key]
}

func (m *Memory) keepRun(key string, r *floor.Run) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.known == nil || len(m.known) >= mostLines {
		m.known = map[string]*floor.Run{}
	}
	m.known[key] = r
}

// mostMade bounds what is remembered of simulated shifts.
const mostMade = 10_000

// madeOf is what a piece took in a shift that was simulated before, nil where none was.
func (m *Memory) madeOf(key string) []money.Made {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.made[key]
}

func (m *Memory) keepMade(key string, made []money.Made) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.made == nil || len(m.made) >= mostMade {
		m.made = map[string][]money.Made{}
	}
	m.made[key] = made
}

// figure is a figure that was reckoned before, by what it is of.
func (m *Memory) figure(key string) (v float64, known bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	v, known = m.figures[key]
	return v, known
}

func (m *Memory) keepFigure(key string, v float64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.figures == nil || len(m.figures) >= mostMade {
		m.figures = map[string]float64{}
	}
	m.figures[key] = v
}
