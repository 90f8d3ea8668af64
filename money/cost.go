package money

import (
	"fmt"
	"math"

	"github.com/shopspring/decimal"

	"needlepace/floor"
	"needlepace/words"
)

// Made is what making one piece takes on a machine, as measured or simulated:
// machine-seconds by what they are spent on, and materials.
type Made struct {
	Seconds  [floor.NumStates]float64 // s a piece; changeover, pause and no work are not looked at
	Setup    float64                  // s a changeover to the order
	Heads    int
	Stitches int
	Top      float64 // m of top thread a piece
	Bobbin   float64 // m of bobbin thread a piece
	Width    float64 // mm, the design's box
	Height   float64 // mm
	Spoilt   float64 // fraction of pieces
	// Crew is the operators that an hour of the machine pays for, busy or not:
	// all operators, shared between the machines by the minutes of their work.
	Crew float64
	// Loaders is how many operators load the machine at once; 0: 1.
	Loaders int
	// Shift is the planned hours of a shift, pauses left out.
	Shift float64
	// Alone is the seconds of running in which a piece sews alone, the other heads at rest:
	// they are the pieces' that are there, not the run's.
	Alone float64
}

// occupied is the states that a piece holds the machine for.
var occupied = []floor.State{floor.Running, floor.Waiting, floor.WaitHoop, floor.Repair, floor.Bobbins, floor.Attending,
	floor.Loading}

// Occupied is the machine-seconds of a piece.
func (m *Made) Occupied() float64 {
	sum := 0.0
	for _, st := range occupied {
		sum += m.Seconds[st]
	}
	return sum
}

// MadeFrom reads one machine's part of a simulated shift: the seconds of
// whole pieces, what is under way at the end counted by how far it is. The
// caller adds materials and set-up.
func MadeFrom(r *floor.Result, machine int) (Made, error) {
	mr := r.Machines[machine]
	pieces := mr.Pieces.Mean + mr.Left
	if pieces <= 0 {
		return Made{}, fmt.Errorf("%s sews nothing in the shift, so a piece has no cost", mr.Name)
	}
	m := Made{Heads: r.Shop.Machines[machine].Heads, Shift: (r.Length - mr.Seconds[floor.Pausing]) / 3600}
	for st, s := range mr.Seconds {
		m.Seconds[st] = s / pieces
	}
	if mr.Pieces.Mean > 0 {
		m.Spoilt = 1 - mr.Good/mr.Pieces.Mean
	}
	operators := len(r.Shop.Operators)
	m.Crew = float64(operators) * share(r, machine)
	m.Loaders = min(r.Shop.Machines[machine].Loaders, operators)
	return m, nil
}

// share is the machine's part of the operators' work; of work that there is
// none of, an equal part.
func share(r *floor.Result, machine int) float64 {
	all := 0.0
	for _, m := range r.Machines {
		all += m.Attended
	}
	if all <= 0 {
		return 1 / float64(len(r.Machines))
	}
	return r.Machines[machine].Attended / all
}

// order is the machine-seconds that an order of q pieces takes, set-up left
// out, and the heads that stay empty in its last run. A run with empty heads
// sews and waits as long as a full one; loading, hooped sets waited for, thread
// breaks and bobbins are the pieces' that are there.
func (m *Made) order(q int) (seconds, running float64, idle int) {
	full, rest := q/m.Heads, q%m.Heads
	runs, loads := float64(full), float64(full)
	if rest > 0 {
		at := max(1, min(m.Loaders, m.Heads))
		turns := func(heads int) float64 { return float64((heads + at - 1) / at) }
		runs++
		loads += turns(rest) / turns(m.Heads)
		idle = m.Heads - rest
	}
	h := float64(m.Heads)
	alone := min(m.Alone, m.Seconds[floor.Running])
	running = (m.Seconds[floor.Running]-alone)*h*runs + alone*float64(q)
	for _, st := range occupied {
		switch st {
		case floor.Running:
			seconds += running
		case floor.Waiting, floor.Attending:
			seconds += m.Seconds[st] * h * runs
		case floor.Loading:
			seconds += m.Seconds[st] * h * loads
		default:
			seconds += m.Seconds[st] * float64(q)
		}
	}
	return seconds, running, idle
}

// Line is one visible line of a cost.
type Line struct {
	Name   string
	Basis  string // how it came about, for people
	Amount Dec    // a piece
}

