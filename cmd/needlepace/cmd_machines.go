package main

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"needlepace/ask"
	"needlepace/learn"
	"needlepace/machine"
)

// MachinesCmd is about machine sheets.
type MachinesCmd struct {
	List   MachinesListCmd   `cmd:"" default:"withargs" help:"List the built-in machine classes and their constants (the default)."`
	Show   MachinesShowCmd   `cmd:"" help:"Print a complete machine sheet to start one's own from."`
	Check  MachinesCheckCmd  `cmd:"" help:"Check machine sheets, and say what is wrong and on which line."`
	Pool   MachinesPoolCmd   `cmd:"" help:"A class sheet from learned sheets: what the next machine of the class is, before anybody times it."`
	Export MachinesExportCmd `cmd:"" help:"Learned sheets with their evidence for other shops, and nothing of yours in them."`
	Score  MachinesScoreCmd  `cmd:"" help:"How good the clock's predictions have been on the shop's machines: what was predicted before each timed run, against its time."`
}

// MachinesListCmd lists the built-in classes.
type MachinesListCmd struct {
	JSON bool `name:"json" help:"One JSON object for each class, one a line."`
}

// Run prints the classes, then their constants side by side.
func (a MachinesListCmd) Run(c *Ctx) error {
	classes := machine.Classes()
	if a.JSON {
		return writeSheetsJSON(c.Out, classes)
	}
	t := table{align: "lrrrl"}
	t.row("class", "heads", "needles", "rated", "what it is")
	t.rule()
	for _, s := range classes {
		t.row(s.Name, strconv.Itoa(s.Heads), strconv.Itoa(s.Needles), num(s.MaxSpeed), s.Class)
	}
	t.write(c.Out)
	fmt.Fprint(c.Out, `
All constants below are assumed: nobody measured them on a machine. ± is how far, as a
relative standard deviation, the machines of a class may lie from them; without ± a number
counts as exact. A sheet of one's own, measured or learned, is always better.
`)
	for _, some := range fitting(classes, c.OutWidth()) {
		fmt.Fprintln(c.Out)
		constantsTable(some, classes).write(c.Out)
	}
	fmt.Fprint(c.Out, `
needlepace machines show CLASS prints a complete sheet to start one's own from.
Follow the machine's manual and local rules wherever they ask for less speed.
`)
	return nil
}

// fitting cuts the classes into groups whose columns fit the width.
func fitting(classes []*machine.Sheet, width int) [][]*machine.Sheet {
	widest := func(of []*machine.Sheet) int { // widest line of the table
		var b strings.Builder
		constantsTable(of, classes).write(&b)
		n := 0
		for line := range strings.Lines(b.String()) {
			n = max(n, cells(strings.TrimSuffix(line, "\n")))
		}
		return n
	}
	for n := 1; n < len(classes); n++ { // as few groups as fit, of even size
		groups := slices.Collect(slices.Chunk(classes, (len(classes)+n-1)/n))
		if !slices.ContainsFunc(groups, func(g []*machine.Sheet) bool { return widest(g) > width }) {
			return groups
		}
	}
	return slices.Collect(slices.Chunk(classes, 1))
}

// constantsTable has a row a constant and a column a class; the spread is
// that of all classes.
func constantsTable(some, all []*machine.Sheet) *table {
	t := &table{align: "lll" + strings.Repeat("r", len(some))}
	head := []string{"constant", "unit", "±"}
	for _, s := range some {
		head = append(head, s.Name)
	}
	t.row(head...)
	t.rule()
	for _, k := range machine.AllConstants {
		if k.Path == "heads" || k.Path == "needles" || k.Path == "max_speed" {
			continue // in the list of classes
		}
		if !slices.ContainsFunc(some, func(s *machine.Sheet) bool { return !k.Absent(s) }) {
			continue
		}
		row := []string{k.Path, k.Unit, spreadText(k.Path, all)}
		for _, s := range some {
			row = append(row, num(k.Get(s)))
		}
		t.row(row...)
	}
	return t
}

// spreadText is the spread of a constant over the classes that have one.
func spreadText(path string, all []*machine.Sheet) string {
	var sds []float64
	for _, s := range all {
		if sd, ok := s.SD[path]; ok {
			sds = append(sds, sd)
		}
	}
	if len(sds) == 0 {
		return ""
	}
	low, high := wholePercent(slices.Min(sds)), wholePercent(slices.Max(sds))
	if low == high {
		return low + " %"
	}
	return low + "–" + high + " %"
}

func wholePercent(share float64) string { return strconv.FormatFloat(100*share, 'f', 0, 64) }

