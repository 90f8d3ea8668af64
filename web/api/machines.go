package api

import (
	"cmp"

	"needlepace/ask"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/words"
)

func machineRoutes() []*route {
	return []*route{
		op("listClasses", "GET /classes", shop.Look, "The built-in machine classes, and those that the shop made of learned machines.", gives(listClasses)),
		op("getClass", "GET /classes/{class}", shop.Look, "A class's sheet: of a built-in class by its name, or of one that the shop made by its ID.", gives(getClass)),
		op("listMachines", "GET /machines", shop.Look, "The shop's machines by name.", gives(listMachines)),
		op("addMachine", "POST /machines", shop.KeepMachines,
			"A new machine: from a class (a built-in one, or the ID of one that the shop made) with a name of the shop's "+
				"own, or from a sheet (TOML).", makes(addMachine)),
		op("getMachine", "GET /machines/{machine}", shop.Look,
			"A machine with its present sheet.", gives(getMachine)),
		op("changeSheet", "PUT /machines/{machine}", shop.KeepMachines,
			"A new version of the sheet. base is the version it was made from; where the machine has another by "+
				"now nothing is kept (409).",
			takes(changeSheet)),
		op("removeMachine", "DELETE /machines/{machine}", shop.KeepMachines,
			"Take a machine off the list. Its history and runs stay.", does(removeMachine)),
		op("restoreMachine", "POST /machines/{machine}/restore", shop.KeepMachines,
			"Put a machine back on the list.", does(restoreMachine)),
		op("getHistory", "GET /machines/{machine}/history", shop.Look,
			"Every version of the sheet, newest first.", gives(getHistory)),
		op("undoSheet", "POST /machines/{machine}/undo", shop.KeepMachines,
			"Back to the version the present one was made from, or to the given one. It is a new version: nothing "+
				"is taken out of the history.",
			takes(undoSheet)),
		op("getScore", "GET /machines/{machine}/score", shop.Look,
			"How good the clock's predictions have been: each whole run against what was predicted before it.",
			gives(getScore)),
		op("getReported", "GET /reported", shop.Look,
			"What the floor's reports say about the machines: thread breaks and times before them, by them alone, and now.",
			gives(getReported), text("machine", "its ID; all where left out")),
		op("getSheetFile", "GET /machines/{machine}/sheet.toml", shop.Look,
			"The sheet as a file.", file("application/toml", sheetFile)),
	}
}

type classPage struct {
	Classes []class     `json:"classes"`
	Made    []madeClass `json:"made" doc:"classes that the shop made"`
}

type class struct {
	Name     string  `json:"name"`
	About    string  `json:"about"`
	Heads    int     `json:"heads"`
	Needles  int     `json:"needles"`
	MaxSpeed float64 `json:"max_speed" doc:"stitches/min"`
}

func listClasses(c *call) (*classPage, error) {
	p := classPage{Made: []madeClass{}}
	made, err := c.Shop.Classes.Made(c.Ctx)
	if err != nil {
		return nil, err
	}
	for i := range made {
		p.Made = append(p.Made, madeOf(&made[i]))
	}
	for _, s := range machine.Classes() {
		p.Classes = append(p.Classes, class{s.Name, s.Class, s.Heads, s.Needles, s.MaxSpeed})
	}
	return &p, nil
}

// sheetAnswer is a sheet in full.
type sheetAnswer struct {
	Name       string          `json:"name"`
	Class      string          `json:"class"`
	TravelMode string          `json:"travel_mode" enum:"frame,shaft"`
	Return     bool            `json:"return_to_start"`
	Ladder     []rung          `json:"ladder"`
	Correction []factorAt      `json:"correction" doc:"what the frame's time is multiplied by, by stitch length"`
	Turning    []factorAt      `json:"correction_turn" doc:"and by the turn"`
	Constants  []constantValue `json:"constants" doc:"in the order of the sheet"`
	Jobs       []ask.JobFactor `json:"jobs" doc:"what kinds of job do to the machine, assumed or learned"`
	Fit        *fitAnswer      `json:"fit" doc:"null for a sheet that was never learned"`
	Pool       *poolOf         `json:"pool" doc:"which learned machines the class is from; null where nobody learned any"`
	TOML       string          `json:"toml"`
}

type poolOf struct {
	Machines     int `json:"machines"`
	Shops        int `json:"shops"`
	ModelVersion int `json:"model_version"`
}

type rung struct {
	LengthMM float64 `json:"length_mm"`
	Speed    float64 `json:"speed" doc:"stitches/min"`
}

// factorAt is a node of a correction table.
type factorAt struct {
	At     float64 `json:"at" doc:"stitch length in mm; turn in degrees"`
	Factor float64 `json:"factor" doc:"1 is the law as it is"`
}

func factorsAt(at, factor []float64) []factorAt {
	out := []factorAt{}
	for i := range at {
		out = append(out, factorAt{at[i], factor[i]})
	}
	return out
}

