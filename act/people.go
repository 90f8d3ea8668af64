package act

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"time"

	"needlepace/shop"
	"needlepace/shop/accounts"
	"needlepace/words"
)

// People are those who work in several shops of an installation and sign in once: an account of each shop, which has its
// role there, one password, and ways from shop to shop. Each shop keeps its account with a copy of the password's hash
// and stands without the others; who is whose is kept apart (see shop.PeopleStore), and counts only while the account says
// the same: one that its shop gave another password stands alone.
type People struct {
	// Open is where it is kept; nil where nothing is kept yet, unless it is to be made.
	Open func(ctx context.Context, create bool) (shop.PeopleStore, error)
	// At is a shop, to be let go.
	At  func(ctx context.Context, name string) (s *Shop, done func(), err error)
	Log *slog.Logger
	Now func() time.Time
}

// ticketTime is how long a way from shop to shop is open: a browser follows at once.
const ticketTime = 30 * time.Second

// Own is an account and whose shop it is in.
type Own struct {
	Name    string // of the shop
	Shop    *Shop
	Account *shop.Account
}

// member is what is kept of an account, and where; nil: it stands alone.
func (p *People) member(ctx context.Context, name string, a *shop.Account) (shop.PeopleStore, *shop.Member, error) {
	if a == nil || a.Person == "" {
		return nil, nil, nil
	}
	st, err := p.Open(ctx, false)
	if err != nil || st == nil {
		return nil, nil, err
	}
	m, err := st.Member(ctx, name, a.ID)
	switch {
	case shop.CodeOf(err) == shop.NotFound, err == nil && m.Person != a.Person:
		return nil, nil, nil
	case err != nil:
		return nil, nil, err
	}
	return st, m, nil
}

// Each does something with each account of the person whose one account is given, in other shops that the person may
// sign in to. What goes wrong in one keeps nobody from the others. What is changed there is noted as the same person's, from
// the same place.
func (p *People) Each(ctx context.Context, of Own, do func(context.Context, Own) error) error {
	st, m, err := p.member(ctx, of.Name, of.Account)
	if m == nil {
		return err
	}
	all, err := st.Members(ctx, m.Person)
	if err != nil {
		return err
	}
	for _, o := range all {
		if o.Shop == of.Name {
			continue
		}
		if e := p.with(ctx, o, do); e != nil {
			err = errors.Join(err, fmt.Errorf("%s: %w", o.Shop, e))
		}
	}
	return err
}

func (p *People) with(ctx context.Context, m *shop.Member, do func(context.Context, Own) error) error {
	s, done, err := p.At(ctx, m.Shop)
	if shop.CodeOf(err) == shop.NotFound {
		return nil // the shop is no more
	}
	if err != nil {
		return err
	}
	defer done()
	a, err := s.Accounts.Get(ctx, m.Account)
	switch {
	case shop.CodeOf(err) == shop.NotFound, err == nil && (a.Person != m.Person || a.Disabled):
		return nil
	case err != nil:
		return err
	}
	return do(asThere(ctx, a), Own{m.Shop, s, a})
}

// asThere is a context for what is changed in another shop: its number there is no number here.
func asThere(ctx context.Context, a *shop.Account) context.Context {
	act := shop.ActOf(ctx)
	return shop.WithAct(ctx, &shop.Act{By: a.Name, Right: act.Right, From: act.From, At: act.At})
}

// Shops are the names of the other shops that a person may sign in to; those that cannot be reached now are left out.
func (p *People) Shops(ctx context.Context, of Own) (names []string, err error) {
	err = p.Each(ctx, of, func(_ context.Context, o Own) error {
		names = append(names, o.Name)
		return nil
	})
	if err != nil {
		p.Log.Error("a person's other shops are not all known", "error", err)
	}
	slices.Sort(names)
	return names, nil
}

