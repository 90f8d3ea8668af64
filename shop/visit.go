package shop

import (
	"context"
	"time"
)

// Visit is an adviser's work for a client: a workspace of files kept apart from the
// shop's own things.
type Visit struct {
	ID      string    `json:"id"`
	Name    string    `json:"name"`
	Client  string    `json:"client"`
	Note    string    `json:"note"`
	Version int       `json:"version"`
	Made    time.Time `json:"made"`
	Changed time.Time `json:"changed" doc:"when its name, client or note was"`
	Removed bool      `json:"removed" doc:"put away: it can be put back until it is erased"`
}

// VisitFile is a file of a visit. Its name is a path from the visit's folder, with /.
type VisitFile struct {
	Name   string    `json:"name"`
	Digest string    `json:"digest" doc:"SHA-256 of its bytes, hexadecimal"`
	Bytes  int64     `json:"bytes"`
	Added  time.Time `json:"added"`
	By     string    `json:"by"`
}

// VisitPut is a file to be kept, in place of one that has its name.
type VisitPut struct {
	VisitFile
	Content []byte
	New     bool // one that has its name is a Conflict
}

// CallPage is the page of an open call of a visit: whoever has the code may send entries
// while it is open. It does not go with the visit to another shop.
type CallPage struct {
	Visit string `json:"-"`
	Name  string `json:"-"` // short, of the call
	Code  string `json:"code"`
	Most  int    `json:"most" doc:"entries that it takes"`
	Open  bool   `json:"open"`
}

// CallSeen is what came to an open call as somebody of the shop has last seen it. It does not
// go with the visit to another shop.
type CallSeen struct {
	Of      string // digest of the call's file
	Classes string // what came of each class, as JSON
}

// VisitStore keeps visits. It is part of Store.
type VisitStore interface {
	Visits(ctx context.Context, removed bool) ([]*Visit, error) // by name
	// Visit finds one by its ID, also one that is put away.
	Visit(ctx context.Context, id string) (*Visit, error)
	// SaveVisit keeps a visit; its Version must be one more than the kept one (1 for a
	// new one, whose files come with it), else Conflict.
	SaveVisit(ctx context.Context, v *Visit, files []VisitPut) error
	VisitFiles(ctx context.Context, id string) ([]VisitFile, error) // by name
	VisitContent(ctx context.Context, id, digest string) ([]byte, error)
	// KeepVisitFiles puts files in and takes others out, all or none.
	KeepVisitFiles(ctx context.Context, id string, put []VisitPut, out []string) error
	// CallPage finds the page of a visit's open call; CallPageBy finds one by its code.
	// NotFound: it was never opened.
	CallPage(ctx context.Context, visit, name string) (*CallPage, error)
	CallPageBy(ctx context.Context, code string) (*CallPage, error)
	// SaveCallPage keeps one in place of what was kept.
	SaveCallPage(ctx context.Context, p *CallPage) error
	// CallSeen is what SeeCall kept last of an open call; nil: nothing.
	CallSeen(ctx context.Context, visit, name string) (*CallSeen, error)
	// SeeCall keeps what somebody saw of an open call, in place of what was kept. That is no
	// change that could be taken back.
	SeeCall(ctx context.Context, visit, name string, seen CallSeen) error
	// EraseVisit takes a visit that is put away out for good: its files, and what the
	// history of changes holds of it. That it was erased stays.
	EraseVisit(ctx context.Context, id string) error
}
