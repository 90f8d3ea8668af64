package ask

import (
	"context"
	"slices"
	"strings"
	"time"

	"needlepace/audit"
	"needlepace/audit/sequence"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/words"
)

// DefaultMendSeconds is how long a mend looks for a better order, s. Designs of
// the size of a left chest are proven long before.
const DefaultMendSeconds = 5

// mostReleased bounds a list of stops.
const mostReleased = 1000

// mostMendSeconds is a day.
const mostMendSeconds = 86_400

// MendQuestion asks for a file that sews the same picture in less time.
type MendQuestion struct {
	Design  string // by the asker's name for it
	Machine string
	Job
	ThreadsAsked
	KeepColours bool    // the colour blocks stay in their order
	KeepStops   bool    // every stop stays, at its place and with what is sewn before it
	Release     []int   // stops that may go although nothing asks for it, by number, from 1
	Seconds     float64 // for the search, at most; 0: DefaultMendSeconds
	Seed        uint64  // of the search; 0: DefaultSeed
	Format      string  // of the new file, by its name; empty: MendFormat of the design's own
	// Progress, if not nil, is told the share of the time that is over, and
	// how far the order is from the best at most (a share of what an order
	// can change).
	Progress func(fraction, gap float64)
	// Now tells the time, for Progress.
	Now func() time.Time
	// Room, if not nil, is asked before the search whether the new file's name is
	// free; its error ends the mend.
	Room func(newFile string) error
}

// MendAnswer is a better design and how it came about. Its JSON is a written
// contract: later versions add keys and never change one.
type MendAnswer struct {
	Machine     string          `json:"machine"`
	Changed     bool            `json:"changed" doc:"false: nothing could be made better"`
	Verdict     words.Sentences `json:"verdict"`
	Caveats     words.Sentences `json:"caveats"`
	Before      MendRun         `json:"before"`
	After       MendRun         `json:"after"`
	Saved       float64         `json:"saved" doc:"seconds on each run"`
	Seconds     float64         `json:"saved_seconds" doc:"the same as saved"`
	ThreadsFrom string          `json:"threads_from"`
	Changes     []MendChange    `json:"changes"`
	Colours     []MendColour    `json:"colours"`
	Blocks      []int           `json:"blocks" doc:"of each new colour block, from 1: the old block whose thread it has"`
	Needles     []int           `json:"needles" doc:"needle of each new block, from 1; empty: block 1 on needle 1 and so on"`
	Search      MendSearch      `json:"search"`
	Proof       MendProof       `json:"proof"`
	File        MendFile        `json:"new_file" doc:"what its format makes otherwise; said of a file that is written"`
	Kept        Stops           `json:"kept_stops" doc:"stops that stay where they were, with all that was sewn before them before them"`
	TrimJumps   int             `json:"trim_jumps" doc:"every trim that is a run of jumps has at least so many"`
	Machines    []MendMachine   `json:"machines" doc:"the machine and the asker's others: what they make of the new file"`
	Warnings    []string        `json:"warnings"`

	Of      *Design        `json:"-"`
	named   []string       // the threads of the old blocks, as the asker calls them; nil: by the file's table
	On      *machine.Sheet `json:"-"`
	Mended  *audit.Mended  `json:"-"`
	job     clock.Job      // as asked
	done    stitchfile.Written
	share   []int  // a thread of each old block; nil: nobody said
	toName  string // see unsaid
	NewFile string `json:"-"` // name of the new file
	Content []byte `json:"-"` // the new file; nil where nothing changed
}

// MendRun is a run before or after a mend.
type MendRun struct {
	Seconds     float64     `json:"seconds"`
	Stitches    int         `json:"stitches"`
	Trims       int         `json:"trims"`
	ColourStops int         `json:"colour_stops"`
	Parts       clock.Parts `json:"parts"`
}

// MendChange is one thing a mend did.
type MendChange struct {
	Kind     string  `json:"kind"`
	Count    int     `json:"count"`
	Seconds  float64 `json:"seconds" doc:"what it gained on its own"`
	What     string  `json:"what"`
	Stitches []int   `json:"stitches" doc:"dropped, from 1"`
}

// MendColour is a colour block of the new file.
type MendColour struct {
	Block    int    `json:"block" doc:"in the new file, from 1"`
	OldBlock int    `json:"old_block" doc:"whose thread it has, from 1"`
	Thread   string `json:"thread" doc:"its name, where one is known"`
}

// MendMachine is what a machine makes of the old and the new file.
type MendMachine struct {
	Machine string  `json:"machine"`
	Jumps   int     `json:"trim_after_jumps" doc:"so many jumps in a row are a trim"`
	Trims   [2]int  `json:"trims" doc:"before and after"`
	Before  float64 `json:"seconds_before"`
	After   float64 `json:"seconds_after"`
	Good    bool    `json:"good" doc:"it cuts wherever one of these machines does, and takes no longer than with the old file"`
	// A run of jumps that is none here stays as it was: a cut that the old file did not have here may lie where nothing
	// locks the thread, and takes time.
	Uncut   int     `json:"left_uncut" doc:"ways of jumps with the thread uncut here, as with the old file, at which another of these machines cuts"`
	Longest float64 `json:"longest_uncut_mm" doc:"the longest of them, from stitch to stitch; 0: there are none"`
}

