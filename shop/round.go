package shop

import (
	"context"
	"time"

	"needlepace/words"
)

// Round is what the program does by itself, again and again: how it went last.
type Round struct {
	Name  string    `json:"name"`            // see the Round… names
	Place string    `json:"place,omitempty"` // of copies: where they are put, and from which computer
	Began time.Time `json:"began"`
	Ended time.Time `json:"ended"`
	// Failed is why it was not done; empty: it was.
	Failed string `json:"failed,omitempty"`
	// Said is what came of it, in a sentence; of one that failed, what came of it before.
	Said words.Kept `json:"said"`
	// Found is what of it needs a person.
	Found []RoundFound `json:"found,omitempty"`
	// Looked is what was looked at, by its ID, as a digest of all that was looked at: what is the same is not looked at anew.
	Looked map[string]string `json:"looked,omitempty"`
}

// The names of rounds.
const (
	RoundDrift  = "drift"  // machines whose timed runs have moved from their sheets
	RoundPlan   = "plan"   // what changed since the plan was made
	RoundCopies = "copies" // of the shop
)

// RoundFound is one thing that a round found.
type RoundFound struct {
	MachineID string     `json:"machine_id,omitempty"` // of a machine
	Version   int        `json:"version,omitempty"`    // of its sheet
	Day       words.Day  `json:"day,omitzero"`         // since when it is so
	Change    float64    `json:"change,omitempty"`     // of a machine's times since then, relative; above 0: they are longer
	First     time.Time  `json:"first"`                // when it was found first
	Say       words.Kept `json:"say"`
}

// RoundStore keeps how rounds went.
type RoundStore interface {
	// Rounds are all that were ever done, by name and place.
	Rounds(ctx context.Context) ([]Round, error)
	// KeepRound keeps how one went, in place of how it went the time before, which began at before (zero: it was never
	// done). Where another was kept meanwhile it is Conflict: that one stays.
	KeepRound(ctx context.Context, r *Round, before time.Time) error
	// DropRounds forgets the rounds of a name that began before a time.
	DropRounds(ctx context.Context, name string, before time.Time) error
}
