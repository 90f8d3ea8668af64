package book

import (
	"maps"
	"slices"
	"time"

	"needlepace/floor"
	"needlepace/internal/tomlfile"
	"needlepace/money"
	"needlepace/thread"
	"needlepace/words"
)

// Workshop is when and how the shop works, for plans and quotes: hours,
// holidays, machines' fields, times of hands, money. It is a WORKSHOP.toml
// (docs/orders-and-plan.md).
type Workshop struct {
	Name     string      `toml:"name"`
	Zone     words.Zone  `toml:"time_zone"` // IANA name; default UTC
	Holidays []words.Day `toml:"holidays"`  // days on which no shift begins
	// time of the due day by which pieces must be sewn; default 17:00
	ReadyBy string `toml:"ready_by"`
	// days from sewn to the customer's door: packing, carriage; default 0
	HandOver int     `toml:"days_to_hand_over"`
	Chance   float64 `toml:"promise_percent"`  // chance with which promised days are to be met; default 90
	Valid    int     `toml:"quote_valid_days"` // default 30
	// a line that takes longer may be split over machines; default 8
	Split       float64           `toml:"split_hours" unit:"h"`
	Horizon     int               `toml:"plan_days"`     // days the calendar is laid out for; default 120
	Terms       []string          `toml:"terms"`         // lines under a quote
	Address     []string          `toml:"address"`       // lines under the shop's name on papers
	FromReports *bool             `toml:"from_reports"`  // go break rates and times by the floor's reports? default true
	PageURL     string            `toml:"page"`          // the page's address, for the code on a run sheet
	Shift       []ShiftHours      `toml:"shift"`         //
	Down        []DownTime        `toml:"down"`          //
	Thread      floor.ThreadKeys  `toml:"thread"`        //
	Work        floor.Work        `toml:"work"`          //
	Machine     []WorkshopMachine `toml:"machine"`       //
	Goal        GoalKeys          `toml:"plan"`          //
	Money       money.Rates       `toml:"money"`         //
	SetupApart  bool              `toml:"set_up_as_fee"` // a quote asks for set-up apart, not within the piece price
	// machine that quotes are priced on, by its name (Identify) or ID; none: the mix
	// of all that can sew a line, each with its usual share
	Standard   string `toml:"quote_standard"`
	StandardID string `toml:"-"` // of that machine, once it is known (Identify)
	file       *tomlfile.File
}

// Clone is a workshop of its own, for one who supposes or identifies something in it.
func (w *Workshop) Clone() *Workshop {
	out := *w
	out.Shift, out.Down, out.Machine = slices.Clone(w.Shift), slices.Clone(w.Down), slices.Clone(w.Machine)
	out.Money.Machines = maps.Clone(w.Money.Machines)
	return &out
}

// UsesReports says whether break rates and times go by the floor's reports.
func (w *Workshop) UsesReports() bool { return w.FromReports == nil || *w.FromReports }

// ShiftHours is one [[shift]]: hours on some days of the week.
type ShiftHours struct {
	Days      []string `toml:"days"` // mon … sun; none: every day
	From      string   `toml:"from"` // 07:00
	To        string   `toml:"to"`   // at or before from: on the next day
	Operators float64  `toml:"operators"`
}

// Seconds is how long the shift lasts, in s.
func (h *ShiftHours) Seconds() float64 {
	from, _ := clockTime(h.From)
	to, _ := clockTime(h.To)
	d := to - from
	if d <= 0 {
		d += 24 * time.Hour
	}
	return d.Seconds()
}

// Together is how many operators can be at one machine: the most that are on
// duty together, 1 at least.
func (w *Workshop) Together() int {
	most := 1.0
	for _, h := range w.Week().Hands {
		most = max(most, h.Operators)
	}
	return int(most)
}

// Crew is how many operators a machine has while it sews, if those who are on duty
// (in the week's mean) share the machines that the workshop names in equal parts; 1 at most.
func (w *Workshop) Crew() float64 {
	machines := max(len(w.Machine), len(w.Money.Machines), 1)
	return min(1, w.Week().Operators()/float64(machines))
}

// DownTime is one [[down]]: a machine that is not to be had.
type DownTime struct {
	Machine string `toml:"machine"` // its name (Identify), or its ID; empty: all machines
	ID      string `toml:"-"`       // of the machine, once it is known (Identify)
	From    string `toml:"from"`    // 2026-03-04 13:00
	To      string `toml:"to"`
	Why     string `toml:"why"`
}

// WorkshopMachine is one [[machine]]: what its sheet does not say.
type WorkshopMachine struct {
	Name string `toml:"name"` // the machine's name in the shop (Identify), or its ID
	ID   string `toml:"-"`    // of the machine, once it is known (Identify)
	// where it is not in the shop yet: a sheet file or a built-in class (command line)
	Sheet    string    `toml:"sheet"`
	Heads    *int      `toml:"heads"`     // heads used; default all
	Speed    float64   `toml:"speed"`     // the operator's setting, stitches/min
	Field    []float64 `toml:"field"`     // largest width and height it can sew, mm; none: not checked
	CapFrame bool      `toml:"cap_frame"` // it has one
	CapField []float64 `toml:"cap_field"` // the same as field, on the cap frame
	// s to change between hoops and the cap frame, all heads; default 45 s a head (assumed)
	Hoop *float64 `toml:"hoop_change" unit:"s"`
	// of the pieces that it could sew, the percent that it usually sews: what quotes
	// weigh its costs by; none: by the pieces an hour that it makes, of what others leave
	Share *float64 `toml:"usual_share_percent"`
	floor.Work
}

// hoopChange is the time to change one head's frame, in s. Assumed.
const hoopChange = 45.0

// HoopSeconds is the time to change between hoops and the cap frame on all
// heads, in s.
func (m *WorkshopMachine) HoopSeconds(heads int) float64 {
	if m.Hoop != nil {
		return *m.Hoop
	}
	return hoopChange * float64(heads)
}

var weekdays = map[string]time.Weekday{
	"mon": time.Monday, "tue": time.Tuesday, "wed": time.Wednesday, "thu": time.Thursday,
	"fri": time.Friday, "sat": time.Saturday, "sun": time.Sunday,
}

// AssumedHours is the WORKSHOP.toml that a shop which has not said when it works is planned with.
const AssumedHours = `
[[shift]]
days = ["mon", "tue", "wed", "thu", "fri"]
from = "08:00"
to = "16:00"
operators = 2
`

// Supply is what thread comes on.
func (w *Workshop) Supply(work floor.Work) thread.Supply {
	s := thread.DefaultSupply
	if w.Thread.Cone != nil && *w.Thread.Cone > 0 {
		s.Cone = *w.Thread.Cone
	}
	if work.BobbinMetres != nil && *work.BobbinMetres > 0 {
		s.Bobbin = *work.BobbinMetres
	}
	return s
}
