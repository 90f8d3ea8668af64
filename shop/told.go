package shop

import (
	"context"
	"time"

	"needlepace/telling"
)

// ToldStore keeps what machines tell of themselves. It is part of Store. It is no
// change that a person made: no trail is kept of it.
type ToldStore interface {
	// KeepTold keeps an event of a machine. One that is there already, by its boot and
	// seq, is not kept again: fresh is false, and other is true where it said something
	// else.
	KeepTold(ctx context.Context, machineID string, e *telling.Event) (fresh, other bool, err error)
	// ToldRun are all events of a run, in the order in which they came, and the least
	// that came minus at of those of its boot that have a time.
	ToldRun(ctx context.Context, machineID, boot, run string) ([]telling.Event, time.Duration, error)
	// ToldLast is the run of each machine that the newest event belongs to, of those
	// that came after since.
	ToldLast(ctx context.Context, since time.Time) ([]ToldAt, error)
	// ToldEnds are the runs of a machine of which an end came after since.
	ToldEnds(ctx context.Context, machineID string, since time.Time) ([]ToldAt, error)
	// KeepApart keeps a message that cannot be used, with why; the same one again is
	// counted. At most KeptApart stay, the latest.
	KeepApart(ctx context.Context, a ToldApart) error
	// Apart are those, the latest first, and how many messages there were in all.
	Apart(ctx context.Context, limit int) (all []ToldApart, total int, err error)
	// DropTold forgets counts that came before counts, and all that came before all.
	DropTold(ctx context.Context, counts, all time.Time) error
}

// ToldAt names a run of a machine, with the number of its newest event.
type ToldAt struct {
	MachineID, Boot, Run string
	N                    int64
}

// ToldApart is a message that cannot be used.
type ToldApart struct {
	Topic   string
	Payload []byte // its beginning, where it is long
	Why     string
	Got     time.Time // the last time
	Times   int
}

// KeptApart is how many messages that cannot be used stay.
const KeptApart = 5_000
