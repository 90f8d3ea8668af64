package shop

import (
	"context"
	"time"
)

// Member is an account of a shop that is one person's who has accounts in other shops of
// the installation too.
type Member struct {
	Shop    string // the name that its address begins with
	Account string // ID
	Person  string // ID, the same for all accounts of the person
	Hash    string // argon2id of the password that holds in all of the person's shops
}

// Entry is a sign-in of a person, by which they may go on to their other shops.
type Entry struct {
	Member
	Digest  string    // SHA-256 of the session's secret, hexadecimal
	Browser string    // ID, the same for all entries that began with one password typed
	Ends    time.Time // when the session is over
}

// Ticket is a way into a shop for who is signed in at another one.
type Ticket struct {
	Member            // who comes, and where to; without Hash
	Browser string    // as the entry's that it is made from
	Asked   string    // SHA-256 of what the browser that asked for it holds
	Until   time.Time // it is good
	Ends    time.Time // when the session that it begins is over
}

// PeopleStore keeps who is one person in several shops, apart from the shops: none of
// them says of an account where else its person is.
type PeopleStore interface {
	// Member finds a shop's account; NotFound: it stands alone.
	Member(ctx context.Context, shop, account string) (*Member, error)
	// Members are a person's accounts by shop; everybody's, person by person, where person is empty.
	Members(ctx context.Context, person string) ([]*Member, error)
	// Join makes two members one person's, by a's Person and Hash, with all whom each was one with. Where that gives
	// two accounts in one shop it is Conflict. It ends all entries of who was b's person.
	Join(ctx context.Context, a, b Member) error
	// Part takes an account out, with its entries and tickets; of two the other one too. One that is not there is NotFound.
	Part(ctx context.Context, shop, account string) error
	// SetPersonHash keeps another password's hash for all of a person's accounts and ends the person's entries and tickets.
	SetPersonHash(ctx context.Context, person, hash string) error
	// AddEntry keeps an entry of a member and forgets those that were over at now.
	AddEntry(ctx context.Context, e Entry, now time.Time) error
	// Entry finds an entry that is good at now.
	Entry(ctx context.Context, digest string, now time.Time) (*Entry, error)
	// EndBrowser ends the entries, and tickets, that go together with one, and gives them all; where there is none, none.
	EndBrowser(ctx context.Context, digest string) ([]*Entry, error)
	// AddTicket keeps a ticket while the entry that it is made from is there, and forgets those that were over at now.
	AddTicket(ctx context.Context, t Ticket, digest, entry string, now time.Time) error
	// UseTicket finds a ticket that is good at now for a shop and for whoever holds what asked is the digest of, and uses
	// it up in the same step. One that is tried in vain is used up too.
	UseTicket(ctx context.Context, digest, shop, asked string, now time.Time) (*Ticket, error)
}
