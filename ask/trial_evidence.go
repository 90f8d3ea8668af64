package ask

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"needlepace/learn"
	"needlepace/machine"
	"needlepace/words"
)

// TrialEvidence is what a trial's runs tell of one of its machines, as other shops may
// have it: a learned sheet of its class with evidence, and nothing of the client, the
// place, the people or the designs. Why says why there is none.
type TrialEvidence struct {
	Machine string
	Sheet   *machine.Sheet // nil: none
	Why     string
}

// Evidence is what the runs that count tell of each machine, learned anew from its
// built-in class, so that nothing that was known before is counted again. number is a
// random one of whoever made the trial (32 hexadecimal digits); each place counts as a shop
// of its own by one that follows from it, and says nothing of it.
func (a *TrialAnswer) Evidence(ctx context.Context, number string) ([]TrialEvidence, error) {
	var out []TrialEvidence
	for k, m := range a.File.Machines {
		e := TrialEvidence{Machine: m.Name}
		class, ok := machine.ClassOf(a.Sheets[k].Class)
		if !ok {
			e.Why = fmt.Sprintf("its class is %q, a text of the client's own, which would go along", a.Sheets[k].Class)
			out = append(out, e)
			continue
		}
		var seen []learn.Observation
		for _, r := range a.Runs {
			if !r.Apart.IsZero() || r.Machine != m.Name {
				continue
			}
			for i, d := range a.Designs {
				if d.Name != r.Design {
					continue
				}
				o := learn.Observation{Kind: learn.WholeRun, Name: fmt.Sprintf("design %d", i+1), Design: d.Of.Design, SetSpeed: m.Speed, Seconds: r.Seconds, Step: 1}
				if day, err := time.Parse(time.DateOnly, r.Day); err == nil {
					o.Date = words.NewDay(day.Date())
				}
				seen = append(seen, o)
			}
		}
		if len(seen) == 0 {
			e.Why = "no run of it counts"
			out = append(out, e)
			continue
		}
		r, err := learn.Fit(ctx, class, seen, learn.Options{})
		if ctx.Err() != nil {
			return nil, stopped(ctx)
		}
		if err != nil {
			e.Why = fmt.Sprintf("nothing could be learned: %v", err)
		} else if e.Sheet, err = Share(r.Sheet, placeNumber(number, m.Place), false); err != nil {
			e.Why = err.Error()
		}
		out = append(out, e)
	}
	return out, nil
}

func placeNumber(number, place string) string {
	sum := sha256.Sum256([]byte(number + "\x00" + place))
	return hex.EncodeToString(sum[:16])
}
