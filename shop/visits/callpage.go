package visits

import (
	"context"
	"crypto/rand"
	"strings"

	"needlepace/shop"
	"needlepace/words"
)

// Limits of the page of an open call.
const (
	DefaultEntries = 200 // that it takes
	MostEntries    = 400 // a visit has room for more files than they make
	// callLetters of base 32 are 50 bits: with the wait after wrong tries not to be
	// guessed, and short enough to be typed from a card.
	callLetters = 10
)

// OpenCallPage opens the page of a visit's open call to whoever has its code, for so many
// entries in all (0: DefaultEntries). It keeps its code once it has one, since that is
// printed on cards.
func (s *Visits) OpenCallPage(ctx context.Context, visit, name string, most int) (*shop.CallPage, error) {
	if most == 0 {
		most = DefaultEntries
	}
	if most < 1 || most > MostEntries {
		return nil, shop.At("most", shop.Saying(shop.Invalid, words.Say("refused.call-most", words.Args{"n": words.Whole(most), "most": words.Whole(MostEntries)})))
	}
	v, err := s.store.Visit(ctx, visit)
	if err != nil {
		return nil, err
	}
	if v.Removed {
		return nil, shop.Saying(shop.Conflict, words.Say("refused.visit-away"))
	}
	p, err := s.store.CallPage(ctx, visit, name)
	switch {
	case shop.CodeOf(err) == shop.NotFound:
		p = &shop.CallPage{Visit: visit, Name: name, Code: rand.Text()[:callLetters]}
	case err != nil:
		return nil, err
	}
	p.Open, p.Most = true, most
	return p, s.store.SaveCallPage(ctx, p)
}

// ShutCallPage shuts it. NotFound: it was never opened.
func (s *Visits) ShutCallPage(ctx context.Context, visit, name string) error {
	p, err := s.store.CallPage(ctx, visit, name)
	if err != nil {
		return err
	}
	p.Open = false
	return s.store.SaveCallPage(ctx, p)
}

// CallPage is the page of a visit's open call; nil where it was never opened.
func (s *Visits) CallPage(ctx context.Context, visit, name string) (*shop.CallPage, error) {
	p, err := s.store.CallPage(ctx, visit, name)
	if shop.CodeOf(err) == shop.NotFound {
		return nil, nil
	}
	return p, err
}

// ByCode finds the open page that a code is of, as people type codes. None, or one that
// is shut: SignIn, which says no more.
func (s *Visits) ByCode(ctx context.Context, code string) (*shop.CallPage, error) {
	none := shop.Saying(shop.SignIn, words.Say("refused.call-none"))
	code = strings.ToUpper(strings.NewReplacer("-", "", " ", "", "0", "O", "1", "I", "8", "B").Replace(code))
	if len(code) != callLetters {
		return nil, none
	}
	p, err := s.store.CallPageBy(ctx, code)
	switch {
	case shop.CodeOf(err) == shop.NotFound:
		return nil, none
	case err != nil:
		return nil, err
	}
	v, err := s.store.Visit(ctx, p.Visit)
	if err != nil {
		return nil, err
	}
	if !p.Open || v.Removed {
		return nil, none
	}
	return p, nil
}

// Seen is what SeeCall kept last of a visit's open call; nil: nothing.
func (s *Visits) Seen(ctx context.Context, visit, name string) (*shop.CallSeen, error) {
	return s.store.CallSeen(ctx, visit, name)
}

// SeeCall keeps what somebody of the shop sees of an open call, for its page to show.
func (s *Visits) SeeCall(ctx context.Context, visit, name string, seen shop.CallSeen) error {
	was, err := s.store.CallSeen(ctx, visit, name)
	if err != nil || was != nil && *was == seen {
		return err
	}
	return s.store.SeeCall(ctx, visit, name, seen)
}
