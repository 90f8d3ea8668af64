package ask

import (
	"context"
	"fmt"
	"reflect"
	"time"

	"needlepace/book"
)

// AlikeProblems says how the problem that promises share, with an order put in, differs from one that is gathered for it alone.
func AlikeProblems(ctx context.Context, from PlanFrom, now time.Time, o *book.Order) error {
	x := *o
	x.Promised = x.Due
	alone, err := problemOf(ctx, from, &PlanQuestion{Now: now, extra: []*book.Order{&x}, NoBound: true})
	if err != nil {
		return err
	}
	shared, err := problemWith(ctx, from, now, &x)
	if err != nil {
		return err
	}
	for i := range max(len(alone.Jobs), len(shared.Jobs)) {
		if i >= len(alone.Jobs) || i >= len(shared.Jobs) || !reflect.DeepEqual(alone.Jobs[i], shared.Jobs[i]) ||
			alone.jobs[i].order.ID != shared.jobs[i].order.ID || alone.jobs[i].line.Line != shared.jobs[i].line.Line {
			return fmt.Errorf("job %d of %d and %d is another", i, len(alone.Jobs), len(shared.Jobs))
		}
	}
	for m := range alone.Machines {
		if !reflect.DeepEqual(alone.Machines[m], shared.Machines[m]) {
			return fmt.Errorf("machine %d is %+v alone and %+v shared", m, alone.Machines[m], shared.Machines[m])
		}
	}
	kept, err := from.LastPlan(ctx)
	if err != nil {
		return err
	}
	as := alone.written(alone.goOn(kept))
	if on := shared.written(shared.on); !reflect.DeepEqual(on, as) || len(as.Lots) == 0 {
		return fmt.Errorf("the kept plan goes on as %+v alone and %+v shared", as, on)
	}
	alone.Jobs, shared.Jobs, alone.Machines, shared.Machines = nil, nil, nil, nil
	if !reflect.DeepEqual(alone.Problem, shared.Problem) {
		return fmt.Errorf("the problem is %+v alone and %+v shared", alone.Problem, shared.Problem)
	}
	if len(alone.left) != len(shared.left) || len(alone.partners) != len(shared.partners) || len(alone.notes) != len(shared.notes) {
		return fmt.Errorf("%d lines are left out alone, %d shared; %d and %d are at partners", len(alone.left), len(shared.left),
			len(alone.partners), len(shared.partners))
	}
	return nil
}
