package shop

import (
	"path"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/words"
)

// Design is a stitch file of the shop. Its ID is the first half of the SHA-256
// of the file's bytes in hexadecimal (32 digits): the same bytes are the same
// design whatever the file is called.
type Design struct {
	ID          string        `json:"id"`
	Digest      string        `json:"digest"`       // SHA-256 of the file's bytes, hexadecimal
	SewnDigest  string        `json:"sewn_digest"`  // SHA-256 of the records: equal where two files sew the same
	Name        string        `json:"name"`         // the shop's name for it
	File        string        `json:"file"`         // name of the file it came in, without folders
	Label       string        `json:"label"`        // the name inside the file, may be empty
	Format      string        `json:"format"`       // e.g. "dst"
	Bytes       int64         `json:"bytes"`        // size of the file
	Stitches    int           `json:"stitches"`     // needle penetrations
	Jumps       int           `json:"jumps"`        // jump records
	ColourStops int           `json:"colour_stops"` //
	Stops       int           `json:"stops"`        // operator stops
	WidthMM     float64       `json:"width_mm"`     //
	HeightMM    float64       `json:"height_mm"`    //
	Threads     []book.Thread `json:"threads"`      // as the file names them, in the order of the colour blocks
	Warnings    []string      `json:"warnings"`     // about the file, each with its byte offset where it has one
	Customer    string        `json:"customer"`     // whose it is, may be empty
	Note        string        `json:"note"`         //
	Added       time.Time     `json:"added"`        //
	Removed     bool          `json:"removed"`      // taken off the list; its runs and orders still know it
}

// Beside is the label inside the file where it says more than the name.
func (d *Design) Beside() string { return book.LabelBeside(d.Name, d.Label) }

// Called is the design's name where it says more than that of its file, which
// lists have first: people look for a file.
func (d *Design) Called() string {
	return book.LabelBeside(strings.TrimSuffix(d.File, path.Ext(d.File)), d.Name)
}

// Description is what people say about a design.
type Description struct {
	Name     string        `json:"name"`
	Customer string        `json:"customer"`
	Note     string        `json:"note"`
	Threads  []book.Thread `json:"threads"` // in the order of the colour blocks
}

// Book is what the order book must know of the design.
func (d *Design) Book() *book.Design {
	return &book.Design{
		ID: d.ID, Name: d.Name, File: d.File, Label: d.Label, Stitches: d.Stitches, ColourStops: d.ColourStops,
		WidthMM: d.WidthMM, HeightMM: d.HeightMM, Threads: d.Threads, Removed: d.Removed,
	}
}

// Thumbs are the small drawings of a design for lists (PNG, 2 image pixels to
// a px).
type Thumbs struct{ Light, Dark []byte }

// DesignQuery asks for a page of the list of designs.
type DesignQuery struct {
	Search  string // words that must all be in name, file, label, customer or note, whatever their case
	Sort    string // one of DesignSorts; "" is added
	State   string // one of DesignStates; "" is any
	Reverse bool
	Removed bool // those taken off the list instead
	Offset  int
	Limit   int    // 1…500
	Sewn    string // only those with this SewnDigest
	// Customer is whose designs are listed, as it is written there; empty: all.
	Customer string
}

// DesignSorts are what designs are listed by: by name, newest, most stitches, largest,
// by customer.
var DesignSorts = []string{"name", "added", "stitches", "size", "customer"}

// The states that a list of designs is narrowed down to.
const (
	Ordered = "ordered" // an order that is still to be done asks for it
	Timed   = "timed"   // a run of it was timed on some machine
	Untimed = "untimed"
	Warned  = "warned" // something about its file is to be known
)

// DesignStates are all of them.
var DesignStates = []string{Ordered, Timed, Untimed, Warned}

// Origin is how a version of a sheet came about.
type Origin string

// The origins.
const (
	Made    Origin = "made"    // from a class or a file
	Edited  Origin = "edited"  // by hand
	Learned Origin = "learned" // from timed runs
	Undone  Origin = "undone"  // an older version taken again
)

// Machine is one machine of the shop with its sheet as it is now.
type Machine struct {
	ID      string         `json:"id"`
	Name    string         `json:"name"`    // the sheet's
	Version int            `json:"version"` // of the sheet, from 1
	Digest  string         `json:"digest"`  // of the sheet: SHA-256 of its TOML
	Added   time.Time      `json:"added"`
	Changed time.Time      `json:"changed"`
	Removed bool           `json:"removed"`
	Sheet   *machine.Sheet `json:"-"`
}

