package phones

import (
	"context"
	"crypto/rand"
	"strings"
	"sync"
	"time"

	"needlepace/shop"
	"needlepace/words"
)

const (
	// codeTime is how long a code is good: enough to make a phone trust the shop
	// first.
	codeTime = 10 * time.Minute
	// codeLetters of base 32 are 80 bits: not to be guessed in that time, and
	// short enough to be typed.
	codeLetters = 16
	// sessionTime is how long a phone that nobody uses may come in again.
	sessionTime = 90 * 24 * time.Hour
	// seenEvery is how exactly it is kept when a phone was last here.
	seenEvery = time.Minute
	// clockStep is how far the clock may be put back while a code is waiting.
	clockStep  = time.Minute
	mostPhones = 200
)

// Phones keeps the phones that may use the shop.
type Phones struct {
	store shop.PhoneStore
	now   func() time.Time

	mu    sync.Mutex
	codes map[string]waiting // by phone; in memory only
}

type waiting struct {
	code  string
	until time.Time
}

// New keeps phones in a store.
func New(store shop.PhoneStore, now func() time.Time) *Phones {
	return &Phones{store: store, now: now, codes: map[string]waiting{}}
}

// moment is now, as exactly as a store keeps it.
func (s *Phones) moment() time.Time { return s.now().UTC().Truncate(time.Microsecond) }

// may is the error of somebody who may not let phones of a role in, or take
// them out.
func may(by *shop.Account, role shop.Role) error {
	if by != nil && by.Role.MayLetIn(role) {
		return nil
	}
	return shop.At("role", shop.Errorf(shop.Forbidden,
		"your account may not do this: only an owner lets a phone in as %s, and takes it out", role))
}

// Ask makes a phone that may come in with the code that Code gives.
func (s *Phones) Ask(ctx context.Context, by *shop.Account, name string, role shop.Role) (*shop.Phone, error) {
	name, err := shop.CheckName("phone's name", name)
	if err != nil {
		return nil, shop.At("name", err)
	}
	if !role.May(shop.Operator) {
		return nil, shop.At("role", shop.Invalidf("the role is %q; it must be owner, planner or operator", role))
	}
	if err := may(by, role); err != nil {
		return nil, err
	}
	now := s.moment()
	if err := s.store.DropPhones(ctx, now.Add(-time.Hour), now.Add(-sessionTime)); err != nil {
		return nil, err
	}
	all, err := s.store.Phones(ctx)
	if err != nil {
		return nil, err
	}
	if len(all) >= mostPhones {
		return nil, shop.Errorf(shop.TooLarge, "there are %d phones, the most that a shop may have: take one out first",
			len(all))
	}
	p := &shop.Phone{ID: shop.NewID(), Name: name, Role: role, By: by.Name, Made: now}
	code := s.code(p, now)
	if err := s.store.AddPhone(ctx, p, shop.Digest([]byte(code))); err != nil {
		return nil, shop.At("name", err)
	}
	s.remember(p, code)
	return p, nil
}

// code makes a phone's code and says in the phone how long it is good.
func (s *Phones) code(p *shop.Phone, now time.Time) string {
	p.CodeMade, p.CodeUntil = now, now.Add(codeTime)
	return rand.Text()[:codeLetters]
}

func (s *Phones) remember(p *shop.Phone, code string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for id, w := range s.codes {
		if !s.now().Before(w.until) {
			delete(s.codes, id)
		}
	}
	s.codes[p.ID] = waiting{code, p.CodeUntil}
}

// NewCode gives a phone another code: for one that has not come in, or has lost
// its session. The code before is no good any more; a session goes on until the
// code is used.
func (s *Phones) NewCode(ctx context.Context, by *shop.Account, id string) (*shop.Phone, error) {
	p, err := s.Get(ctx, by, id)
	if err != nil {
		return nil, err
	}
	code := s.code(p, s.moment())
	if err := s.store.ChangePhoneCode(ctx, p, shop.Digest([]byte(code))); err != nil {
		return nil, err
	}
	s.remember(p, code)
	return p, nil
}

