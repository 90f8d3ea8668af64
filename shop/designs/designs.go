package designs

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"path"
	"slices"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/internal/memo"
	"needlepace/shop"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// Drawer draws the small drawings of a design in its threads.
type Drawer func(*stitch.Design) (shop.Thumbs, error)

// Designs keeps the shop's designs: their files, what people say about
// them, and their small drawings.
type Designs struct {
	store   shop.DesignStore
	now     func() time.Time
	limits  stitchfile.Limits // on files taken in
	decoded memo.Memo[string, decoded]
	slots   shop.Slots
	draw    Drawer
	got     shop.KeptByID[*shop.Design]
	lists   shop.KeptByID[listed] // by the question
}

// New keeps designs in a store. limits are those on files taken in; draw draws
// a design for lists.
func New(store shop.DesignStore, now func() time.Time, limits stitchfile.Limits, slots shop.Slots,
	draw Drawer) *Designs {
	return &Designs{store: store, now: now, limits: limits, slots: slots, draw: draw,
		lists: shop.KeptByID[listed]{Most: 100}}
}

// Limits are the limits on files taken in.
func (s *Designs) Limits() stitchfile.Limits { return s.limits }

// Added is what became of one file taken in.
type Added struct {
	File   string       `json:"file"`             // its name, in a container with the container's in front
	Design *shop.Design `json:"design,omitempty"` // as it is kept; null where it could not be read
	New    bool         `json:"new"`              // false: the shop had it already
	Same   []string     `json:"same"`             // IDs of other designs that sew exactly the same
	Error  string       `json:"error,omitempty"`  // why it could not be read
	Code   shop.Code    `json:"code,omitempty"`   //
}

// TakeIn takes in a stitch file, or all stitch files of a .zip or .gz. Files
// that cannot be read are told of, the others are kept; the error is for
// where nothing could be looked at, or the store failed.
func (s *Designs) TakeIn(ctx context.Context, name string, content []byte) ([]Added, error) {
	limits := s.limits
	limits.KeepContent = true
	name = shop.CleanFile(name)
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	return s.addAll(ctx, limits, name, content)
}

func (s *Designs) addAll(ctx context.Context, limits stitchfile.Limits, name string, content []byte) ([]Added, error) {
	files, err := limits.DecodeAll(content, name)
	if err != nil && len(files) == 0 {
		return nil, readError(err)
	}
	var out []Added
	for _, f := range files {
		if ctx.Err() != nil {
			return out, shop.StoppedBy(ctx)
		}
		a, err := s.addDesign(ctx, f)
		if err != nil {
			return out, err
		}
		out = append(out, a)
	}
	if err != nil { // the container was cut short
		e := readError(err)
		out = append(out, Added{File: name, Same: []string{}, Error: e.Text, Code: e.Code})
	}
	return out, nil
}

func (s *Designs) addDesign(ctx context.Context, f stitchfile.File) (Added, error) {
	a := Added{File: cleanLabel(f.Name), Same: []string{}}
	if f.Err != nil {
		e := readError(f.Err)
		a.Error, a.Code = e.Text, e.Code
		return a, nil
	}
	d := describe(f)
	d.Added = s.now().UTC()
	thumbs, err := s.draw(book.WithThreads(f.Design, d.Threads))
	if err != nil {
		return a, err
	}
	if a.New, err = s.store.AddDesign(ctx, d, f.Content, thumbs); err != nil {
		return a, err
	}
	if _, err := s.decoded.Get(ctx, mostDecoded, d.ID, func() (decoded, error) { return decoded{f.Design}, nil }); err != nil {
		return a, err
	}
	if a.Design, err = s.store.Design(ctx, d.ID); err != nil {
		return a, err
	}
	a.Same, err = s.Same(ctx, a.Design)
	return a, err
}

// Keep takes in one design that has been read already, with what is to be said
// about it where it is new.
func (s *Designs) Keep(ctx context.Context, f stitchfile.File, say shop.Description) (Added, error) {
	a, err := s.addDesign(ctx, f)
	if err != nil || !a.New {
		return a, err
	}
	a.Design, err = s.Describe(ctx, a.Design.ID, say)
	return a, err
}

// Same are the IDs of other designs that sew the same.
func (s *Designs) Same(ctx context.Context, d *shop.Design) ([]string, error) {
	page, _, err := s.List(ctx, shop.DesignQuery{Sewn: d.SewnDigest, Limit: 20})
	ids := []string{}
	for _, o := range page {
		if o.ID != d.ID {
			ids = append(ids, o.ID)
		}
	}
	return ids, err
}

// readError puts the stitch reader's errors into ours.
func readError(err error) *shop.Error {
	var unsupported *stitchfile.UnsupportedError
	if errors.As(err, &unsupported) {
		return &shop.Error{Code: shop.Unsupported, Text: cleanLong(err.Error()), Err: err}
	}
	return &shop.Error{Code: shop.Invalid, Text: cleanLong(err.Error()), Err: err}
}

