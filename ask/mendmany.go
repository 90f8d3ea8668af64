package ask

import (
	"context"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"

	"needlepace/audit"
	"needlepace/book"
	"needlepace/stitch"
	"needlepace/words"
)

// MostMended is how many designs are mended in one go.
const MostMended = 2000

// MendManyFrom is a fleet that may know what the machines' time is worth.
type MendManyFrom interface {
	Fleet
	// Workshop has the rates, with the machines' prices by the names that
	// questions have for them; nil or not given where there is none.
	Workshop(ctx context.Context) (w *book.Workshop, given bool, err error)
	// Slot waits for room for a heavy computation; free gives it back.
	Slot(ctx context.Context) (Room, error)
}

// MendManyQuestion asks for files that sew the same pictures in less time, one
// for each of many designs.
type MendManyQuestion struct {
	Designs     []string // by the asker's names for them; the answer has their order
	Machine     string
	Job                 // without needles: each design has its own
	KeepColours bool    // the colour blocks stay in their order
	KeepStops   bool    // every stop stays, at its place and with what is sewn before it
	Seconds     float64 // for the search of each design, at most; 0: DefaultMendSeconds
	Seed        uint64  // of the searches; 0: DefaultSeed
	Format      string  // of the new files, by its name; empty: MendFormat of each design's own
	Money       bool    // with what the time is worth
	// Progress, if not nil, is told the share that is done and what is being done.
	Progress func(fraction float64, doing words.Message)
	// Done, if not nil, is handed each design that has a new file, to put it
	// where it belongs (Kept). An error is the design's.
	Done func(*MendedDesign) error
	// Room, if not nil, is asked before a design's search whether the name of its
	// new file is free. An error is the design's.
	Room func(design, newFile string) error
	// Now tells the time, for Progress.
	Now func() time.Time
}

// MendManyAnswer is what a mend of many designs came to. That the picture is
// equal and that the order is the best possible are two statements. Its JSON
// is a written contract: later versions add keys and never change one.
type MendManyAnswer struct {
	Machine string          `json:"machine"`
	Verdict words.Sentences `json:"verdict"`
	Caveats words.Sentences `json:"caveats"`
	Designs []MendedDesign  `json:"designs"`
	Mended  int             `json:"mended" doc:"designs with a new file"`
	Same    int             `json:"nothing_to_mend" doc:"designs that stay as they are"`
	Failed  int             `json:"failed" doc:"designs that could not be mended, and those not reached"`
	Left    int             `json:"not_reached" doc:"designs whose turn had not come when it was stopped"`
	Equal   int             `json:"picture_equal" doc:"new files whose sewn picture is proved the same, point for point"`
	Best    int             `json:"order_best" doc:"designs of which no order of the objects takes less that leaves the colours in theirs: proved"`
	Held    int             `json:"with_operators_stops" doc:"new files that hold an operator's stop"`
	Clear   int             `json:"clear" doc:"new files whose picture is proved equal, that hold no operator's stop and whose old file is in order"`
	// Before, After and Saved are of one run of each design that has a new file.
	Before      float64  `json:"seconds_before" doc:"of one run of each design that has a new file"`
	After       float64  `json:"seconds_after"`
	Saved       float64  `json:"saved_seconds"`
	Currency    string   `json:"currency" doc:"empty where the machine's time has no price"`
	HourCost    string   `json:"cost_of_an_hour" doc:"of sewing on the machine, decimal text"`
	SavedMoney  string   `json:"saved_money" doc:"of one run of each, decimal text"`
	Missing     []string `json:"missing" doc:"keys of prices that are missing"`
	Placeholder bool     `json:"placeholder" doc:"the prices are an example's"`

	hour decimal.Decimal
}

// MendedDesign is one design of a MendManyAnswer.
type MendedDesign struct {
	Design  string          `json:"design" doc:"what it is called"`
	ID      string          `json:"id" doc:"the asker's name for it: a file, an ID"`
	Error   string          `json:"error" doc:"why it could not be mended; empty where it could"`
	Changed bool            `json:"changed" doc:"there is a new file"`
	Before  float64         `json:"seconds_before" doc:"of one run"`
	After   float64         `json:"seconds_after"`
	Saved   float64         `json:"saved_seconds"`
	Money   string          `json:"saved_money" doc:"of one run, decimal text; empty where time has no price"`
	Equal   bool            `json:"picture_equal" doc:"the new file's sewn picture is proved the same"`
	Best    bool            `json:"order_best" doc:"no order of the objects takes less that leaves the colours in theirs: proved"`
	Gap     float64         `json:"order_gap" doc:"how far the order is from the best at most, of what an order can change"`
	Stops   int             `json:"operators_stops" doc:"stops that are the operator's: they stay"`
	Risks   words.Sentences `json:"risks" doc:"what to look at before it is sewn"`
	Clear   bool            `json:"clear" doc:"the picture is proved equal, no stop is the operator's and the file is in order: as it is cut short, so is the new one"`
	Kept    string          `json:"kept" doc:"where the new file was put: a path, a design's ID; empty: nowhere"`
	Mend    *MendAnswer     `json:"mend,omitempty" doc:"the whole answer; left out where it was not mended"`

	failed error
}

