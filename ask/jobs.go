package ask

import (
	"cmp"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/words"
)

// JobFactor is what one kind of job does to a machine.
type JobFactor struct {
	Job      string        `json:"job" doc:"the kind of job, e.g. cap-frame"`
	Constant string        `json:"constant" doc:"path in the sheet"`
	Value    float64       `json:"value"`
	Unit     string        `json:"unit" doc:"stitches/min for a limit, empty for a factor on the frame's acceleration"`
	SD       float64       `json:"sd" doc:"relative, log-normal; 0 is exact"`
	Basis    machine.Basis `json:"basis" enum:"assumed,spec,measured,fitted"`
	Runs     int           `json:"runs" doc:"timed runs of this kind of job that the sheet was learned from"`

	constant machine.Constant
}

// JobFactors are what kinds of job do to a machine, in the order of the kinds:
// as its sheet has learned it, or as is assumed of any machine.
func JobFactors(s *machine.Sheet, kinds machine.Jobs) []JobFactor {
	out := []JobFactor{}
	for c := range machine.JobConstants(kinds) {
		out = append(out, JobFactor{c.Job.String(), c.Path, c.Get(s), c.Unit, s.Spread(c),
			cmp.Or(s.BasisOf[c.Path], machine.Assumed), s.JobRuns(c.Job), c})
	}
	return out
}

// JobsTable is what every kind of job does to a machine.
func JobsTable(s *machine.Sheet) *Table {
	t := table("jobs", words.Say("job.table"),
		column("job", "job.kind"),
		column("constant", "job.does"),
		number("value", "job.value"),
		column("unit", "learn.unit").inFile(), // the value says it
		number("relative_sd", "job.sd"),
		column("from", "job.from"),
		number("runs", "job.runs"),
	)
	for _, f := range JobFactors(s, machine.AllJobs) {
		t.add(coded{words.Say("job." + f.Job), f.Job}, coded{f.constant.Means(), f.Constant}, coded{f.what(), words.Figure(f.Value).Raw()},
			words.Name(f.Unit), words.GiveOrTake(f.SD), coded{words.Say("job-from." + string(f.Basis)), string(f.Basis)},
			words.Whole(f.Runs))
	}
	return t
}

// what is the factor as people say it: a speed, or a share of the acceleration.
func (f *JobFactor) what() words.Value {
	if f.Unit != "" {
		return words.PerMinute(f.Value)
	}
	return words.Share(f.Value)
}

// says is what the factor does and where that is from.
func (f *JobFactor) says() words.Message {
	from := words.Say("job-from." + string(f.Basis))
	if f.Basis == machine.Fitted {
		from = words.Say("job.from-runs", words.Args{"runs": words.Count(f.Runs, "timed-run")})
	}
	value, sd := f.what(), words.GiveOrTake(f.SD)
	if f.Unit != "" {
		return words.Say("job.at-most", words.Args{"value": value, "sd": sd, "from": from})
	}
	return words.Say("job.frame", words.Args{"value": value, "sd": sd, "from": from})
}

// jobsSay says, a sentence a kind, what the kinds of job do to a machine and where
// that is from. What the job itself gives instead is left out.
func jobsSay(s *machine.Sheet, job clock.Job) (out words.Sentences) {
	for kind := range job.Kinds.Each() {
		does := words.List{}
		for _, f := range JobFactors(s, kind) {
			if f.Unit != "" && job.Cap > 0 || kind == machine.Heavy && job.AccelFactor > 0 {
				continue
			}
			does = append(does, f.says())
		}
		if len(does) > 0 {
			out.Say("job.does-what", words.Args{"kind": words.Say("job." + kind.String()), "what": does})
		}
	}
	return out
}