// Join makes two accounts one person's, with all that either was one with. The first's password holds for all from then
// on; whoever was signed in by another one is signed out.
func (p *People) Join(ctx context.Context, one, other Own) error {
	if one.Name == other.Name {
		return shop.At("shop", shop.Saying(shop.Conflict, words.Say("refused.same-shop")))
	}
	st, err := p.Open(ctx, true)
	if err != nil {
		return err
	}
	of := func(o Own) (m shop.Member, err error) {
		_, is, err := p.member(ctx, o.Name, o.Account)
		switch {
		case err != nil:
			return m, err
		case is != nil:
			return *is, nil
		}
		if err := st.Part(ctx, o.Name, o.Account.ID); err != nil && shop.CodeOf(err) != shop.NotFound { // what it was once
			return m, err
		}
		return shop.Member{Shop: o.Name, Account: o.Account.ID}, nil
	}
	a, err := of(one)
	if err != nil {
		return err
	}
	b, err := of(other)
	if err != nil {
		return err
	}
	if a.Person == "" {
		a.Person, a.Hash = rand.Text(), one.Account.Hash
	}
	var theirs []*shop.Member
	if b.Person == a.Person {
		return shop.At("shop", shop.Saying(shop.Conflict, words.Say("refused.joined")))
	} else if b.Person != "" {
		if theirs, err = st.Members(ctx, b.Person); err != nil {
			return err
		}
	}
	if err := st.Join(ctx, a, b); err != nil {
		if shop.CodeOf(err) == shop.Conflict {
			return shop.At("shop", shop.Saying(shop.Conflict, words.Say("refused.two-accounts")))
		}
		return err
	}
	give := func(ctx context.Context, o Own) error { return o.Shop.Accounts.Give(ctx, o.Account, a.Hash, a.Person) }
	err = errors.Join(give(ctx, one), give(asThere(ctx, other.Account), other))
	for _, m := range theirs {
		if m.Shop != b.Shop {
			err = errors.Join(err, p.with(ctx, m, give))
		}
	}
	return err
}

// Part lets an account stand alone. Its password stays what it is, and those who are signed in by it stay so, in this
// shop only.
func (p *People) Part(ctx context.Context, of Own) error {
	st, m, err := p.member(ctx, of.Name, of.Account)
	switch {
	case err != nil:
		return err
	case m == nil:
		return shop.Errorf(shop.NotFound, "%s at %s is in no other shop", of.Account.Name, of.Name)
	}
	if err := of.Shop.Accounts.Give(ctx, of.Account, of.Account.Hash, ""); err != nil {
		return err
	}
	return st.Part(ctx, of.Name, of.Account.ID)
}

// Go makes a way for whoever is signed in, by a secret, to another shop of theirs: a ticket, good once, for half a
// minute, and for the browser that holds what asked is the digest of. Who is not signed in as this person any more
// gets SignIn, who has no account there NotFound.
func (p *People) Go(ctx context.Context, of Own, secret, to, asked string) (ticket string, err error) {
	none := shop.Errorf(shop.NotFound, "you have no other shop %.40q here", to)
	st, m, err := p.member(ctx, of.Name, of.Account)
	if err != nil {
		return "", err
	}
	if m == nil {
		return "", none
	}
	all, err := st.Members(ctx, m.Person)
	if err != nil {
		return "", err
	}
	i := slices.IndexFunc(all, func(o *shop.Member) bool { return o.Shop == to && o.Shop != of.Name })
	if i < 0 {
		return "", none
	}
	ticket, now := rand.Text()+rand.Text(), p.Now().UTC()
	err = st.AddTicket(ctx, shop.Ticket{Member: *all[i], Asked: asked, Until: now.Add(ticketTime)}, shop.Digest([]byte(ticket)),
		shop.Digest([]byte(secret)), now)
	if shop.CodeOf(err) == shop.NotFound {
		return "", shop.Errorf(shop.SignIn, "sign in anew: this sign-in is from before the shops were joined")
	}
	return ticket, err
}

