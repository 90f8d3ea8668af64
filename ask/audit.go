package ask

import (
	"cmp"
	"context"
	"slices"

	"needlepace/audit"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/words"
)

// mostPieces bounds an order.
const mostPieces = 10_000_000

// mostHoop bounds the inside of a hoop, mm.
const mostHoop = 5000

// ThreadsAsked says which colour blocks share a thread, where the design's own
// thread table does not.
type ThreadsAsked struct {
	Threads []string // a name for each block in their order, ? for one not known; nil: the design's own table
	From    string   // where the names are from, for people
}

// of gives each colour block of a design its thread. from is empty where
// nothing is known.
func (t *ThreadsAsked) of(d *Design) (threads []int, from string, err error) {
	blocks := audit.Blocks(d.Design)
	if t.Threads == nil {
		threads, ok := audit.ThreadsOf(d.Design, blocks)
		if !ok {
			return nil, "", nil
		}
		return threads, "the file's thread table", nil
	}
	if len(t.Threads) != blocks {
		return nil, "", Errorf("%s names %s, the design has %s; name one for each block in their order "+
			"(? for one that is not known)", t.From, words.Count(len(t.Threads), "thread").Text(nil),
			words.Count(blocks, "colour-block").Text(nil))
	}
	return audit.ThreadsNamed(t.Threads), t.From, nil
}

// AuditQuestion asks what in a design wastes time or risks breaks on a machine.
type AuditQuestion struct {
	Design  string // by the asker's name for it
	Machine string
	Job
	ThreadsAsked
	Pieces         int           // ordered; 0: 1
	HoopX, HoopY   float64       // mm inside the hoop; 0: not given
	FieldX, FieldY float64       // mm that the machine can sew in; 0: what the sheet says
	Limits         *audit.Limits // nil: audit.DefaultLimits
	Density        bool          // with the penetrations of each square millimetre
	Since          string        // an earlier version by the asker's name for it; empty: none
}

// AuditAnswer is the audit of a design on a machine. Its JSON is a written
// contract: later versions add keys and never change one.
type AuditAnswer struct {
	Design       string          `json:"design"`
	Label        string          `json:"label" doc:"the label inside the file; empty where it says no more than its name"`
	File         string          `json:"file"`
	Machine      string          `json:"machine"`
	Seconds      float64         `json:"seconds" doc:"run time as it is"`
	Stitches     int             `json:"stitches"`
	Pieces       int             `json:"pieces" doc:"ordered"`
	Runs         int             `json:"runs" doc:"times the machine sews the design for the order"`
	ThreadsFrom  string          `json:"threads_from" doc:"where it is known from which blocks share a thread; empty: it is not"`
	TotalSeconds float64         `json:"total_seconds" doc:"of all findings: no more than all of it saves together"`
	Total        float64         `json:"total" doc:"the same as total_seconds"`
	Verdict      words.Sentences `json:"verdict"`
	Caveats      words.Sentences `json:"caveats"`
	Findings     []Finding       `json:"findings" doc:"gravest first, then dearest"`
	Kept         Stops           `json:"kept_stops" doc:"stops that a mend leaves alone unless it is told otherwise"`
	NotLookedAt  []words.Plain   `json:"not_looked_at" doc:"findings that could not be looked for, and why"`
	Off          []words.Plain   `json:"off" doc:"the same as not_looked_at"`
	Warnings     []string        `json:"warnings" doc:"of the file"`
	Density      *Density        `json:"density,omitempty"`
	Since        *AuditSince     `json:"since,omitempty" doc:"what became of an earlier version's findings; left out: none was named"`

	Blocks       int            `json:"-"` // colour blocks
	Of           *Design        `json:"-"`
	On           *machine.Sheet `json:"-"`
	Limits       audit.Limits   `json:"-"`
	Penetrations audit.Heat     `json:"-"`
}

