package shop

import (
	"context"
	"time"

	"needlepace/book"
)

// Store is where a shop is kept. Every change is one transaction: when the
// method returns nil it is on disk and survives the death of the process; when
// it returns an error nothing has changed. What is not there is an *Error with
// code NotFound, what another change got before is Conflict, and a store that
// fails (a full disk, a damaged file) is Storage with the cause. All methods
// may be used from many goroutines.
type Store interface {
	DesignStore
	MachineStore
	RunStore
	SetupStore
	AccountStore
	PhoneStore
	OrderStore
	TrailStore
	FindStore
	VisitStore
	ListStore
	ToldStore
	RoundStore
	// Close waits for what is under way.
	Close() error
}

// FindStore finds things of every kind by their words.
type FindStore interface {
	// Find finds things by the beginnings of their words, without case and accents:
	// the newest first, at most limit of each kind.
	Find(ctx context.Context, search string, limit int) ([]Found, error)
}

// The kinds of thing that a search finds.
const (
	FoundOrder    = "order"
	FoundDesign   = "design"
	FoundCustomer = "customer"
	FoundMachine  = "machine"
)

// Found is one thing that a search found.
type Found struct {
	Kind string `json:"kind" doc:"order, design, customer or machine"`
	Ref  string `json:"ref" doc:"a design's or machine's ID, an order's number, a customer's name"`
	Name string `json:"name" doc:"of an order: its customer"`
}

// DesignStore keeps designs and their files.
type DesignStore interface {
	RevisionStore
	// AddDesign keeps a new design with its file. One that is there already is
	// left as it is (added is false); one that was removed comes back with its
	// old name (added is true).
	AddDesign(ctx context.Context, d *Design, content []byte, t Thumbs) (added bool, err error)
	// Design finds one by its ID, also where it was removed.
	Design(ctx context.Context, id string) (*Design, error)
	// Designs is a page of the list, and how many there are in all.
	Designs(ctx context.Context, q DesignQuery) (page []*Design, total int, err error)
	// DescribeDesign changes what people say about a design, and its drawings
	// where t is not nil.
	DescribeDesign(ctx context.Context, id string, d Description, t *Thumbs) error
	// RemoveDesign takes a design off the list, or puts it back.
	RemoveDesign(ctx context.Context, id string, removed bool) error
	// DesignContent is the file's bytes.
	DesignContent(ctx context.Context, id string) ([]byte, error)
	// DesignThumbs are its small drawings.
	DesignThumbs(ctx context.Context, id string) (Thumbs, error)
	// RunTimes finds what was kept for designs on sheets (by digest) by the
	// build.
	RunTimes(ctx context.Context, build string, designs, sheets []string) ([]RunTime, error)
	// KeepRunTimes keeps run times, over older ones.
	KeepRunTimes(ctx context.Context, t []RunTime) error
	// DropRunTimes forgets what other builds than the given one computed.
	DropRunTimes(ctx context.Context, build string) error
}

// MachineStore keeps machines and the history of their sheets.
type MachineStore interface {
	RevisionStore
	// AddMachine keeps a new machine with the first version of its sheet.
	AddMachine(ctx context.Context, m *Machine, first SheetVersion) error
	// Machine finds one by its ID, also where it was removed. Its Sheet is nil.
	Machine(ctx context.Context, id string) (*Machine, SheetVersion, error)
	// Machines lists those not removed, by name. Their versions are the present ones.
	Machines(ctx context.Context) ([]*Machine, []SheetVersion, error)
	// AddVersion makes v the present version; v.Version must be one more
	// than the present one, else Conflict.
	AddVersion(ctx context.Context, v SheetVersion, name string) error
	// Versions is the history, newest first.
	Versions(ctx context.Context, machineID string) ([]SheetVersion, error)
	// RemoveMachine takes a machine off the list, or puts it back.
	RemoveMachine(ctx context.Context, id string, removed bool) error
}

// RunStore keeps timed runs and timings under way.
type RunStore interface {
	AddRuns(ctx context.Context, runs []Run) error
	Runs(ctx context.Context, machineID string) ([]Run, error) // oldest first
	// ChangeRuns keeps runs as they are now, all or none.
	ChangeRuns(ctx context.Context, runs []Run) error
	DeleteRun(ctx context.Context, id string) error
	// SaveTiming keeps a timing as it is now. One that another owns and that is not
	// taken over is Held. A Rev not above the one kept leaves that as it is and is
	// no error if all is equal, else Conflict.
	SaveTiming(ctx context.Context, t *Timing) error
	Timing(ctx context.Context, id string) (*Timing, error)
	// Timings lists those of a machine ("" for all), newest first, at most limit.
	Timings(ctx context.Context, machineID string, open bool, limit int) ([]*Timing, error)
	// FinishTiming marks a timing as done and adds its runs, in one step.
	// One that is done already is Conflict.
	FinishTiming(ctx context.Context, id string, runs []Run, at time.Time) error
	DeleteTiming(ctx context.Context, id string) error
	// AddHeard keeps what a recording tells of thread breaks, and the runs that were
	// heard in it, all or none. A recording that is kept of the machine already is KeptBefore.
	AddHeard(ctx context.Context, h *book.Heard, runs []Run) error
	Heard(ctx context.Context) ([]book.Heard, error) // oldest first
	// DeleteHeardRuns forgets the runs that were heard in a recording; it still counts for breaks.
	DeleteHeardRuns(ctx context.Context, id string) error
	// DropHeard forgets a recording; the runs that were heard in it stay.
	DropHeard(ctx context.Context, id string) error
}

