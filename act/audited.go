package act

import (
	"context"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/shop"
	"needlepace/stitchfile"
)

// Audit asks what in a design wastes time or risks breaks on a machine. The
// shop's thread colours say which blocks are of one thread.
func (s *Shop) Audit(ctx context.Context, q ask.AuditQuestion) (*ask.AuditAnswer, error) {
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	return ask.Audit(ctx, s.Shelf(), q)
}

// mostMendSeconds is how long a search may hold the shop's computer, s.
const mostMendSeconds = 600

// MendCheck says what is wrong with asking for a mend, before the long work of
// it begins.
func (s *Shop) MendCheck(ctx context.Context, q ask.MendQuestion) error {
	if q.Seconds > mostMendSeconds {
		return shop.At("seconds", shop.Invalidf("a search may take up to %d seconds here, not %v", mostMendSeconds,
			q.Seconds))
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
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	q.Now = s.now
	a, err := ask.Mend(ctx, s.Shelf(), q)
	if ctx.Err() != nil {
		return nil, shop.StoppedBy(ctx)
	}
	return a, err
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
	file := stitchfile.File{Name: m.NewFile, Design: m.Mended.Design, Content: m.Content}
	a, err := s.Designs.Keep(ctx, file, desc)
	return a.Design, err
}
