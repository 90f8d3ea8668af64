package shop

import (
	"time"

	"needlepace/ask"
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
}

// DefaultLimits are the limits on files taken in: 32 MB is a design of ten
// million stitches, and a zip may hold a whole archive of designs.
var DefaultLimits = stitchfile.Limits{FileBytes: 32 << 20, TotalBytes: 128 << 20, Entries: 5000}

// Shop is a shop and what can be done with it. It may be used from many
// goroutines.
type Shop struct {
	*designThings
	*machineThings
	*timingThings
	*accountThings
	*settingThings
	*setupThings
	*orderThings
	*planThings
	store   Store
	now     func() time.Time
	build   string
	results *resultCache
	key     string // of this process's results: the build, or random
	slots   Slots  // heavy computations under way
	memory  ask.Memory
}

// New makes a shop on a store. The caller closes the store.
func New(store Store, opt Options) *Shop {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	if opt.Limits == (stitchfile.Limits{}) {
		opt.Limits = DefaultLimits
	}
	key := opt.Build
	if key == "" {
		key = NewID()
	}
	slots := NewSlots()
	designs := newDesignThings(store, opt.Now, opt.Limits, slots, draw)
	machines := newMachineThings(store, opt.Now)
	s := &Shop{
		designThings:  designs,
		machineThings: machines,
		timingThings:  newTimingThings(store, opt.Now),
		accountThings: newAccountThings(store, opt.Now, opt.HashMemory, slots),
		settingThings: newSettingThings(store),
		planThings:    newPlanThings(store),
		key:           key, store: store, now: opt.Now, build: opt.Build,
		results: newResultCache(4096),
		slots:   slots,
	}
	names := struct {
		*machineThings
		*designThings
	}{machines, designs}
	s.setupThings = newSetupThings(store, opt.Now, names, s.CheckSetup)
	s.orderThings = newOrderThings(store, opt.Now, s.Zone)
	return s
}
