package ask

import (
	"context"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/thread"
	"needlepace/words"
)

// ClockQuestion asks how long a design takes on a machine, and where every
// second goes.
type ClockQuestion struct {
	Design  string // by the asker's name for it
	Machine string
	Job
	Level  float64     // chance that the interval holds the run time, 0.5 to 0.999; 0: DefaultLevel
	Thread *thread.Law // nil: thread.Default
	Blocks bool        // with each colour block
	Kinds  bool        // with each kind of stitches
	Sweep  bool        // with the run time against the set speed, and the knee
	Why    bool        // with what the interval hangs on, and what timing the run would teach
	// From asks for what is left of the run when the machine stands after so many
	// stitches: all of the answer but the thread is then of that. 0: the whole run.
	From int
}

// ClockAnswer is one design on one machine. Its JSON is a written contract:
// later versions add keys and never change one.
type ClockAnswer struct {
	Design       string             `json:"design" doc:"what it is called: the shop's name for it, else its file's"`
	Label        string             `json:"label" doc:"the label inside the file; empty where it says no more than its name"`
	File         string             `json:"file"`
	Machine      string             `json:"machine" doc:"the machine's name"`
	SetSpeed     float64            `json:"set_speed" doc:"stitches/min, after all caps"`
	RatedSpeed   float64            `json:"rated_speed" doc:"stitches/min"`
	Seconds      float64            `json:"seconds"`
	Interval     clock.Interval     `json:"interval"`
	From         int                `json:"at_stitch,omitempty" doc:"the machine stands after this stitch: what follows is of what is left of the run; left out: of the whole run"`
	OfStitches   int                `json:"of_stitches,omitempty" doc:"with at_stitch: the design's stitches; stitches are those left"`
	Stitches     int                `json:"stitches"`
	Revolutions  int                `json:"revolutions"`
	Trims        int                `json:"trims"`
	ColourStops  int                `json:"colour_stops"`
	Jumps        int                `json:"jumps"`
	WidthMM      float64            `json:"width_mm"`
	HeightMM     float64            `json:"height_mm"`
	HeldSpeed    float64            `json:"held_speed" doc:"stitches/min"`
	OverallSpeed float64            `json:"overall_speed" doc:"stitches/min"`
	NaiveSeconds float64            `json:"naive_seconds" doc:"stitches ÷ rated speed"`
	Parts        clock.Parts        `json:"parts" doc:"seconds; they add up to seconds"`
	LongBy       clock.LongBy       `json:"long_stitches_by"`
	Rethreads    int                `json:"rethreads" doc:"colours beyond the machine's needles"`
	Thread       *ThreadUse         `json:"thread,omitempty" doc:"what one piece takes"`
	Verdict      words.Sentences    `json:"verdict" doc:"the answer in sentences: what, how much, why"`
	Caveats      words.Sentences    `json:"caveats" doc:"what makes the answer less sure"`
	Warnings     []string           `json:"warnings"`
	Blocks       []ClockBlock       `json:"blocks,omitempty"`
	Kinds        []ClockKind        `json:"kinds,omitempty" doc:"what sewing takes, by kind of stitches; with the parts that no kind sews they add up to seconds"`
	Sweep        []clock.SweepPoint `json:"sweep,omitempty"`
	KneeSpeed    float64            `json:"knee_speed,omitempty" doc:"stitches/min: past it the next 50 buy less than 1 %"`
	Best         *BestSpeed         `json:"best_speed,omitempty" doc:"of a machine of the shop: the set speed that makes most good pieces, where breaks are known to grow with the speed"`
	Why          []ClockWhy         `json:"why,omitempty" doc:"what the interval hangs on, largest share first"`
	Teaches      *TeachAnswer       `json:"teaches,omitempty" doc:"with why: what timing this run would tell about the machine"`

	// What a drawing of the run is made from.
	Of     *Design            `json:"-"`
	On     *machine.Sheet     `json:"-"`
	Job    clock.Job          `json:"-"`
	Result *clock.Result      `json:"-"`
	How    *clock.Uncertainty `json:"-"`
	Swept  *SweepAnswer       `json:"-"` // nil where it was not asked for

	runWarnings []string // those of Warnings that are not the file's
}

// ClockBlock is one colour block of a ClockAnswer.
type ClockBlock struct {
	Block        int          `json:"block" doc:"from 1"`
	Needle       int          `json:"needle" doc:"from 1"`
	Seconds      float64      `json:"seconds"`
	Stitches     int          `json:"stitches"`
	Revolutions  int          `json:"revolutions"`
	Trims        int          `json:"trims"`
	Jumps        int          `json:"jumps"`
	HeldSpeed    float64      `json:"held_speed"`
	OverallSpeed float64      `json:"overall_speed"`
	Parts        clock.Parts  `json:"parts"`
	LongBy       clock.LongBy `json:"long_stitches_by"`
}

// ClockWhy is what one constant contributes to the interval.
type ClockWhy struct {
	Constant string  `json:"constant" doc:"path in the sheet; model is the model's own error"`
	Share    float64 `json:"share" doc:"of the variance, 0 to 1"`
	Seconds  float64 `json:"seconds" doc:"what one standard deviation of it does to the run time"`
}

