// Package jobs is long work: what outlives the request that asked for it. Queue
// is what the app needs of it; Local does it in this process, for one machine.
package jobs

import (
	"context"
	"time"

	"needlepace/words"
)

// Queue does long work apart from the requests that asked for it.
type Queue interface {
	// Begin starts work of a kind for an account (by; empty where there are
	// none). The context handed to do ends with the time limit, a stop, or the
	// program. Where too much is waiting the error is shop.Busy.
	Begin(kind, by string, do func(context.Context, Step) (any, error)) (Work, error)
	// Look waits up to wait for work to be done and tells where it stands;
	// work that is not known (any more) is shop.NotFound.
	Look(ctx context.Context, id string, wait time.Duration) (Work, error)
	// Stop cancels work; work that is done stays done.
	Stop(id string) error
	// Open is how many pieces of work are not done yet.
	Open() int
	// Close stops all work and waits for its end.
	Close()
}

// State is where a piece of long work stands.
type State string

// The states of work.
const (
	Waiting State = "waiting"
	Running State = "running"
	Done    State = "done"
	Failed  State = "failed"
	Cancel  State = "cancelled"
)

// Work is long work as its asker sees it: ask again until it is done.
type Work struct {
	ID       string       `json:"id"`
	Kind     string       `json:"kind" doc:"learn, testpiece, audit, mend, mendmany, listen, compare, floor, demo, plan, try, or round: what the program does by itself"`
	State    State        `json:"state" enum:"waiting,running,done,failed,cancelled"`
	Progress float64      `json:"progress" doc:"0 to 1; 0 while it cannot be told"`
	Text     string       `json:"text" doc:"what is being done, for people"`
	Seconds  float64      `json:"seconds" doc:"since it began"`
	By       string       `json:"-"` // the account that asked; empty where there are none
	Error    *FailureBody `json:"error,omitempty"`
	Result   any          `json:"result,omitempty" doc:"of state done: what the operation that began it says"`
}

// FailureBody says what went wrong.
type FailureBody struct {
	Code string `json:"code" doc:"for programs"`
	Text string `json:"text" doc:"for people: what is wrong and what to do"`
	Key  string `json:"key,omitempty" doc:"what of the request is wrong, where one thing is: over, line[2].quantity"`
	// Say is Text as a sentence of the catalogue, where it is one: a page tells it in the reader's language.
	Say words.Message `json:"-"`
}

// Step tells how far work has come: a share from 0 to 1, and what is being
// done, for people.
type Step func(fraction float64, text string)

// File is a file that work made.
type File struct {
	Name, MediaType string
	Content         []byte
}

// Filed is a result with files, by the last part of their address.
type Filed interface{ WorkFiles() map[string]File }