type constantValue struct {
	Path  string  `json:"path"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
	Means string  `json:"means"`
	Min   float64 `json:"min"`
	Max   float64 `json:"max"`
	Whole bool    `json:"whole"`
	SD    float64 `json:"sd" doc:"relative, log-normal; 0 is exact"`
	Basis string  `json:"basis" enum:"assumed,pooled,spec,measured,fitted"`
}

type fitAnswer struct {
	Runs         int       `json:"runs"`
	Date         words.Day `json:"date"`
	ModelVersion int       `json:"model_version"`
	Current      bool      `json:"current" doc:"false: fitted under another version of the model; learn again"`
	Residual     float64   `json:"residual" doc:"relative standard deviation of a run's time left open"`
}

func sheetOf(s *machine.Sheet) sheetAnswer {
	a := sheetAnswer{Name: s.Name, Class: s.Class, TravelMode: s.Travel.Mode, Return: s.Travel.ReturnToStart,
		Ladder: []rung{}, Correction: factorsAt(s.Correction.Length, s.Correction.Factor),
		Turning: factorsAt(s.Correction.TurnAngle, s.Correction.TurnFactor), TOML: string(s.TOML())}
	for i := range s.Ladder.Length {
		a.Ladder = append(a.Ladder, rung{s.Ladder.Length[i], s.Ladder.Speed[i]})
	}
	for k := range s.Constants() {
		a.Constants = append(a.Constants, constantValue{k.Path, k.Get(s), k.Unit, k.Means().Raw(), k.Min, k.Max,
			k.Whole,
			s.SD[k.Path], string(cmp.Or(s.BasisOf[k.Path], machine.Assumed))})
	}
	if p := s.Pool; p != nil {
		a.Pool = &poolOf{p.Machines, p.Shops, p.ModelVersion}
	}
	a.Jobs = ask.JobFactors(s, machine.AllJobs)
	if f := s.Fit; f != nil {
		a.Fit = &fitAnswer{f.Runs, f.Date, f.ModelVersion, f.ModelVersion == machine.ModelVersion, f.Residual}
	}
	return a
}

func getClass(c *call) (*sheetAnswer, error) {
	s, ok := machine.Class(c.PathValue("class"))
	if !ok {
		k, err := c.Shop.Classes.Get(c.Ctx, c.PathValue("class"))
		if err != nil || k.Kind != shop.ClassSetup {
			return nil, shop.Errorf(shop.NotFound, "there is no machine class %q", c.PathValue("class"))
		}
		s = k.Sheet
	}
	a := sheetOf(s)
	return &a, nil
}

type machinePage struct {
	Machines []machineListed `json:"machines"`
}

type machineListed struct {
	*shop.Machine
	Class    string  `json:"class"`
	Heads    int     `json:"heads"`
	Needles  int     `json:"needles"`
	MaxSpeed float64 `json:"max_speed" doc:"stitches/min"`
	Learned  bool    `json:"learned" doc:"the sheet was fitted to timed runs"`
}

func listedMachine(m *shop.Machine) machineListed {
	return machineListed{m, m.Sheet.Class, m.Sheet.Heads, m.Sheet.Needles, m.Sheet.MaxSpeed, m.Sheet.Fit != nil}
}

func listMachines(c *call) (*machinePage, error) {
	all, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return nil, err
	}
	p := machinePage{Machines: []machineListed{}}
	for _, m := range all {
		p.Machines = append(p.Machines, listedMachine(m))
	}
	return &p, nil
}

type machineAnswer struct {
	machineListed
	Sheet sheetAnswer `json:"sheet"`
}

func answerMachine(m *shop.Machine, err error) (*machineAnswer, error) {
	if err != nil {
		return nil, err
	}
	return &machineAnswer{listedMachine(m), sheetOf(m.Sheet)}, nil
}

type machineNew struct {
	Class string `json:"class,omitempty" doc:"name of a built-in class or ID of one that the shop made; or give toml"`
	Name  string `json:"name,omitempty" doc:"the shop's own name, with class"`
	TOML  string `json:"toml,omitempty" doc:"a whole sheet"`
	Note  string `json:"note,omitempty"`
}

func addMachine(c *call, in machineNew) (*machineAnswer, error) {
	switch {
	case in.TOML != "" && in.Class != "":
		return nil, shop.Invalidf("give class or toml, not both")
	case in.TOML != "":
		return answerMachine(c.Shop.Machines.Add(c.Ctx, in.TOML, in.Note, c.By()))
	}
	return answerMachine(c.Shop.AddMachine(c.Ctx, in.Class, in.Name, c.By()))
}

func getMachine(c *call) (*machineAnswer, error) {
	return answerMachine(c.Machine())
}

type sheetChange struct {
	Base int    `json:"base" doc:"the version it was made from"`
	TOML string `json:"toml"`
	Note string `json:"note,omitempty"`
}

func changeSheet(c *call, in sheetChange) (*machineAnswer, error) {
	return answerMachine(c.Shop.Machines.ChangeSheet(c.Ctx, c.PathValue("machine"), in.Base, in.TOML, in.Note, c.By()))
}

func removeMachine(c *call) error {
	return c.Shop.Machines.Remove(c.Ctx, c.PathValue("machine"))
}

func restoreMachine(c *call) error {
	return c.Shop.Machines.Restore(c.Ctx, c.PathValue("machine"))
}

type historyAnswer struct {
	Versions []shop.SheetVersion `json:"versions"`
}

func getHistory(c *call) (*historyAnswer, error) {
	all, err := c.Shop.Machines.History(c.Ctx, c.PathValue("machine"))
	return &historyAnswer{all}, err
}

type undoAsked struct {
	Base int `json:"base" doc:"the present version"`
	To   int `json:"to,omitempty" doc:"the version to go back to; left out: the one the present was made from"`
}

func undoSheet(c *call, in undoAsked) (*machineAnswer, error) {
	return answerMachine(c.Shop.Machines.Undo(c.Ctx, c.PathValue("machine"), in.Base, in.To, c.By()))
}

func getScore(c *call) (*ask.ScoreAnswer, error) { return c.Shop.Score(c.Ctx, c.PathValue("machine")) }

func getReported(c *call) (*ask.ReportedAnswer, error) {
	q := c.Query()
	return ask.Reported(c.Ctx, c.Shop.Asked(), q.Get("machine"))
}

func sheetFile(c *call) error {
	m, err := c.Machine()
	if err != nil {
		return err
	}
	c.Download(m.Name+".toml", "application/toml", m.Sheet.TOML(), m.Digest[:24])
	return nil
}
