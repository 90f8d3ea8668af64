package main

import (
	"fmt"
	"time"

	"needlepace/ask"
	"needlepace/audit"
	"needlepace/picture"
)

// AuditCmd says what in a design wastes time or risks breaks, and what each
// costs.
type AuditCmd struct {
	File string `arg:"" optional:"" help:"A stitch file."`
	AuditInput
	Pieces         int         `short:"n" help:"Pieces ordered: costs are also given for the whole order." default:"1" placeholder:"N"`
	Hoop           string      `help:"Inside of the hoop in mm, e.g. 130x180." placeholder:"WxH"`
	Field          string      `help:"What the machine can sew in, in mm, e.g. 360x500; left out: what its sheet says." placeholder:"WxH"`
	Thresholds     string      `help:"A file of thresholds (.toml); those it leaves out keep their defaults." placeholder:"FILE"`
	ShowThresholds bool        `help:"Print all thresholds with their sources, as a file to start one's own from."`
	All            bool        `help:"List every finding, not only the dearest of each kind."`
	JSON           bool        `name:"json" help:"One JSON object."`
	CSV            bool        `name:"csv" help:"One CSV row for each finding."`
	Picture        PictureFile `help:"Draw the design with the dearest findings marked, to an .svg or .png file." placeholder:"FILE"`
	Heat           PictureFile `help:"Draw where needle penetrations lie thick, to an .svg or .png file." placeholder:"FILE"`
	LetterFlags
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
	case a.Pieces == 0: // 0 means "not given" inside a question
		return usagef("--pieces 0: an order has at least 1")
	}
	terms, size, err := a.LetterFlags.check()
	if err != nil {
		return err
	}
	q := ask.AuditQuestion{Pieces: a.Pieces, Limits: &limits}
	if q.HoopX, q.HoopY, err = inMM("hoop", a.Hoop); err != nil {
		return err
	}
	if q.FieldX, q.FieldY, err = inMM("field", a.Field); err != nil {
		return err
	}
	if q.Job, err = a.asked(); err != nil {
		return err
	}
	if q.ThreadsAsked, err = a.threads(); err != nil {
		return err
	}
	if err := ask.AuditCheck(q); err != nil {
		return err
	}
	of, err := a.load(a.File)
	if err != nil {
		return err
	}
	from := pair{Given: of}
	if a.Earlier != "" {
		d, name, err := readOne(a.Earlier)
		if err != nil {
			return fmt.Errorf("--earlier: %w", err)
		}
		from.old, q.Since = ask.NewDesign(d, name, ""), earlierOne
	}
	x, err := ask.Audit(c.Context, from, q)
	if err != nil {
		return fmt.Errorf("%s: %w", from.Stitches.File, err)
	}
	switch {
	case a.JSON:
		err = writeJSON(c.Out, x)
	case a.CSV:
		err = x.FindingsTable().WriteCSV(c.Out)
	default:
		a.text(c.Out, x)
	}
	if err == nil && a.Picture != "" {
		err = writePicture(a.Picture, picture.FindingsOf(x, nil))
	}
	if err == nil && a.Heat != "" {
		err = writePicture(a.Heat, picture.DensityOf(x, nil, 0))
	}
	if err == nil && a.Letter != "" {
		err = a.write(x, terms, size, time.Now())
	}
	return err
}

func (a *AuditCmd) limits() (audit.Limits, error) {
	if a.Thresholds == "" {
		return audit.DefaultLimits(), nil
	}
	b, err := readGiven("--thresholds: ", a.Thresholds, "name a file in it; see --show-thresholds", maxListBytes)
	if err != nil {
		return audit.Limits{}, err
	}
	l, err := audit.ParseLimits(a.Thresholds, b)
	if err != nil {
		return l, usageError{err}
	}
	return l, nil
}
