package ask

import (
	"bytes"
	"context"
	"fmt"
	"path"
	"strings"
	"time"

	"needlepace/audit"
	"needlepace/audit/sequence"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitchfile"
	"needlepace/words"
)

// DefaultMendSeconds is how long a mend looks for a better order, s. Designs of
// the size of a left chest are proven long before.
const DefaultMendSeconds = 5

// mostMendSeconds is a day.
const mostMendSeconds = 86_400

// MendQuestion asks for a file that sews the same picture in less time.
type MendQuestion struct {
	Design  string // by the asker's name for it
	Machine string
	Job
	ThreadsAsked
	KeepColours bool    // the colour blocks stay in their order
	Seconds     float64 // for the search, at most; 0: DefaultMendSeconds
	Seed        uint64  // of the search; 0: DefaultSeed
	Format      string  // of the new file, by its name; empty: the design's own, or dst where that cannot be written
	// Progress, if not nil, is told the share of the time that is over, and
	// how far the order is from the best at most (a share of what an order
	// can change).
	Progress func(fraction, gap float64)
	// Now tells the time, for Progress.
	Now func() time.Time
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
	Warnings    []string        `json:"warnings"`

	Of      *Design        `json:"-"`
	On      *machine.Sheet `json:"-"`
	Mended  *audit.Mended  `json:"-"`
	NewFile string         `json:"-"` // name of the new file
	Content []byte         `json:"-"` // the new file; nil where nothing changed
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

// MendSearch is how the order of the objects was found.
type MendSearch struct {
	Objects int     `json:"objects"`
	Optimal bool    `json:"optimal"`
	Gap     float64 `json:"gap" doc:"share of what an order can change"`
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
}

// MendCheck says what is wrong with a question whatever it is asked about.
func MendCheck(q MendQuestion) error {
	if _, err := q.Job.Clock(); err != nil {
		return err
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
func Mend(ctx context.Context, from Shelf, q MendQuestion) (*MendAnswer, error) {
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
	limit := time.Duration(q.Seconds * float64(time.Second))
	search, cancel := context.WithTimeout(ctx, limit)
	defer cancel()
	m, err := audit.Mend(search, d.Design, sheet, job, audit.MendOptions{
		Threads: threads, KeepColours: q.KeepColours, Seed: q.Seed, Progress: q.progress(limit)})
	if err != nil {
		return nil, wrong(err)
	}
	a := &MendAnswer{Machine: sheet.Name, ThreadsFrom: where, Of: d, On: sheet, Mended: m}
	if m.Changed() {
		if err := a.encode(q.Format, threads); err != nil {
			return nil, err
		}
	}
	a.fill()
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

// writes reports whether files of a format can be written.
func writes(format string) bool {
	for _, f := range stitchfile.Formats() {
		if f.Name == format {
			return f.Writes
		}
	}
	return false
}

// encode makes the new file and checks what a reader makes of it: the same
// sewing, the same picture as the old design, and no slower.
func (a *MendAnswer) encode(format string, threads []int) error {
	if format == "" {
		if format = a.Of.Format; !writes(format) {
			format = "dst"
		}
	}
	a.NewFile = strings.TrimSuffix(path.Base(a.Of.File), path.Ext(a.Of.File)) + "-mended." + format
	m, trimAfter := a.Mended, a.On.Reading.TrimAfterJumps
	var b bytes.Buffer
	if err := stitchfile.Encode(&b, m.Design, format); err != nil {
		return Errorf("the mended design cannot be written: %w", err)
	}
	back, err := stitchfile.Decode(b.Bytes(), a.NewFile)
	if err != nil {
		return fmt.Errorf("the new file cannot be read back: %w", err)
	}
	if err := audit.SameSewing(m.Design, back, trimAfter); err != nil {
		return fmt.Errorf("the new file is not read back the same on this machine: %w", err)
	}
	if threads == nil { // no two blocks share one
		for k := range a.Of.Counts.ColourStops + 1 {
			threads = append(threads, k)
		}
	}
	moved := make([]int, len(m.Blocks))
	for k, old := range m.Blocks {
		moved[k] = threads[old]
	}
	proof, err := audit.Prove(a.Of.Design, back, threads, moved, trimAfter)
	if err != nil {
		return err
	}
	proof.SecondsBefore, proof.SecondsAfter = m.Before.Seconds, clock.Run(back, a.On, m.Job).Seconds
	if err := proof.Err(); err != nil {
		return err
	}
	m.Proof, a.Content = proof, b.Bytes()
	return nil
}

func (a *MendAnswer) fill() {
	m := a.Mended
	run := func(r *clock.Result) MendRun { return MendRun{r.Seconds, r.Stitches, r.Trims, r.ColourStops, r.Parts} }
	a.Changed, a.Before, a.After = m.Changed(), run(m.Before), run(m.After)
	a.Saved, a.Seconds = m.Saved(), m.Saved()
	a.Search = MendSearch{m.Objects, m.Objects > 0 && m.Search.Optimal, m.Search.Gap()}
	p := m.Proof
	a.Proof = MendProof{p.Err() == nil, p.Before.Points, p.Before.Layers, p.Before.String(), p.After.String(),
		p.Before.String(), p.After.String(), p.StitchesBefore, p.StitchesAfter, p.StitchesDropped, p.StitchesDropped,
		p.CutsBefore, p.CutsAfter}
	a.Changes, a.Colours, a.Blocks, a.Needles = []MendChange{}, []MendColour{}, []int{}, []int{}
	for _, ch := range m.Changes {
		dropped := []int{}
		for _, n := range ch.Stitches {
			dropped = append(dropped, n+1)
		}
		a.Changes = append(a.Changes, MendChange{ch.Kind, ch.Count, ch.Seconds, ch.What, dropped})
	}
	for k, old := range m.Blocks {
		name := ""
		if old < len(a.Of.Threads) && a.Of.Threads[old].Known {
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