// Finding is one thing in a design that wastes time or risks breaks.
type Finding struct {
	Number       int            `json:"number" doc:"from 1, gravest first: the mark on the pictures"`
	Kind         audit.Kind     `json:"kind"`
	Severity     audit.Severity `json:"severity" doc:"hurts, spoils, shows or time, the gravest first"`
	Block        int            `json:"block" doc:"colour block, from 1"`
	From         int            `json:"from" doc:"stitch from 0; to = from is between stitches"`
	To           int            `json:"to"`
	FromStitch   int            `json:"from_stitch" doc:"from 1, both ends included; between two stitches: the ones before and after"`
	ToStitch     int            `json:"to_stitch"`
	X            float64        `json:"x" doc:"mm from the start, y up"`
	Y            float64        `json:"y"`
	XMM          float64        `json:"x_mm"`
	YMM          float64        `json:"y_mm"`
	RadiusMM     float64        `json:"radius_mm" doc:"of the ring around the place that shows it; 0: the place itself"`
	Count        int            `json:"count" doc:"how many single ones it gathers"`
	Seconds      float64        `json:"seconds" doc:"on each run, solved together with the others: they add up"`
	AloneSeconds float64        `json:"alone_seconds" doc:"on each run if this alone were cured"`
	OrderSeconds float64        `json:"order_seconds"`
	SplitSeconds float64        `json:"split_seconds" doc:"what splitting long stitches would add to each run"`
	Risk         audit.Risk     `json:"risk"`
	StitchKind   string         `json:"stitch_kind" doc:"kind of stitches it is in, e.g. satin; empty where it is in none"`
	What         words.Plain    `json:"what"`
	Ask          words.Plain    `json:"ask" doc:"what to ask the digitizer for"`
	Places       []Place        `json:"places,omitempty" doc:"the places it gathers, the worst first; left out: one"`

	// The revolutions to be drawn strong, none where it is a place, as drawings count them: short jumps that are
	// sewn through are revolutions and no stitches.
	FirstRev, PastRev int `json:"-"`

	in stitch.Kind // NotSewn: none
}

// Place is one of the places that a finding gathers.
type Place struct {
	Block    int         `json:"block" doc:"colour block, from 1"`
	From     int         `json:"from" doc:"stitch from 0; to = from is between stitches"`
	To       int         `json:"to"`
	X        float64     `json:"x_mm" doc:"from the start, y up"`
	Y        float64     `json:"y_mm"`
	RadiusMM float64     `json:"radius_mm"`
	Count    int         `json:"count"`
	Peak     float64     `json:"peak" doc:"the worst there, in the unit of the limit; 0: none"`
	Seconds  float64     `json:"seconds" doc:"its part of the finding's"`
	What     words.Plain `json:"what"`
}

// Density is how often the needle strikes each square millimetre.
type Density struct {
	X0     float64 `json:"x0" doc:"mm, lower left corner"`
	Y0     float64 `json:"y0"`
	NX     int     `json:"nx"`
	NY     int     `json:"ny"`
	Counts []int32 `json:"counts" doc:"penetrations of each square millimetre, rows from below"`
}

// AuditCheck says what is wrong with a question whatever it is asked about.
func AuditCheck(q AuditQuestion) error {
	if _, err := q.Job.Clock(); err != nil {
		return err
	}
	if q.Pieces < 0 || q.Pieces > mostPieces {
		return Errorf("an order of %d pieces; give 1 to %s", q.Pieces, words.Whole(mostPieces).Text(nil))
	}
	for k, mm := range []float64{q.HoopX, q.HoopY, q.FieldX, q.FieldY} {
		if !(mm >= 0 && mm <= mostHoop) { // a NaN fails too
			return Errorf("a %s of %v mm; give its inside in mm, up to %s", []string{"hoop", "field"}[k/2], mm,
				words.Whole(mostHoop).Text(nil))
		}
	}
	return nil
}

// Audit answers what in a design wastes time or risks breaks on a machine. A
// done context leaves out what takes long and says so.
func Audit(ctx context.Context, from Shelf, q AuditQuestion) (*AuditAnswer, error) {
	if err := AuditCheck(q); err != nil {
		return nil, err
	}
	job, _ := q.Job.Clock()
	d, sheet, err := both(ctx, from, q.Design, q.Machine)
	if err != nil {
		return nil, err
	}
	threads, where, err := q.of(d)
	if err != nil {
		return nil, err
	}
	limits := audit.DefaultLimits()
	if q.Limits != nil {
		limits = *q.Limits
	}
	q.FieldX = cmp.Or(q.FieldX, float64(sheet.Field.Width))
	q.FieldY = cmp.Or(q.FieldY, float64(sheet.Field.Height))
	pieces := max(q.Pieces, 1)
	r, err := check(ctx, d.Design, sheet, job, d.Counts.Stitches, audit.Options{
		Threads: threads, Pieces: pieces, HoopX: q.HoopX, HoopY: q.HoopY,
		FieldX: q.FieldX, FieldY: q.FieldY, Limits: &limits, KeepStops: d.cloth() > 0, Seed: DefaultSeed})
	if err != nil {
		return nil, wrong(err)
	}
	a := &AuditAnswer{
		Design: d.Title(), Label: d.Label(), File: d.File, Machine: sheet.Name, Seconds: r.Seconds,
		Stitches: r.Stitches, Pieces: pieces, Runs: r.Runs, ThreadsFrom: where, TotalSeconds: r.Total, Total: r.Total,
		Findings: []Finding{}, NotLookedAt: []words.Plain{}, Warnings: d.FileWarnings(), Kept: stopsOf(r.Kept),
		Blocks: d.Counts.ColourStops + 1, Of: d, On: sheet, Limits: limits, Penetrations: r.Penetrations,
	}
	for _, m := range r.Off {
		a.NotLookedAt = append(a.NotLookedAt, words.Plain(m))
	}
	a.Off = a.NotLookedAt
	if q.Density {
		h := r.Penetrations
		a.Density = &Density{h.X0, h.Y0, h.NX, h.NY, append([]int32{}, h.Counts...)}
	}
	revs := revolutions(d.Design, sheet.Reading.TrimAfterJumps)
	for i, f := range r.Findings {
		a.Findings = append(a.Findings, findingOf(i+1, f, revs))
	}
	a.inKinds(sheet.Reading.TrimAfterJumps)
	a.say()
	if q.Since != "" {
		before := q
		before.Design, before.Since, before.Density = q.Since, "", false
		was, err := from.Design(ctx, q.Since)
		if err != nil {
			return nil, err
		}
		if audit.Blocks(was.Design) != audit.Blocks(d.Design) { // names of these blocks say nothing of those
			before.ThreadsAsked = ThreadsAsked{}
		}
		old, err := Audit(ctx, from, before)
		if err != nil {
			return nil, err
		}
		a.Since = a.since(old)
	}
	return a, nil
}