// SetupStore keeps settings and setups.
type SetupStore interface {
	RevisionStore
	// Setting is the value under a key, nil where there is none.
	Setting(ctx context.Context, key string) ([]byte, error)
	SetSetting(ctx context.Context, key string, value []byte) error
	Setups(ctx context.Context, kind SetupKind) ([]*Setup, error) // by name
	Setup(ctx context.Context, id string) (*Setup, error)
	// SaveSetup keeps a setup; its Version must be one more than the kept one
	// (1 for a new one), else Conflict.
	SaveSetup(ctx context.Context, s *Setup) error
	DeleteSetup(ctx context.Context, id string) error
}

// AccountStore keeps accounts and sessions.
type AccountStore interface {
	AddAccount(ctx context.Context, a *Account) error // a name in use (whatever its case), or one that looks like it, is Conflict
	Accounts(ctx context.Context) ([]*Account, error) // by name
	Account(ctx context.Context, id string) (*Account, error)
	AccountNamed(ctx context.Context, name string) (*Account, error)
	// ChangeAccount changes role and disabled and, where it is not empty, the hash, by which the account
	// stands alone from then on; sessions of a disabled account and of one whose hash changed end. The last
	// enabled owner cannot be changed away: Conflict.
	ChangeAccount(ctx context.Context, a *Account) error
	// SetHash changes an account's hash, while that is was, and whose it is: see Member. Where the hash is
	// another one its sessions end. One whose hash is not was any more is Conflict.
	SetHash(ctx context.Context, accountID, was, hash, person string) error
	// SetLanguage keeps the language that an account has chosen.
	SetLanguage(ctx context.Context, accountID, tag string) error
	// AddSession begins a session while the account may sign in and hash is what its password is held against, else
	// it is NotFound.
	AddSession(ctx context.Context, s Session, hash string) error
	// Session finds a session that has not expired at now, with its account.
	Session(ctx context.Context, digest string, now time.Time) (*Session, *Account, error)
	// Sessions lists those good at now, the last seen first; of everybody where
	// accountID is empty.
	Sessions(ctx context.Context, accountID string, now time.Time) ([]*Session, error)
	SeeSession(ctx context.Context, digest string, now time.Time, address string) error
	EndSession(ctx context.Context, digest string) error
	// EndSessionOf ends a session by its ID; empty accountID: anybody's, else
	// another's is NotFound.
	EndSessionOf(ctx context.Context, accountID, id string) error
	// DropSessions forgets those expired at now.
	DropSessions(ctx context.Context, now time.Time) error
	// KeepDevice keeps that an account signed in with a browser, and forgets those
	// not seen since forget.
	KeepDevice(ctx context.Context, digest, accountID string, now, forget time.Time) error
	KnowsDevice(ctx context.Context, digest, accountID string, after time.Time) (bool, error)
	AddToken(ctx context.Context, t *Token, digest string) error // a name in use is Conflict
	Tokens(ctx context.Context) ([]*Token, error)                // by name
	// TokenOf finds a token that is good at now.
	TokenOf(ctx context.Context, digest string, now time.Time) (*Token, error)
	SeeToken(ctx context.Context, id string, now time.Time) error
	DropToken(ctx context.Context, id string) error
}

// PhoneStore keeps phones. Codes and sessions are digests; empty is none.
type PhoneStore interface {
	// AddPhone keeps a new phone with its code; a name that a phone or an account
	// has (whatever its case) is Conflict.
	AddPhone(ctx context.Context, p *Phone, code string) error
	// ChangePhoneCode keeps another code and p's CodeMade and CodeUntil.
	ChangePhoneCode(ctx context.Context, p *Phone, code string) error
	Phones(ctx context.Context) ([]*Phone, error) // by name
	Phone(ctx context.Context, id string) (*Phone, error)
	// LetPhoneIn finds the phone of a code that is good at now and was made no
	// later than latest, uses the code up and begins a session, all in one step:
	// of two who bring a code one is let in. The other is NotFound.
	LetPhoneIn(ctx context.Context, code, session string, now, latest time.Time) (*Phone, error)
	// PhoneOf finds the phone of a session, seen after a moment.
	PhoneOf(ctx context.Context, session string, after time.Time) (*Phone, error)
	SeePhone(ctx context.Context, id string, now time.Time) error
	DropPhone(ctx context.Context, id string) error
	// DropPhones forgets those that never came in and whose code ended by codes,
	// and those last seen by seen.
	DropPhones(ctx context.Context, codes, seen time.Time) error
}
