package ask

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/shopspring/decimal"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/floor"
	"needlepace/money"
	"needlepace/rough"
	"needlepace/stitch"
	"needlepace/words"
)

// RoughFrom is what a price before there is a stitch file is made from.
type RoughFrom interface {
	QuoteFrom
	// Known are the shop's own designs, the newest first, at most so many.
	Known(ctx context.Context, most int) ([]*book.Design, error)
	// Samples are the invented demo's designs, named by their files, which count until
	// there are enough of the shop's own.
	Samples(ctx context.Context) ([]*stitch.Design, error)
}

// enough is how many designs of its own a shop needs so that the demo's count no more.
const enough = 24

// mostKnown is how many of a shop's designs are learned from at most, the newest.
const mostKnown = 300

// RoughLevel is the share of the like that lies in the ranges.
const RoughLevel = 0.8

// RoughQuestion asks what a design would come to that is not there yet.
type RoughQuestion struct {
	Width, Height float64 // mm
	Kind          string  // of rough.Kinds; empty: badge
	Cover         string  // of rough.Covers; empty: half
	Colours       int     // 0: 4
	Quantity      int     // 0: 24
	CapFrame      bool
	Design        string // ID of the file, once it has come: the answer then says how it differs
}

// RoughAnswer is what it would come to, as ranges that eight in ten of the like lie
// in. Its JSON is a written contract: later versions add keys and never change one.
type RoughAnswer struct {
	Width    float64         `json:"width_mm"`
	Height   float64         `json:"height_mm"`
	Kind     string          `json:"kind"`
	Cover    string          `json:"cover"`
	Colours  int             `json:"colours"`
	Quantity int             `json:"quantity"`
	Level    float64         `json:"level" doc:"share of the like that lies in the ranges"`
	Own      int             `json:"own_designs" doc:"of the shop, that it was learned from"`
	Samples  int             `json:"sample_designs" doc:"of the invented demo, that it was learned from"`
	Stitches rough.Range     `json:"stitches"`
	On       []RoughMachine  `json:"machines" doc:"that the price stands on, the largest part first"`
	Currency string          `json:"currency"`
	Price    *RoughPrice     `json:"price" doc:"a piece, without tax, digitizing apart; left out: nothing is priced"`
	Sum      *RoughPrice     `json:"sum" doc:"of all pieces"`
	Fee      money.Dec       `json:"digitizing_fee"`
	Like     string          `json:"like" doc:"the design that is most like it; what loading and stops take is its"`
	File     *RoughFile      `json:"file,omitempty" doc:"the design that came, against this"`
	Unpriced []string        `json:"unpriced,omitempty" doc:"machines that could sew it, but have no prices: it is priced without them"`
	Verdict  words.Sentences `json:"verdict"`
	Caveats  words.Sentences `json:"caveats"`
}

// RoughMachine is a machine with how long a run would take.
type RoughMachine struct {
	ID    string      `json:"machine"`
	Name  string      `json:"machine_name"`
	Part  money.Dec   `json:"part"`
	Heads int         `json:"heads"`
	Run   rough.Range `json:"run_seconds"`
}

// RoughPrice is a range of money.
type RoughPrice = book.RoughPrice

// RoughFile is the design that came.
type RoughFile struct {
	Design   string    `json:"design"`
	Stitches int       `json:"stitches"`
	Run      float64   `json:"run_seconds" doc:"on the first of the machines"`
	Price    money.Dec `json:"price"`
	Inside   bool      `json:"inside" doc:"its stitches lie in the range"`
	Saying   bool      `json:"as_said" doc:"its size, cover and colours are about as was said"`
}

func (q *RoughQuestion) fill() error {
	if q.Kind == "" {
		q.Kind = string(rough.Badge)
	}
	if q.Cover == "" {
		q.Cover = string(rough.Half)
	}
	if q.Colours == 0 {
		q.Colours = 4
	}
	if q.Quantity == 0 {
		q.Quantity = 24
	}
	switch {
	case !(q.Width >= 3 && q.Width <= 2000):
		return Errorf("the width is %v mm; give 3 to 2000", q.Width).At("width")
	case !(q.Height >= 3 && q.Height <= 2000):
		return Errorf("the height is %v mm; give 3 to 2000", q.Height).At("height")
	case !slices.Contains(rough.Kinds, rough.Kind(q.Kind)):
		return Errorf("the kind is %q; give badge, lettering or jacket back", q.Kind).At("kind")
	case !slices.Contains(rough.Covers, rough.Cover(q.Cover)):
		return Errorf("the cover is %q; give light (a third of its box at most), half, or full (more than two thirds)",
			q.Cover).At("cover")
	case q.Colours < 1 || q.Colours > 100:
		return Errorf("the colours are %d; give 1 to 100", q.Colours).At("colours")
	case q.Quantity < 1 || q.Quantity > floor.MaxQuantity:
		return Errorf("the pieces are %d; give 1 to %d", q.Quantity, floor.MaxQuantity).At("quantity")
	}
	return nil
}