// MendSearch is how the order of the objects was found.
type MendSearch struct {
	Objects int  `json:"objects"`
	Optimal bool `json:"optimal" doc:"it is proved that none takes less"`
	// ColoursStay: another order of the colours saves less than audit.LeastForColours.
	ColoursStay bool    `json:"colours_stay" doc:"another order of the colours saves less than 3 s a run and was left"`
	OptimalSo   bool    `json:"optimal_as_coloured" doc:"it is proved that none takes less that leaves the colours in their order"`
	Gap         float64 `json:"gap" doc:"share of what an order can change"`
	Bound       float64 `json:"bound_seconds" doc:"no order of the objects, each in its direction, takes less"`
}

// MendProof says that the sewn picture is the same.
type MendProof struct {
	Same           bool   `json:"same" doc:"the sewn picture is the same, point for point"`
	Points         int    `json:"points"`
	Layers         int    `json:"layers"`
	DigestBefore   string `json:"digest_before"`
	DigestAfter    string `json:"digest_after"`
	PictureBefore  string `json:"picture_before"`
	PictureAfter   string `json:"picture_after"`
	StitchesBefore int    `json:"stitches_before"`
	StitchesAfter  int    `json:"stitches_after"`
	Dropped        int    `json:"dropped"`
	AlsoDropped    int    `json:"stitches_dropped" doc:"the same as dropped"`
	CutsBefore     int    `json:"cuts_before"`
	CutsAfter      int    `json:"cuts_after"`
	Added          int    `json:"stitches_added" doc:"once more into a hole where an object was cut in two"`
}

// MendCheck says what is wrong with a question whatever it is asked about.
func MendCheck(q MendQuestion) error {
	if _, err := q.Job.Clock(); err != nil {
		return err
	}
	if len(q.Release) > mostReleased {
		return Errorf("%d stops are named to go; name at most %d", len(q.Release), mostReleased)
	}
	if q.KeepStops && len(q.Release) > 0 {
		return Errorf("all stops are to stay, and stop %d is named to go: say one of the two",
			q.Release[0]).At("keep_stops")
	}
	if q.Format != "" && !writes(q.Format) {
		return Errorf("no .%s file can be written; ask for one of %s", q.Format,
			strings.Join(stitchfile.Writable(), ", ")).At("format")
	}
	if !(q.Seconds >= 0 && q.Seconds <= mostMendSeconds) { // a NaN fails too
		return Errorf("a search of %v s; give more than 0 and up to %s s", q.Seconds,
			words.Whole(mostMendSeconds).Text(nil))
	}
	return nil
}

