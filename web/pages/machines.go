package pages

import (
	"fmt"
	"strings"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/picture"
	"needlepace/shop"
	"needlepace/web/serve"
)

// machinesData is what the list of machines shows.
type machinesData struct {
	Machines []machineCard
	Classes  []*machine.Sheet
}

// machineCard is one machine in the list.
type machineCard struct {
	*shop.Machine
	Full, Long float64 // mm: longest stitch at rated speed; the length Held is for
	Held       float64 // stitches/min on stitches of that length
	Basis      string
}

// longStitch is the length for which a machine's held speed is named beside
// the longest it sews at full speed: the satin limit of common practice.
const longStitch = 7.0 // mm

func machineCardOf(m *shop.Machine) machineCard {
	c := machineCard{Machine: m, Long: longStitch, Basis: basis(m.Sheet)}
	for _, p := range clock.SpeedByLength(m.Sheet, clock.Job{}, longStitch, true, clock.DefaultLevel) {
		if p.Mid >= m.Sheet.MaxSpeed*0.999 {
			c.Full = p.LengthMM
		}
		c.Held = p.Mid
	}
	return c
}

// basis says in a few words how well a machine is known.
func basis(s *machine.Sheet) string {
	if s.Fit != nil {
		return "learned from " + counted(s.Fit.Runs, "timing", "timings")
	}
	measured, all := 0, 0
	for _, c := range machine.Constants {
		if c.Whole || c.Path == "max_speed" {
			continue
		}
		all++
		if b := s.BasisOf[c.Path]; b == machine.Measured || b == machine.Spec {
			measured++
		}
	}
	if measured == 0 {
		return "assumed for its class and not timed yet"
	}
	return fmt.Sprintf("known from %d measured numbers; the other %d are assumed", measured, all-measured)
}

func showMachines(c *call) error {
	all, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return err
	}
	data := &machinesData{Classes: machine.Classes()}
	t := &table{ID: "machines", Caption: "Machines", Cols: []col{{Name: "Machine"}, {Name: "Class"}, {Name: "Heads"}, {Name: "Needles"}, {Name: "Rated speed", CSV: "rated_speed_per_min"}, {Name: "Basis"}}}
	for _, m := range all {
		k := machineCardOf(m)
		data.Machines = append(data.Machines, k)
		t.Rows = append(t.Rows, []cell{text(m.Name), text(m.Sheet.Class), whole(m.Sheet.Heads), whole(m.Sheet.Needles), figure(perMin(m.Sheet.MaxSpeed), raw(m.Sheet.MaxSpeed)), text(k.Basis)})
	}
	return c.show("machines.html", &page{Title: "Machines", Nav: "machines", Data: data, Tables: map[string]*table{"machines": t}})
}

func addMachineForm(c *call) error {
	if err := c.ParseForm(); err != nil {
		return serve.BadRequest("the form cannot be read: %v", err)
	}
	m, err := c.Shop.Machines.AddOfClass(c.Ctx, c.PostForm.Get("class"), c.PostForm.Get("name"), c.By())
	if err != nil {
		return err
	}
	return c.see("/machines/" + m.ID)
}

// machineData is what the page of one machine shows.
type machineData struct {
	M       *shop.Machine
	Card    machineCard
	History []shop.SheetVersion
	Fields  []sheetField
	Modes   []string
	Ladder  [2]string
	Runs    []shop.Run
	Open    []timingRow
	Designs []*shop.Design
	Today   string
	CanUndo bool
	Fit     *machine.Fit
}

// sheetField is one constant in the form.
type sheetField struct {
	machine.Constant
	Value, Spread string
	Basis         machine.Basis
	Group         string
}

func showMachine(c *call) error {
	id := c.PathValue("machine")
	m, err := c.Shop.Machines.Get(c.Ctx, id)
	if err != nil {
		return err
	}
	history, err := c.Shop.Machines.History(c.Ctx, id)
	if err != nil {
		return err
	}
	p := &page{Title: m.Name, Nav: "machines", Tables: map[string]*table{}, Pics: map[string]pic{}}
	data := &machineData{M: m, Card: machineCardOf(m), History: history, Modes: []string{machine.FrameTravel, machine.ShaftTravel}, Fit: m.Sheet.Fit}
	data.CanUndo = len(history) > 1 && history[0].Parent > 0
	for i := range m.Sheet.Ladder.Length {
		data.Ladder[0] += raw(m.Sheet.Ladder.Length[i]) + " "
		data.Ladder[1] += raw(m.Sheet.Ladder.Speed[i]) + " "
	}
	data.Fields = sheetFields(m.Sheet)
	runs, err := c.Shop.Timings.Runs(c.Ctx, id)
	if err != nil {
		return err
	}
	data.Runs = runs
	if data.Open, err = c.openTimings(id); err != nil {
		return err
	}
	if data.Designs, _, err = c.Shop.Designs.List(c.Ctx, shop.DesignQuery{Sort: "name", Limit: 500}); err != nil {
		return err
	}
	data.Today = c.Now().Format("2006-01-02")
	speedLaw(p, m, history, runs)
	p.Tables["runs"] = c.runsTable(runs)
	p.Tables["known"] = knownTable(m.Sheet)
	p.Data = data
	return c.show("machine.html", p)
}

