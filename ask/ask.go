package ask

import (
	"context"
	"fmt"
	"path"
	"strings"
	"sync"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/words"
)

// Sheets is where a question finds a machine by the name that the asker has for
// it: a file or a class on the command line, an ID of the shop on the page.
type Sheets interface {
	// Sheet finds a machine's sheet. Nobody may change it.
	Sheet(ctx context.Context, machine string) (*machine.Sheet, error)
}

// Shelf is where a question finds a design and a machine.
type Shelf interface {
	Sheets
	// Design finds a design. Nobody may change it.
	Design(ctx context.Context, design string) (*Design, error)
}

// both finds a design and a machine.
func both(ctx context.Context, from Shelf, design, on string) (*Design, *machine.Sheet, error) {
	sheet, err := from.Sheet(ctx, on)
	if err != nil {
		return nil, nil, err
	}
	d, err := from.Design(ctx, design)
	if err != nil {
		return nil, nil, err
	}
	return d, sheet, nil
}

// DefaultMachine is the class that a question is about where nobody names a
// machine: the commonest in small shops.
const DefaultMachine = "single-15-light"

// Fleet is a shelf that knows what machines the asker has.
type Fleet interface {
	Shelf
	// Fleet is the sheets of the machines, those that questions are about by
	// name among them or not. Nobody may change them.
	Fleet(ctx context.Context) ([]*machine.Sheet, error)
}

// Given is a shelf with one design and one machine, whatever they are called.
type Given struct {
	Stitches *Design
	On       *machine.Sheet
	Others   []*machine.Sheet // the asker's other machines
}

// Fleet is the other machines.
func (g Given) Fleet(context.Context) ([]*machine.Sheet, error) { return g.Others, nil }

// Design is the design.
func (g Given) Design(context.Context, string) (*Design, error) { return g.Stitches, nil }

// Sheet is the machine's sheet.
func (g Given) Sheet(context.Context, string) (*machine.Sheet, error) { return g.On, nil }

// Design is a design as a question is asked about it. Make it with [NewDesign].
type Design struct {
	*stitch.Design
	Counts stitch.Counts
	File   string // as the asker names it: a path, a name within a container
	Called string // what the shop calls it; empty: its file's name
	kinds  *Kinds
}

// NewDesign counts a design.
func NewDesign(d *stitch.Design, file, called string) *Design {
	return &Design{Design: d, Counts: d.Count(), File: file, Called: called, kinds: new(Kinds)}
}

// OfFile is the design of a file as it was read: what read it has counted it.
func OfFile(f stitchfile.File) *Design {
	return &Design{Design: f.Design, Counts: f.Counts, File: f.Name, kinds: new(Kinds)}
}

// With is the design with what was found of its records' kinds before, and where more is kept: they are the same
// whatever the design is called.
func (d *Design) With(found *Kinds) *Design {
	d.kinds = found
	return d
}

// Kinds are the kinds of the design's records as a machine reads its jumps, found once: finding them takes
// longer than clocking the design. Nobody may change them.
func (d *Design) Kinds(trimAfter int) []stitch.Kind { return d.kinds.of(d.Design, trimAfter) }

// Kinds are the kinds of one design's records that were found, by how jumps are read. The zero value has none; it may be
// used from many goroutines.
type Kinds struct {
	Records int // of the design: what they weigh where many are remembered
	mu      sync.Mutex
	by      map[int][]stitch.Kind
}

// Weight is for whoever remembers them.
func (k *Kinds) Weight() int { return k.Records }

func (k *Kinds) of(d *stitch.Design, trimAfter int) []stitch.Kind {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.by == nil {
		k.by = map[int][]stitch.Kind{}
	}
	if k.by[trimAfter] == nil {
		k.by[trimAfter] = d.Kinds(trimAfter)
	}
	return k.by[trimAfter]
}

