package accounts

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"
	"unicode"

	"github.com/alexedwards/argon2id"

	"needlepace/shop"
	"needlepace/words"
)

const (
	sessionTime = 14 * 24 * time.Hour
	// deviceTime is how long a browser is known after the last sign-in in it.
	deviceTime = 400 * 24 * time.Hour
	// seenEvery is how exactly it is kept when a sign-in or a token was last used.
	seenEvery  = time.Minute
	mostTokens = 200
	// tokenTime is how long a token lasts at most.
	tokenTime = 2 * 365 * 24 * time.Hour
)

// Accounts keeps the people who may use the shop, and their sessions.
type Accounts struct {
	store   shop.AccountStore
	now     func() time.Time
	hashing *argon2id.Params
	*Waiting
	fresh sync.Map // tokens to be shown, by ID
	// Joined is what accounts of other shops are one person's by; nil where there is one shop.
	Joined Joined
}

// Joined knows the accounts that are one person's with accounts of other shops.
type Joined interface {
	// Hash is what an account's password is held against; empty: what the shop itself keeps.
	Hash(ctx context.Context, a *shop.Account) (string, error)
	// SetHash keeps another one for all of the person's accounts, but for those that the shops themselves keep; ok is
	// false where the account stands alone.
	SetHash(ctx context.Context, a *shop.Account, hash string) (ok bool, err error)
	// Begun tells of a session, which began by that hash, in a browser with an ID; empty: by a password typed.
	Begun(ctx context.Context, a *shop.Account, s shop.Session, browser string) error
}

// New keeps accounts in a store. memory is what a password's hash costs, in kB;
// 0 is 64 MB. Where several shops are in one program they wait together; nil: this one
// waits alone.
func New(store shop.AccountStore, now func() time.Time, memory uint32, waiting *Waiting) *Accounts {
	if waiting == nil {
		waiting = NewWaiting()
	}
	return &Accounts{store: store, now: now, hashing: hashing(memory), Waiting: waiting}
}

// Add makes an account. The first must be an owner.
func (s *Accounts) Add(ctx context.Context, name, password string, role shop.Role) (*shop.Account, error) {
	name, err := shop.CheckName("account's name", name)
	if err != nil {
		return nil, shop.At("name", err)
	}
	if !role.May(shop.Operator) {
		return nil, shop.At("role", shop.Invalidf("the role is %q; it must be owner, planner or operator", role))
	}
	all, err := s.store.Accounts(ctx)
	if err != nil {
		return nil, err
	}
	if len(all) == 0 && role != shop.Owner {
		return nil, shop.At("role", shop.Invalidf("the first account must be an owner's"))
	}
	hash, err := s.hash(ctx, name, password)
	if err != nil {
		return nil, err
	}
	a := &shop.Account{ID: shop.NewID(), Name: name, Role: role, Hash: hash, Made: s.now().UTC()}
	if err := s.store.AddAccount(ctx, a); err != nil {
		return nil, shop.At("name", err)
	}
	return a, nil
}

func (s *Accounts) hash(ctx context.Context, name, password string) (string, error) {
	if err := CheckPassword(name, password); err != nil {
		return "", err
	}
	free, err := s.known.take(ctx)
	if err != nil {
		return "", err
	}
	defer free()
	return argon2id.CreateHash(password, s.hashing)
}

// List lists the accounts by name.
func (s *Accounts) List(ctx context.Context) ([]*shop.Account, error) {
	return s.store.Accounts(ctx)
}

// Speak keeps the language that somebody has chosen for what operators read.
func (s *Accounts) Speak(ctx context.Context, id, tag string) error {
	return s.store.SetLanguage(ctx, id, tag)
}

// Change changes an account's role, whether it may sign in, and, where
// password is not empty, its password.
func (s *Accounts) Change(ctx context.Context, id string, role shop.Role, disabled bool,
	password string) (*shop.Account, error) {
	a, err := s.store.Account(ctx, id)
	if err != nil {
		return nil, err
	}
	if !role.May(shop.Operator) {
		return nil, shop.At("role", shop.Invalidf("the role is %q; it must be owner, planner or operator", role))
	}
	a.Role, a.Disabled, a.Hash = role, disabled, ""
	if password != "" {
		if a.Hash, err = s.hash(ctx, a.Name, password); err != nil {
			return nil, err
		}
	}
	return a, s.store.ChangeAccount(ctx, a)
}