// Mend looks for a file that sews the same picture in less time, checks what
// a reader makes of it, and proves the picture the same. A context that ends
// ends the search with the best so far.
func Mend(ctx context.Context, from Fleet, q MendQuestion) (*MendAnswer, error) {
	if err := MendCheck(q); err != nil {
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
	if q.Seconds == 0 {
		q.Seconds = DefaultMendSeconds
	}
	if q.Seed == 0 {
		q.Seed = DefaultSeed
	}
	fleet, err := from.Fleet(ctx)
	if err != nil {
		return nil, err
	}
	a := &MendAnswer{Machine: sheet.Name, ThreadsFrom: where, Of: d, On: sheet, job: job, share: threads}
	a.name(q.Format)
	if q.Room != nil {
		if err := q.Room(a.NewFile); err != nil {
			return nil, err
		}
	}
	o := audit.MendOptions{Threads: threads, KeepColours: q.KeepColours, KeepStops: q.KeepStops || d.cloth() > 0, Release: q.Release,
		Seed: q.Seed, Solve: searchElsewhere(ctx)}
	for _, s := range slices.Concat(fleet, []*machine.Sheet{sheet}) {
		o.TrimJumps = max(o.TrimJumps, s.Reading.TrimAfterJumps)
	}
	limit := time.Duration(q.Seconds * float64(time.Second))
	search, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	o.Progress = q.progress(limit)
	readers := a.readers(fleet, o.TrimJumps)
	o.FewestJumps, o.TrimRecords = readers.Fewest, format(a.File.Format).TrimRecord
	old, hands, asFile := a.asFile(readers, threads)
	o.Hands = hands
	if a.Mended, err = audit.Mend(search, old, sheet, job, o); err != nil {
		return nil, wrong(err)
	}
	if a.Mended.Changed() {
		if asFile != nil {
			return nil, asFile
		}
		readers.Most = a.Mended.TrimJumps
		if err := a.encode(old, readers); err != nil {
			return nil, err
		}
	}
	a.named = q.Threads
	a.fill(fleet)
	a.say()
	return a, nil
}

func (q *MendQuestion) progress(limit time.Duration) func(sequence.Progress) {
	if q.Progress == nil {
		return nil
	}
	now := q.Now
	if now == nil {
		return func(p sequence.Progress) { q.Progress(0, sequence.Result{Cost: p.Cost, Bound: p.Bound}.Gap()) }
	}
	began := now()
	return func(p sequence.Progress) {
		q.Progress(float64(now().Sub(began))/float64(limit), sequence.Result{Cost: p.Cost, Bound: p.Bound}.Gap())
	}
}

func (a *MendAnswer) fill(fleet []*machine.Sheet) {
	m := a.Mended
	a.Kept, a.TrimJumps, a.Machines = a.kept(), m.TrimJumps, []MendMachine{}
	if m.Changed() {
		fewest := a.readers(fleet, 0).Fewest
		a.Machines = append(a.Machines, a.on(a.On, fewest))
		for _, s := range fleet {
			if s.Name != a.On.Name {
				a.Machines = append(a.Machines, a.on(s, fewest))
			}
		}
	}
	run := func(r *clock.Result) MendRun { return MendRun{r.Seconds, r.Stitches, r.Trims, r.ColourStops, r.Parts} }
	a.Changed, a.Before, a.After = m.Changed(), run(m.Before), run(m.After)
	a.Saved, a.Seconds = m.Saved(), m.Saved()
	proved := m.Objects > 0 && m.Search.Optimal
	a.Search = MendSearch{m.Objects, proved && !m.ColoursStay, m.ColoursStay, proved, m.Search.Gap(), m.Bound()}
	p := m.Proof
	a.Proof = MendProof{p.Err() == nil, p.Before.Points, p.Before.Layers, p.Before.String(), p.After.String(),
		p.Before.String(), p.After.String(), p.StitchesBefore, p.StitchesAfter, p.StitchesDropped, p.StitchesDropped,
		p.CutsBefore, p.CutsAfter, p.StitchesAdded}
	a.Changes, a.Colours, a.Blocks, a.Needles = []MendChange{}, []MendColour{}, []int{}, []int{}
	for _, ch := range m.Changes {
		dropped := []int{}
		for _, n := range ch.Stitches {
			dropped = append(dropped, a.old(n)+1)
		}
		a.Changes = append(a.Changes, MendChange{ch.Kind, ch.Count, ch.Seconds, ch.What, dropped})
	}
	for k, old := range m.Blocks {
		name := ""
		switch {
		case old < len(a.named): // as the asker calls them
			if name = strings.TrimSpace(a.named[old]); name == "?" {
				name = ""
			}
		case old < len(a.Of.Threads) && a.Of.Threads[old].Known:
			name = a.Of.Threads[old].Name
		}
		a.Colours = append(a.Colours, MendColour{k + 1, old + 1, name})
		a.Blocks = append(a.Blocks, old+1)
	}
	for _, n := range m.Job.Needles {
		a.Needles = append(a.Needles, n+1)
	}
	a.Warnings = a.Of.FileWarnings()
	if m.Off != "" {
		a.Warnings = append([]string{m.Off}, a.Warnings...)
	}
}

// on is what a machine makes of both files; fewest is how few jumps one of the machines takes for a trim.
func (a *MendAnswer) on(s *machine.Sheet, fewest int) MendMachine {
	m := a.Mended
	before, after := clock.Run(a.Of.Design, s, a.job), clock.Run(m.Design, s, m.Job)
	uncut, longest := leftUncut(m.Design.Records, fewest, s.Reading.TrimAfterJumps)
	return MendMachine{s.Name, s.Reading.TrimAfterJumps, [2]int{before.Trims, after.Trims}, before.Seconds, after.Seconds,
		after.Trims >= m.After.Trims && uncut == 0 && after.Seconds <= before.Seconds, uncut, longest}
}

// leftUncut counts the ways between stitches that a machine which takes fewest jumps for a trim cuts, and one that takes so
// many does not, and says how long the longest is, mm.
func leftUncut(rec []stitch.Record, fewest, many int) (n int, longest float64) {
	var x, y, run, most int // since the last stitch: the way, jumps in a row, the most of them
	cut := true
	for _, r := range rec {
		x, y = x+int(r.DX), y+int(r.DY)
		switch {
		case r.Op == stitch.Jump:
			run++
			most = max(most, run)
			continue
		case r.Op.Penetrates():
			if !cut && most >= fewest && most < many {
				n, longest = n+1, max(longest, stitch.LengthMM(x, y))
			}
			x, y, most, cut = 0, 0, 0, false
		case r.Op != stitch.Stop:
			cut = true
		}
		run = 0
	}
	return n, longest
}
