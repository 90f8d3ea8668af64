package ask

import (
	"context"
	"fmt"
	"math"
	"reflect"
	"slices"
	"time"

	"needlepace/book"
	"needlepace/plan"
)

// AlikeProblems says how the problem that promises share, with an order put in, differs from one that is gathered for it alone;
// stood: so does the kept plan, which all of them share as it is timed.
func AlikeProblems(ctx context.Context, from PlanFrom, now time.Time, o *book.Order) (stood bool, err error) {
	x := *o
	x.Promised = x.Due
	alone, err := problemOf(ctx, from, &PlanQuestion{Now: now, extra: []*book.Order{&x}, NoBound: true})
	if err != nil {
		return false, err
	}
	shared, err := problemWith(ctx, from, now, &x)
	if err != nil {
		return false, err
	}
	for i := range max(len(alone.Jobs), len(shared.Jobs)) {
		if i >= len(alone.Jobs) || i >= len(shared.Jobs) || !reflect.DeepEqual(alone.Jobs[i], shared.Jobs[i]) ||
			alone.jobs[i].order.ID != shared.jobs[i].order.ID || alone.jobs[i].line.Line != shared.jobs[i].line.Line {
			return false, fmt.Errorf("job %d of %d and %d is another", i, len(alone.Jobs), len(shared.Jobs))
		}
	}
	for m := range alone.Machines {
		if !reflect.DeepEqual(alone.Machines[m], shared.Machines[m]) {
			return false, fmt.Errorf("machine %d is %+v alone and %+v shared", m, alone.Machines[m], shared.Machines[m])
		}
	}
	kept, err := from.LastPlan(ctx)
	if err != nil {
		return false, err
	}
	as := alone.written(alone.goOn(kept))
	if on := shared.written(shared.on); !reflect.DeepEqual(on, as) || len(as.Lots) == 0 {
		return false, fmt.Errorf("the kept plan goes on as %+v alone and %+v shared", as, on)
	}
	stands, err := shared.stands.with(shared)
	if err != nil {
		return false, err
	}
	if stands != nil {
		desk, err := plan.NewDesk(alone.Problem, as)
		if err != nil {
			return false, err
		}
		near := func(a, b plan.Lot) bool {
			return a.Job == b.Job && a.Machine == b.Machine && a.Quantity == b.Quantity && math.Abs(a.From-b.From) < 1e-6 &&
				math.Abs(a.To-b.To) < 1e-6 && math.Abs(a.Setup-b.Setup) < 1e-6
		}
		if own := desk.Schedule(); !slices.EqualFunc(own.Lots, stands.Lots, near) {
			return false, fmt.Errorf("the kept plan stands as %+v alone and %+v shared", own.Lots, stands.Lots)
		}
	}
	alone.Jobs, shared.Jobs, alone.Machines, shared.Machines = nil, nil, nil, nil
	if !reflect.DeepEqual(alone.Problem, shared.Problem) {
		return false, fmt.Errorf("the problem is %+v alone and %+v shared", alone.Problem, shared.Problem)
	}
	if len(alone.left) != len(shared.left) || len(alone.partners) != len(shared.partners) || len(alone.notes) != len(shared.notes) {
		return false, fmt.Errorf("%d lines are left out alone, %d shared; %d and %d are at partners", len(alone.left), len(shared.left),
			len(alone.partners), len(shared.partners))
	}
	return stands != nil, nil
}
