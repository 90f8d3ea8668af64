package book

import (
	"time"

	"needlepace/words"
)

// Heard is what the recording of one run tells of thread breaks.
type Heard struct {
	ID        string    `json:"id"`
	MachineID string    `json:"machine"`
	DesignID  string    `json:"design"`
	Recording string    `json:"recording" doc:"digest of its sound: it counts once"`
	Day       words.Day `json:"day"`
	SetSpeed  float64   `json:"set_speed"`     // stitches/min, as heard
	Stitches  float64   `json:"head_stitches"` // sewn, over all heads
	Breaks    int       `json:"breaks"`        // stops after which more stitches were sewn again than their numbers may be wrong by
	Doubtful  int       `json:"doubtful"`      // stops that may be breaks, or not
	By        string    `json:"by"`
	Added     time.Time `json:"added"`
}

// reportsWithin is in how many days a run that was recorded is reported; assumed.
const reportsWithin = 7

// ReportedIn is the report that a recorded run is in, nil for none: of the same machine
// and design, with the breaks counted, from the day of the recording to a week later.
// Where nobody can tell whether a report has the run in it, it is taken to have: twice
// counted is worse than once forgotten.
func (h *Heard) ReportedIn(reports []Report) *Report {
	for i := range reports {
		r := &reports[i]
		if r.MachineID == h.MachineID && r.DesignID == h.DesignID && r.Breaks >= 0 && r.Stitches > 0 && r.TakenBack == nil &&
			!r.Day.Before(h.Day) && !r.Day.After(h.Day.Add(reportsWithin)) {
			return r
		}
	}
	return nil
}