// learned is a design that it is learned from.
type learned struct {
	rough.Example
	id     string // of the shop's; empty: a sample
	name   string
	d      *stitch.Design
	sample bool
}

// Rough says what a design would come to that is not there yet: stitches, time and
// price as ranges, learned from the shop's own designs, and from the demo's until
// there are enough of them.
func Rough(ctx context.Context, from RoughFrom, q RoughQuestion) (*RoughAnswer, error) {
	if err := q.fill(); err != nil {
		return nil, err
	}
	w, _, err := from.Workshop(ctx)
	if err != nil {
		return nil, err
	}
	all, err := stations(ctx, from, w)
	if err != nil {
		return nil, err
	}
	teach, err := learnedFrom(ctx, from, q.Design)
	if err != nil {
		return nil, err
	}
	asked := rough.Design{Width: q.Width, Height: q.Height, Kind: rough.Kind(q.Kind), Cover: rough.Cover(q.Cover), Colours: q.Colours}
	a := &RoughAnswer{Width: q.Width, Height: q.Height, Kind: q.Kind, Cover: q.Cover, Colours: q.Colours, Quantity: q.Quantity,
		Level: RoughLevel, On: []RoughMachine{}, Currency: w.Money.Currency, Verdict: words.Sentences{}, Caveats: words.Sentences{}}
	var examples []rough.Example
	for i := range teach {
		if examples = append(examples, teach[i].Example); teach[i].sample {
			a.Samples++
		} else {
			a.Own++
		}
	}
	a.Stitches = rough.Learn(examples).Stitches(asked, RoughLevel)
	like := nearest(teach, asked)
	if like == nil {
		return nil, Errorf("there is no design to learn from: add one first")
	}
	a.Like = like.name
	if len(all) > 0 {
		if err := a.priced(ctx, from, w, all, teach, like, asked, &q); err != nil {
			return nil, err
		}
	}
	if q.Design != "" {
		if err := a.came(ctx, from, w, all, asked, &q); err != nil {
			return nil, err
		}
	}
	a.say(w)
	return a, nil
}

// learnedFrom are the designs that it is learned from, without the one that came.
func learnedFrom(ctx context.Context, from RoughFrom, without string) ([]learned, error) {
	own, err := from.Known(ctx, mostKnown)
	if err != nil {
		return nil, err
	}
	var out []learned
	files := map[string]bool{}
	for _, d := range own {
		files[d.File] = true
		if d.ID == without || d.Removed || d.Stitches == 0 {
			continue
		}
		if ctx.Err() != nil {
			return nil, stopped(ctx)
		}
		s, err := from.Stitches(ctx, d.ID)
		if err != nil {
			return nil, err
		}
		if is, n, ok := from.Memory().roughOf(d.ID, s); ok {
			out = append(out, learned{Example: rough.Example{Design: is, Stitches: n, Weight: 1}, id: d.ID, name: d.Name, d: s})
		}
	}
	weight := SampleWeight(len(out))
	if weight == 0 {
		return out, nil
	}
	samples, err := from.Samples(ctx)
	if err != nil {
		return nil, err
	}
	for _, s := range samples {
		if files[s.Name] {
			continue // in the demo's own shop they are its own
		}
		if is, n, ok := from.Memory().roughOf("sample "+s.Name, s); ok {
			out = append(out, learned{Example: rough.Example{Design: is, Stitches: n, Weight: weight}, name: s.Name, d: s, sample: true})
		}
	}
	return out, nil
}

// SampleWeight is what one of the demo's designs counts beside so many of the shop's own,
// 0 to 1.
func SampleWeight(own int) float64 { return max(0, 1-float64(own)/enough) }

// nearest is the design most like what is asked, in what a machine's stops hang on:
// kind, colours, and size.
func nearest(all []learned, asked rough.Design) *learned {
	var best *learned
	least := math.Inf(1)
	for i := range all {
		d := &all[i].Design
		far := math.Abs(math.Log(d.Width * d.Height / (asked.Width * asked.Height)))
		far += math.Abs(math.Log(float64(d.Colours) / float64(asked.Colours)))
		if d.Kind != asked.Kind {
			far++
		}
		if far < least {
			best, least = &all[i], far
		}
	}
	return best
}