// SheetVersion is one entry of a machine's history. Nothing in it is ever
// changed: an undo is a new version.
type SheetVersion struct {
	MachineID string    `json:"machine"`
	Version   int       `json:"version"`
	Origin    Origin    `json:"origin"`
	Parent    int       `json:"parent"` // the version it was made from; 0 for the first
	Note      string    `json:"note"`
	By        string    `json:"by"` // account name, empty where there are no accounts
	Made      time.Time `json:"made"`
	Digest    string    `json:"digest"`
	TOML      string    `json:"toml"`
}

// Run is one thing a person saw on a machine, as package learn takes it: a
// whole run, one colour block, or a speed read off the display.
type Run struct {
	ID        string    `json:"id"`
	MachineID string    `json:"machine"`
	DesignID  string    `json:"design"` // empty for a reading off the display
	Date      words.Day `json:"date"`
	SetSpeed  float64   `json:"set_speed"`   // stitches/min
	Block     int       `json:"block"`       // colour block from 1; 0 is the whole run
	Seconds   float64   `json:"seconds"`     // 0 for a reading off the display
	Shown     float64   `json:"shown_speed"` // stitches/min; 0 for a timed run
	LengthMM  float64   `json:"length_mm"`   // of the stitch the display was read at
	Zigzag    bool      `json:"zigzag"`      // to and fro, not straight on
	Error     float64   `json:"error"`       // the reading's own standard error; 0 is the usual one
	Step      float64   `json:"step"`        // what it was rounded to: 1 for whole seconds; 0 for no rounding
	Note      string    `json:"note"`
	TimingID  string    `json:"timing"` // the timing on the page it came from, may be empty
	HeardID   string    `json:"heard,omitempty" doc:"the recording it was heard in; left out: none, or kept before 0.1"`
	Needles   string    `json:"needles" doc:"the needle of each colour block, e.g. 1 4 2; ? where nobody knows; empty: 1, 2, 3"`
	With      string    `json:"with" doc:"what a block's time holds beside it: start, before, after, end; or the part it is of: only 120-340 (these stitches), only after 340 520 (the rests after these)"`
	Job       string    `json:"job" doc:"kinds of job it was of, with + between, e.g. cap-frame+heavy; empty: a plain one"`
	Ignored   bool      `json:"ignored" doc:"kept, and not learned from"`
	Sure      bool      `json:"-"` // however far it is from what was predicted: not kept
	Added     time.Time `json:"added"`
	// Predicted is what the sheet that the machine had before the run said of it.
	Predicted *Predicted `json:"predicted" doc:"by the sheet before the run; null for what is no whole run, and where no sheet is older than the run"`
}

// Predicted is how long a sheet said that a run would take, before it was run.
type Predicted struct {
	Seconds float64 `json:"seconds"`
	Low     float64 `json:"low"` // s
	High    float64 `json:"high"`
	Level   float64 `json:"level" doc:"chance that low to high is made to hold"`
	Sheet   string  `json:"sheet" doc:"the sheet's digest"`
	Version int     `json:"version" doc:"of the machine's sheets"`
}

// Mark is one press while a run is timed.
type Mark struct {
	Kind MarkKind `json:"kind"`
	// AtMS is milliseconds since the first press.
	AtMS int64 `json:"at_ms"`
}

// MarkKind is what a press means.
type MarkKind string

// The presses.
const (
	MarkStart   MarkKind = "start"   // the start button is pressed
	MarkStop    MarkKind = "stop"    // the machine stands at a colour stop
	MarkRestart MarkKind = "restart" // it sews again
	MarkEnd     MarkKind = "end"     // it stands at the end
)

// Timing is a run being timed on the page. The page names it (its ID) and
// sends it whole after every press, with a rising Rev, so that a phone that
// slept or lost its connection loses nothing.
type Timing struct {
	ID        string    `json:"id"` // 8…64 letters, digits, - and _
	MachineID string    `json:"machine"`
	DesignID  string    `json:"design"`
	SetSpeed  float64   `json:"set_speed"` // stitches/min
	Job       string    `json:"job"`       // as a Run's
	Started   time.Time `json:"started"`   // of the first press
	Marks     []Mark    `json:"marks"`
	Note      string    `json:"note"`
	Done      bool      `json:"done"` // it has become runs
	Rev       int       `json:"rev"`
	Changed   time.Time `json:"changed"`
	// Holder is who uses the phone that owns the timing; empty where nobody signs in.
	Holder string `json:"holder" doc:"who uses the phone that owns it; empty where nobody signs in"`
	// Owner is the token of the browser that owns it; empty: whoever sends it. Only
	// its owner changes a timing; another takes it over on purpose (Take).
	Owner string `json:"-"`
	Take  bool   `json:"-"`
}

