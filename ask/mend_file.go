package ask

import (
	"bytes"
	"fmt"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"

	"needlepace/audit"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/words"
)

// MendHole is a needle penetration that the new file's format needs and the old
// file has not.
type MendHole struct {
	After int     `json:"after_stitch" doc:"of the old file"`
	X     float64 `json:"x_mm" doc:"from the start of the old file, y up"`
	Y     float64 `json:"y_mm"`
}

// MendFile is what the new file's format makes otherwise than the old file has it.
type MendFile struct {
	Format string            `json:"format"`
	Added  []MendHole        `json:"added_stitches" doc:"where thread lies in a move too long for the format, on its straight way"`
	Moved  bool              `json:"moved" doc:"the format's start is not the old file's: the design lies elsewhere from it"`
	ShiftX float64           `json:"shift_x_mm" doc:"so much further to the right from the start each stitch lies than in the old file"`
	ShiftY float64           `json:"shift_y_mm" doc:"and so much further up"`
	Tail   bool              `json:"no_way_back" doc:"the way of the frame after the last stitch is not in the file"`
	Stops  int               `json:"stops_at_stitch" doc:"colour stops that stand at the stitch before them, and did not quite"`
	Jumps  int               `json:"jumps_sewn" doc:"jumps with the thread uncut that are part of the stitch after them"`
	Lost   []stitchfile.Loss `json:"not_said" doc:"what the file does not say of the design: name, threads, thread-names, shades, shared, made-up"`
}

// format is what is known of a format by its name; nothing where there is none.
func format(name string) stitchfile.FormatInfo {
	for _, f := range stitchfile.Formats() {
		if f.Name == name {
			return f
		}
	}
	return stitchfile.FormatInfo{}
}

// writes reports whether files of a format can be written.
func writes(name string) bool { return format(name).Writes }

// MendFormat is the format of a mended file where none is asked for: the old one's,
// or dst where that cannot be written.
func MendFormat(old string) string {
	if writes(old) {
		return old
	}
	return "dst"
}

// name calls the new file by the old one's name and its own format.
func (a *MendAnswer) name(format string) {
	if format == "" {
		format = MendFormat(a.Of.Format)
	}
	a.File = MendFile{Format: format, Added: []MendHole{}, Lost: []stitchfile.Loss{}}
	a.NewFile = strings.TrimSuffix(path.Base(a.Of.File), path.Ext(a.Of.File)) + "-mended." + format
}

// readers is how the machines that will sew the file read it; most is the number
// of jumps that the one which wants most of them takes for a trim.
func (a *MendAnswer) readers(fleet []*machine.Sheet, most int) stitchfile.Readers {
	r := stitchfile.Readers{Trim: a.On.Reading.TrimAfterJumps, Fewest: a.On.Reading.TrimAfterJumps, Most: most}
	for _, s := range fleet {
		r.Fewest = min(r.Fewest, s.Reading.TrimAfterJumps)
	}
	return r
}

// encodeFor writes files; a test puts writers with faults in its place.
var encodeFor = stitchfile.EncodeFor

// written is the design as a file of the new one's format, as that is read, and
// what it has otherwise.
func (a *MendAnswer) written(d *stitch.Design, r stitchfile.Readers) (content []byte, back *stitch.Design,
	done stitchfile.Written, err error) {
	var b bytes.Buffer
	if done, err = encodeFor(&b, d, a.File.Format, r); err != nil {
		return nil, nil, done, Errorf("the mended design cannot be written: %w", err)
	}
	if back, err = stitchfile.Decode(b.Bytes(), a.NewFile); err != nil {
		return nil, nil, done, Errorf("the new file would not be read back, so it was not written; ask for another "+
			"format: %w", err)
	}
	but := audit.But{Shift: done.Shift, Added: done.Added, Tail: done.Tail, Stops: done.Stops > 0}
	if err := audit.SameSewing(d, back, a.On.Reading.TrimAfterJumps, but); err != nil {
		return nil, nil, done, fmt.Errorf("the new file is not read back the same on this machine: %w", err)
	}
	return b.Bytes(), back, done, nil
}

