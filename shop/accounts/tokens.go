package accounts

import (
	"context"
	"crypto/rand"
	"strings"
	"time"

	"needlepace/shop"
)

// tokenPrefix is what a token begins with, so that one that got about is
// known for what it is.
const tokenPrefix = "needlepace_"

// MakeToken makes what a program comes in with: it may what role may, no more
// than whoever makes it, until it expires. secret is told once and not kept.
func (s *Accounts) MakeToken(ctx context.Context, by *shop.Account, name string, role shop.Role, expires time.Time) (
	secret string, t *shop.Token, err error,
) {
	if name, err = shop.CheckName("token's name", name); err != nil {
		return "", nil, shop.At("name", err)
	}
	now := s.now().UTC()
	switch {
	case !role.May(shop.Operator):
		return "", nil, shop.At("role", shop.Invalidf("the role is %q; it must be owner, planner or operator", role))
	case by == nil || !by.Role.May(role):
		return "", nil, shop.At("role", shop.Errorf(shop.Forbidden, "a token may do no more than you may"))
	case !expires.After(now):
		return "", nil, shop.At("expires", shop.Invalidf("the token would be over already; give a day to come"))
	case expires.Sub(now) > tokenTime:
		return "", nil, shop.At("expires", shop.Invalidf("a token lasts two years at most; give an earlier day"))
	}
	all, err := s.store.Tokens(ctx)
	if err != nil {
		return "", nil, err
	}
	if len(all) >= mostTokens {
		return "", nil, shop.Errorf(shop.TooLarge, "there are %d tokens, the most that a shop may have: take one back first",
			len(all))
	}
	secret = tokenPrefix + strings.ToLower(rand.Text()+rand.Text()) // 260 bits
	t = &shop.Token{ID: shop.NewID(), Name: name, Role: role, By: by.Name, Made: now.Truncate(time.Microsecond),
		Expires: expires.UTC().Truncate(time.Microsecond)}
	if err := s.store.AddToken(ctx, t, shop.Digest([]byte(secret))); err != nil {
		return "", nil, shop.At("name", err)
	}
	s.fresh.Store(t.ID, freshToken{secret, now.Add(freshTime)})
	return secret, t, nil
}

// freshTime is how long a token that was just made is shown.
const freshTime = 10 * time.Minute

type freshToken struct {
	secret string
	until  time.Time
}

// Fresh is the secret of a token that was made in the last ten minutes and not
// shown yet; it is held in memory only and shown once.
func (s *Accounts) Fresh(id string) string {
	v, ok := s.fresh.LoadAndDelete(id)
	if f, is := v.(freshToken); ok && is && s.now().Before(f.until) {
		return f.secret
	}
	return ""
}

// Tokens lists the tokens by name, those that are over too.
func (s *Accounts) Tokens(ctx context.Context) ([]*shop.Token, error) { return s.store.Tokens(ctx) }

// TakeBack forgets a token: it lets nobody in from now on.
func (s *Accounts) TakeBack(ctx context.Context, id string) error { return s.store.DropToken(ctx, id) }

// Program finds who comes in with a token.
func (s *Accounts) Program(ctx context.Context, secret string) (*shop.Account, error) {
	now := s.now().UTC()
	t, err := s.store.TokenOf(ctx, shop.Digest([]byte(secret)), now)
	if shop.CodeOf(err) == shop.NotFound {
		return nil, shop.Errorf(shop.SignIn, "this token is wrong, taken back or over")
	}
	if err != nil {
		return nil, err
	}
	if long(now, t.Seen) {
		if err := s.store.SeeToken(ctx, t.ID, now); err != nil && !passing(err) {
			return nil, err
		}
	}
	return &shop.Account{ID: t.ID, Name: t.Name, Role: t.Role, Made: t.Made}, nil
}
