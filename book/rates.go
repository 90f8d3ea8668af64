package book

import "math"

// Rates is what the floor's reports and recordings of runs say about a machine,
// against what was expected of it.
type Rates struct {
	Breaks  float64 // thread breaks a head and 1,000 stitches: the expected rate, moved by those counted
	Counted int     // breaks counted, in reports and recordings
	Sewn    float64 // head-stitches they were counted over
	Heard   HeardBreaks
	BySpeed []SpeedCount // what was counted, by set speed
	// Pace is real ÷ predicted seconds that pieces held the machine, moved
	// from 1 by as much as the reported hours carry.
	Pace  float64
	Hours float64 // machine hours timed
	Runs  int     // reports with a time
	Real  float64 // real ÷ predicted of the reported hours alone; 0: none
}

// BreaksWithin is the interval that holds the break rate with a chance of level;
// prior is the rate expected without reports.
func (r *Rates) BreaksWithin(prior, level float64) (low, high float64) {
	if prior <= 0 {
		return 0, 0
	}
	return breaksBefore(prior).Seen(r.Counted, r.Sewn/1000).Within(level)
}

// breaksBefore is what is believed of a break rate before there are reports.
func breaksBefore(rate float64) Gamma { return Gamma{priorBreaks, priorBreaks / rate} }

// How much of reports it takes to believe them; assumed. One report moves the
// pace by at most mostHours' worth: one bad entry must not poison the ratio.
const (
	priorBreaks = 3.0 // the expected rate counts as this many breaks seen
	mostHours   = 8.0

	// PriorHours is as how many hours timed a pace of 1 counts.
	PriorHours = 6.0
	// MostOff is the factor beyond which no report's pace is believed.
	MostOff = 1.6
)

// HeardBreaks is what recordings say of a machine's thread breaks. Counted and Sewn are
// a part of those of Rates.
type HeardBreaks struct {
	Recordings int // that count
	Counted    int
	Sewn       float64 // head-stitches
	Doubtful   int     // stops that may be breaks or not: not counted
	Reported   int     // recordings that do not count: a report has their run in it
}

type reportSums struct {
	breaks int
	sewn   float64
	heard  HeardBreaks
	speeds []SpeedCount
	paces  map[string]*paceSum // by sheet: a new sheet begins a new pace
}

type paceSum struct {
	log, hours, timed float64
	n                 int
}

// FloorRates are the floor's reports summed up, by machine.
type FloorRates map[string]*reportSums

func (f FloorRates) sums(machineID string) *reportSums {
	sum := f[machineID]
	if sum == nil {
		sum = &reportSums{paces: map[string]*paceSum{}}
		f[machineID] = sum
	}
	return sum
}

// count takes breaks that were counted over head-stitches of a design at a set speed.
func (s *reportSums) count(breaks int, stitches float64, design string, speed float64) {
	s.breaks += breaks
	s.sewn += stitches
	if speed > 0 && stitches > 0 {
		s.speeds = append(s.speeds, SpeedCount{Design: design, Speed: speed, Breaks: breaks, Sewn: stitches})
	}
}

// SumReports sums up the floor's reports, and recordings of runs that no report has in
// it (Heard.ReportedIn): both count breaks over stitches, each once.
func SumReports(all []Report, heard []Heard) FloorRates {
	out := FloorRates{}
	for i := range heard {
		h := &heard[i]
		sum := out.sums(h.MachineID)
		if h.ReportedIn(all) != nil {
			sum.heard.Reported++
			continue
		}
		sum.count(h.Breaks, h.Stitches, h.DesignID, h.SetSpeed)
		sum.heard.Recordings++
		sum.heard.Counted += h.Breaks
		sum.heard.Sewn += h.Stitches
		sum.heard.Doubtful += h.Doubtful
	}
	for i := range all {
		r := &all[i]
		sum := out.sums(r.MachineID)
		if r.Breaks >= 0 {
			sum.count(r.Breaks, r.Stitches, r.DesignID, r.SetSpeed)
		}
		if r.Seconds > 0 && r.Predicted > 0 {
			p := sum.paces[r.Sheet]
			if p == nil {
				p = &paceSum{}
				sum.paces[r.Sheet] = p
			}
			off := math.Log(r.Seconds / r.Predicted)
			off = max(-math.Log(MostOff), min(math.Log(MostOff), off))
			h := min(r.Predicted/3600, mostHours)
			p.log += h * off
			p.hours += h
			p.timed += r.Seconds / 3600
			p.n++
		}
	}
	return out
}

// Of is a machine's rates. breaks is the rate expected without reports, a head
// and 1,000 stitches; sheets are the digests under which reports may
// know the machine's present sheet.
func (f FloorRates) Of(machineID string, breaks float64, sheets ...string) Rates {
	r := Rates{Breaks: breaks, Pace: 1}
	sum := f[machineID]
	if sum == nil {
		return r
	}
	r.Counted, r.Sewn, r.Heard, r.BySpeed = sum.breaks, sum.sewn, sum.heard, sum.speeds
	if breaks > 0 && sum.sewn > 0 {
		r.Breaks = breaksBefore(breaks).Seen(sum.breaks, sum.sewn/1000).Mean()
	}
	var all paceSum
	for _, sheet := range sheets {
		if p := sum.paces[sheet]; p != nil {
			all.log, all.hours = all.log+p.log, all.hours+p.hours
			all.timed, all.n = all.timed+p.timed, all.n+p.n
		}
	}
	if all.n > 0 {
		// The logarithm of an hour's pace has some spread, whatever it is: it falls as
		// one over the root of the hours, and a pace of 1 is known as of PriorHours.
		pace := Normal{0, 1 / math.Sqrt(PriorHours)}.Seen(all.log/all.hours, 1/math.Sqrt(all.hours))
		r.Pace, r.Real = math.Exp(pace.Mean), math.Exp(all.log/all.hours)
		r.Hours, r.Runs = all.timed, all.n
	}
	return r
}
