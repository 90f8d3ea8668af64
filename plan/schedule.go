package plan

// Unplaced is a job that the plan leaves out, and why.
type Unplaced struct {
	Job int // index into Problem.Jobs
	Why string
}