// roughLike gives a line the stitches of the design that is most like what is asked.
type roughLike struct {
	QuoteFrom
	design *book.Design
	d      *stitch.Design
}

// Design is that design.
func (r *roughLike) Design(context.Context, string) (*book.Design, error) { return r.design, nil }

// Stitches are that design's.
func (r *roughLike) Stitches(context.Context, string) (*stitch.Design, error) { return r.d, nil }

// priced foretells the time on each machine of the shop's standard, and the price.
func (a *RoughAnswer) priced(
	ctx context.Context, from RoughFrom, w *book.Workshop, all []*station, teach []learned, like *learned, asked rough.Design,
	q *RoughQuestion,
) error {
	n := like.d.Count()
	des := &book.Design{ID: "rough " + cmpID(like), Name: like.name, Stitches: n.Stitches, ColourStops: n.ColourStops,
		WidthMM: q.Width, HeightMM: q.Height}
	line := &book.OrderLine{Line: 1, DesignID: des.ID, Quantity: q.Quantity, LineGoods: book.LineGoods{CapFrame: q.CapFrame}}
	var can []*station
	whys := ""
	for _, st := range all {
		if st.Sheet.Needles > 1 && q.Colours > st.Sheet.Needles {
			whys += fmt.Sprintf("; %s: %d thread colours on %d needles", st.Name, q.Colours, st.Sheet.Needles)
			continue
		}
		can = append(can, st)
	}
	if len(can) == 0 {
		return Errorf("no machine can make it: %s", strings.TrimPrefix(whys, "; ")).At("colours")
	}
	foretold := map[string]rough.Range{}
	for _, st := range can {
		r, err := a.timeOn(ctx, from, st, teach, asked)
		if err != nil {
			return err
		}
		foretold[st.ID] = r
	}
	wrap := &roughLike{from, des, like.d}
	if !w.Priced() {
		for _, st := range can {
			if k, err := lineAt(ctx, wrap, line, des, st); err == nil && k.Why.IsZero() {
				a.On = append(a.On, RoughMachine{ID: st.ID, Name: st.Name, Heads: st.heads, Run: foretold[st.ID]})
			}
		}
		return nil
	}
	on, _, caveats, unpriced, err := standardOf(ctx, wrap, w, can, line, des, "")
	if err != nil {
		return err
	}
	a.Caveats = append(a.Caveats, caveats...)
	if len(unpriced) > 0 {
		a.Unpriced = unpriced
		a.Caveats.Say("rough.priced-without", words.Args{"machines": namesOf(unpriced)})
	}
	rates := w.Money
	a.Fee = rates.Round(rates.Digitizing.Dec)
	rates.Digitizing = money.Amount{}
	price := func(of func(rough.Range) float64) (money.Dec, error) {
		var shares []money.Share
		more := of(a.Stitches) / float64(n.Stitches)
		for i := range on {
			p := on[i].Share
			r := foretold[on[i].st.ID]
			p.Made.Seconds[floor.Running] *= of(r) / on[i].k.Seconds
			p.Made.Seconds[floor.Repair] *= more
			p.Made.Seconds[floor.Bobbins] *= more
			p.Made.Stitches = max(1, int(math.Round(of(a.Stitches))))
			p.Made.Top, p.Made.Bobbin = p.Made.Top*more, p.Made.Bobbin*more
			p.Made.Width, p.Made.Height = q.Width, q.Height
			p.Made.Spoilt = on[i].st.floor.Spoilt(p.Made.Stitches)
			p.Made.Setup = on[i].st.work.Setup.Mean + on[i].st.cone()*float64(q.Colours)
			shares = append(shares, p)
		}
		s, err := rates.Standards(shares, []int{q.Quantity}, false)
		if err != nil {
			return money.Dec{}, Errorf("%w", err)
		}
		return s[0].Price, nil
	}
	a.Price, a.Sum = &RoughPrice{}, &RoughPrice{}
	for _, x := range []struct {
		of      func(rough.Range) float64
		to, sum *money.Dec
	}{
		{func(r rough.Range) float64 { return r.Low }, &a.Price.Low, &a.Sum.Low},
		{func(r rough.Range) float64 { return r.Mid }, &a.Price.Mid, &a.Sum.Mid},
		{func(r rough.Range) float64 { return r.High }, &a.Price.High, &a.Sum.High},
	} {
		if *x.to, err = price(x.of); err != nil {
			return err
		}
		*x.sum = x.to.Mul(decimal.NewFromInt(int64(q.Quantity)))
	}
	for i := range on {
		a.On = append(a.On, RoughMachine{ID: on[i].st.ID, Name: on[i].st.Name, Part: on[i].Part, Heads: on[i].st.heads,
			Run: foretold[on[i].st.ID]})
	}
	return nil
}

