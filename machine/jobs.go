package machine

import (
	"fmt"
	"iter"
	"strings"
)

// Jobs are the kinds of job that one run is of: what it is hooped on, how heavy
// the goods are, what thread is sewn. They may be together; 0 is a plain job.
type Jobs uint8

// The kinds of job whose limits and factors a sheet may have.
const (
	CapFrame  Jobs = 1 << iota // on the cap frame
	LargeHoop                  // in a hoop much larger than the usual one
	Heavy                      // heavy goods: a jacket, a bag
	Metallic                   // metallic thread
	Woollen                    // woollen or other thick thread

	everyJob = 1<<iota - 1
)

// jobKinds name the kinds of job, in the order in which they are shown.
var jobKinds = []struct {
	kind Jobs
	key  string // in a file of timed runs, and in words/en.toml after "job."
}{
	{CapFrame, "cap-frame"}, {LargeHoop, "large-hoop"}, {Heavy, "heavy"}, {Metallic, "metallic"}, {Woollen, "woollen"},
}

// JobNames are the names of the kinds of job, in the order in which they are shown.
func JobNames() (out []string) {
	for _, k := range jobKinds {
		out = append(out, k.key)
	}
	return out
}

// Each goes through the kinds that are there, one at a time.
func (j Jobs) Each() iter.Seq[Jobs] {
	return func(yield func(Jobs) bool) {
		for _, k := range jobKinds {
			if j&k.kind != 0 && !yield(k.kind) {
				return
			}
		}
	}
}

// AllJobs has every kind of job.
const AllJobs = Jobs(everyJob)

// String is what ParseJobs reads: "cap-frame+heavy"; empty for a plain job.
func (j Jobs) String() string {
	var out []string
	for _, k := range jobKinds {
		if j&k.kind != 0 {
			out = append(out, k.key)
		}
	}
	return strings.Join(out, "+")
}

// ParseJobs reads the names of the kinds of job that a run is of, with plus
// signs, commas, semicolons or spaces between; empty is a plain job. The error
// says which name there is not and which there are.
func ParseJobs(text string) (Jobs, error) {
	var out Jobs
	for _, name := range strings.FieldsFunc(strings.ToLower(text), betweenJobs) {
		var is Jobs
		for _, k := range jobKinds {
			if strings.ReplaceAll(name, "_", "-") == k.key {
				is = k.kind
			}
		}
		if is == 0 {
			return 0, fmt.Errorf("%q is no kind of job: write %s, with + between where it is several, or leave it empty for "+
				"a plain job", plain(name), strings.Join(JobNames(), ", "))
		}
		out |= is
	}
	return out, nil
}

func betweenJobs(r rune) bool { return strings.ContainsRune("+,; \t", r) }

// MarshalText is String, for JSON and TOML.
func (j Jobs) MarshalText() ([]byte, error) { return []byte(j.String()), nil }

// UnmarshalText is ParseJobs, for JSON and TOML.
func (j *Jobs) UnmarshalText(text []byte) (err error) {
	*j, err = ParseJobs(string(text))
	return err
}

// JobFactors is what kinds of job do to this machine. 0 is what is assumed of
// any machine (the Default of the constant).
type JobFactors struct {
	CapFrameSpeed  float64 // stitches/min at most on the cap frame
	CapFrameAccel  float64 // of the frame's accelerations on the cap frame
	LargeHoopAccel float64 // the same with a large hoop
	HeavyAccel     float64 // the same with heavy goods
	MetallicSpeed  float64 // stitches/min at most with metallic thread
	WoollenSpeed   float64 // stitches/min at most with woollen thread
}

// job is a constant of a kind of job, what is assumed of it and how far machines
// lie from that.
func job(kind Jobs, path, unit string, lo, hi, assumed, spread float64, at func(*JobFactors) *float64) Constant {
	return Constant{Path: path, Unit: unit, Min: lo, Max: hi, Optional: true, Default: assumed, Term: true, Job: kind,
		spread: spread,
		Get: func(s *Sheet) float64 {
			if v := *at(&s.Job); v != 0 {
				return v
			}
			return assumed
		},
		Set: func(s *Sheet, v float64) {
			if v == assumed {
				v = 0
			}
			*at(&s.Job) = v
		}}
}

