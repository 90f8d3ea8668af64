package act

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"sync"
	"time"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/shop/timings"
	"needlepace/telling"
)

// How long what machines tell is kept, and how long it is believed to be so still.
const (
	keepCounts = 3 * 24 * time.Hour
	keepTold   = 400 * 24 * time.Hour
	dropEvery  = time.Hour
	toldFor    = 24 * time.Hour
)

// toldMemory is what machines told last, folded once.
type toldMemory struct {
	mu      sync.Mutex
	runs    map[string]toldRun // by machine
	dropped time.Time
}

type toldRun struct {
	n    int64
	run  telling.Run
	ends []time.Time
}

// Tell takes in a message that a machine sent: topic ends with the machine's name or
// ID. What cannot be used is kept apart with why. Only an error of the store is an
// error: the message was not kept then, and must come again.
func (s *Shop) Tell(ctx context.Context, topic string, payload []byte) error {
	got := s.now().UTC()
	apart := func(why string) error {
		return s.store.KeepApart(ctx, shop.ToldApart{Topic: topic, Payload: payload, Why: why, Got: got})
	}
	if err := s.dropTold(ctx, got); err != nil {
		return err
	}
	e, err := telling.Parse(payload, got)
	if err != nil {
		return apart(err.Error())
	}
	m, err := s.Machines.Find(ctx, topic[strings.LastIndexByte(topic, '/')+1:])
	if err != nil {
		if why := refusal(err); why != "" {
			return apart(why)
		}
		return err
	}
	fresh, other, err := s.store.KeepTold(ctx, m.ID, e)
	if err != nil {
		return err
	}
	if other {
		return apart(fmt.Sprintf("message %d of this boot came before and said something else; the first one stays", e.Seq))
	}
	// What a message completes is done when it comes again too: the program may have
	// ended between the two.
	if !fresh && e.Kind != telling.Finished {
		return nil
	}
	why, err := s.learnTold(ctx, m, e)
	if err == nil && why != "" {
		err = apart("the run is kept, and teaches nothing: " + why)
	}
	return err
}

// refusal is why something that a machine told cannot be used; empty: the store failed.
func refusal(err error) string {
	switch shop.CodeOf(shop.AsInvalid(err)) {
	case shop.Invalid, shop.NotFound, shop.Conflict, shop.TooLarge:
		return err.Error()
	}
	return ""
}

func (s *Shop) dropTold(ctx context.Context, now time.Time) error {
	t := &s.told
	t.mu.Lock()
	due := now.Sub(t.dropped).Abs() >= dropEvery
	if due {
		t.dropped = now
	}
	t.mu.Unlock()
	if !due {
		return nil
	}
	return s.store.DropTold(ctx, now.Add(-keepCounts), now.Add(-keepTold))
}

// learnTold makes a timed run of one that has ended, once; a message that came late may
// be the last that it waited for. why is why its time cannot be taken.
func (s *Shop) learnTold(ctx context.Context, m *shop.Machine, e *telling.Event) (why string, err error) {
	events, latency, err := s.store.ToldRun(ctx, m.ID, e.Boot, e.Run)
	if err != nil {
		return "", err
	}
	r := telling.Fold(events, latency)
	if why, ok := r.Timed(); !ok {
		if e.Kind == telling.Finished && r.Missing == 0 {
			return why, nil
		}
		return "", nil // what is missing may come
	}
	line, err := s.lineOn(ctx, m.ID)
	if err != nil {
		return "", err
	}
	t := &shop.Timing{ID: toldID(m.ID, &r), MachineID: m.ID, SetSpeed: r.Speed, Started: r.Started, Note: "told by the machine", Rev: 1}
	if r.Design != "" {
		d, err := s.Designs.Find(ctx, r.Design)
		if err != nil {
			if why := refusal(err); why != "" {
				return why, nil
			}
			return "", err
		}
		t.DesignID = d.ID
	} else if line != nil {
		t.DesignID = line.DesignID
	} else {
		return "it names no design, and nothing is on the machine", nil
	}
	if line != nil && line.DesignID == t.DesignID {
		if line.Named() {
			return "each name takes a time of its own", nil
		}
		t.Job = line.Kinds().String()
	}
	ms := func(s float64) int64 { return int64(s*1000 + .5) }
	t.Marks = append(t.Marks, shop.Mark{Kind: shop.MarkStart})
	for _, x := range r.Stops {
		t.Marks = append(t.Marks, shop.Mark{Kind: shop.MarkStop, AtMS: ms(x.From)}, shop.Mark{Kind: shop.MarkRestart, AtMS: ms(x.To)})
	}
	t.Marks = append(t.Marks, shop.Mark{Kind: shop.MarkEnd, AtMS: ms(r.Seconds())})
	ctx = shop.WithAct(ctx, &shop.Act{By: m.Name, Right: shop.TimeRuns, From: shop.FromMachine, At: s.now().UTC()})
	if was, err := s.Timings.Get(ctx, t.ID); err == nil && was.Done {
		return "", nil
	} else if err != nil && shop.CodeOf(err) != shop.NotFound {
		return "", err
	}
	if _, err = s.Timings.Save(ctx, t); err == nil {
		_, err = s.Timings.Finish(ctx, t.ID, timings.Finishing{})
	}
	if err == nil {
		return "", nil
	}
	why = refusal(err)
	if why == "" {
		return "", err
	}
	// What became no runs is nobody's watch either.
	if err := s.Timings.Delete(ctx, t.ID); err != nil && shop.CodeOf(err) != shop.NotFound {
		return "", err
	}
	return why, nil
}