func cmpID(l *learned) string {
	if l.id != "" {
		return l.id
	}
	return "sample " + l.name
}

// timeOn foretells how long a run takes on a machine, from what the learned designs take
// there.
func (a *RoughAnswer) timeOn(ctx context.Context, from RoughFrom, st *station, teach []learned, asked rough.Design) (rough.Range, error) {
	var examples []rough.Example
	for i := range teach {
		if ctx.Err() != nil {
			return rough.Range{}, stopped(ctx)
		}
		e := teach[i].Example
		e.Seconds, _ = from.Memory().figures.get(ctx, mostFigures, "rough "+cmpID(&teach[i])+st.digest, func() (float64, error) {
			return clock.Run(teach[i].d, st.Sheet, clock.Job{Speed: st.keys.Speed}).Seconds, nil
		})
		examples = append(examples, e)
	}
	r, _ := rough.Learn(examples).Seconds(asked, RoughLevel)
	return r, nil
}

// came holds the design that came against what was foretold.
func (a *RoughAnswer) came(
	ctx context.Context, from RoughFrom, w *book.Workshop, all []*station, asked rough.Design, q *RoughQuestion,
) error {
	des, err := from.Design(ctx, q.Design)
	if err != nil {
		return err
	}
	d, err := from.Stitches(ctx, q.Design)
	if err != nil {
		return err
	}
	is, n, ok := rough.Of(d)
	if !ok {
		return Errorf("the design sews no stitch").At("design")
	}
	f := &RoughFile{Design: des.Name, Stitches: n, Inside: float64(n) >= a.Stitches.Low && float64(n) <= a.Stitches.High}
	near := func(x, y float64) bool { return x < 1.15*y && y < 1.15*x }
	f.Saying = near(is.Width, asked.Width) && near(is.Height, asked.Height) && is.Cover == asked.Cover && is.Colours == asked.Colours
	a.File = f
	if len(all) == 0 {
		return nil
	}
	line := &book.OrderLine{Line: 1, DesignID: des.ID, Quantity: q.Quantity, LineGoods: book.LineGoods{CapFrame: q.CapFrame}}
	if !w.Priced() {
		if k, err := lineAt(ctx, from, line, des, all[0]); err == nil {
			f.Run = k.Seconds
		}
		return nil
	}
	on, _, _, _, err := standardOf(ctx, from, w, all, line, des, "")
	if err != nil {
		return err
	}
	f.Run = on[0].k.Seconds
	rates := w.Money
	rates.Digitizing = money.Amount{}
	var shares []money.Share
	for i := range on {
		shares = append(shares, on[i].Share)
	}
	s, err := rates.Standards(shares, []int{q.Quantity}, false)
	if err != nil {
		return Errorf("%w", err)
	}
	f.Price = s[0].Price
	return nil
}

// say puts the answer into sentences.
func (a *RoughAnswer) say(w *book.Workshop) {
	share := words.Level(a.Level)
	count := func(v float64) words.Value { return words.Whole(roundTo(v)) }
	a.Verdict.Say("rough.stitches", words.Args{"low": count(a.Stitches.Low), "high": count(a.Stitches.High), "mid": count(a.Stitches.Mid),
		"share": share})
	if len(a.On) > 0 {
		m := &a.On[0]
		a.Verdict.Say("rough.time", words.Args{"machine": words.Name(m.Name), "low": words.Seconds(m.Run.Low),
			"high": words.Seconds(m.Run.High)})
	}
	cash := func(d money.Dec) words.Value { return words.Money{Amount: d, Code: a.Currency} }
	if a.Price != nil {
		a.Verdict.Say("rough.price", words.Args{"pieces": words.Count(a.Quantity, "piece"), "low": cash(a.Price.Low), "high": cash(a.Price.High),
			"mid": cash(a.Price.Mid)})
		a.Caveats = append(a.Caveats, priceCaveats(w.Money.Placeholder, w.Money.Missing(), machineOf)...)
	} else {
		a.Caveats.Say("rough.unpriced")
	}
	if f := a.File; f != nil {
		args := words.Args{"design": words.Name(f.Design), "stitches": words.Count(f.Stitches, "stitch"),
			"share": words.Share(float64(f.Stitches) / a.Stitches.Mid)}
		if f.Inside {
			a.Verdict.Say("rough.came-inside", words.Args{"design": args["design"], "stitches": args["stitches"], "share": args["share"]})
		} else {
			a.Verdict.Say("rough.came-outside", words.Args{"design": args["design"], "stitches": args["stitches"], "share": args["share"]})
		}
		if a.Price != nil {
			a.Verdict.Say("rough.came-price", words.Args{"price": cash(f.Price), "mid": cash(a.Price.Mid)})
		}
		if !f.Saying {
			a.Caveats.Say("rough.not-as-said")
		}
	}
	switch {
	case a.Samples > 0 && a.Own > 0:
		a.Caveats.Say("rough.few", words.Args{"own": words.Count(a.Own, "design"), "samples": words.Whole(a.Samples), "enough": words.Whole(enough)})
	case a.Samples == 0 && a.Own < enough:
		a.Caveats.Say("rough.only", words.Args{"own": words.Count(a.Own, "design")})
	case a.Samples > 0:
		a.Caveats.Say("rough.none", words.Args{"samples": words.Whole(a.Samples), "enough": words.Whole(enough)})
	}
}