// decoy is compared with where there is no such account, so that the answer
// takes as long.
func decoy(p *argon2id.Params) string {
	return fmt.Sprintf("$argon2id$v=19$m=%d,t=%d,p=%d$%s$%s", p.Memory, p.Iterations, p.Parallelism,
		strings.Repeat("A", 22), strings.Repeat("A", 43))
}

// Browser is what somebody signs in with.
type Browser struct {
	Address string // of the computer
	Agent   string // what it says of itself
	Device  string // the secret by which it is known; empty: none
}

// SignedIn is a sign-in that was just made. The secrets are for the person's
// browser and are not kept.
type SignedIn struct {
	Account *shop.Account
	Secret  string // of the session
	Lasts   time.Duration
	Device  string // by which the browser is known from now on
}

// Knows reports whether a name's person signed in before with a browser.
func (s *Accounts) Knows(ctx context.Context, name, device string) (bool, error) {
	if device == "" {
		return false, nil
	}
	a, err := s.store.AccountNamed(ctx, strings.TrimSpace(name))
	if shop.CodeOf(err) == shop.NotFound {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	return s.store.KnowsDevice(ctx, shop.Digest([]byte(device)), a.ID, s.now().UTC().Add(-deviceTime))
}

// SignIn checks name and password and begins a session. Wrong name and wrong
// password are one error.
func (s *Accounts) SignIn(ctx context.Context, name, password string, b Browser) (*SignedIn, error) {
	known, err := s.Knows(ctx, name, b.Device)
	if err != nil {
		return nil, err
	}
	a, err := s.check(ctx, name, password, known)
	if err != nil {
		return nil, err
	}
	if !known {
		b.Device = rand.Text() + rand.Text()
	}
	in, err := s.begin(ctx, a, b, sessionTime, "")
	if shop.CodeOf(err) == shop.NotFound { // it is another password since, or may not sign in
		return nil, shop.Saying(shop.SignIn, words.Say("refused.password"))
	}
	return in, err
}

// check finds the account of a name and a password; known says by which line it waits.
func (s *Accounts) check(ctx context.Context, name, password string, known bool) (*shop.Account, error) {
	a, err := s.store.AccountNamed(ctx, strings.TrimSpace(name))
	if err != nil && shop.CodeOf(err) != shop.NotFound {
		return nil, err
	}
	hash := decoy(s.hashing)
	if err == nil {
		if err := s.current(ctx, a); err != nil {
			return nil, err
		}
		hash = a.Hash
	}
	match, cmpErr := s.matches(ctx, known, password, hash)
	if shop.ErrorOf(cmpErr) != nil {
		return nil, cmpErr
	}
	if err != nil || cmpErr != nil || !match || a.Disabled {
		return nil, shop.Saying(shop.SignIn, words.Say("refused.password"))
	}
	return a, nil
}

// current sees to it that an account that is a person's has the hash that holds for all of the person's: it was changed
// where this shop could not be reached, or the shop is put in place from a copy.
func (s *Accounts) current(ctx context.Context, a *shop.Account) error {
	if s.Joined == nil || a.Person == "" {
		return nil
	}
	hash, err := s.Joined.Hash(ctx, a)
	if err != nil || hash == "" || hash == a.Hash {
		return err
	}
	if err := s.store.SetHash(ctx, a.ID, a.Hash, hash, a.Person); err != nil {
		return err
	}
	a.Hash = hash
	return nil
}

// Current gives all accounts that are persons' the hashes that hold for all of theirs; whose is another one is signed
// out.
func (s *Accounts) Current(ctx context.Context) error {
	all, err := s.store.Accounts(ctx)
	for _, a := range all {
		err = errors.Join(err, s.current(ctx, a))
	}
	return err
}

// Get finds an account.
func (s *Accounts) Get(ctx context.Context, id string) (*shop.Account, error) {
	return s.store.Account(ctx, id)
}

// Give keeps the hash of a person's password for an account, and whose it is; empty: nobody's. Where it is another one
// its sessions end.
func (s *Accounts) Give(ctx context.Context, a *shop.Account, hash, person string) error {
	return s.store.SetHash(ctx, a.ID, a.Hash, hash, person)
}

// Check finds the account of a name and a password, without a session. Wrong name and wrong password are one error.
func (s *Accounts) Check(ctx context.Context, name, password string) (*shop.Account, error) {
	return s.check(ctx, name, password, false)
}

// Arrive begins a session for who came by a ticket from another shop.
func (s *Accounts) Arrive(ctx context.Context, t *shop.Ticket, b Browser) (*SignedIn, error) {
	a, err := s.store.Account(ctx, t.Account)
	if err == nil {
		err = s.current(ctx, a)
	}
	if err != nil {
		return nil, err
	}
	if a.Person != t.Person || a.Disabled {
		return nil, shop.Errorf(shop.NotFound, "there is no such account")
	}
	known, err := s.Knows(ctx, a.Name, b.Device)
	if err != nil {
		return nil, err
	}
	if !known {
		b.Device = rand.Text() + rand.Text()
	}
	return s.begin(ctx, a, b, min(sessionTime, t.Ends.Sub(s.now())), t.Browser)
}

// matches holds a password against a hash, when it is its turn.
func (s *Accounts) matches(ctx context.Context, known bool, password, hash string) (bool, error) {
	if len(password) > maxPassword {
		password = password[:maxPassword+1]
	}
	l := s.strangers
	if known {
		l = s.known
	}
	free, err := l.take(ctx)
	if err != nil {
		return false, err
	}
	defer free()
	return argon2id.ComparePasswordAndHash(password, hash)
}

// begin begins a session.
func (s *Accounts) begin(ctx context.Context, a *shop.Account, b Browser, lasts time.Duration, browser string) (*SignedIn, error) {
	in := &SignedIn{Account: a, Secret: rand.Text() + rand.Text(), Device: b.Device} // 260 bits
	now := s.now().UTC()
	if err := s.store.DropSessions(ctx, now); err != nil {
		return nil, err
	}
	if err := s.store.KeepDevice(ctx, shop.Digest([]byte(in.Device)), a.ID, now, now.Add(-deviceTime)); err != nil {
		return nil, err
	}
	in.Lasts = lasts
	ses := shop.Session{ID: shop.NewID(), Digest: shop.Digest([]byte(in.Secret)),
		AccountID: a.ID, Made: now, Expires: now.Add(lasts), Seen: now, Address: b.Address, Agent: agent(b.Agent)}
	if err := s.store.AddSession(ctx, ses, a.Hash); err != nil {
		return nil, err
	}
	if s.Joined != nil && a.Person != "" {
		return in, s.Joined.Begun(ctx, a, ses, browser)
	}
	return in, nil
}

// agent is what a browser says of itself as it is kept.
func agent(s string) string {
	s = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, s)
	if r := []rune(s); len(r) > 200 {
		s = string(r[:200])
	}
	return s
}