func findingOf(number int, f audit.Finding, revs []int) Finding {
	out := Finding{
		Number: number, Kind: f.Kind, Severity: f.Severity, Block: f.Block + 1, From: f.From, To: f.To, FromStitch: f.From + 1,
		ToStitch: f.To,
		X:        f.X, Y: f.Y, XMM: f.X, YMM: f.Y, Count: f.Count, Seconds: f.Seconds, OrderSeconds: f.OrderSeconds,
		RadiusMM: f.Radius, AloneSeconds: f.Alone,
		SplitSeconds: f.Split, Risk: f.Risk, What: words.Plain(f.What), Ask: words.Plain(f.Ask),
		FirstRev: revs[f.From], PastRev: revs[f.To],
	}
	for _, p := range f.Places {
		out.Places = append(out.Places, Place{p.Block + 1, p.From, p.To, p.X, p.Y, p.Radius, p.Count, p.Peak, p.Seconds,
			words.Plain(p.What)})
	}
	if f.From == f.To { // between two stitches
		out.FromStitch, out.ToStitch = f.From, f.From+1
		out.FirstRev = max(0, out.FirstRev-1) // shown by the one before
		out.PastRev = out.FirstRev + 1
	}
	if f.Spread { // what lies between is none of it
		out.PastRev = out.FirstRev
	}
	return out
}

// revolutions is, for each stitch of a design and its end, the number of its
// revolution: drawings have one piece of thread for each revolution.
func revolutions(d *stitch.Design, trimAfter int) []int {
	var out []int
	n := 0
	for e := range d.Events(trimAfter) {
		if e.Kind != stitch.Run {
			continue
		}
		for _, r := range d.Records[e.From:e.To] {
			if r.Op.Penetrates() {
				out = append(out, n)
			}
			n++
		}
	}
	return append(out, n)
}

// KindOfFinding is the findings of one kind, the gravest first.
type KindOfFinding struct {
	Kind     audit.Kind
	Severity audit.Severity // the gravest
	Seconds  float64        // on each run
	Order    float64        // s, of the whole order
	Findings []Finding
}

// Title is the kind in words, in the plural.
func (k *KindOfFinding) Title() words.Value { return k.Kind.Title() }

// Kinds gathers the findings by kind, the gravest kind first, then the dearest.
func (a *AuditAnswer) Kinds() []KindOfFinding {
	var kinds []KindOfFinding
	at := map[audit.Kind]int{}
	for _, f := range a.Findings {
		k, ok := at[f.Kind]
		if !ok {
			k = len(kinds)
			at[f.Kind] = k
			kinds = append(kinds, KindOfFinding{Kind: f.Kind})
		}
		kinds[k].Severity = max(kinds[k].Severity, f.Severity)
		kinds[k].Seconds += f.Seconds
		kinds[k].Order += f.OrderSeconds
		kinds[k].Findings = append(kinds[k].Findings, f)
	}
	slices.SortStableFunc(kinds, func(a, b KindOfFinding) int {
		return cmp.Or(cmp.Compare(b.Severity, a.Severity), cmp.Compare(b.Seconds, a.Seconds))
	})
	return kinds
}