// lawPicture is speed against stitch length: assumed and fitted (either may be
// nil), and readings.
func lawPicture(assumed, fitted *machine.Sheet, read []picture.Reading) pic {
	set := 0.0
	curve := func(s *machine.Sheet) (out picture.Curve) {
		if s == nil {
			return out
		}
		set = max(set, s.MaxSpeed)
		for _, q := range clock.SpeedByLength(s, clock.Job{}, mostLength, true, clock.DefaultLevel) {
			out.X = append(out.X, q.LengthMM)
			out.Low, out.Mid, out.High = append(out.Low, q.Low), append(out.Mid, q.Mid), append(out.High, q.High)
		}
		return out
	}
	a, f := curve(assumed), curve(fitted)
	chart := func(w, h float64) picture.Picture {
		ch := picture.SpeedLaw("Speed against stitch length", "Stitches sewn to and fro, as in satin. A band holds nine machines of ten.", a, f, read, set)
		ch.Width, ch.Height = w, h
		return ch
	}
	return pic{chart(760, 400), chart(344, 340)}
}

const mostLength = 12.0 // mm, of the chart: the longest stitch of the 3-byte tape format

// speedLaw draws a machine's speed against stitch length.
func speedLaw(p *page, m *shop.Machine, history []shop.SheetVersion, runs []shop.Run) {
	assumed, fitted := m.Sheet, (*machine.Sheet)(nil)
	if m.Sheet.Fit != nil {
		assumed, fitted = nil, m.Sheet
		for _, v := range history { // newest first: the first one that was never fitted is what it began from
			if s, err := machine.Parse(m.Name, []byte(v.TOML)); err == nil && s.Fit == nil {
				assumed = s
				break
			}
		}
	}
	p.Pics["speed"] = lawPicture(assumed, fitted, readings(runs))
	t := &table{ID: "speed", Caption: "Speed against stitch length", Cols: []col{{Name: "Stitch length", CSV: "length_mm", Num: true}, {Name: "Speed", CSV: "speed_per_min", Num: true}, {Name: "Low", CSV: "low_per_min", Num: true}, {Name: "High", CSV: "high_per_min", Num: true}}}
	for i, q := range clock.SpeedByLength(m.Sheet, clock.Job{}, mostLength, true, clock.DefaultLevel) {
		if i%5 == 4 {
			t.Rows = append(t.Rows, []cell{figure(fixed(q.LengthMM, 1)+" mm", fixed(q.LengthMM, 1)), figure(perMin(q.Mid), fixed(q.Mid, 1)), figure(perMin(q.Low), fixed(q.Low, 1)), figure(perMin(q.High), fixed(q.High, 1))})
		}
	}
	p.Tables["speed"] = t
}

// knownTable lists the constants, what they mean and how well they are known.
func knownTable(s *machine.Sheet) *table {
	t := &table{ID: "known", Caption: "The machine sheet", Full: true, Cols: []col{{Name: "What", CSV: "constant"}, {Name: "Value", CSV: "value", Num: true}, {Name: "Unit", CSV: "unit", File: true}, {Name: "Give or take", CSV: "relative_sd", Num: true}, {Name: "From", CSV: "basis"}}}
	for _, k := range machine.Constants {
		sd, from := "exact", string(s.BasisOf[k.Path])
		if v := s.SD[k.Path]; v > 0 {
			sd = fmt.Sprintf("± %.0f %%", v*100)
			if v < 0.1 {
				sd = fmt.Sprintf("± %.1f %%", v*100)
			}
		}
		if from == "" {
			from = string(machine.Assumed)
		}
		v := k.Get(s)
		shown := sig(v)
		if k.Optional && v == k.Default && v > 1e6 {
			shown = "none"
		}
		t.Rows = append(t.Rows, []cell{{Text: k.Means, Raw: k.Path}, figure(strings.TrimSpace(shown+" "+k.Unit), raw(v)), text(k.Unit), figure(sd, raw(s.SD[k.Path])), text(from)})
	}
	return t
}

// sheetFields are the constants for the form.
func sheetFields(s *machine.Sheet) []sheetField {
	var out []sheetField
	for _, k := range machine.Constants {
		f := sheetField{Constant: k, Value: raw(k.Get(s)), Basis: s.BasisOf[k.Path]}
		if k.Optional && k.Get(s) == k.Default && k.Default > 1e6 {
			f.Value = "" // no limit
		}
		if v := s.SD[k.Path]; v > 0 {
			f.Spread = raw(v * 100)
		}
		if f.Basis == "" {
			f.Basis = machine.Assumed
		}
		f.Group, _, _ = strings.Cut(k.Path, ".")
		out = append(out, f)
	}
	return out
}
