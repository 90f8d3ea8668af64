package main

import (
	"fmt"
	"io"

	"needlepace/ask"
	"needlepace/floor"
	"needlepace/words"
)

// CostCmd says what a piece costs and what its price must be.
type CostCmd struct {
	Files   []string `arg:"" name:"file" help:"Stitch files, or folders of them."`
	Shop    string   `required:"" help:"The shop's file with its [money], SHOP.toml (docs/what-a-shift-yields.md)." placeholder:"SHOP.toml"`
	Machine []string `short:"m" help:"A machine of the shop by its name; may repeat. Default: all." placeholder:"NAME"`
	SimFlags
	Pieces   []int   `short:"n" help:"Pieces, as quantity steps. Default: the shop's." placeholder:"N,…"`
	Speed    float64 `help:"The operator's speed setting, in stitches/min. Default: the shop's for the machine." placeholder:"N"`
	CapFrame bool    `help:"The goods are on a cap frame."`
	Metallic bool    `help:"Metallic thread."`
	JobFlag
	Heavy float64 `help:"Factor on the frame's acceleration for a heavy garment, e.g. 0.7." placeholder:"F"`
	JSON  bool    `name:"json" help:"One JSON object for each design and machine, one a line."`
	CSV   bool    `name:"csv" help:"One CSV row for each design, machine and quantity."`
}

// Run asks what every design costs on every chosen machine and lays the
// answers out.
func (a *CostCmd) Run(c *Ctx) error {
	b, err := readSettings(a.Shop)
	if err != nil {
		return err
	}
	some := false
	failed := func(err error) { complain(c.Err, err); some = true }
	sim, end := a.simulation(c)
	answers, err := ask.Cost(c.Context, ask.CostQuestion{Name: a.Shop, TOML: b, Simulation: sim,
		Designs:  designsIn(a.Files, failed),
		Machines: a.Machine, Quantities: a.Pieces,
		Goods: floor.Goods{Speed: a.Speed, CapFrame: a.CapFrame, Metallic: a.Metallic, Heavy: a.Heavy, Job: a.Kinds}},
		sources(a.Shop), failed)
	end()
	if err != nil {
		return err
	}
	switch {
	case a.JSON:
		for _, x := range answers {
			if err := writeJSON(c.Out, x); err != nil {
				return err
			}
		}
	case a.CSV:
		if err := ask.CostTable(answers).WriteCSV(c.Out); err != nil {
			return err
		}
	default:
		for i, x := range answers {
			if i > 0 {
				fmt.Fprintln(c.Out)
			}
			costText(c.Out, x)
		}
	}
	if some {
		return errPartial
	}
	return nil
}

// designsIn reads designs; what cannot be read is told to failed.
func designsIn(files []string, failed func(error)) (out []*ask.Design) {
	for _, file := range stitchFiles(files) {
		read, err := file.read()
		if err != nil {
			failed(err)
			continue
		}
		for _, one := range read {
			if one.Err != nil {
				failed(one.Err)
				continue
			}
			out = append(out, ask.OfFile(one))
		}
	}
	return out
}

func costText(w io.Writer, a *ask.CostAnswer) {
	writeLine(w, "", words.Say("cost.title", words.Args{"design": words.Name(a.Design),
		"machine": words.Name(a.Machine),
		"heads":   words.Count(a.Heads, "head")}))
	writeSentences(w, "  ", a.Verdict)
	fmt.Fprintln(w)
	writeTable(w, a.LineTable(), "  ")
	if len(a.Caveats) > 0 {
		fmt.Fprintln(w)
		writeSentences(w, "  ", a.Caveats)
	}
}