// Arrive signs in whoever comes to a shop with a ticket, and holds what was asked with. One that is over, used, for
// another shop or another browser is SignIn.
func (p *People) Arrive(ctx context.Context, name string, s *Shop, ticket, asked string, b accounts.Browser) (*accounts.SignedIn, error) {
	over := shop.Saying(shop.SignIn, words.Say("refused.ticket"))
	st, err := p.Open(ctx, false)
	if err != nil {
		return nil, err
	}
	if st == nil {
		return nil, over
	}
	t, err := st.UseTicket(ctx, shop.Digest([]byte(ticket)), name, shop.Digest([]byte(asked)), p.Now().UTC())
	var in *accounts.SignedIn
	if err == nil {
		in, err = s.Accounts.Arrive(ctx, t, b)
	}
	if shop.CodeOf(err) == shop.NotFound {
		return nil, over
	}
	return in, err
}

// Enter lets whoever is signed in by a secret go on to other shops by it: they were signed in before the shops were joined.
func (p *People) Enter(ctx context.Context, of Own, secret string) error {
	all, err := of.Shop.Accounts.SignIns(ctx, of.Account.ID, secret)
	if err != nil {
		return err
	}
	a, err := of.Shop.Accounts.Get(ctx, of.Account.ID)
	if err != nil {
		return err
	}
	st, m, err := p.member(ctx, of.Name, a)
	if m == nil {
		return err
	}
	digest := shop.Digest([]byte(secret))
	if _, err := st.Entry(ctx, digest, p.Now().UTC()); shop.CodeOf(err) != shop.NotFound {
		return err // they may already
	}
	for _, in := range all {
		if in.This {
			return p.Of(of.Name).Begun(ctx, a, shop.Session{Digest: digest, Expires: in.Expires}, "")
		}
	}
	return nil
}

// SignOut ends all sessions in other shops that began with the same password typed as a secret's.
func (p *People) SignOut(ctx context.Context, secret string) error {
	st, err := p.Open(ctx, false)
	if err != nil || st == nil || secret == "" {
		return err
	}
	all, err := st.EndBrowser(ctx, shop.Digest([]byte(secret)))
	for _, e := range all {
		s, done, err2 := p.At(ctx, e.Shop)
		if err2 == nil {
			err2 = s.Accounts.EndBy(ctx, e.Digest)
			done()
		}
		if shop.CodeOf(err2) != shop.NotFound {
			err = errors.Join(err, err2)
		}
	}
	return err
}

// Of is what a shop's accounts know of it.
func (p *People) Of(name string) accounts.Joined { return joined{p, name} }

type joined struct {
	p    *People
	name string
}

// Hash is that of the person's password.
func (j joined) Hash(ctx context.Context, a *shop.Account) (string, error) {
	_, m, err := j.p.member(ctx, j.name, a)
	if m == nil {
		return "", err
	}
	return m.Hash, nil
}

// SetHash changes the person's password, in the other shops too: their sessions there end.
func (j joined) SetHash(ctx context.Context, a *shop.Account, hash string) (bool, error) {
	st, m, err := j.p.member(ctx, j.name, a)
	if m == nil {
		return false, err
	}
	if err := st.SetPersonHash(ctx, m.Person, hash); err != nil {
		return false, err
	}
	// A shop that is not reached gets it when it is opened, or somebody signs in there by it.
	if err := j.p.Each(ctx, Own{Name: j.name, Account: a}, func(ctx context.Context, o Own) error {
		return o.Shop.Accounts.Give(ctx, o.Account, hash, o.Account.Person)
	}); err != nil {
		j.p.Log.Error("a password was changed, but not yet in all shops", "error", err)
	}
	return true, nil
}

// Begun keeps that the person is signed in.
func (j joined) Begun(ctx context.Context, a *shop.Account, s shop.Session, browser string) error {
	st, m, err := j.p.member(ctx, j.name, a)
	if m == nil {
		return err
	}
	if browser == "" {
		browser = rand.Text()
	}
	err = st.AddEntry(ctx, shop.Entry{Member: shop.Member{Shop: m.Shop, Account: m.Account, Person: m.Person, Hash: a.Hash}, Digest: s.Digest, Browser: browser,
		Ends: s.Expires}, j.p.Now().UTC())
	if shop.CodeOf(err) == shop.NotFound { // another password since
		return nil
	}
	return err
}
