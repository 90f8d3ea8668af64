// Package demo is an invented embroidery shop, so that a new user has something
// to look at and the checks have designs whose faults are known: stitch files,
// and a table of what was done to them on purpose. Shop, town, customers and
// designs are made up.
//
// The files and the table are made by demo/gen with the digitizing kit
// demo/digitize; run `go generate ./demo` after changing either.
package demo

import (
	"embed"
	"encoding/json"
	"io/fs"
	"slices"
	"sync"

	"needlepace/stitch"
)

//go:generate go run ./gen

// Shop is the invented shop's name.
const Shop = "Pellsand Quay Stitchery"

// FS holds the shop’s files: designs/*.dst, shop/*.toml, floor/*.toml, orders/*, shared/*.toml (learned sheets
// of other invented shops), README.md.
//
//go:embed README.md designs shop floor orders shared/*.toml
var FS embed.FS

// Design is what the shop's digitizer knows about one file.
type Design struct {
	File      string // name in designs/
	Title     string
	Customer  string // invented
	Placement string // where it is meant to be sewn
	Threads   []stitch.Thread
	Clean     bool // nothing in it that a reasonable audit would flag
	Faults    []Fault
}

// Fault is a bad habit planted in a design. Stitches are counted over the whole
// design from 0: the fault is in stitches From ≤ i < To, or between stitch
// From−1 and stitch From where From = To (a trim, a colour stop).
type Fault struct {
	Kind     Kind
	Block    int // colour block, from 0
	From, To int
	Count    int    // how many single ones stand in the range
	Note     string // what a good audit must find
}

// Kind is a bad habit.
type Kind string

// Lengths in mm beyond which the table counts a stitch as long or as tiny.
const (
	LongMM = 8.0
	TinyMM = 0.6
)

// The bad habits planted in the demo designs.
const (
	// the way to the next object is short (under 5.5 mm), or later stitches lie on it
	NeedlessTrim Kind = "needless trim"
	// this block's thread was on before and nothing between touches the block
	ThreadReturns     Kind = "thread returns"
	StopWithoutChange Kind = "stop without change" // the block has the thread of the one before
	LongStitches      Kind = "long stitches"       // LongMM and more: slow, and they snag
	TinyStitches      Kind = "tiny stitches"       // under TinyMM
	RepeatedHoles     Kind = "repeated holes"      // the needle strikes the same hole three times or more
	DenseSpot         Kind = "dense spot"          // over 8 penetrations in a square millimetre
	MissingLock       Kind = "missing lock"        // a trim without small stitches before it
	FewStitches       Kind = "few stitches"        // an object of fewer than ten stitches between cuts
	DraggedThread     Kind = "dragged thread"      // jumps without a trim: the thread lies loose on the cloth
	FarStart          Kind = "far start"           // the first stitch's frame position is far from the design's middle
)

//go:embed designs.json
var table []byte

// Designs are the shop's designs with what is known about each, from the table that demo/gen writes.
var Designs = sync.OnceValue(func() (all []Design) {
	if err := json.Unmarshal(table, &all); err != nil {
		panic(err) // it is part of the program
	}
	return all
})

// Read gives the bytes of a design's stitch file.
func (d Design) Read() ([]byte, error) {
	b, err := fs.ReadFile(FS, "designs/"+d.File)
	if err != nil {
		return nil, err
	}
	return b, nil
}

// Find gives the design with the file name.
func Find(file string) (d Design, ok bool) {
	all := Designs()
	i := slices.IndexFunc(all, func(d Design) bool { return d.File == file })
	if i < 0 {
		return d, false
	}
	return all[i], true
}
