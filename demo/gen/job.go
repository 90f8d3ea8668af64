package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"needlepace/demo"
	"needlepace/demo/digitize"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

// job is a design on the drawing table: the piece and what is known about it.
type job struct {
	*digitize.Piece
	facts    demo.Design
	offStart bool // keep the frame's start where the drawing has it
}

func newJob(file, label, title, customer, placement string) *job {
	return &job{Piece: digitize.New(label), facts: demo.Design{File: file, Title: title, Customer: customer,
		Placement: placement}}
}

// thread starts a colour block: a colour stop, except for the first.
func (j *job) thread(t stitch.Thread) {
	if len(j.facts.Threads) > 0 {
		j.cutOff()
		j.ColourStop()
	}
	j.facts.Threads = append(j.facts.Threads, t)
	j.Lock()
}

// cutOff ties off if there is thread to tie off.
func (j *job) cutOff() {
	if j.Stitches() > 0 {
		j.Lock()
	}
}

// hop goes to the next object the clean way: tie off, trim, travel, tie in.
func (j *job) hop() {
	j.Lock()
	j.Trim()
	j.Lock()
}

// plant records a fault over the stitches that sew makes.
func (j *job) plant(kind demo.Kind, count int, note string, sew func()) {
	from, block := j.Stitches(), j.Block()
	if sew != nil {
		sew()
	}
	f := demo.Fault{Kind: kind, Block: block, From: from, To: j.Stitches(), Count: count, Note: note}
	j.facts.Faults = append(j.facts.Faults, f)
}

// needless is a hop that a good digitizer would not make, and says so.
func (j *job) needless(note string) {
	j.Lock()
	j.plant(demo.NeedlessTrim, 1, note, nil)
	j.Trim()
	j.Lock()
}

// Ways between letters, mm. Trade advice has connectors longer than 5 to 8 mm
// trimmed: a trim for less than nearBy is needless, one for more than farAway is
// right, and what lies between is taste and counted as neither.
const (
	nearBy  = 4.5
	farAway = 7.5
)

// letters trims between letters where the way is long and runs on where it is short.
func (j *job) letters(way float64) {
	if way > farAway {
		j.hop()
	}
}

// lettersTrimmed trims between all letters, needlessly where the way is short.
func (j *job) lettersTrimmed(way float64) {
	if way > nearBy {
		j.hop()
		return
	}
	j.needless("letter to letter: leave the thread running")
}

func (j *job) design() *stitch.Design {
	d := j.Centred()
	if j.offStart {
		d = j.Design()
	}
	d.Threads = j.facts.Threads
	j.count(d)
	return d
}

// count fills in how many stitches a fault of length covers.
func (j *job) count(d *stitch.Design) {
	var mm []float64
	for _, r := range d.Records {
		if r.Op.Penetrates() {
			mm = append(mm, stitch.LengthMM(int(r.DX), int(r.DY)))
		}
	}
	for i := range j.facts.Faults {
		f := &j.facts.Faults[i]
		for _, l := range mm[f.From:f.To] {
			if f.Kind == demo.LongStitches && l >= demo.LongMM || f.Kind == demo.TinyStitches && l < demo.TinyMM {
				f.Count++
			}
		}
	}
}

// drawings are the designs of the shop, in the order of the table.
var drawings = []func() *job{
	lightClean, lightTrims, ferry, oars, gullCap, jacketBack, crewNames, chowderPatch, wheelBadge, whale,
}

// build makes every generated file: path under demo/ to content.
func build() (map[string][]byte, error) {
	files := map[string][]byte{}
	var table []demo.Design
	for _, draw := range drawings {
		j := draw()
		var b bytes.Buffer
		if err := stitchfile.Encode(&b, j.design(), "dst"); err != nil {
			return nil, fmt.Errorf("%s: %w", j.facts.File, err)
		}
		files["designs/"+j.facts.File] = b.Bytes()
		table = append(table, j.facts)
	}
	src, err := json.MarshalIndent(table, "", "\t")
	if err != nil {
		return nil, err
	}
	files["designs.json"] = append(src, '\n')
	if files["../docs/pictures/kinds.svg"], err = kindsPicture(); err != nil {
		return nil, err
	}
	if files["orders/done.json"], err = doneOrders(); err != nil {
		return nil, err
	}
	for _, name := range crew {
		var b bytes.Buffer
		if err := stitchfile.Encode(&b, oneName(name), "dst"); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		files["names/"+strings.ToLower(name)+".dst"] = b.Bytes()
	}
	for _, m := range machines() {
		if err := machine.Validate(m.sheet); err != nil {
			return nil, fmt.Errorf("%s: %w", m.file, err)
		}
		files["shop/"+m.file] = m.sheet.TOML()
	}
	return files, nil
}