// SessionTime is how long a sign-in lasts; DeviceTime how long a browser is known.
func SessionTime() time.Duration { return sessionTime }

// DeviceTime is how long a browser is known after the last sign-in in it.
func DeviceTime() time.Duration { return deviceTime }

// SignedIn finds whose session a secret is, which is used from an address.
func (s *Accounts) SignedIn(ctx context.Context, secret, address string) (*shop.Account, error) {
	digest := shop.Digest([]byte(secret))
	now := s.now().UTC()
	ses, a, err := s.store.Session(ctx, digest, now)
	switch {
	case shop.CodeOf(err) == shop.NotFound:
		return nil, shop.Errorf(shop.SignIn, "sign in first")
	case err != nil:
		return nil, err
	case subtle.ConstantTimeCompare([]byte(ses.Digest), []byte(digest)) != 1 || a.Disabled:
		return nil, shop.Errorf(shop.SignIn, "sign in first")
	}
	if long(now, ses.Seen) || ses.Address != address {
		if err := s.store.SeeSession(ctx, digest, now, address); err != nil && !passing(err) {
			return nil, err
		}
	}
	return a, nil
}

// long reports whether it is to be kept anew that something is used.
func long(now, seen time.Time) bool {
	since := now.Sub(seen)
	return since < 0 || since >= seenEvery
}

// passing are errors by which nobody is kept out: a full disk, a busy store.
func passing(err error) bool {
	code := shop.CodeOf(err)
	return code == shop.Storage || code == shop.Busy
}

