package act

import (
	"context"
	"errors"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/stitchfile"
)

// Audit asks what in a design wastes time or risks breaks on a machine. The
// shop's thread colours say which blocks are of one thread.
func (s *Shop) Audit(ctx context.Context, q ask.AuditQuestion) (*ask.AuditAnswer, error) {
	ctx, leave, err := s.hold(s.Elsewhere(ctx))
	if err != nil {
		return nil, err
	}
	defer leave()
	return ask.Audit(ctx, s.Shelf(), q)
}

// AuditPart audits some designs on a machine, in short: a part of what TimeParts gives.
func (s *Shop) AuditPart(ctx context.Context, ids []string, machineID string) ([]ask.AuditedDesign, error) {
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	return ask.AuditMany(ctx, s.Shelf(), ids, machineID)
}

// mostMendSeconds is how long a search may hold the shop's computer, s.
const mostMendSeconds = 600

// MendCheck says what is wrong with asking for a mend, before the long work of
// it begins.
func (s *Shop) MendCheck(ctx context.Context, q ask.MendQuestion) error {
	if q.Seconds > mostMendSeconds {
		return tooLong(q.Seconds)
	}
	if err := ask.MendCheck(q); err != nil {
		return err
	}
	_, err := s.Clock(ctx, q.Design, q.Machine, q.Job)
	return err
}

// Mend asks for a design that sews the same picture in less time.
func (s *Shop) Mend(ctx context.Context, q ask.MendQuestion) (*ask.MendAnswer, error) {
	if err := s.MendCheck(ctx, q); err != nil {
		return nil, err
	}
	ctx, leave, err := s.hold(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	q.Now = s.now
	a, err := ask.Mend(ctx, s.Shelf(), q)
	if ctx.Err() != nil {
		return nil, shop.StoppedBy(ctx)
	}
	return a, err
}

// MendManyCheck says what is wrong with asking for a mend of many designs,
// before the long work of it begins.
func (s *Shop) MendManyCheck(ctx context.Context, q ask.MendManyQuestion) error {
	if q.Seconds > mostMendSeconds {
		return tooLong(q.Seconds)
	}
	if err := ask.MendManyCheck(q); err != nil {
		return err
	}
	_, _, err := s.machineOf(ctx, q.Machine)
	return err
}

// MendMany asks for a mend of many designs. What was done when it is stopped is
// the answer.
func (s *Shop) MendMany(ctx context.Context, q ask.MendManyQuestion) (*ask.MendManyAnswer, error) {
	if err := s.MendManyCheck(ctx, q); err != nil {
		return nil, err
	}
	q.Now = s.now
	return ask.MendMany(ctx, shelf{s}, q)
}

// KeepAllMended adds the mended files that can be taken together as designs
// (KeepMended), and says with each which it is. What could not be added is told
// with its design.
func (s *Shop) KeepAllMended(ctx context.Context, m *ask.MendManyAnswer) (kept []*shop.Design, err error) {
	take := m.Take()
	if len(take) == 0 {
		return nil, shop.Invalidf("no file can be taken together with others: none is mended, or each holds a stop of " +
			"the operator's; open them one by one")
	}
	for _, d := range take {
		k, e := s.KeepMended(ctx, d.ID, d.Mend)
		if e != nil {
			err = errors.Join(err, shop.Errorf(shop.CodeOf(e), "%s: %w", d.Design, e))
			continue
		}
		kept = append(kept, k)
	}
	return kept, err
}

func tooLong(seconds float64) error {
	return shop.At("seconds", shop.Invalidf("a search may take up to %d seconds here, not %v", mostMendSeconds, seconds))
}

// KeepMended adds the mended file as a design with the old one's words, its
// threads in the new order of blocks.
func (s *Shop) KeepMended(ctx context.Context, designID string, m *ask.MendAnswer) (*shop.Design, error) {
	if m.Content == nil {
		return nil, shop.Invalidf("the mend changed nothing: there is no new file to keep")
	}
	old, err := s.store.Design(ctx, designID)
	if err != nil {
		return nil, err
	}
	desc := shop.Description{Name: old.Name + ", mended", Customer: old.Customer, Note: old.Note,
		Threads: []book.Thread{}}
	for _, b := range m.Mended.Blocks {
		if b < len(old.Threads) {
			desc.Threads = append(desc.Threads, old.Threads[b])
		} else {
			desc.Threads = append(desc.Threads, book.Thread{})
		}
	}
	d, err := stitchfile.Decode(m.Content, m.NewFile)
	if err != nil {
		return nil, err
	}
	file := stitchfile.File{Name: m.NewFile, Design: d, Content: m.Content}
	a, err := s.Designs.Keep(ctx, file, desc)
	return a.Design, err
}