// MendManyCheck says what is wrong with a question whatever it is asked about.
func MendManyCheck(q MendManyQuestion) error {
	switch {
	case len(q.Designs) == 0:
		return Errorf("no design is named; name those to be mended").At("designs")
	case len(q.Designs) > MostMended:
		return Errorf("%s are named; mend at most %s at once", words.Count(len(q.Designs), "design").Text(nil),
			words.Whole(MostMended).Text(nil)).At("designs")
	case len(q.Needles) > 0:
		return Errorf("needles are named for many designs; each has blocks of its own: leave them out").At("needles")
	}
	return MendCheck(q.one(""))
}

// one is the question about one design.
func (q *MendManyQuestion) one(design string) MendQuestion {
	return MendQuestion{Design: design, Machine: q.Machine, Job: q.Job, KeepColours: q.KeepColours,
		KeepStops: q.KeepStops, Seconds: q.Seconds, Seed: q.Seed, Format: q.Format, Now: q.Now}
}

// MendMany mends designs one after the other. What fails is told with the
// design and stops nothing. A context that ends leaves out those whose turn has
// not come.
func MendMany(ctx context.Context, from MendManyFrom, q MendManyQuestion) (*MendManyAnswer, error) {
	if err := MendManyCheck(q); err != nil {
		return nil, err
	}
	sheet, err := from.Sheet(ctx, q.Machine)
	if err != nil {
		return nil, err
	}
	a := &MendManyAnswer{Machine: sheet.Name, Designs: make([]MendedDesign, 0, len(q.Designs)), Missing: []string{}}
	if q.Money {
		if err := a.rates(ctx, from, q.Machine); err != nil {
			return nil, err
		}
	}
	for i, name := range q.Designs {
		d := MendedDesign{Design: name, ID: name, Risks: words.Sentences{}}
		if d.failed = ctx.Err(); d.failed != nil {
			a.Left++
			d.failed = Errorf("not looked at: the work was stopped before its turn came")
		} else {
			d.failed = d.mend(ctx, from, &q, i)
		}
		if d.failed == nil && d.Changed && q.Done != nil {
			d.failed = q.Done(&d)
		}
		if d.failed != nil {
			d.Error = d.failed.Error()
			a.Failed++
		} else {
			a.count(&d)
		}
		a.Designs = append(a.Designs, d)
	}
	a.tellApart()
	a.add()
	a.say(q.Money)
	return a, nil
}

// tellApart gives designs of one name what tells them apart beside it.
func (a *MendManyAnswer) tellApart() {
	names, ids := make([]string, len(a.Designs)), make([]string, len(a.Designs))
	for i := range a.Designs {
		names[i], ids[i] = a.Designs[i].Design, a.Designs[i].ID
	}
	for i, name := range NamesApart(names, ids) {
		a.Designs[i].Design = name
	}
}

// NamesApart are the names of things in a list, whose IDs are paths of files or of a shop. Where several have one name,
// whatever its letters' case, the folder stands beside it; where that does not tell them apart, the beginning of the ID,
// or all of it.
func NamesApart(names, ids []string) []string {
	out := slices.Clone(names)
	for _, beside := range []func(id string) string{
		func(id string) string { return strings.TrimPrefix(path.Dir(filepath.ToSlash(id)), ".") },
		func(id string) string {
			if len(id) == longID && !strings.ContainsAny(id, `/\.`) {
				return id[:shortID]
			}
			return id
		},
		func(id string) string { return id },
	} {
		first, several := map[string]string{}, map[string]bool{}
		for i, name := range out {
			name = strings.ToLower(name)
			if id, ok := first[name]; ok && id != ids[i] {
				several[name] = true
			}
			first[name] = ids[i]
		}
		for i := range out {
			if b := beside(ids[i]); several[strings.ToLower(out[i])] && b != "" {
				out[i] = names[i] + " (" + b + ")"
			}
		}
	}
	return out
}

// A shop's IDs are so many digits long; so many tell its designs of one name apart as a rule.
const (
	longID  = 32
	shortID = 8
)

