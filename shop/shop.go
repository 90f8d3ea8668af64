package shop

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strings"
	"time"

	"github.com/alexedwards/argon2id"

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
	store    Store
	now      func() time.Time
	build    string
	limits   stitchfile.Limits
	designs  *designCache
	results  *resultCache
	sheets   sheetCache
	key      string // of this process's results: the build, or random
	hashing  *argon2id.Params
	slots    chan struct{} // heavy computations under way
	lines    lineCache     // lines of orders on machines, for plans
	hand     handDesk      // the plan, ready for moves by hand
	reported reportLog     // what the floor reported
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
		key = newID()
	}
	return &Shop{
		key: key, store: store, now: opt.Now, build: opt.Build, limits: opt.Limits,
		designs: newDesignCache(64 << 20),
		results: newResultCache(4096),
		hashing: hashing(opt.HashMemory),
		slots:   newSlots(),
	}
}

// Limits are the limits on files taken in.
func (s *Shop) Limits() stitchfile.Limits { return s.limits }

// newID is a random name for a thing: 20 characters of base 32, 100 bits.
func newID() string { return strings.ToLower(rand.Text()[:20]) }

func digestOf(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Settings are how the shop wants to see things.
func (s *Shop) Settings(ctx context.Context) (Settings, error) {
	set := DefaultSettings
	b, err := s.store.Setting(ctx, "settings")
	if err != nil || b == nil {
		return set, err
	}
	if err := json.Unmarshal(b, &set); err != nil {
		return DefaultSettings, Errorf(Storage, "the kept settings cannot be read: %w", err)
	}
	return set, nil
}

// SaveSettings checks and keeps the settings.
func (s *Shop) SaveSettings(ctx context.Context, set Settings) error {
	set.ShopName = strings.TrimSpace(set.ShopName)
	for _, c := range []struct {
		what, value string
		of          []string
	}{
		{"length", set.Length, []string{"mm", "inch"}},
		{"hours", set.Hours, []string{"24", "12"}},
		{"paper", set.Paper, []string{"A4", "Letter"}},
	} {
		if !oneOf(c.value, c.of) {
			return Errorf(Invalid, "%s is %q; it must be %s", c.what, c.value, strings.Join(c.of, " or "))
		}
	}
	if len(set.Currency) != 3 || strings.ToUpper(set.Currency) != set.Currency || strings.Trim(set.Currency, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		return Errorf(Invalid, "the currency is %q; it must be three capital letters, e.g. EUR", set.Currency)
	}
	if err := checkText("shop name", set.ShopName, 200, false); err != nil {
		return err
	}
	b, err := json.Marshal(set)
	if err != nil {
		return err
	}
	return s.store.SetSetting(ctx, "settings", b)
}

func oneOf(s string, of []string) bool {
	for _, o := range of {
		if s == o {
			return true
		}
	}
	return false
}
