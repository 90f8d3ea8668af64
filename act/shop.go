package act

import (
	"context"
	"runtime"
	"sync/atomic"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/internal/memo"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/shop/accounts"
	"needlepace/shop/changes"
	"needlepace/shop/classes"
	"needlepace/shop/designs"
	"needlepace/shop/lists"
	"needlepace/shop/machines"
	"needlepace/shop/orders"
	"needlepace/shop/phones"
	"needlepace/shop/plans"
	"needlepace/shop/settings"
	"needlepace/shop/setups"
	"needlepace/shop/timings"
	"needlepace/shop/visits"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// Options is what a shop needs from outside.
type Options struct {
	Now   func() time.Time // the time of day; nil is time.Now
	Build string           // names the program that computes; kept run times of another are dropped; "" keeps none
	// HashMemory is what a password's hash costs, in kB of memory; 0 is 64 MB.
	// Less is for tests.
	HashMemory uint32
	// Limits on files taken in. The zero value is DefaultLimits.
	Limits stitchfile.Limits
	// Shared is what the shops of one program share; nil where there is one.
	Shared *Shared
	// Elsewhere makes heavy computations of long work; nil: they are made here.
	Elsewhere ask.Elsewhere
}

// Shared is what shops in one program share: the computer. What is heavy in one waits
// for what is heavy in another, and no shop's strangers make it hash more passwords.
type Shared struct {
	slots   shop.Slots // heavy computations under way
	chores  shop.Slots // those that nobody waits for
	readers atomic.Int32
	waiting *accounts.Waiting
}

// NewShared is for shops that are still to be made.
func NewShared() *Shared {
	return &Shared{slots: shop.NewSlots(), chores: make(shop.Slots, max(1, runtime.GOMAXPROCS(0)-1)), waiting: accounts.NewWaiting()}
}

// DefaultLimits are the limits on files taken in: far more than any design has that was meant to be sewn (a .dst's header
// counts colour stops in three digits), and a zip may hold a whole archive of designs.
var DefaultLimits = stitchfile.Limits{FileBytes: 32 << 20, TotalBytes: 128 << 20, Entries: 5000, Stitches: 5_000_000, Colours: 999, Rests: 10_000}

// Shop is a shop and what can be done with it. It may be used from many
// goroutines.
type Shop struct {
	Designs  *designs.Designs
	Machines *machines.Machines
	Classes  *classes.Classes
	Timings  *timings.Timings
	Orders   *orders.Orders
	Plans    *plans.Plans
	Setups   *setups.Setups
	Settings *settings.Settings
	Accounts *accounts.Accounts
	Phones   *phones.Phones
	Changes  *changes.Changes
	Visits   *visits.Visits
	Lists    *lists.Lists

	store   shop.Store
	now     func() time.Time
	build   string
	results memo.Memo[resultKey, clockedRun]
	key     string // of this process's results: the build, or random
	*Shared
	elsewhere ask.Elsewhere
	memory    ask.Memory
	planned   shop.Kept[[]*book.Order]
	scores    shop.Kept[map[string]*ask.ScoreAnswer]
	told      toldMemory
	trials    lastSaid[ask.TrialAnswer]
	calls     lastSaid[ask.OpenCallAnswer]
	heard     hearings
	kinds     memo.Memo[string, *ask.Kinds] // of the designs asked for last
	copies    atomic.Pointer[Round]         // that this program makes; nil: none
}

// New makes a shop on a store. The caller closes the store.
func New(store shop.Store, opt Options) *Shop {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Limits == (stitchfile.Limits{}) {
		opt.Limits = DefaultLimits
	}
	key := opt.Build
	if key == "" {
		key = shop.NewID()
	}
	if opt.Shared == nil {
		opt.Shared = NewShared()
	}
	s := &Shop{
		Designs:  designs.New(store, opt.Now, opt.Limits, opt.Shared.slots, thumbs),
		Machines: machines.New(store, opt.Now),
		Classes:  classes.New(store, opt.Now),
		Plans:    plans.New(store),
		Settings: settings.New(store),
		Accounts: accounts.New(store, opt.Now, opt.HashMemory, opt.Shared.waiting),
		Phones:   phones.New(store, opt.Now),
		Changes:  changes.New(store),
		Visits:   visits.New(store, opt.Now),
		Lists:    lists.New(store),
		key:      key, store: store, now: opt.Now, build: opt.Build, Shared: opt.Shared, elsewhere: opt.Elsewhere,
	}
	s.Setups = setups.New(store, opt.Now, s.Machines, s.Designs, s.Settings.Zone, s.CheckSetup)
	s.Timings = timings.New(store, opt.Now, s.Setups.Zone, s.foretell)
	s.Orders = orders.New(store, opt.Now, s.Setups.Zone)
	return s
}

// Elsewhere is a context for long work: its heavy computations are made by others where they can be.
func (s *Shop) Elsewhere(ctx context.Context) context.Context {
	if s.elsewhere == nil {
		return ctx
	}
	return ask.WithElsewhere(ctx, s.elsewhere)
}

// hold waits for room for a heavy computation, which it leaves while it is made elsewhere.
func (s *Shop) hold(ctx context.Context) (in context.Context, leave func(), err error) {
	slot, err := s.slots.Hold(ctx)
	return ask.InRoom(ctx, slot), slot.Leave, err
}

// thumbs are the small drawings of a design.
func thumbs(d *stitch.Design) (shop.Thumbs, error) {
	light, dark, err := picture.Thumbs(d)
	return shop.Thumbs{Light: light, Dark: dark}, err
}