// Title is what people call the design: the shop's name for it, else its
// file's name without folder and extension. The label inside a file is not its
// name: many files have the same.
func (d *Design) Title() string {
	if d.Called != "" {
		return d.Called
	}
	base := path.Base(strings.ReplaceAll(d.File, `\`, "/"))
	return strings.TrimSuffix(base, path.Ext(base))
}

// Label is the label inside the file as it is shown beside the title.
func (d *Design) Label() string { return book.LabelBeside(d.Title(), d.Name) }

// FileWarnings are what the reader of the file noticed, each with its byte
// offset where it has one.
func (d *Design) FileWarnings() []string { return warningTexts(d.Warnings) }

func warningTexts(all []stitch.Warning) []string {
	out := []string{}
	for _, w := range all {
		if w.Offset >= 0 {
			out = append(out, fmt.Sprintf("%s (byte %d)", w.Text, w.Offset))
		} else {
			out = append(out, w.Text)
		}
	}
	return out
}

// Job is what the operator and the goods ask of a machine. The zero value is
// the machine at its own maximum.
type Job struct {
	Speed    float64 `json:"speed,omitempty" doc:"the operator's setting, stitches/min; left out: the machine's maximum"`
	CapFrame bool    `json:"cap_frame,omitempty" doc:"the goods are on a cap frame"`
	Metallic bool    `json:"metallic,omitempty" doc:"metallic thread"`
	// Kinds are kinds of job, CapFrame and Metallic in them or not.
	Kinds machine.Jobs `json:"job,omitempty" doc:"kinds of job with + between: cap-frame, large-hoop, heavy, metallic, woollen"`
	// Limit is instead of the machine's limits for its kinds of job.
	Limit   float64 `json:"limit,omitempty" doc:"the most the goods allow, stitches/min"`
	Heavy   float64 `json:"heavy,omitempty" doc:"factor on the frame's acceleration for a heavy garment, e.g. 0.7"`
	Needles []int   `json:"needles,omitempty" doc:"needle of each colour block, from 1"`
}

// mostNeedles bounds the list of needles of a job.
const mostNeedles = 1000

// Clock is the job as package clock takes it, or what is wrong with it.
func (j Job) Clock() (clock.Job, error) {
	if len(j.Needles) > mostNeedles {
		return clock.Job{}, Errorf("%d needles are named; name at most %d", len(j.Needles), mostNeedles)
	}
	goods := floor.Goods{CapFrame: j.CapFrame, Metallic: j.Metallic, Job: j.Kinds}
	c := clock.Job{Speed: j.Speed, Kinds: goods.Kinds(), Cap: j.Limit, AccelFactor: j.Heavy}
	for _, n := range j.Needles {
		c.Needles = append(c.Needles, n-1)
	}
	return c, wrong(c.Validate())
}

// standing is how much of a sheet is known.
type standing int

const (
	measured  standing = iota // somebody measured or learned something on it
	assumed                   // it has spreads, and all of it is assumed for its class
	noSpreads                 // it has no spreads
)

func standingOf(s *machine.Sheet) standing {
	if len(s.SD) == 0 {
		return noSpreads
	}
	if s.Fit != nil {
		return measured
	}
	for _, b := range s.BasisOf {
		if b != machine.Assumed {
			return measured
		}
	}
	return assumed
}

// MachineName is a machine's name, with its class where that says more.
func MachineName(s *machine.Sheet) words.Value {
	if s.Class == "" || s.Class == s.Name {
		return words.Name(s.Name)
	}
	return words.Say("machine.of-class", words.Args{"name": words.Name(s.Name), "class": ClassSays(s)})
}

// ClassSays is what kind of machine a sheet is of: a built-in class in the reader's
// language, another as its owner wrote it.
func ClassSays(s *machine.Sheet) words.Value {
	if k, ok := machine.ClassOf(s.Class); ok {
		return words.Say("machine-class." + k.Name)
	}
	return words.Name(s.Class)
}

// classSays is a built-in class by its name as people read it, and in files as they type it.
// Another name stands as it is.
func classSays(name string) words.Value {
	if s, ok := machine.Class(name); ok {
		return coded{ClassSays(s), name}
	}
	return words.Name(name)
}

// coded is shown as its Value and stands in files as a code that no language
// changes.
type coded struct {
	words.Value
	code string
}

// Raw is the code.
func (c coded) Raw() string { return c.code }