// mend mends one design, number i of those asked about.
func (d *MendedDesign) mend(ctx context.Context, from MendManyFrom, q *MendManyQuestion, i int) error {
	room, err := from.Slot(ctx)
	if err != nil {
		return err
	}
	defer room.Leave()
	ctx = InRoom(ctx, room)
	one := q.one(d.ID)
	if q.Progress != nil {
		doing := words.Say("many.doing", words.Args{"number": words.Whole(i + 1), "designs": words.Whole(len(q.Designs)),
			"design": words.Name(d.Design)})
		tell := func(f float64) { q.Progress((float64(i)+min(max(f, 0), 1))/float64(len(q.Designs)), doing) }
		one.Progress = func(f, _ float64) { tell(f) }
		tell(0)
	}
	if q.Room != nil {
		one.Room = func(newFile string) error { return q.Room(d.ID, newFile) }
	}
	x, err := Mend(ctx, from, one)
	if err != nil {
		return err
	}
	d.Design, d.Mend = x.Of.Title(), x
	d.Changed, d.Before, d.After, d.Saved = x.Changed, x.Before.Seconds, x.After.Seconds, x.Saved
	d.Equal = x.Changed && x.Proof.Same
	d.Best, d.Gap = x.Search.OptimalSo || x.Search.Objects < 2 && x.Mended.Off == "", x.Search.Gap
	for _, s := range x.Kept {
		if s.Why == audit.WhyOperator || s.Why == audit.WhyAway {
			d.Stops++
		}
	}
	d.Clear = d.Equal && d.Stops == 0 && len(x.Of.Warnings) == 0
	d.risks()
	x.lean()
	return nil
}

// lean lets go of the designs' stitches: many answers are held at once.
func (a *MendAnswer) lean() {
	old := *a.Of
	old.Design = &stitch.Design{Name: old.Name, Format: old.Format, Threads: old.Threads, Warnings: old.Warnings}
	a.Of = &old
	m := *a.Mended
	m.Design = &stitch.Design{Name: m.Design.Name, Format: m.Design.Format, Threads: m.Design.Threads}
	a.Mended = &m
}

// count counts a design in.
func (a *MendManyAnswer) count(d *MendedDesign) {
	if d.Best {
		a.Best++
	}
	if !d.Changed {
		a.Same++
		return
	}
	a.Mended++
	a.Before, a.After, a.Saved = a.Before+d.Before, a.After+d.After, a.Saved+d.Saved
	for _, is := range []struct {
		so bool
		n  *int
	}{{d.Equal, &a.Equal}, {d.Stops > 0, &a.Held}, {d.Clear, &a.Clear}} {
		if is.so {
			*is.n++
		}
	}
}

// moneyDigits are the decimals of amounts in JSON and files.
const moneyDigits = 4

// rates finds out what an hour of the machine costs.
func (a *MendManyAnswer) rates(ctx context.Context, from MendManyFrom, machine string) error {
	w, given, err := from.Workshop(ctx)
	if err != nil {
		return err
	}
	if w == nil || !given || !w.Priced() {
		a.Missing = []string{"money"}
		return nil
	}
	own, ok := w.Money.Machines[machine]
	if !ok {
		a.Missing = []string{"money.machines." + machine}
		return nil
	}
	hour, err := w.Money.SewingHour(own, w.Week().ShiftHours(), w.Crew())
	if err != nil {
		return wrong(err)
	}
	for _, key := range append(w.Money.Missing(), own.Missing("money.machines."+machine)...) {
		of := key[strings.LastIndexByte(key, '.')+1:]
		if slices.Contains([]string{"interest_percent", "overhead_per_year", "energy_per_kwh", "salvage",
			"upkeep_per_year", "kilowatts"}, of) {
			a.Missing = append(a.Missing, key)
		}
	}
	a.hour, a.Currency, a.HourCost = hour, w.Money.Currency, hour.StringFixed(moneyDigits)
	a.Placeholder = w.Money.Placeholder
	return nil
}

// worth is what seconds of the machine cost.
func (a *MendManyAnswer) worth(seconds float64) decimal.Decimal {
	return a.hour.Mul(decimal.NewFromFloat(seconds)).Div(decimal.NewFromInt(3600))
}

// add puts money to the seconds.
func (a *MendManyAnswer) add() {
	if a.Currency == "" {
		return
	}
	a.SavedMoney = a.worth(a.Saved).StringFixed(moneyDigits)
	for i := range a.Designs {
		if d := &a.Designs[i]; d.Mend != nil {
			d.Money = a.worth(d.Saved).StringFixed(moneyDigits)
		}
	}
}

// Find is the design of a name; an error where there is none, or where it could
// not be mended.
func (a *MendManyAnswer) Find(id string) (*MendedDesign, error) {
	i := slices.IndexFunc(a.Designs, func(d MendedDesign) bool { return d.ID == id })
	if i < 0 {
		return nil, Missing("this design is not among those that were mended")
	}
	d := &a.Designs[i]
	if d.Mend == nil {
		return nil, Errorf("%s", d.Error)
	}
	return d, nil
}

// Take is the designs that can be taken without a look at each: those whose
// picture is proved equal and that hold no operator's stop.
func (a *MendManyAnswer) Take() (all []*MendedDesign) {
	for i := range a.Designs {
		if d := &a.Designs[i]; d.Clear && d.failed == nil {
			all = append(all, d)
		}
	}
	return all
}
