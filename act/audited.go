package act

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"path"
	"strings"
	"time"

	"needlepace/audit"
	"needlepace/audit/sequence"
	"needlepace/book"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// Audited is the audit of a design on a machine.
type Audited struct {
	*audit.Report
	Design *stitch.Design
	Sheet  *machine.Sheet
}

// AuditAsked is what an audit is told beside design and machine.
type AuditAsked struct {
	Job          clock.Job
	Pieces       int     // ordered; 0 is 1
	HoopX, HoopY float64 // mm inside the hoop; 0: not given
}

// Audit finds what in a design wastes time or risks breaks on a machine. The
// shop's thread colours say which blocks are of one thread.
func (s *Shop) Audit(ctx context.Context, designID, machineID string, ask AuditAsked) (*Audited, error) {
	d, sheet, threads, err := s.auditInput(ctx, designID, machineID, ask.Job)
	if err != nil {
		return nil, err
	}
	if ask.Pieces < 0 || ask.Pieces > 10_000_000 {
		return nil, shop.Errorf(shop.Invalid, "pieces is %d; it must lie between 1 and 10,000,000", ask.Pieces)
	}
	for _, v := range []float64{ask.HoopX, ask.HoopY} {
		if math.IsNaN(v) || v < 0 || v > 5000 {
			return nil, shop.Errorf(shop.Invalid, "a hoop has 0 to 5,000 mm")
		}
	}
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	r, err := audit.Check(ctx, d, sheet, ask.Job, audit.Options{Threads: threads, Pieces: ask.Pieces, HoopX: ask.HoopX, HoopY: ask.HoopY, Seed: 1})
	if err != nil {
		return nil, shop.Errorf(shop.Invalid, "%w", err)
	}
	return &Audited{r, d, sheet}, nil
}

func (s *Shop) auditInput(ctx context.Context, designID, machineID string, job clock.Job) (*stitch.Design, *machine.Sheet, []int, error) {
	if err := job.Validate(); err != nil {
		return nil, nil, nil, shop.Errorf(shop.Invalid, "%w", err)
	}
	sheet, _, err := s.machineOf(ctx, machineID)
	if err != nil {
		return nil, nil, nil, err
	}
	kept, err := s.store.Design(ctx, designID)
	if err != nil {
		return nil, nil, nil, err
	}
	d, err := s.Designs.Stitches(ctx, designID)
	if err != nil {
		return nil, nil, nil, err
	}
	d = book.WithThreads(d, kept.Threads)
	threads, _ := audit.ThreadsOf(d, audit.Blocks(d))
	return d, sheet, threads, nil
}

// MendAsked is what a mend may do.
type MendAsked struct {
	Job         clock.Job
	KeepColours bool    // the colour blocks stay in their order
	Seconds     float64 // for the search; 0 is 20
	Keep        bool    // add the mended file to the shop's designs
}

// MendedDesign is a better design, as a file.
type MendedDesign struct {
	*audit.Mended
	File    string // name of the new file
	Content []byte
	Kept    *shop.Design // where it was kept; else nil
}

// Mend makes a design cheaper to sew on a machine without changing the sewn
// picture, and writes it as a file that was read back.
func (s *Shop) Mend(ctx context.Context, designID, machineID string, ask MendAsked, progress func(fraction float64)) (*MendedDesign, error) {
	d, sheet, threads, err := s.auditInput(ctx, designID, machineID, ask.Job)
	if err != nil {
		return nil, err
	}
	kept, err := s.store.Design(ctx, designID)
	if err != nil {
		return nil, err
	}
	if ask.Seconds == 0 {
		ask.Seconds = 20
	}
	if !(ask.Seconds > 0 && ask.Seconds <= 600) {
		return nil, shop.Errorf(shop.Invalid, "seconds is %v; the search may take 1 to 600", ask.Seconds)
	}
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	limit := time.Duration(ask.Seconds * float64(time.Second))
	search, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	began := s.now()
	m, err := audit.Mend(search, d, sheet, ask.Job, audit.MendOptions{
		Threads: threads, KeepColours: ask.KeepColours, Seed: 1,
		Progress: func(sequence.Progress) { progress(float64(s.now().Sub(began)) / float64(limit)) },
	})
	if ctx.Err() != nil {
		return nil, shop.StoppedBy(ctx)
	}
	if err != nil {
		return nil, shop.Errorf(shop.Invalid, "%w", err)
	}
	out := &MendedDesign{Mended: m}
	format, err := stitchfile.WriterFor("." + d.Format)
	if err != nil {
		format = "dst"
	}
	var b bytes.Buffer
	if err := stitchfile.Encode(&b, m.Design, format); err != nil {
		return nil, shop.Errorf(shop.Unsupported, "the mended design cannot be written: %w", err)
	}
	out.Content = b.Bytes()
	out.File = strings.TrimSuffix(kept.File, path.Ext(kept.File)) + "-mended." + format
	back, err := stitchfile.Decode(out.Content, out.File)
	if err != nil {
		return nil, fmt.Errorf("shop: the mended file cannot be read back: %w", err)
	}
	if err := audit.SameSewing(m.Design, back, sheet.Reading.TrimAfterJumps); err != nil {
		return nil, fmt.Errorf("shop: the mended file sews differently: %w", err)
	}
	if ask.Keep {
		if out.Kept, err = s.keepMended(ctx, kept, out); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// keepMended adds the mended file as a design with the old one's words, its
// threads in the new order of blocks.
func (s *Shop) keepMended(ctx context.Context, old *shop.Design, m *MendedDesign) (*shop.Design, error) {
	desc := shop.Description{Name: old.Name + ", mended", Customer: old.Customer, Note: old.Note, Threads: []book.Thread{}}
	for _, b := range m.Blocks {
		if b < len(old.Threads) {
			desc.Threads = append(desc.Threads, old.Threads[b])
		} else {
			desc.Threads = append(desc.Threads, book.Thread{})
		}
	}
	a, err := s.Designs.Keep(ctx, stitchfile.File{Name: m.File, Design: m.Design, Content: m.Content}, desc)
	return a.Design, err
}