// SignOut ends a session.
func (s *Accounts) SignOut(ctx context.Context, secret string) error {
	return s.store.EndSession(ctx, shop.Digest([]byte(secret)))
}

// EndBy ends a session by the digest of its secret.
func (s *Accounts) EndBy(ctx context.Context, digest string) error {
	return s.store.EndSession(ctx, digest)
}

// ChangeOwn gives a person another password, who says the one before; all their
// sessions end, and a new one begins.
func (s *Accounts) ChangeOwn(ctx context.Context, id, before, password string, b Browser) (*SignedIn, error) {
	a, err := s.store.Account(ctx, id)
	if shop.CodeOf(err) == shop.NotFound {
		return nil, shop.Invalidf("only a person has a password: sign in with your name first")
	}
	if err != nil {
		return nil, err
	}
	if err := s.current(ctx, a); err != nil {
		return nil, err
	}
	match, err := s.matches(ctx, true, before, a.Hash)
	if err != nil {
		return nil, err
	}
	if !match {
		return nil, shop.At("before", shop.Errorf(shop.SignIn, "the password until now is another one"))
	}
	if before == password {
		return nil, shop.At("password", shop.Invalidf("this is the password until now; take another one"))
	}
	hash, err := s.hash(ctx, a.Name, password)
	if err != nil {
		return nil, err
	}
	if s.Joined != nil && a.Person != "" {
		ok, err := s.Joined.SetHash(ctx, a, hash) // first: whatever comes then, it holds
		if err != nil {
			return nil, err
		}
		if !ok {
			a.Person = ""
		}
	} else {
		a.Person = "" // the others are not reached from here: the account has a password of its own from now on
	}
	if err := s.store.SetHash(ctx, a.ID, a.Hash, hash, a.Person); err != nil {
		return nil, err
	}
	a.Hash = hash
	if b.Device == "" {
		b.Device = rand.Text() + rand.Text()
	}
	return s.begin(ctx, a, b, sessionTime, "")
}

// SignIn is one place where somebody is signed in.
type SignIn struct {
	ID      string    `json:"id"`
	Account string    `json:"account" doc:"whose it is: the account's ID"`
	Name    string    `json:"name" doc:"and name"`
	Made    time.Time `json:"made"`
	Seen    time.Time `json:"seen" doc:"last used, to the minute"`
	Expires time.Time `json:"expires"`
	Address string    `json:"address" doc:"from where it was last used"`
	Agent   string    `json:"agent" doc:"what the browser says of itself"`
	This    bool      `json:"this" doc:"who asks came in by it"`
}

// SignIns lists where people are signed in, the last seen first: accountID's, or
// everybody's where it is empty. secret is who asks comes in by.
func (s *Accounts) SignIns(ctx context.Context, accountID, secret string) ([]SignIn, error) {
	all, err := s.store.Sessions(ctx, accountID, s.now().UTC())
	if err != nil {
		return nil, err
	}
	people, err := s.store.Accounts(ctx)
	if err != nil {
		return nil, err
	}
	names := map[string]string{}
	for _, a := range people {
		names[a.ID] = a.Name
	}
	own := shop.Digest([]byte(secret))
	out := []SignIn{}
	for _, x := range all {
		out = append(out, SignIn{ID: x.ID, Account: x.AccountID, Name: names[x.AccountID], Made: x.Made, Seen: x.Seen,
			Expires: x.Expires, Address: x.Address, Agent: x.Agent, This: x.Digest == own})
	}
	return out, nil
}

// EndOthers ends all of accountID's sign-ins but that of a secret.
func (s *Accounts) EndOthers(ctx context.Context, accountID, secret string) error {
	all, err := s.SignIns(ctx, accountID, secret)
	for _, in := range all {
		if !in.This {
			if e := s.EndSignIn(ctx, accountID, in.ID); shop.CodeOf(e) != shop.NotFound { // not ended meanwhile
				err = errors.Join(err, e)
			}
		}
	}
	return err
}

// EndSignIn ends one of accountID's sign-ins, or anybody's where it is empty.
func (s *Accounts) EndSignIn(ctx context.Context, accountID, id string) error {
	return s.store.EndSessionOf(ctx, accountID, id)
}