// asFile is the old design as the new file's format has it, so that what is
// mended is what will be sewn, and the places there of stops that are the operator's;
// the old design, and why, where that cannot be.
func (a *MendAnswer) asFile(r stitchfile.Readers, threads []int) (*stitch.Design, []stitch.Point, error) {
	_, back, done, err := a.written(a.Of.Design, r)
	if err != nil {
		return a.Of.Design, nil, err
	}
	hands, err := a.hands(back, done.Shift, threads)
	if err != nil {
		return a.Of.Design, nil, err
	}
	a.note(done, back)
	d := *a.Of.Design
	d.Records, d.Format = back.Records, back.Format
	return &d, hands, nil
}

// hands are the places in the old design, as its new format has it, of stops that are the
// operator's. One that the format has elsewhere is an error.
func (a *MendAnswer) hands(as *stitch.Design, shift stitch.Point, threads []int) (at []stitch.Point, err error) {
	stands, err := audit.Stands(a.Of.Design, threads, a.On.Reading.TrimAfterJumps)
	if err != nil {
		return nil, wrong(err)
	}
	n, here := 0, stitch.Point{}
	for _, r := range as.Records {
		if r.Op == stitch.Stop || r.Op == stitch.ColourStop {
			if n < len(stands) && stands[n].Why.Final() {
				x, y := unshift(float64(here.X)/stitch.UnitsPerMM, shift.X), unshift(float64(here.Y)/stitch.UnitsPerMM, shift.Y)
				if off := math.Hypot(x-stands[n].X, y-stands[n].Y); off > stitchfile.NearStop/stitch.UnitsPerMM {
					return nil, Errorf("stop %d is the operator’s, and in a .%s file the frame would stand %.1f mm from its place for "+
						"it: ask for another format", n+1, a.File.Format, off)
				}
				at = append(at, here)
			}
			n++
		}
		here.X, here.Y = here.X+int(r.DX), here.Y+int(r.DY)
	}
	return at, nil
}

// note keeps what the format made otherwise of the old design, which it is read
// back as.
func (a *MendAnswer) note(done stitchfile.Written, back *stitch.Design) {
	a.done = done
	f := &a.File
	f.Moved, f.Tail, f.Stops, f.Jumps = done.Shift != stitch.Point{}, done.Tail, done.Stops, done.Jumps
	f.ShiftX, f.ShiftY = done.Shift.MM()
	hole, x, y := 0, -done.Shift.X, -done.Shift.Y
	for _, r := range back.Records {
		x, y = x+int(r.DX), y+int(r.DY)
		if !r.Op.Penetrates() {
			continue
		}
		if _, added := slices.BinarySearch(done.Added, hole); added {
			f.Added = append(f.Added, MendHole{a.old(hole), float64(x) / stitch.UnitsPerMM, float64(y) / stitch.UnitsPerMM})
		}
		hole++
	}
}

// old is the number in the old file of stitch k (from 0) of the old design as the
// new format has it; of an added one, how many come before it.
func (a *MendAnswer) old(k int) int {
	n, _ := slices.BinarySearch(a.done.Added, k)
	return k - n
}

// encode makes the new file, and checks and clocks what a reader makes of it:
// the same sewing, the same picture as the old design, and no slower. Where it
// is slower than the old file, there is none. old is the old design as the new
// format has it.
func (a *MendAnswer) encode(old *stitch.Design, r stitchfile.Readers) error {
	m := a.Mended
	content, back, done, err := a.written(m.Design, r)
	if err != nil {
		return err
	}
	// A way back can come to be that the format does not have: where the stop
	// before it went. All else it has as it was mended.
	a.File.Tail = a.File.Tail || done.Tail
	if len(done.Added) > 0 || done.Stops > 0 || done.Shift != (stitch.Point{}) {
		return fmt.Errorf("%w (written as .%s it is not what was mended)", audit.ErrProof, a.File.Format)
	}
	a.File.Lost = append(a.File.Lost, done.Lost...)
	m.Design.Records = back.Records
	proof, err := m.Prove(old, m.Design)
	if err != nil {
		return err
	}
	was := m.Before.Seconds
	m.Before, m.After = clock.Run(a.Of.Design, a.On, a.job), clock.Run(m.Design, a.On, m.Job)
	proof.SecondsBefore, proof.SecondsAfter = m.Before.Seconds, m.After.Seconds
	if m.After.Seconds >= m.Before.Seconds {
		m.Off = fmt.Sprintf("as a .%s file the mended design would take %.1f s longer than the old file does",
			a.File.Format, m.After.Seconds-m.Before.Seconds)
		m.Changes, m.After, m.Blocks, m.Job = nil, m.Before, identity(a.Of.Counts.ColourStops+1), a.job
		return nil
	}
	if err := proof.Err(); err != nil {
		return err
	}
	if by := m.Before.Seconds - was; by != 0 {
		m.Changes = slices.Insert(m.Changes, 0, audit.Change{Kind: "format", Count: 1, Seconds: by,
			What: "written as a ." + a.File.Format + " file"})
	}
	m.Proof, a.Content = proof, content
	a.toName = a.unsaid(back)
	return nil
}