// toldID is the ID of the timing that a run becomes: the same however often it is told.
func toldID(machine string, r *telling.Run) string {
	sum := sha256.Sum256([]byte(machine + "\x00" + r.Boot + "\x00" + r.Name))
	return "told-" + hex.EncodeToString(sum[:12])
}

// lineOn is the line that the floor has put on a machine; nil: none.
func (s *Shop) lineOn(ctx context.Context, machineID string) (*book.OrderLine, error) {
	all, err := s.Asked().Planned(ctx)
	if err != nil {
		return nil, err
	}
	for _, o := range all {
		for i := range o.Lines {
			for _, h := range o.Lines[i].Holds {
				if h.Running && h.MachineID == machineID {
					return &o.Lines[i], nil
				}
			}
		}
	}
	return nil, nil
}

// Told is where machines are by what they tell, for Today.
func (s *Shop) Told(ctx context.Context) ([]ask.HeardAt, error) {
	since := s.now().Add(-toldFor)
	last, err := s.store.ToldLast(ctx, since)
	if err != nil {
		return nil, err
	}
	t := &s.told
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.runs == nil {
		t.runs = map[string]toldRun{}
	}
	var out []ask.HeardAt
	for _, l := range last {
		k := t.runs[l.MachineID]
		if k.n != l.N {
			events, latency, err := s.store.ToldRun(ctx, l.MachineID, l.Boot, l.Run)
			if err != nil {
				return nil, err
			}
			if len(events) == 0 {
				continue // dropped meanwhile
			}
			k = toldRun{n: l.N, run: telling.Fold(events, latency)}
			if k.ends, err = s.toldEnds(ctx, l.MachineID, since); err != nil {
				return nil, err
			}
			t.runs[l.MachineID] = k
		}
		h := ask.HeardAt{Machine: l.MachineID, Stitch: k.run.Stitch, At: k.run.At, Told: true, Cause: k.run.Cause, Ended: k.run.Ended,
			Ends: k.ends}
		if k.run.Design != "" {
			h.Design = "?" // one that the shop does not have is no line's
			if d, err := s.Designs.Find(ctx, k.run.Design); err == nil {
				h.Design = d.ID
			}
		}
		out = append(out, h)
	}
	return out, nil
}

func (s *Shop) toldEnds(ctx context.Context, machineID string, since time.Time) (ends []time.Time, err error) {
	all, err := s.toldRuns(ctx, machineID, since)
	for _, r := range all {
		ends = append(ends, r.At)
	}
	return ends, err
}

// toldRuns are a machine's runs of which an end came.
func (s *Shop) toldRuns(ctx context.Context, machineID string, since time.Time) (out []telling.Run, err error) {
	ends, err := s.store.ToldEnds(ctx, machineID, since)
	if err != nil {
		return nil, err
	}
	for _, e := range ends {
		events, latency, err := s.store.ToldRun(ctx, machineID, e.Boot, e.Run)
		if err != nil {
			return nil, err
		}
		out = append(out, telling.Fold(events, latency))
	}
	return out, nil
}

// ToldReport is what a machine tells of a line that nobody has reported yet.
type ToldReport struct {
	Runs   int
	Breaks int
	Since  time.Time
}

// ToldOf is what a machine tells of a line since it was put on, or since the last
// report of it.
func (s *Shop) ToldOf(ctx context.Context, o *book.Order, l *book.OrderLine, machineID string) (*ToldReport, error) {
	out := &ToldReport{}
	for _, h := range l.Holds {
		if h.Running && h.MachineID == machineID {
			out.Since = h.At
		}
	}
	if out.Since.IsZero() {
		return out, nil // it is not on the machine, as far as anybody said
	}
	reports, err := s.store.Reports(ctx, o.ID)
	if err != nil {
		return nil, err
	}
	for i := range reports {
		if r := &reports[i]; r.Line == l.Line && r.MachineID == machineID && r.TakenBack == nil && r.Added.After(out.Since) {
			out.Since = r.Added
		}
	}
	runs, err := s.toldRuns(ctx, machineID, out.Since)
	if err != nil {
		return nil, err
	}
	for i := range runs {
		r := &runs[i]
		if r.Design != "" {
			if d, err := s.Designs.Find(ctx, r.Design); err != nil || d.ID != l.DesignID {
				continue
			}
		}
		out.Runs++
		out.Breaks += r.Breaks()
	}
	return out, nil
}

// Apart are the messages of machines that could not be used, the latest first, and how
// many there were.
func (s *Shop) Apart(ctx context.Context, limit int) ([]shop.ToldApart, int, error) {
	return s.store.Apart(ctx, limit)
}