// cleanLong keeps a message that quotes a file's name fit to show.
func cleanLong(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, ""))
}

func describe(f stitchfile.File) *shop.Design {
	n := f.Design.Count()
	digest := shop.Digest(f.Content)
	d := &shop.Design{
		ID: digest[:32], Digest: digest, SewnDigest: sewnDigest(f.Design),
		File: shop.CleanFile(f.Name), Label: cleanLabel(f.Design.Name), Format: f.Design.Format,
		Bytes: int64(len(f.Content)), Stitches: n.Stitches, Jumps: n.Jumps,
		ColourStops: n.ColourStops, Stops: n.Stops,
		WidthMM: n.Bounds.WidthMM(), HeightMM: n.Bounds.HeightMM(),
		Threads: []book.Thread{}, Warnings: []string{},
	}
	d.Name = named(d.File)
	for i, t := range f.Design.Threads {
		if i == 200 {
			break
		}
		th := book.Thread{Name: cleanLabel(t.Name)}
		if t.Known {
			th.Colour = fmt.Sprintf("#%02x%02x%02x", t.R, t.G, t.B)
		}
		d.Threads = append(d.Threads, th)
	}
	for _, w := range f.Design.Warnings {
		d.Warnings = append(d.Warnings, cleanLong(warningText(w)))
	}
	return d
}

// named is what a design is called that nobody has given a name: its file's,
// without the extension. The label inside is not its name: many have the same.
func named(file string) string {
	if name := strings.TrimSuffix(file, path.Ext(file)); name != "" {
		return name
	}
	return file
}

// warningText is a warning with its byte offset where it has one, as the
// command line prints it.
func warningText(w stitch.Warning) string {
	if w.Offset >= 0 {
		return fmt.Sprintf("%s (byte %d)", w.Text, w.Offset)
	}
	return w.Text
}

// sewnDigest is the same for files that sew the same, whatever their format
// and header.
func sewnDigest(d *stitch.Design) string {
	h := sha256.New()
	buf := make([]byte, 0, 5*4096)
	for _, r := range d.Records {
		buf = binary.LittleEndian.AppendUint16(buf, uint16(r.DX))
		buf = binary.LittleEndian.AppendUint16(buf, uint16(r.DY))
		if buf = append(buf, byte(r.Op)); len(buf) == cap(buf) {
			h.Write(buf)
			buf = buf[:0]
		}
	}
	h.Write(buf)
	return hex.EncodeToString(h.Sum(nil))
}

// List is a page of the list of designs, and how many there are in all. The designs are
// shared: nobody may change them.
func (s *Designs) List(ctx context.Context, q shop.DesignQuery) ([]*shop.Design, int, error) {
	if q.Sort != "" && !slices.Contains(shop.DesignSorts, q.Sort) {
		return nil, 0, shop.Invalidf("sort is %q; it must be one of %s", q.Sort, strings.Join(shop.DesignSorts, ", "))
	}
	if q.State != "" && !slices.Contains(shop.DesignStates, q.State) {
		return nil, 0, shop.Invalidf("state is %q; it must be one of %s", q.State, strings.Join(shop.DesignStates, ", "))
	}
	if q.Limit == 0 {
		q.Limit = 50
	}
	if q.Limit < 1 || q.Limit > 500 || q.Offset < 0 {
		return nil, 0, shop.Invalidf("limit must lie between 1 and 500, offset must not be negative")
	}
	if err := shop.CheckText("search", q.Search, 200, false); err != nil {
		return nil, 0, err
	}
	if err := shop.CheckText("customer", q.Customer, 200, false); err != nil {
		return nil, 0, err
	}
	l, err := s.lists.Get(ctx, s.store, fmt.Sprint(q), func(ctx context.Context) (l listed, err error) {
		l.page, l.total, err = s.store.Designs(ctx, q)
		return l, err
	})
	return slices.Clone(l.page), l.total, err
}

// listed is a page as List gives it.
type listed struct {
	page  []*shop.Design
	total int
}

// Of is the designs of a customer that are on the list, by name: most at the
// most, and how many there are.
func (s *Designs) Of(ctx context.Context, customer string, most int) (all []*shop.Design, total int, err error) {
	for q := (shop.DesignQuery{Customer: customer, Sort: "name", Limit: 500}); ; q.Offset += q.Limit {
		page, n, err := s.List(ctx, q)
		if err != nil {
			return nil, 0, err
		}
		all, total = append(all, page...), n
		if len(page) < q.Limit || len(all) >= most {
			return all[:min(len(all), most)], total, nil
		}
	}
}