// ThreadUse is the thread that one piece takes.
type ThreadUse struct {
	Top     float64   `json:"top_m"`
	Bobbin  float64   `json:"bobbin_m"`
	Grams   float64   `json:"top_g"`
	ByBlock []float64 `json:"top_m_by_block"`
}

func threadUseOf(u *thread.Use) *ThreadUse {
	t := &ThreadUse{Top: u.Total.Top, Bobbin: u.Total.Bobbin, Grams: u.Grams(), ByBlock: []float64{}}
	for _, b := range u.Blocks {
		t.ByBlock = append(t.ByBlock, b.Top)
	}
	return t
}

// ClockCheck says what is wrong with a question whatever it is asked about, so
// that nothing is begun in vain.
func ClockCheck(q ClockQuestion) error {
	_, _, _, err := q.checked()
	return err
}

func (q *ClockQuestion) checked() (job clock.Job, chance float64, law thread.Law, err error) {
	if job, err = q.Job.Clock(); err != nil {
		return job, 0, law, err
	}
	if job.From = q.From; q.From < 0 {
		return job, 0, law, wrong(job.Validate()).(*Error).At("at_stitch")
	}
	if chance, err = checkLevel(q.Level); err != nil {
		return job, chance, law, err
	}
	law = thread.Default
	if q.Thread != nil {
		law = *q.Thread
	}
	return job, chance, law, wrong(law.Check())
}

// Clock answers how long a design takes on a machine, and where every second
// goes. Errors: what is wrong with the question (*Error), the shelf's, or that
// ctx is done.
func Clock(ctx context.Context, from Shelf, q ClockQuestion) (*ClockAnswer, error) {
	job, chance, law, err := q.checked()
	if err != nil {
		return nil, err
	}
	d, sheet, err := both(ctx, from, q.Design, q.Machine)
	if err != nil {
		return nil, err
	}
	if err := standsAt(q.From, d.Counts.Stitches, d.Title()); err != nil {
		return nil, err
	}
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	r, how := clock.How(d.Design, sheet, job, chance)
	use, err := thread.Of(d.Design, law, sheet.Reading.TrimAfterJumps)
	if err != nil {
		return nil, wrong(err)
	}
	a := &ClockAnswer{
		Design: d.Title(), Label: d.Label(), File: d.File, Machine: sheet.Name,
		SetSpeed: r.SetSpeed, RatedSpeed: r.RatedSpeed, Seconds: r.Seconds, Interval: how.Interval,
		Stitches: r.Stitches, Revolutions: r.Revolutions, Trims: r.Trims, ColourStops: r.ColourStops, Jumps: r.Jumps,
		WidthMM: d.Counts.Bounds.WidthMM(), HeightMM: d.Counts.Bounds.HeightMM(),
		HeldSpeed: r.HeldSpeed(), OverallSpeed: r.OverallSpeed(), NaiveSeconds: r.NaiveSeconds(),
		Parts: r.Parts, LongBy: r.LongBy, Rethreads: r.Rethreads, Thread: threadUseOf(&use),
		Of: d, On: sheet, Job: job, Result: r, How: how,
		runWarnings: warningTexts(r.Warnings),
	}
	a.Warnings = append(d.FileWarnings(), a.runWarnings...)
	if a.From = q.From; q.From > 0 {
		a.OfStitches = d.Counts.Stitches
	}
	if q.Blocks {
		for _, b := range r.Blocks {
			a.Blocks = append(a.Blocks, ClockBlock{b.Index + 1, b.Needle + 1, b.Seconds, b.Stitches, b.Revolutions,
				b.Trims, b.Jumps, b.HeldSpeed(), b.OverallSpeed(), b.Parts, b.LongBy})
		}
	}
	if q.Kinds {
		a.Kinds = kindsOf(d, sheet, job, r.Seconds)
	}
	if q.Sweep {
		a.Swept = sweep(d, sheet, job)
		a.Sweep, a.KneeSpeed = a.Swept.Points, a.Swept.KneeSpeed
	}
	if q.Why {
		for _, s := range how.Shares {
			path := s.Path
			if path == "" {
				path = "model"
			}
			a.Why = append(a.Why, ClockWhy{path, s.Share, s.Seconds})
		}
		if q.From == 0 { // nobody times a part of a run
			if a.Teaches, err = a.teaches(ctx); err != nil {
				return nil, err
			}
		}
	}
	a.say()
	return a, nil
}

// standsAt refuses a stitch that a design has not.
func standsAt(stitch, of int, design string) error {
	if stitch > of {
		return Errorf("%s has %s: the machine cannot stand at stitch %s of it", design,
			words.Count(of, "stitch").Text(nil), words.Whole(stitch).Text(nil)).At("at_stitch")
	}
	return nil
}

// RunWarnings are those of the answer's warnings that this machine has, without
// the file's own.
func (a *ClockAnswer) RunWarnings() []string { return a.runWarnings }