// roundTo is a count to two figures: more would be read as more than is known.
func roundTo(v float64) int {
	if v < 100 {
		return int(math.Round(v))
	}
	by := math.Pow(10, math.Floor(math.Log10(v))-1)
	return int(math.Round(v/by) * by)
}

// Table is stitches, times and price, with their ranges, and the file's beside where it has
// come.
func (a *RoughAnswer) Table() *Table {
	t := table("rough", words.Say("rough.caption", words.Args{"share": words.Level(a.Level)}),
		column("what", "column.what"), column("low", "rough.low"), column("mid", "rough.mid"), column("high", "rough.high"))
	if a.File != nil {
		t.Columns = append(t.Columns, column("file", "rough.file"))
	}
	row := func(what, low, mid, high, file words.Value) {
		cells := []words.Value{what, low, mid, high}
		if a.File != nil {
			cells = append(cells, file)
		}
		t.add(cells...)
	}
	count := func(v float64) words.Value { return coded{words.Whole(roundTo(v)), fmt.Sprint(math.Round(v))} }
	var file words.Value
	if a.File != nil {
		file = words.Whole(a.File.Stitches)
	}
	row(words.Say("rough.row-stitches"), count(a.Stitches.Low), count(a.Stitches.Mid), count(a.Stitches.High), file)
	for i, m := range a.On {
		file = nil
		if i == 0 && a.File != nil && a.File.Run > 0 {
			file = words.Seconds(a.File.Run)
		}
		row(words.Say("rough.row-run", words.Args{"machine": words.Name(m.Name)}), words.Seconds(m.Run.Low), words.Seconds(m.Run.Mid),
			words.Seconds(m.Run.High), file)
	}
	cash := func(d money.Dec) words.Value { return words.Money{Amount: d, Code: a.Currency} }
	if a.Price != nil {
		file = nil
		if a.File != nil {
			file = cash(a.File.Price)
		}
		row(words.Say("rough.row-price"), cash(a.Price.Low), cash(a.Price.Mid), cash(a.Price.High), file)
		row(words.Say("rough.row-sum", words.Args{"pieces": words.Count(a.Quantity, "piece")}), cash(a.Sum.Low), cash(a.Sum.Mid), cash(a.Sum.High), nil)
		if a.Fee.IsPositive() {
			row(words.Say("rough.row-fee"), cash(a.Fee), cash(a.Fee), cash(a.Fee), nil)
		}
	}
	return t
}

// roughOf is what a design shows, measured once.
func (m *Memory) roughOf(id string, d *stitch.Design) (is rough.Design, stitches int, ok bool) {
	key := id
	m.mu.Lock()
	known, there := m.rough[key]
	m.mu.Unlock()
	if there {
		return known.is, known.stitches, known.ok
	}
	is, stitches, ok = rough.Of(d)
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.rough == nil || len(m.rough) >= mostFigures {
		m.rough = map[string]roughKnown{}
	}
	m.rough[key] = roughKnown{is, stitches, ok}
	return is, stitches, ok
}

type roughKnown struct {
	is       rough.Design
	stitches int
	ok       bool
}

// Span is the range of the price of a piece; nothing where there is none.
func (a *RoughAnswer) Span() words.Message {
	if a.Price == nil {
		return words.Message{}
	}
	bare := func(d money.Dec) words.Value { return words.Money{Amount: d, Code: a.Currency, Bare: true} }
	return words.Say("rough.span", words.Args{"low": bare(a.Price.Low), "high": bare(a.Price.High), "currency": words.Name(a.Currency)})
}

// Alike says whose stops and loading it has.
func (a *RoughAnswer) Alike() words.Message {
	return words.Say("rough.like", words.Args{"design": words.Name(a.Like)})
}