// Get finds a design, also one taken off the list. It is shared: nobody may change it.
func (s *Designs) Get(ctx context.Context, id string) (*shop.Design, error) {
	return s.got.Get(ctx, s.store, id, func(ctx context.Context) (*shop.Design, error) { return s.store.Design(ctx, id) })
}

// Describe changes what people say about a design; other threads draw
// it anew.
func (s *Designs) Describe(ctx context.Context, id string, desc shop.Description) (*shop.Design, error) {
	old, err := s.store.Design(ctx, id)
	if err != nil {
		return nil, err
	}
	for _, c := range []struct {
		what, text string
		most       int
		needed     bool
	}{{"name", desc.Name, 200, true}, {"customer", desc.Customer, 200, false}, {"note", desc.Note, 4000, false}} {
		if err := shop.CheckText(c.what, c.text, c.most, c.needed); err != nil {
			return nil, shop.At(c.what, err)
		}
	}
	if len(desc.Threads) > 200 {
		return nil, shop.Invalidf("%d threads; at most 200 are kept", len(desc.Threads))
	}
	for i, t := range desc.Threads {
		if err := shop.CheckText("thread name", t.Name, 200, false); err != nil {
			return nil, err
		}
		if b, err := hex.DecodeString(strings.TrimPrefix(t.Colour, "#")); t.Colour != "" &&
			(err != nil || len(b) != 3 || t.Colour[0] != '#') {
			return nil, shop.Invalidf("colour %q of thread %d; it must be #rrggbb, or empty", t.Colour, i+1)
		}
	}
	if desc.Threads == nil {
		desc.Threads = old.Threads
	}
	var thumbs *shop.Thumbs
	if !slices.Equal(desc.Threads, old.Threads) {
		d, err := s.Stitches(ctx, id)
		if err != nil {
			return nil, err
		}
		free, err := s.slots.Take(ctx)
		if err != nil {
			return nil, err
		}
		t, err := s.draw(book.WithThreads(d, desc.Threads))
		free()
		if err != nil {
			return nil, err
		}
		thumbs = &t
	}
	desc.Name, desc.Customer = strings.TrimSpace(desc.Name), strings.TrimSpace(desc.Customer)
	if err := s.store.DescribeDesign(ctx, id, desc, thumbs); err != nil {
		return nil, err
	}
	return s.store.Design(ctx, id)
}

// ByFile calls designs by their files that an older version called by the label
// inside.
func (s *Designs) ByFile(ctx context.Context) error {
	for _, removed := range []bool{false, true} {
		for q := (shop.DesignQuery{Sort: "added", Limit: 500, Removed: removed}); ; q.Offset += q.Limit {
			page, _, err := s.store.Designs(ctx, q)
			if err != nil {
				return err
			}
			for _, d := range page {
				if d.Label == "" || d.Name != d.Label {
					continue
				}
				say := shop.Description{Name: named(d.File), Customer: d.Customer, Note: d.Note, Threads: d.Threads}
				if err := s.store.DescribeDesign(ctx, d.ID, say, nil); err != nil {
					return err
				}
			}
			if len(page) < q.Limit {
				break
			}
		}
	}
	return nil
}

// Remove takes a design off the list; its runs keep it. RestoreDesign
// puts it back.
func (s *Designs) Remove(ctx context.Context, id string) error {
	return s.store.RemoveDesign(ctx, id, true)
}

// Restore puts a design back on the list.
func (s *Designs) Restore(ctx context.Context, id string) error {
	return s.store.RemoveDesign(ctx, id, false)
}

// File is a design's file as it came, and its name.
func (s *Designs) File(ctx context.Context, id string) (name string, content []byte, err error) {
	d, err := s.store.Design(ctx, id)
	if err != nil {
		return "", nil, err
	}
	content, err = s.store.DesignContent(ctx, id)
	return d.File, content, err
}

// Thumbs are a design's small drawings.
func (s *Designs) Thumbs(ctx context.Context, id string) (shop.Thumbs, error) {
	return s.store.DesignThumbs(ctx, id)
}

// decoded is a design's stitches.
type decoded struct{ *stitch.Design }

// Weight is in bytes: a record is 6, and what it comes with is small.
func (d decoded) Weight() int { return 6*cap(d.Records) + 4096 }

// mostDecoded is how many bytes of designs are remembered.
const mostDecoded = 12 << 20

// Stitches is a design decoded. It is shared: nobody may change it.
func (s *Designs) Stitches(ctx context.Context, id string) (*stitch.Design, error) {
	d, err := s.decoded.Get(ctx, mostDecoded, id, func() (d decoded, err error) {
		name, content, err := s.File(ctx, id)
		if err != nil {
			return d, err
		}
		if d.Design, err = stitchfile.Decode(content, name); err != nil {
			return d, shop.Errorf(shop.Storage, "the kept file of design %s cannot be read any more: %w", id, err)
		}
		return d, nil
	})
	return d.Design, err
}