// unsaid is a number for the thread of each block of the mended design, the same for
// blocks that share one; empty where the new file tells as much. Without it who mends
// the file again takes other blocks for those of one thread than were taken here,
// and may find an order that saves more.
func (a *MendAnswer) unsaid(back *stitch.Design) string {
	is := slices.Clone(a.Mended.Blocks)
	for k, old := range is {
		if a.share != nil {
			is[k] = slices.Index(a.share, a.share[old])
		}
	}
	told, ok := audit.ThreadsOf(back, len(is))
	if !ok {
		told = identity(len(is))
	}
	same := true
	var all []string
	for k := range is {
		for i := range k {
			same = same && (is[i] == is[k]) == (told[i] == told[k])
		}
		all = append(all, strconv.Itoa(is[k]+1))
	}
	if same {
		return ""
	}
	return strings.Join(all, ",")
}

func identity(n int) []int {
	s := make([]int, n)
	for k := range s {
		s[k] = k
	}
	return s
}

// kept is the stops that stay, as the old file has them.
func (a *MendAnswer) kept() Stops {
	all := stopsOf(a.Mended.Kept)
	for k := range all {
		s := &all[k]
		s.Stitch = a.old(s.Stitch)
		s.X, s.Y = unshift(s.X, a.done.Shift.X), unshift(s.Y, a.done.Shift.Y)
	}
	return all
}

// unshift takes a shift in 0.1 mm from mm, exactly.
func unshift(mm float64, by int) float64 {
	return (math.Round(mm*stitch.UnitsPerMM) - float64(by)) / stitch.UnitsPerMM
}

// sayFile tells what the new file's format makes otherwise. A sentence for each,
// and none for what the old file had so too.
func (a *MendAnswer) sayFile() {
	f := &a.File
	format := words.Name("." + f.Format)
	if n := len(f.Added); n > 0 {
		first := f.Added[0]
		a.Caveats.Say("mend.added", words.Args{"stitches": words.Count(n, "stitch"), "format": format,
			"after": words.Whole(first.After), "x": words.MM(first.X), "y": words.MM(first.Y)})
	}
	if f.Stops > 0 {
		a.Caveats.Say("mend.stops-at-stitch", words.Args{"stops": words.Count(f.Stops, "stop"), "format": format})
	}
	if f.Tail {
		a.Caveats.Say("mend.no-way-back", words.Args{"format": format})
	}
	if f.Jumps > 0 {
		a.Caveats.Say("mend.jumps-sewn", words.Args{"jumps": words.Count(f.Jumps, "jump"), "format": format})
	}
	for _, what := range f.Lost {
		a.Caveats.Say("mend.lost."+string(what), words.Args{"format": format})
	}
	if a.toName != "" {
		a.Caveats.Say("mend.name-threads", words.Args{"format": format, "threads": words.Name(a.toName)})
	}
	switch {
	case f.Format == "pes":
		a.Caveats.Say("mend.in-the-middle", words.Args{"format": format})
	case f.Moved:
		a.Caveats.Say("mend.centred", words.Args{"format": format, "x": words.MM(f.ShiftX), "y": words.MM(f.ShiftY)})
	}
}