// Cost is what one piece of an order of Quantity costs.
type Cost struct {
	Quantity    int
	Lines       []Line
	Total       Dec // a piece
	PerThousand Dec // 1,000 stitches
	PerHour     Dec // an hour that the order holds the machine
	Price       Dec // for the wanted margin, without sales tax
	PriceTax    Dec // with it
	Hours       Dec // machine hours of the whole order
	Held        Dec // hours that a piece holds the machine, set-up apart
	Hour        Dec // of an hour that it is held longer: the machine, and its part of the operators; no power
	// Idle is the heads that stay empty in the order's last run: 0 where it fills them.
	Idle int
	// Setup is the set-up line, a piece; it is in Total.
	Setup Dec
}

// MachineHour is what an hour of the machine costs to have, whether it sews or
// not: capital recovery, upkeep and overhead over the year's planned hours.
func (r *Rates) MachineHour(o Owned, shiftHours float64) (capital, upkeep, overhead Dec, err error) {
	hours := r.YearHours(shiftHours)
	if !hours.IsPositive() {
		return zero, zero, zero, fmt.Errorf("a shift of %g planned hours", shiftHours)
	}
	year, err := CapitalRecovery(rate(r.Interest.Dec), o.Life, o.Price.Dec, o.Salvage.Dec)
	if err != nil {
		return zero, zero, zero, err
	}
	return div(year, hours), div(o.Upkeep.Dec, hours), div(r.Overhead.Dec, hours), nil
}

// SewingHour is what an hour in which the machine sews costs, all heads
// together: to have it (MachineHour), its power, and crew operators at it. What
// a piece takes besides its time (thread, needles, backing) is not in it.
func (r *Rates) SewingHour(o Owned, shiftHours, crew float64) (Dec, error) {
	capital, upkeep, overhead, err := r.MachineHour(o, shiftHours)
	if err != nil {
		return zero, err
	}
	return capital.Add(upkeep).Add(overhead).Add(r.Labour.Mul(Measured(crew))).Add(o.KW.Mul(r.Energy.Dec)), nil
}

var (
	hourSeconds = decimal.NewFromInt(3600)
	thousand    = decimal.NewFromInt(1000)
	million     = decimal.NewFromInt(1_000_000)
)

