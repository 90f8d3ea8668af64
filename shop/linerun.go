package shop

import (
	"context"

	"needlepace/clock"
)

// LineRun is one run of an order's line on a machine: a piece on each head in
// use, at the setting the workshop and the goods ask for.
type LineRun struct {
	MachineID string         `json:"machine"`
	Machine   string         `json:"machine_name"`
	Heads     int            `json:"heads"`
	SetSpeed  float64        `json:"set_speed"` // stitches/min
	Seconds   float64        `json:"seconds"`   // start button to standing
	Interval  clock.Interval `json:"interval"`
	Parts     clock.Parts    `json:"parts"`
}

// RunOfLine is a run of a line of an order on a machine of the shop, as quotes
// and plans take it; a machine that cannot make the line is Invalid.
func (s *Shop) RunOfLine(ctx context.Context, o *Order, line int, machineID string) (*LineRun, error) {
	l := o.Line(line)
	if l == nil {
		return nil, Errorf(NotFound, "order %d has no line %d", o.Number, line)
	}
	w, _, err := s.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	st, k, err := s.lineOnMachine(ctx, w, l, machineID)
	if err != nil {
		return nil, err
	}
	if k.Why != "" {
		return nil, Errorf(Invalid, "%s cannot make it: %s", st.Name, k.Why)
	}
	c, err := s.Clock(ctx, l.DesignID, machineID, st.clockJob(l, k))
	if err != nil {
		return nil, err
	}
	return &LineRun{
		MachineID: st.ID, Machine: st.Name, Heads: st.heads, SetSpeed: c.Result.SetSpeed, Seconds: c.Result.Seconds,
		Interval: clock.Interval{Low: c.How.Low, High: c.How.High, Level: clock.DefaultLevel}, Parts: c.Result.Parts,
	}, nil
}

// SewingOn is the line that is on a machine now ("1003", or "1003/2"), "" for
// none.
func (s *Shop) SewingOn(ctx context.Context, machineID string) (string, error) {
	return s.runningOn(ctx, machineID)
}