// sheetJSON is a machine sheet as machines --json gives it. Keys are only
// ever added.
type sheetJSON struct {
	Name          string                  `json:"name"`
	Class         string                  `json:"class"`
	Constants     map[string]constantJSON `json:"constants"` // by path
	LadderLength  []float64               `json:"ladder_length_mm"`
	LadderSpeed   []float64               `json:"ladder_speed_per_min"`
	TravelMode    string                  `json:"travel_mode"`
	ReturnToStart bool                    `json:"return_to_start"`
	// What learning found beside the law: factors of the frame's time.
	CorrectionLength []float64 `json:"correction_length_mm,omitempty"`
	CorrectionFactor []float64 `json:"correction_factor,omitempty"`
	CorrectionAngle  []float64 `json:"correction_turn_angle_degrees,omitempty"`
	TurnFactor       []float64 `json:"correction_turn_factor,omitempty"`

	Pool *poolOfJSON `json:"pool,omitempty"` // of a class that is from learned machines
}

type poolOfJSON struct {
	Machines     int `json:"machines"`
	Shops        int `json:"shops"`
	ModelVersion int `json:"model_version"`
}

type constantJSON struct {
	Value float64       `json:"value"`
	Unit  string        `json:"unit"`
	SD    float64       `json:"sd"` // relative; 0 is exact
	Basis machine.Basis `json:"basis"`
}

func writeSheetsJSON(w io.Writer, sheets []*machine.Sheet) error {
	for _, s := range sheets {
		j := sheetJSON{
			Name: s.Name, Class: s.Class, Constants: map[string]constantJSON{},
			LadderLength: append([]float64{}, s.Ladder.Length...), LadderSpeed: append([]float64{}, s.Ladder.Speed...),
			TravelMode: s.Travel.Mode, ReturnToStart: s.Travel.ReturnToStart,
			CorrectionLength: s.Correction.Length, CorrectionFactor: s.Correction.Factor,
			CorrectionAngle: s.Correction.TurnAngle, TurnFactor: s.Correction.TurnFactor,
		}
		if p := s.Pool; p != nil {
			j.Pool = &poolOfJSON{p.Machines, p.Shops, p.ModelVersion}
		}
		for k := range s.Constants() {
			j.Constants[k.Path] = constantJSON{k.Get(s), k.Unit, s.SD[k.Path],
				cmp.Or(s.BasisOf[k.Path], machine.Assumed)}
		}
		if err := writeJSON(w, j); err != nil {
			return err
		}
	}
	return nil
}

// MachinesShowCmd prints a sheet.
type MachinesShowCmd struct {
	Class string `arg:"" name:"class" help:"A built-in class, or a sheet file to print in full, with its defaults filled in."`
	Name  string `help:"The shop's own name for the machine, to stand in the sheet." placeholder:"NAME"`
	JSON  bool   `name:"json" help:"As one JSON object."`
}

// Run prints the sheet.
func (a MachinesShowCmd) Run(c *Ctx) error {
	s, err := loadNamed(a.Class, a.Name)
	if err != nil {
		return err
	}
	if a.JSON {
		return writeSheetsJSON(c.Out, []*machine.Sheet{s})
	}
	_, err = c.Out.Write(s.TOML())
	return err
}

// MachinesCheckCmd checks sheet files.
type MachinesCheckCmd struct {
	Sheets []string `arg:"" name:"sheet" help:"Machine sheets (.toml)."`
}

// Run checks every sheet, and fails if one is wrong.
func (a MachinesCheckCmd) Run(c *Ctx) error {
	var failed error
	for _, arg := range a.Sheets {
		s, err := loadSheet(arg)
		if err != nil {
			complain(c.Err, err)
			failed = errPartial
			continue
		}
		fmt.Fprintf(c.Out, "%s: a valid sheet of %s; %s\n", arg, ask.MachineName(s).Text(nil), standing(s))
	}
	return failed
}

// standing says how much of a sheet is known.
func standing(s *machine.Sheet) string {
	n := map[machine.Basis]int{}
	for k := range s.Constants() {
		n[cmp.Or(s.BasisOf[k.Path], machine.Assumed)]++
	}
	var parts []string
	for _, b := range []machine.Basis{machine.Fitted, machine.Measured, machine.Spec, machine.Pooled, machine.Assumed} {
		if n[b] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n[b], b))
		}
	}
	text := plural(n[machine.Fitted]+n[machine.Measured]+n[machine.Spec]+n[machine.Pooled]+n[machine.Assumed], "constant") + ": " + strings.Join(parts, ", ")
	if s.Fit != nil && s.Fit.ModelVersion != machine.ModelVersion {
		text += fmt.Sprintf("; fitted under version %d of the model, this is %d: learn it again from its timed runs",
			s.Fit.ModelVersion, machine.ModelVersion)
	}
	switch {
	case s.Pool != nil && s.Fit == nil:
		text += "; a class " + s.Pool.Words().Text(nil)
	case s.Fit != nil && s.Fit.Evidence != nil:
		if why := learn.CheckEvidence(s); why != "" {
			text += "; its evidence cannot be pooled: " + why
		} else {
			text += "; evidence of " + plural(len(s.Fit.Evidence.Rows), "row")
		}
	}
	if len(s.SD) == 0 {
		text += "; it has no spreads, so run times come without an interval"
	}
	return text
}
