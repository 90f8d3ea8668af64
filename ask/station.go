package ask

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"needlepace/book"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/thread"
)

// station is a machine of the shop as the plan sees it.
type station struct {
	Machine
	keys     book.WorkshopMachine
	work     floor.Work // complete
	floor    floor.Machine
	heads    int
	law      thread.Law
	rates    book.Rates // what the floor's reports and recordings say of it, where the workshop goes by them
	said     book.Rates // what they say, whether or not
	sums     book.FloorRates
	expected float64 // thread breaks a head and 1,000 stitches without reports
	digest   string  // of all that times a design on it: like machines share it
}

// stations are the shop's machines with what the workshop says of them.
func stations(ctx context.Context, from LineFrom, w *book.Workshop) ([]*station, error) {
	machines, err := from.Machines(ctx)
	if err != nil {
		return nil, err
	}
	reports, err := from.Reports(ctx)
	if err != nil {
		return nil, err
	}
	heard, err := from.Heard(ctx)
	if err != nil {
		return nil, err
	}
	rates := book.SumReports(reports, heard)
	var out []*station
	together := w.Together()
	for _, m := range machines {
		sheet, err := digestsOf(ctx, from, m)
		if err != nil {
			return nil, err
		}
		st := &station{Machine: m, heads: m.Sheet.Heads, law: w.Thread.Law(), keys: book.WorkshopMachine{Name: m.Name}}
		for _, k := range w.Machine {
			if k.ID == m.ID {
				st.keys = k
			}
		}
		if st.keys.Heads != nil {
			if *st.keys.Heads > m.Sheet.Heads {
				return nil, Errorf("the workshop uses %d heads of %s, which has %d by its sheet",
					*st.keys.Heads, m.Name, m.Sheet.Heads)
			}
			st.heads = *st.keys.Heads
		}
		st.work = st.keys.Work.Over(w.Work).Over(floor.DefaultWork)
		st.expected, st.sums = *st.work.Breaks, rates
		st.said = rates.Of(m.ID, st.expected, sheet.timing, m.Digest)
		if st.rates = st.said; !w.UsesReports() {
			st.rates = book.Rates{Breaks: st.expected, Pace: 1}
		}
		breaks := st.rates.Breaks
		st.work.Breaks = &breaks
		st.floor = st.work.Machine(m.Name, st.heads)
		st.floor.Loaders = min(st.floor.Loaders, together)
		st.digest = fmt.Sprint(sheet.physical, st.keys.Speed, st.heads, st.law, *st.work.Stop, *st.work.Rethread)
		out = append(out, st)
	}
	return out, nil
}

// sheetDigests are what two sheets have alike that time designs alike, see Timing and physical.
type sheetDigests struct{ timing, physical string }

// digestsOf are those of a machine's sheet, reckoned once for each digest of a sheet; one that has none is supposed.
func digestsOf(ctx context.Context, from LineFrom, m Machine) (sheetDigests, error) {
	reckon := func() (sheetDigests, error) { return sheetDigests{Timing(m.Sheet), physical(m.Sheet)}, nil }
	if m.Digest == "" {
		return reckon()
	}
	return from.Memory().sheets.get(ctx, mostSheets, m.Digest, reckon)
}

// Timing is the same for sheets with one clock, whatever they are called and
// however sure of themselves: the pace that reports teach belongs to it.
func Timing(s *machine.Sheet) string {
	c := *s
	c.SD, c.BasisOf, c.Fit = nil, nil, nil
	return physical(&c)
}

// physical is the same for sheets that time designs alike.
func physical(s *machine.Sheet) string {
	c := *s
	c.Name, c.Class = "m", "m"
	sum := sha256.Sum256(c.TOML())
	return hex.EncodeToString(sum[:])
}

// machineNamed finds a machine by its ID or name; key is the field that names it, for
// what is wrong with it.
func machineNamed(all []Machine, key, name string) (*Machine, error) {
	is := func(m Machine) bool { return m.ID == name || strings.EqualFold(m.Name, strings.TrimSpace(name)) }
	k := slices.IndexFunc(all, is)
	switch {
	case k < 0:
		return nil, Missing("there is no machine %q on the list", name).At(key)
	case slices.ContainsFunc(all[k+1:], is):
		return nil, Errorf("two machines are called %q; name the one that is meant by its ID", name).At(key)
	}
	return &all[k], nil
}
