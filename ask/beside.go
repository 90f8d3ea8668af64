package ask

import (
	"math"

	"needlepace/words"
)

// Beside says how much longer or shorter another machine takes for the same
// design and job.
func (a *ClockAnswer) Beside(other *ClockAnswer) words.Message {
	machine, this, time := words.Name(other.Machine), words.Name(a.Machine), words.Seconds(other.Seconds)
	switch by := other.Seconds - a.Seconds; {
	case math.Abs(by) < 0.5:
		return words.Say("drawing.beside-same", words.Args{"machine": machine, "this": this, "time": time})
	case by < 0:
		return words.Say("drawing.beside-shorter", words.Args{"machine": machine, "this": this, "time": time, "less": words.Seconds(-by)})
	default:
		return words.Say("drawing.beside-longer", words.Args{"machine": machine, "this": this, "time": time, "more": words.Seconds(by)})
	}
}
