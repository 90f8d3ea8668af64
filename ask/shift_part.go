package ask

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"

	"needlepace/floor"
)

// ShiftPart is some of the shifts that are simulated of a setup, for a program that helps another.
type ShiftPart struct {
	TOML string `json:"toml"`
	Seed uint64 `json:"seed"`
	Of   string `json:"of"`   // digest of the shop that the setup and all it names make
	From int    `json:"from"` // its first, from 0
	N    int    `json:"n"`
}

// ShiftsOfPart simulates the shifts of a part: what the program that asks would have made itself.
// An *Error where the setup, or what it names, is no longer what it was there.
func ShiftsOfPart(ctx context.Context, p ShiftPart, from floor.Sources) ([]floor.Shift, error) {
	q := ShiftQuestion{Name: "the shift", TOML: []byte(p.TOML), Simulation: Simulation{Seed: p.Seed}}
	s, err := q.read(from)
	if err != nil {
		return nil, err
	}
	of, err := shopDigest(s.Shop)
	if err != nil {
		return nil, err
	}
	if of != p.Of {
		return nil, Errorf("a machine, a design or what was reported of them has changed since the shift was asked for: ask again")
	}
	shifts, err := floor.Replications(ctx, s.Shop, floor.Options{Seed: q.Seed, Workers: 1}, p.From, p.N)
	if err != nil {
		return nil, simError(ctx, err)
	}
	return shifts, nil
}

// shopDigest is what shops are told apart by.
func shopDigest(s *floor.Shop) (string, error) {
	b, err := json.Marshal(s)
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:]), err
}

// elsewhere gives the shifts of a setup's shop to be made by whom the question names; nil: by nobody.
func (q *ShiftQuestion) elsewhere(s *floor.Shop) (func(ctx context.Context, from, n int) ([]floor.Shift, error), error) {
	if q.Elsewhere == nil {
		return nil, nil
	}
	of, err := shopDigest(s)
	return func(ctx context.Context, from, n int) ([]floor.Shift, error) {
		return q.Elsewhere(ctx, ShiftPart{string(q.TOML), q.Seed, of, from, n})
	}, err
}
