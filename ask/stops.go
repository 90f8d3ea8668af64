package ask

import (
	"needlepace/audit"
	"needlepace/stitchfile"
	"needlepace/words"
)

// Stop is a stop that a mend leaves where it is unless it is told otherwise.
type Stop struct {
	Number int       `json:"number" doc:"among all stops of the design, from 1: what release takes"`
	Stitch int       `json:"after_stitch" doc:"stitches before it"`
	Block  int       `json:"block" doc:"colour block it ends, from 1"`
	X      float64   `json:"x_mm" doc:"where the frame stands, from the start, y up"`
	Y      float64   `json:"y_mm"`
	Away   float64   `json:"away_mm" doc:"from the nearer one of the stitches before and after it"`
	Why    audit.Why `json:"why"`
	Final  bool      `json:"final" doc:"the operator's: it stays even when it is named to go"`
}

// Stops is the stops of a design that a mend leaves alone.
type Stops []Stop

func stopsOf(kept []audit.Stand) Stops {
	all := Stops{}
	for _, s := range kept {
		all = append(all, Stop{s.Number, s.Stitch, s.Block + 1, s.X, s.Y, s.Away, s.Why, s.Why.Final()})
	}
	return all
}

// Says is why the stop stays.
func (s Stop) Says() words.Message { return words.Say("stops.why." + string(s.Why)) }

// Line is the stop in a sentence.
func (s Stop) Line() words.Message {
	return words.Say("stops.line", words.Args{"number": words.Whole(s.Number), "stitch": words.Whole(s.Stitch), "why": s.Says()})
}

// Spare is the stops that may go if they are named.
func (all Stops) Spare() (spare Stops) {
	for _, s := range all {
		if !s.Final {
			spare = append(spare, s)
		}
	}
	return spare
}

// say tells of the operator's stops, and warns of those that could go.
func (all Stops) say(verdict, caveats *words.Sentences) {
	spare := len(all.Spare())
	asked := 0
	for _, s := range all {
		if s.Why == audit.WhyAsked {
			asked++
		}
	}
	if final := len(all) - spare - asked; final > 0 {
		verdict.Say("stops.operators", words.Args{"stops": words.Count(final, "operators-stop")})
	}
	if asked > 0 {
		verdict.Say("stops.all-stay", words.Args{"stops": words.Count(asked, "stop")})
	}
	if spare > 0 {
		caveats.Say("stops.spare", words.Args{"stops": words.Count(spare, "stop")})
	}
}

// cloth is the colour block, from 1, in which cloth is laid by the file's word: all its stops stay. 0: none.
func (d *Design) cloth() int { return stitchfile.Cloth(d.Design) + 1 }

// sayCloth says that all stops stay where cloth is laid.
func (d *Design) sayCloth(s *words.Sentences) {
	if block := d.cloth(); block > 0 {
		s.Say("mend.cloth", words.Args{"block": words.Whole(block)})
	}
}

func (all Stops) table() *Table {
	t := table("kept_stops", words.Say("stops.kept"),
		number("number", "stops.stop"),
		number("after_stitch", "stops.after-stitch"),
		number("block", "clock.block"),
		number("x_mm", "stops.x"),
		number("y_mm", "stops.y"),
		number("away_mm", "stops.away"),
		column("why", "stops.reason"),
	)
	for _, s := range all {
		t.add(words.Whole(s.Number), words.Whole(s.Stitch), words.Whole(s.Block), words.MM(s.X), words.MM(s.Y),
			words.MM(s.Away), s.Says())
	}
	return t
}
