package act

import (
	"context"

	"needlepace/clock"
	"needlepace/shop"
)

// SpeedLaw is the speed a machine holds against stitch length.
type SpeedLaw struct {
	Name     string
	SetSpeed float64 // stitches/min
	Now      []clock.LengthPoint
	Before   []clock.LengthPoint // of the sheet before learning; nil for one never learned
	Readings []shop.Run          // speeds read off the display
}

const (
	lawLength = 12 // mm: the longest stitch of the 3-byte format is little more
	lawLevel  = clock.DefaultLevel
)

// Law is the speed law of a machine of the shop, or of a class.
func (s *Shop) Law(ctx context.Context, machineID string) (*SpeedLaw, error) {
	sheet, _, err := s.machineOf(ctx, machineID)
	if err != nil {
		return nil, err
	}
	l := &SpeedLaw{Name: sheet.Name, SetSpeed: sheet.MaxSpeed, Now: clock.SpeedByLength(sheet, clock.Job{}, lawLength, false, lawLevel)}
	m, err := s.Machines.Get(ctx, machineID)
	if shop.CodeOf(err) == shop.NotFound {
		return l, nil // a class
	}
	if err != nil {
		return nil, err
	}
	if m.Sheet.Fit != nil {
		before, err := s.unlearned(ctx, m)
		if err != nil {
			return nil, err
		}
		if before.Fit == nil {
			l.Before = clock.SpeedByLength(before, clock.Job{}, lawLength, false, lawLevel)
		}
	}
	runs, err := s.store.Runs(ctx, machineID)
	if err != nil {
		return nil, err
	}
	for _, r := range runs {
		if r.Shown > 0 {
			l.Readings = append(l.Readings, r)
		}
	}
	return l, nil
}
