package parts

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/rivertype"

	"needlepace/jobs"
	"needlepace/shop"
)

// Each program that has a round puts it up when it is due, and River takes it once: its args name one time that the round
// is done. Its leader's own periodic jobs know only the leader's rounds, and forget what was due when the leader ends.

// lookForRounds is how often a program asks for rounds that it was not told of.
const lookForRounds = 5 * time.Second

// roundOf is a round's name as work.
func roundOf(r jobs.Round) string { return "round " + r.Name() }

// roundQueue is of those who have a round, whatever their build.
func roundQueue(r jobs.Round) string {
	sum := sha256.Sum256([]byte(r.Name()))
	return "round_" + hex.EncodeToString(sum[:8])
}

// roundStates are those in which a round that was put up is still to be done.
var roundStates = []rivertype.JobState{rivertype.JobStateAvailable, rivertype.JobStatePending, rivertype.JobStateRetryable,
	rivertype.JobStateRunning, rivertype.JobStateScheduled}

// putUp puts a round up, unless that was done for this time; one whose program died in its midst is given to another.
func (p *Parts) putUp(ctx context.Context, r jobs.Round) error {
	work := roundOf(r)
	if err := p.recover(ctx, roundQueue(r), work); err != nil {
		return err
	}
	_, last, err := r.Due(ctx)
	if err != nil {
		return err
	}
	part, err := json.Marshal(last.UTC())
	if err != nil {
		return err
	}
	meta, err := json.Marshal(map[string]string{"work": work})
	if err != nil {
		return err
	}
	_, err = p.client.Insert(ctx, args{work, work, part, jobs.RoundTime}, &river.InsertOpts{Queue: roundQueue(r), Metadata: meta, MaxAttempts: tries,
		UniqueOpts: river.UniqueOpts{ByArgs: true, ByState: roundStates}})
	if err != nil {
		return &shop.Error{Code: shop.Storage, Text: "what the program does by itself cannot be put up; it is tried again", Err: err}
	}
	return nil
}
