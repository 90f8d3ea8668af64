package audit

import (
	"cmp"
	"slices"
)

// Kind names what a finding is about; stable, for JSON and CSV.
type Kind string

// Risk is what may go wrong in sewing, beside the time.
type Risk string

// The risks.
const (
	RiskNone    Risk = ""
	RiskBreak   Risk = "thread break"
	RiskHole    Risk = "hole in the fabric"
	RiskPucker  Risk = "puckering"
	RiskSnag    Risk = "snags in wear"
	RiskUnravel Risk = "comes undone"
	RiskLoose   Risk = "loose thread to cut by hand"
	RiskStrike  Risk = "needle or foot strikes the frame"
	RiskWrong   Risk = "wrong colour or a wait for the operator"
)

// Finding is one thing in a design that wastes time or risks breaks.
type Finding struct {
	Kind  Kind
	Block int // colour block, from 0
	// From and To are stitches of the whole design, from 0: From ≤ i < To.
	// From = To: between stitch From−1 and stitch From.
	From, To int
	X, Y     float64 // where, in mm from the start of the design, y up
	Count    int     // how many single ones it gathers
	// Seconds is what it costs on each run: the clock with it less the clock
	// without. 0 where it costs no time, or none by itself.
	Seconds      float64
	OrderSeconds float64 // the same for the whole order
	// Split is what splitting long stitches would add to each run, in seconds;
	// negative where it saves. 0 for other kinds.
	Split float64
	Risk  Risk
	What  string // one sentence: what it is
	Ask   string // what to ask the digitizer for
}

// Report is the audit of one design on one machine.
type Report struct {
	Findings     []Finding // dearest first
	Seconds      float64   // run time as it is
	Stitches     int
	Runs         int     // times the machine sews the design for the order
	Total        float64 // Σ Seconds of the findings; they may overlap, so no promise
	Penetrations Heat
	Kept         []Stand // stops that a mend leaves alone unless told otherwise
	// Off names findings that could not be looked for, and why.
	Off []string
}

// Heat is penetrations by cells of 1 mm, in file order of the rows from below.
type Heat struct {
	X0, Y0 float64 // mm, lower left corner
	NX, NY int
	Counts []int32 // NX·NY, per mm²
}

// sortFindings puts the dearest first, then those with a risk, then by place.
func sortFindings(fs []Finding) {
	slices.SortStableFunc(fs, func(a, b Finding) int {
		return cmp.Or(
			-cmp.Compare(a.Seconds, b.Seconds),
			-cmp.Compare(min(len(a.Risk), 1), min(len(b.Risk), 1)),
			cmp.Compare(a.From, b.From),
			cmp.Compare(a.Kind, b.Kind),
		)
	})
}
