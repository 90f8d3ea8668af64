package accounts

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"

	"needlepace/shop"
)

// hashing is what a password's hash costs: 64 MB and three passes, the second
// recommended choice of RFC 9106 section 4.
func hashing(memory uint32) *argon2id.Params {
	if memory == 0 {
		memory = 64 << 10
	}
	return &argon2id.Params{Memory: memory, Iterations: 3, Parallelism: 4, SaltLength: 16, KeyLength: 32}
}

const (
	sessionTime = 14 * 24 * time.Hour
	minPassword = 10
	maxPassword = 512
)

// Accounts keeps the people who may use the shop, and their sessions.
type Accounts struct {
	store   shop.AccountStore
	now     func() time.Time
	hashing *argon2id.Params
	slots   shop.Slots
}

// New keeps accounts in a store. memory is what a password's hash costs, in kB;
// 0 is 64 MB.
func New(store shop.AccountStore, now func() time.Time, memory uint32, slots shop.Slots) *Accounts {
	return &Accounts{store: store, now: now, hashing: hashing(memory), slots: slots}
}

// Add makes an account. The first must be an owner.
func (s *Accounts) Add(ctx context.Context, name, password string, role shop.Role) (*shop.Account, error) {
	name = strings.TrimSpace(name)
	if err := shop.CheckText("account's name", name, 100, true); err != nil {
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
	hash, err := s.hash(ctx, password)
	if err != nil {
		return nil, err
	}
	a := &shop.Account{ID: shop.NewID(), Name: name, Role: role, Hash: hash, Made: s.now().UTC()}
	if err := s.store.AddAccount(ctx, a); err != nil {
		return nil, err
	}
	return a, nil
}

func (s *Accounts) hash(ctx context.Context, password string) (string, error) {
	if n := utf8.RuneCountInString(password); n < minPassword || len(password) > maxPassword {
		return "", shop.At("password",
			shop.Invalidf("the password has %d characters; it must have %d to %d", n, minPassword, maxPassword))
	}
	free, err := s.slots.Take(ctx) // 64 MB each: not many at once
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
	a.Role, a.Disabled = role, disabled
	if password != "" {
		if a.Hash, err = s.hash(ctx, password); err != nil {
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

// SignIn checks name and password and begins a session; secret is for the
// person's browser and is not kept. Wrong name and wrong password are one
// error.
func (s *Accounts) SignIn(ctx context.Context, name, password string) (secret string, a *shop.Account, err error) {
	wrong := shop.Errorf(shop.SignIn, "the name or the password is wrong")
	a, err = s.store.AccountNamed(ctx, strings.TrimSpace(name))
	if err != nil && shop.CodeOf(err) != shop.NotFound {
		return "", nil, err
	}
	hash := decoy(s.hashing)
	if err == nil {
		hash = a.Hash
	}
	if len(password) > maxPassword {
		password = password[:maxPassword+1]
	}
	free, slotErr := s.slots.Take(ctx)
	if slotErr != nil {
		return "", nil, slotErr
	}
	match, cmpErr := argon2id.ComparePasswordAndHash(password, hash)
	free()
	if err != nil || cmpErr != nil || !match || a.Disabled {
		return "", nil, wrong
	}
	secret = rand.Text() + rand.Text() // 260 bits
	now := s.now().UTC()
	if err := s.store.DropSessions(ctx, now); err != nil {
		return "", nil, err
	}
	err = s.store.AddSession(ctx, shop.Session{Digest: shop.Digest([]byte(secret)), AccountID: a.ID, Made: now,
		Expires: now.Add(sessionTime)})
	return secret, a, err
}

// SessionTime is how long a sign-in lasts.
func SessionTime() time.Duration { return sessionTime }

// SignedIn finds whose session a secret is.
func (s *Accounts) SignedIn(ctx context.Context, secret string) (*shop.Account, error) {
	digest := shop.Digest([]byte(secret))
	ses, a, err := s.store.Session(ctx, digest, s.now().UTC())
	switch {
	case shop.CodeOf(err) == shop.NotFound:
		return nil, shop.Errorf(shop.SignIn, "sign in first")
	case err != nil:
		return nil, err
	case subtle.ConstantTimeCompare([]byte(ses.Digest), []byte(digest)) != 1 || a.Disabled:
		return nil, shop.Errorf(shop.SignIn, "sign in first")
	}
	return a, nil
}

// SignOut ends a session.
func (s *Accounts) SignOut(ctx context.Context, secret string) error {
	return s.store.EndSession(ctx, shop.Digest([]byte(secret)))
}
