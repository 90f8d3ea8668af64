package accounts

import (
	"context"
	"runtime"
	"sync/atomic"

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

// Waiting is where passwords wait to be hashed: those of people in whose browser
// somebody signed in before, and of strangers, apart, so that strangers cannot keep a
// shop's own people out.
type Waiting struct{ known, strangers *line }

// NewWaiting is for one program.
func NewWaiting() *Waiting { return &Waiting{newLine(), newLine()} }

// line is where passwords wait to be hashed: a few at a time, a few behind
// them, and whoever comes then is refused at once. So no number of tries takes
// the machine from those who are signed in.
type line struct {
	slots chan struct{}
	in    atomic.Int32
	most  int32 // at work and waiting
}

// waitingMost is how many may wait in a line: at 0.1 to 0.3 s each the last of
// them is answered within 3 s.
const waitingMost = 8

// newLine is a line of a quarter of the cores, at least one.
func newLine() *line {
	n := max(1, runtime.GOMAXPROCS(0)/4)
	return &line{slots: make(chan struct{}, n), most: int32(n + waitingMost)}
}

// take waits for a slot; free gives it back. A line that is full is Busy.
func (l *line) take(ctx context.Context) (free func(), err error) {
	if l.in.Add(1) > l.most {
		l.in.Add(-1)
		return nil, shop.Errorf(shop.Busy, "many people are signing in at this moment; try again in a few seconds")
	}
	select {
	case l.slots <- struct{}{}:
		return func() { <-l.slots; l.in.Add(-1) }, nil
	case <-ctx.Done():
		l.in.Add(-1)
		return nil, shop.StoppedBy(ctx)
	}
}
