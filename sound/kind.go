package sound

// Kind is what happens between two passages of sewing.
type Kind uint8

// The kinds of events. Unknown is a rest in the sound that the design does not
// have and that is neither a break nor a pause.
const (
	none Kind = iota
	Trim
	Stop
	ColourStop
	Start
	Break // the machine stopped, and stitches were sewn again
	Pause // it stopped, and went on where it had stopped
	Unknown
)

var kindKeys = [...]string{Trim: "trim", Stop: "stop", ColourStop: "colour_stop", Start: "start", Break: "break",
	Pause: "pause", Unknown: "unknown"}

// String is the kind's key as in JSON.
func (k Kind) String() string { return kindKeys[k] }