// Settings are how the shop wants to see things.
type Settings struct {
	ShopName string `json:"shop_name"`
	Length   string `json:"length"`   // "mm" or "inch"
	Hours    string `json:"hours"`    // "24" or "12"
	Currency string `json:"currency"` // ISO 4217, e.g. "EUR"
	Paper    string `json:"paper"`    // "A4" or "Letter"
	Demo     bool   `json:"demo"`     // the invented shop was loaded
	// Visits says that the shop advises others: its pages have visits.
	Visits bool `json:"visits,omitempty" doc:"the shop advises others: its pages have visits"`
	// TimeZone is the shop's until it says when it works; empty: UTC.
	TimeZone string `json:"time_zone,omitempty" doc:"IANA name; of the shop until it says when it works"`
	// DriftAt is when machines are looked over for timed runs that moved from their sheets, by the shop's clocks; empty: never.
	DriftAt string `json:"drift_at" doc:"time of day, 14:30, at which machines' timed runs are looked through for what changed; empty: never"`
	// PlanEvery is how often it is looked what changed since the plan was made, in minutes; 0: never.
	PlanEvery int `json:"plan_every_minutes" doc:"how often it is looked what changed since the plan was made, 5 to 1440; 0: never"`
}

// DefaultSettings are those of a new shop.
var DefaultSettings = Settings{Length: "mm", Hours: "24", Currency: "EUR", Paper: "A4", DriftAt: "02:00", PlanEvery: 15}

// SetupKind is what a setup describes.
type SetupKind string

// The kinds of setup.
const (
	FloorSetup SetupKind = "floor" // a shift: package floor's SHOP.toml
	MixSetup   SetupKind = "mix"   // machines compared: package money's MIX.toml

	ClassSetup    SetupKind = "class"    // a class sheet made of learned sheets
	EvidenceSetup SetupKind = "evidence" // a learned sheet that another shop exported
)

// Setup is a shift, a mix or the workshop that the shop keeps under a name. In
// its TOML designs and machines stand by their IDs, whatever they were called
// when it was kept; a sheet may be a built-in class too.
type Setup struct {
	ID      string    `json:"id"`
	Kind    SetupKind `json:"kind"`
	Name    string    `json:"name"`
	TOML    string    `json:"toml"`
	Version int       `json:"version"` // rises with every change
	Changed time.Time `json:"changed"`
}

// Account is a person who may sign in.
type Account struct {
	ID       string    `json:"id"`
	Name     string    `json:"name"`
	Role     Role      `json:"role"`
	Hash     string    `json:"-"` // argon2id
	Made     time.Time `json:"made"`
	Disabled bool      `json:"disabled"`
	Language string    `json:"-"` // that they chose for what operators read: a tag; empty: none
	Person   string    `json:"-"` // see Member; empty: the account stands alone
}

// Session is a sign-in. Only the digest of its secret is kept.
type Session struct {
	ID        string // what it is called by, where it is listed
	Digest    string // SHA-256 of the cookie's value, hexadecimal
	AccountID string
	Made      time.Time
	Expires   time.Time
	Seen      time.Time // last used, to the minute
	Address   string    // from where it was last used
	Agent     string    // what the browser said of itself, at most 200 characters
}

// Token is what a program comes in with: it may what its role may, until it
// expires. Only the digest of its secret is kept, apart.
type Token struct {
	ID      string    `json:"id"`
	Name    string    `json:"name" doc:"what it is for; histories show it"`
	Role    Role      `json:"role"`
	By      string    `json:"by" doc:"who made it"`
	Made    time.Time `json:"made"`
	Expires time.Time `json:"expires"`
	Seen    time.Time `json:"seen" doc:"last used, to the minute; 0001-01-01 for never"`
}

// Phone is a phone that may use the shop as what its role is, or may come in
// with a code. Code and session are kept as digests apart.
type Phone struct {
	ID        string
	Name      string // what its user or its place is called; histories show it
	Role      Role
	By        string // who let it in; empty where there are no accounts
	Made      time.Time
	CodeMade  time.Time // zero: no code
	CodeUntil time.Time // zero: no code
	LetIn     time.Time // zero: not yet
	Seen      time.Time // last here, to the minute
}

// RunTime is a run time worth keeping: one design on one sheet with no job
// limits.
type RunTime struct {
	DesignID    string
	SheetDigest string
	Build       string // of the program that computed it: another program computes it anew
	Seconds     float64
	Low, High   float64 // 90 % interval
	SetSpeed    float64 // stitches/min
	HeldSpeed   float64 // stitches/min
	Parts       clock.Parts
}
