package main

import (
	"errors"
	"fmt"
	"os"

	"needlepace/ask"
	"needlepace/audit"
	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
)

// AuditCmd says what in a design wastes time or risks breaks, and what each
// costs.
type AuditCmd struct {
	File string `arg:"" optional:"" help:"A stitch file."`
	AuditInput
	Pieces         int    `short:"n" help:"Pieces ordered: costs are also given for the whole order." default:"1" placeholder:"N"`
	Hoop           string `help:"Inside of the hoop in mm, e.g. 130x180." placeholder:"WxH"`
	Thresholds     string `help:"A file of thresholds (.toml); those it leaves out keep their defaults." placeholder:"FILE"`
	ShowThresholds bool   `help:"Print all thresholds with their sources, as a file to start one's own from."`
	All            bool   `help:"List every finding, not only the dearest of each kind."`
	JSON           bool   `name:"json" help:"One JSON object."`
	CSV            bool   `name:"csv" help:"One CSV row for each finding."`
	Picture        string `help:"Draw the design with the dearest findings marked, to an .svg or .png file." placeholder:"FILE"`
	Heat           string `help:"Draw where needle penetrations lie thick, to an .svg or .png file." placeholder:"FILE"`
}

// audited is one design with its report.
type audited struct {
	of     *ask.Design
	sheet  *machine.Sheet
	job    clock.Job
	limits audit.Limits
	from   string // where the threads are known from
	report *audit.Report
}

// Run audits a design.
func (a *AuditCmd) Run(c *Ctx) error {
	limits, err := a.limits()
	if err != nil {
		return err
	}
	if a.ShowThresholds {
		_, err := c.Out.Write(audit.FormatLimits(limits))
		return err
	}
	switch {
	case a.File == "":
		return usagef("name a stitch file to audit")
	case a.JSON && a.CSV:
		return usagef("--json and --csv: choose one")
	case a.Pieces < 1 || a.Pieces > 10_000_000:
		return usagef("--pieces %d: an order has 1 to 10,000,000 pieces", a.Pieces)
	}
	w, h, err := hoop(a.Hoop)
	if err != nil {
		return err
	}
	in, err := a.load(a.File)
	if err != nil {
		return err
	}
	report, err := audit.Check(c.Context, in.design, in.sheet, in.job, audit.Options{Threads: in.threads, Pieces: a.Pieces, HoopX: w, HoopY: h, Limits: &limits})
	if err != nil {
		return fmt.Errorf("%s: %w", in.name, err)
	}
	x := &audited{ask.NewDesign(in.design, in.name, ""), in.sheet, in.job, limits, in.from, report}
	switch {
	case a.JSON:
		err = a.json(c.Out, x)
	case a.CSV:
		err = a.csv(c.Out, x)
	default:
		err = a.text(c, x)
	}
	if err == nil && a.Picture != "" {
		err = writePicture(a.Picture, markedPicture(x))
	}
	if err == nil && a.Heat != "" {
		err = writePicture(a.Heat, heatPicture(x))
	}
	return err
}

func (a *AuditCmd) limits() (audit.Limits, error) {
	if a.Thresholds == "" {
		return audit.DefaultLimits(), nil
	}
	info, err := os.Stat(a.Thresholds)
	if err == nil && (info.IsDir() || info.Size() > maxListBytes) {
		err = errors.New("that is no file of thresholds; see --show-thresholds")
	}
	if err != nil {
		return audit.Limits{}, usagef("--thresholds %s: %v", a.Thresholds, err)
	}
	b, err := os.ReadFile(a.Thresholds)
	if err != nil {
		return audit.Limits{}, usagef("--thresholds: %v", err)
	}
	l, err := audit.ParseLimits(a.Thresholds, b)
	if err != nil {
		return l, usageError{err}
	}
	return l, nil
}

// revolutions is, for each stitch of a design, the number of its revolution:
// drawings have one piece of thread for each revolution.
func revolutions(d *stitch.Design, trimAfter int) []int {
	var out []int
	n := 0
	for e := range d.Events(trimAfter) {
		if e.Kind != stitch.Run {
			continue
		}
		for _, r := range d.Records[e.From:e.To] {
			if r.Op.Penetrates() {
				out = append(out, n)
			}
			n++
		}
	}
	return append(out, n)
}
