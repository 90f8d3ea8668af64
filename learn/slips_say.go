package learn

import (
	"math"
	"strconv"

	"needlepace/words"
)

// shared reports whether the slip is one mistake all through the rows.
func (s *Slip) shared() bool { return s.Stop > 0 }

// Asks is the question whether the rows were meant so, with the numbers that
// it would give.
func (s *Slip) Asks() words.Message {
	o, meant := &s.Written[0], &s.Meant[0]
	read, fits, what := TimeOf(o.Seconds), TimeOf(s.Expected), words.Name(o.What())
	rows := words.Count(len(s.Rows), "row")
	off, was := words.Share(s.Off), words.Share(s.OffAsWritten)
	stop, before := TimeOf(s.Stop), TimeOf(s.StopAsWritten)
	switch {
	case s.shared() && s.Kind == DesignSlip:
		return words.Say("learn.slip-run", words.Args{"rows": rows, "design": words.Name(o.Name), "off": off, "was": was})
	case s.Kind == LapsSlip:
		return words.Say("learn.slip-laps", words.Args{"rows": rows, "stop": stop, "before": before, "off": off,
			"was": was})
	case s.Kind == NeedlesSlip && len(meant.Needles) == 0:
		return words.Say("learn.slip-list", words.Args{"rows": rows, "stop": stop, "before": before, "off": off,
			"was": was})
	case s.Kind == NeedlesSlip:
		return words.Say("learn.slip-needles", words.Args{"rows": rows, "stop": stop, "before": before})
	case s.shared() && meant.Seconds > o.Seconds:
		return words.Say("learn.slip-all-minutes", words.Args{"rows": rows, "off": off})
	case s.shared():
		return words.Say("learn.slip-all-seconds", words.Args{"rows": rows, "off": off})
	case s.Kind == MisreadSlip:
		return words.Say("learn.slip-misread", words.Args{"read": read, "what": what,
			"by": TimeOf(math.Abs(o.Seconds - s.Expected)), "whole": words.Name(s.Whole), "fits": fits})
	case s.Kind == DesignSlip:
		return words.Say("learn.slip-design", words.Args{"read": read, "what": what,
			"other": words.Name(meant.What()), "expected": TimeOf(s.Other), "fits": fits})
	case s.Kind == ExchangedSlip:
		p := &s.Written[1]
		return words.Say("learn.slip-exchanged", words.Args{"row": words.Name(o.Where()),
			"other": words.Name(p.Where()), "read": read, "written": TimeOf(p.Seconds), "what": what,
			"where": words.Name(p.What())})
	case s.Kind == DigitsSlip:
		return words.Say("learn.slip-digits", words.Args{"read": read, "what": what, "meant": TimeOf(meant.Seconds),
			"fits": fits})
	}
	switch ratio := meant.Seconds / o.Seconds; {
	case ratio > 11:
		return words.Say("learn.slip-minutes", words.Args{"read": read, "what": what, "meant": TimeOf(meant.Seconds),
			"fits": fits})
	case ratio < 1.0/11:
		return words.Say("learn.slip-seconds", words.Args{"read": read, "what": what, "meant": TimeOf(meant.Seconds),
			"fits": fits})
	}
	return words.Say("learn.slip-point", words.Args{"read": read, "what": what, "meant": TimeOf(meant.Seconds),
		"fits": fits})
}

// TimeOf is a time in the form in which it is written down.
func TimeOf(seconds float64) words.Value {
	if seconds < 100 {
		return words.Name(strconv.FormatFloat(math.Round(10*seconds)/10, 'f', -1, 64) + " s")
	}
	return words.Clock(seconds)
}