// Of is the cost of a piece in an order of quantity pieces: every line, the
// total, and the price. A last run with empty heads sews as long as a full one,
// and the pieces there are carry it; each is charged its own loading only. The
// rates must have been checked.
func (r *Rates) Of(m Made, o Owned, quantity int) (*Cost, error) {
	if quantity < 1 || quantity > floor.MaxQuantity {
		return nil, fmt.Errorf("an order of %d pieces: give 1 to %d", quantity, floor.MaxQuantity)
	}
	if m.Heads < 1 || m.Stitches < 1 || !(m.Spoilt >= 0 && m.Spoilt < 1) || !(m.Occupied() > 0) ||
		math.IsInf(m.Occupied(), 0) || !(m.Setup >= 0) {
		return nil, fmt.Errorf("a piece of %d stitches on %d heads, %g s, %g spoilt, cannot be costed",
			m.Stitches, m.Heads, m.Occupied(), m.Spoilt)
	}
	capital, upkeep, overhead, err := r.MachineHour(o, m.Shift)
	if err != nil {
		return nil, err
	}
	q := decimal.NewFromInt(int64(quantity))
	held, sewing, idle := m.order(quantity)
	hours := div(div(Measured(held), q), hourSeconds) // a piece
	running := div(div(Measured(sewing), q), hourSeconds)
	labour := r.Labour.Mul(Measured(m.Crew)) // a machine hour

	hour := capital.Add(upkeep).Add(overhead).Add(labour)
	c := &Cost{Quantity: quantity, Idle: idle, Held: hours, Hour: hour}
	add := func(name, basis string, amount Dec) {
		c.Lines = append(c.Lines, Line{name, basis, amount})
		c.Total = c.Total.Add(amount)
	}
	cash := func(d Dec) string { return words.Money{Amount: d, Code: r.Currency}.Text(nil) }
	pieces := words.Count(quantity, "piece").Text(nil)
	minutes := hours.Mul(decimal.NewFromInt(60)).StringFixed(2)
	add("machine", fmt.Sprintf("%s min at %s/h: price, salvage and %s %% interest over %s", minutes,
		cash(capital), r.Interest, words.Count(o.Life, "year").Text(nil)), hours.Mul(capital))
	add("upkeep", fmt.Sprintf("%s min at %s/h", minutes, cash(upkeep)), hours.Mul(upkeep))
	add("overhead", fmt.Sprintf("%s min at %s/h", minutes, cash(overhead)), hours.Mul(overhead))
	add("labour", fmt.Sprintf("%s min at %s/h: %s of an operator, paid busy or not", minutes,
		cash(labour), Measured(m.Crew).Round(2)), hours.Mul(labour))
	add("energy", fmt.Sprintf("%s kW while sewing", o.KW), running.Mul(o.KW.Dec).Mul(r.Energy.Dec))
	add("top thread", fmt.Sprintf("%.2f m at %s/1,000 m", m.Top, cash(r.TopThread.Dec)),
		div(Measured(m.Top).Mul(r.TopThread.Dec), thousand))
	add("bobbin thread", fmt.Sprintf("%.2f m at %s/1,000 m", m.Bobbin, cash(r.BobbinThread.Dec)),
		div(Measured(m.Bobbin).Mul(r.BobbinThread.Dec), thousand))
	w, h := Measured(m.Width).Add(r.BackingEdge.Mul(two)), Measured(m.Height).Add(r.BackingEdge.Mul(two))
	add("backing", fmt.Sprintf("%s × %s mm", w.Round(0), h.Round(0)), div(w.Mul(h), million).Mul(r.Backing.Dec))
	// A piece's own needle sews as long as the run; empty heads' needles rest.
	alone := min(m.Alone, m.Seconds[floor.Running])
	own := Measured(m.Seconds[floor.Running] - alone).Mul(decimal.NewFromInt(int64(m.Heads))).Add(Measured(alone))
	add("needles", fmt.Sprintf("one each %s h of sewing", r.NeedleHours),
		div(div(own, hourSeconds).Mul(r.Needle.Dec), r.NeedleHours.Dec))
	spoilt := Measured(m.Spoilt)
	add("spoilage", fmt.Sprintf("%s %% spoilt: their making and a garment of %s", spoilt.Shift(2).StringFixed(1),
		cash(r.Garment.Dec)),
		div(c.Total.Add(r.Garment.Dec).Mul(spoilt), one.Sub(spoilt)))
	setup := div(Measured(m.Setup), hourSeconds)
	add("set-up", fmt.Sprintf("%s min for the order of %s", setup.Mul(decimal.NewFromInt(60)).StringFixed(1), pieces),
		div(setup.Mul(hour), q))
	c.Setup = c.Lines[len(c.Lines)-1].Amount
	add("digitizing", cash(r.Digitizing.Dec)+" for the order", div(r.Digitizing.Dec, q))

	c.PerThousand = div(c.Total.Mul(thousand), decimal.NewFromInt(int64(m.Stitches)))
	c.Hours = hours.Mul(q).Add(setup)
	c.PerHour = div(c.Total.Mul(q), c.Hours)
	c.Price = r.Price(c.Total)
	c.PriceTax = r.WithTax(c.Price)
	return c, nil
}

// BestCrew is the number of machines under one operator whose pieces cost
// least: (n machine-hours + one operator-hour) ÷ pieces an hour. It returns the
// index into crews and each number's cost of machine and labour a piece, over the
// interval of its mean yield.
func (r *Rates) BestCrew(crews []floor.Crew, o Owned, shiftHours float64) (best int, perPiece []Range, err error) {
	capital, upkeep, overhead, err := r.MachineHour(o, shiftHours)
	if err != nil {
		return 0, nil, err
	}
	best = -1
	for i, c := range crews {
		if !(c.Pieces.Mean > 0) {
			perPiece = append(perPiece, Range{maxAmount, maxAmount, maxAmount})
			continue
		}
		hour := capital.Add(upkeep).Add(overhead).Mul(decimal.NewFromInt(int64(c.Machines))).Add(r.Labour.Dec)
		all, at := hour.Mul(Measured(shiftHours)), Range{High: maxAmount}
		at.Mid, at.Low = div(all, Measured(c.Pieces.Mean)), div(all, Measured(max(c.Pieces.High, c.Pieces.Mean)))
		if c.Pieces.Low > 0 {
			at.High = div(all, Measured(min(c.Pieces.Low, c.Pieces.Mean)))
		}
		perPiece = append(perPiece, at)
		if best < 0 || at.Mid.LessThan(perPiece[best].Mid) {
			best = i
		}
	}
	if best < 0 {
		return 0, nil, fmt.Errorf("no number of machines yields a piece in a shift")
	}
	return best, perPiece, nil
}
