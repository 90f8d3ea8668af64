package api

import (
	"needlepace/act"
	"needlepace/ask"
	"needlepace/shop"
	"needlepace/shop/classes"
)

func classRoutes() []*route {
	return []*route{
		op("poolClass", "POST /classes", shop.KeepMachines,
			"What learned machines, and learned sheets of other shops, say of their class. With keep the class is kept "+
				"and a machine can start from it.",
			takes(poolClass)),
		op("removeClass", "DELETE /classes/{class}", shop.KeepMachines,
			"Forget a class that the shop made. Machines that started from it stay as they are.", does(removeClass)),
		op("startFromClass", "POST /machines/{machine}/start", shop.KeepMachines,
			"A new version of the machine's sheet: that of a class that the shop made, to be learned from there. What was "+
				"measured or read off the plate stays.",
			takes(startFromClass)),
		op("getEvidenceFile", "GET /machines/{machine}/evidence.toml", shop.KeepMachines,
			"The learned sheet with its evidence for other shops, and nothing of the shop in it.",
			file("application/toml", evidenceFile)),
		op("listEvidence", "GET /evidence", shop.Look, "The learned sheets of other shops.", gives(listEvidence)),
		op("addEvidence", "POST /evidence", shop.KeepMachines,
			"Take in a learned sheet (TOML) that another shop exported. What cannot be pooled is refused with why.",
			makes(addEvidence)),
		op("removeEvidence", "DELETE /evidence/{evidence}", shop.KeepMachines, "Forget a sheet of another shop.",
			does(removeEvidence)),
	}
}

// madeClass is a class that the shop made.
type madeClass struct {
	ID       string `json:"id"`
	Name     string `json:"name"`
	About    string `json:"about"`
	Machines int    `json:"machines" doc:"learned machines that it is from"`
	Shops    int    `json:"shops"`
}

func madeOf(k *classes.Kept) madeClass {
	return madeClass{k.ID, k.Name, k.Sheet.Class, k.Sheet.Pool.Machines, k.Sheet.Pool.Shops}
}

type poolAsked struct {
	Machines []string `json:"machines,omitempty" doc:"IDs of learned machines"`
	Evidence []string `json:"evidence,omitempty" doc:"IDs of sheets of other shops"`
	Keep     bool     `json:"keep,omitempty" doc:"keep the class"`
}

type pooledAnswer struct {
	*ask.PoolAnswer
	TOML string     `json:"toml" doc:"the class sheet"`
	Kept *madeClass `json:"kept" doc:"with keep: the class as it is kept; else null"`
}

func poolClass(c *call, in poolAsked) (*pooledAnswer, error) {
	q := act.Pooling{Machines: in.Machines, Evidence: in.Evidence}
	if !in.Keep {
		a, err := c.Shop.Pool(c.Ctx, q)
		if err != nil {
			return nil, err
		}
		return &pooledAnswer{a, string(a.Sheet.TOML()), nil}, nil
	}
	k, a, err := c.Shop.KeepClass(c.Ctx, q)
	if err != nil {
		return nil, err
	}
	made := madeOf(k)
	return &pooledAnswer{a, string(a.Sheet.TOML()), &made}, nil
}

func removeClass(c *call) error { return c.Shop.Classes.Remove(c.Ctx, c.PathValue("class")) }

type startAsked struct {
	Class string `json:"class" doc:"ID of a class that the shop made"`
}

func startFromClass(c *call, in startAsked) (*machineAnswer, error) {
	return answerMachine(c.Shop.StartFrom(c.Ctx, in.Class, c.PathValue("machine"), c.By()))
}

func evidenceFile(c *call) error {
	sheet, name, err := c.Shop.Exported(c.Ctx, c.PathValue("machine"))
	if err != nil {
		return err
	}
	toml := sheet.TOML()
	c.Download(name, "application/toml", toml, shop.Digest(toml)[:24])
	return nil
}

type evidencePage struct {
	Evidence []evidenceListed `json:"evidence"`
}

type evidenceListed struct {
	ID    string `json:"id"`
	Name  string `json:"name"`
	About string `json:"about" doc:"what kind of machine it is"`
	Runs  int    `json:"runs"`
}

func evidenceOf(k *classes.Kept) evidenceListed {
	return evidenceListed{k.ID, k.Name, k.Sheet.Class, k.Sheet.Fit.Runs}
}

func listEvidence(c *call) (*evidencePage, error) {
	all, err := c.Shop.Classes.Evidence(c.Ctx)
	if err != nil {
		return nil, err
	}
	p := evidencePage{Evidence: []evidenceListed{}}
	for i := range all {
		p.Evidence = append(p.Evidence, evidenceOf(&all[i]))
	}
	return &p, nil
}

type evidenceNew struct {
	TOML string `json:"toml"`
}

func addEvidence(c *call, in evidenceNew) (*evidenceListed, error) {
	k, err := c.Shop.Classes.AddEvidence(c.Ctx, "the sheet", in.TOML)
	if err != nil {
		return nil, err
	}
	out := evidenceOf(k)
	return &out, nil
}

func removeEvidence(c *call) error { return c.Shop.Classes.Remove(c.Ctx, c.PathValue("evidence")) }