// Code is the code that a phone may come in with now; empty where there is none,
// or where another run of the program made it: only its digest is kept.
func (s *Phones) Code(p *shop.Phone) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	w := s.codes[p.ID]
	if p.CodeUntil.IsZero() || !w.until.Equal(p.CodeUntil) || !s.now().Before(w.until) {
		return ""
	}
	return w.code
}

// List lists the phones by name, those whose code nobody used in time left out.
func (s *Phones) List(ctx context.Context) ([]*shop.Phone, error) { return s.store.Phones(ctx) }

// Get finds a phone that by may let in and take out.
func (s *Phones) Get(ctx context.Context, by *shop.Account, id string) (*shop.Phone, error) {
	p, err := s.store.Phone(ctx, id)
	if err != nil {
		return nil, err
	}
	return p, may(by, p.Role)
}

// TakeOut forgets a phone; its session ends at once.
func (s *Phones) TakeOut(ctx context.Context, by *shop.Account, id string) error {
	p, err := s.Get(ctx, by, id)
	if err != nil {
		return err
	}
	return s.store.DropPhone(ctx, p.ID)
}

// readCode is a code as it was typed: in any case, in groups, with figures for
// the letters that look like them.
var readCode = strings.NewReplacer(" ", "", "-", "", "0", "O", "1", "I", "8", "B")

// LetIn uses a code up and begins the phone's session, which ends the one that it
// had; secret is for the phone's browser and is not kept. A code that is wrong,
// used or too old is one error.
func (s *Phones) LetIn(ctx context.Context, code string) (secret string, p *shop.Phone, err error) {
	code = readCode.Replace(strings.ToUpper(strings.TrimSpace(code)))
	wrong := shop.Saying(shop.SignIn, words.Say("refused.code"))
	if len(code) != codeLetters {
		return "", nil, wrong
	}
	secret = rand.Text() + rand.Text() // 260 bits
	now := s.now().UTC()
	p, err = s.store.LetPhoneIn(ctx, shop.Digest([]byte(code)), shop.Digest([]byte(secret)), now, now.Add(clockStep))
	if shop.CodeOf(err) == shop.NotFound {
		return "", nil, wrong
	}
	if err != nil {
		return "", nil, err
	}
	s.mu.Lock()
	delete(s.codes, p.ID)
	s.mu.Unlock()
	return secret, p, nil
}

// SignedIn is the phone whose session a secret is, as who asks.
func (s *Phones) SignedIn(ctx context.Context, secret string) (*shop.Account, error) {
	now := s.now().UTC()
	p, err := s.store.PhoneOf(ctx, shop.Digest([]byte(secret)), now.Add(-sessionTime))
	if shop.CodeOf(err) == shop.NotFound {
		return nil, shop.Saying(shop.SignIn, words.Say("refused.let-in"))
	}
	if err != nil {
		return nil, err
	}
	if since := now.Sub(p.Seen); since < 0 || since >= seenEvery {
		if err := s.store.SeePhone(ctx, p.ID, now); err != nil && shop.CodeOf(err) != shop.Storage {
			return nil, err // a full disk does not keep a phone out
		}
	}
	return &shop.Account{ID: p.ID, Name: p.Name, Role: p.Role, Made: p.Made}, nil
}

// SignOut takes out the phone whose session a secret is; one that is nobody's is
// no error.
func (s *Phones) SignOut(ctx context.Context, secret string) error {
	p, err := s.store.PhoneOf(ctx, shop.Digest([]byte(secret)), s.now().Add(-sessionTime))
	if err == nil {
		err = s.store.DropPhone(ctx, p.ID)
	}
	if shop.CodeOf(err) == shop.NotFound {
		return nil
	}
	return err
}

// CodeTime is how long a code is good.
func CodeTime() time.Duration { return codeTime }

// SessionTime is how long a phone that nobody uses stays.
func SessionTime() time.Duration { return sessionTime }