// The range of what a job multiplies the accelerations by.
const (
	minJobAccel = 0.05
	maxJobAccel = 2
)

// jobConstants are the limits and factors of the kinds of job. Advice in trade
// print is 500 to 650 stitches/min for caps and 300 to 700 for metallic thread by
// kind of machine (docs/model.md); the other values and all spreads are assumed.
var jobConstants = []Constant{
	job(CapFrame, "job.cap_frame_speed", "stitches/min", 10, 3000, 650, 0.15,
		func(j *JobFactors) *float64 { return &j.CapFrameSpeed }),
	job(CapFrame, "job.cap_frame_accel", "", minJobAccel, maxJobAccel, 1, 0.2,
		func(j *JobFactors) *float64 { return &j.CapFrameAccel }),
	job(LargeHoop, "job.large_hoop_accel", "", minJobAccel, maxJobAccel, 0.85, 0.2,
		func(j *JobFactors) *float64 { return &j.LargeHoopAccel }),
	job(Heavy, "job.heavy_accel", "", minJobAccel, maxJobAccel, 0.7, 0.25,
		func(j *JobFactors) *float64 { return &j.HeavyAccel }),
	job(Metallic, "job.metallic_speed", "stitches/min", 10, 3000, 550, 0.25,
		func(j *JobFactors) *float64 { return &j.MetallicSpeed }),
	job(Woollen, "job.woollen_speed", "stitches/min", 10, 3000, 600, 0.2,
		func(j *JobFactors) *float64 { return &j.WoollenSpeed }),
}

// JobConstants are the constants of kinds of job, in the order of the kinds.
func JobConstants(j Jobs) iter.Seq[Constant] {
	return func(yield func(Constant) bool) {
		for _, c := range jobConstants {
			if c.Job&j != 0 && !yield(c) {
				return
			}
		}
	}
}

// JobSpeed is how fast the shaft may run at most for kinds of job, in
// stitches/min: the least of their limits; 0 where none has one.
func (s *Sheet) JobSpeed(j Jobs) float64 {
	most := 0.0
	for c := range JobConstants(j) {
		if c.Unit != "" && (most == 0 || c.Get(s) < most) {
			most = c.Get(s)
		}
	}
	return most
}

// JobAccel is what the frame's accelerations are multiplied by for kinds of job:
// the product of their factors, each of which is of a mass on the frame; 1 for
// a plain job.
func (s *Sheet) JobAccel(j Jobs) float64 {
	f := 1.0
	for c := range JobConstants(j) {
		if c.Unit == "" {
			f *= c.Get(s)
		}
	}
	return f
}

// Spread is the relative standard deviation (log-normal) of a constant. What is
// assumed of a kind of job is as uncertain as that is, unless the sheet says
// something else or has no spreads at all; any other constant that SD does not
// name is exact.
func (s *Sheet) Spread(c Constant) float64 {
	if sd, ok := s.SD[c.Path]; ok || c.Job == 0 || len(s.SD) == 0 || c.Get(s) != c.Default {
		return sd
	}
	return c.spread
}

// JobRuns is how many timed runs of a kind of job, and of which others with it,
// the sheet was learned from.
func (s *Sheet) JobRuns(kind Jobs) int {
	n := 0
	if s.Fit != nil {
		for _, j := range s.Fit.Jobs {
			if j.Job&kind != 0 {
				n += j.Runs
			}
		}
	}
	return n
}

// RunsOfJob is how many timed runs a fit has of kinds of job together.
type RunsOfJob struct {
	Job  Jobs
	Runs int
}

// String is as the sheet file has it: "4 cap-frame+heavy".
func (r RunsOfJob) String() string { return fmt.Sprint(r.Runs, " ", r.Job) }

// parseRunsOfJob reads what String writes.
func parseRunsOfJob(text string) (r RunsOfJob, err error) {
	var names string
	if _, err = fmt.Sscanf(text, "%d %s", &r.Runs, &names); err == nil {
		r.Job, err = ParseJobs(names)
	}
	if err != nil || r.String() != text || r.Runs < 1 || r.Runs > maxRuns || r.Job == 0 {
		return r, fmt.Errorf("is %q: this is learning's own record, learn again or remove the line", plain(text))
	}
	return r, nil
}
