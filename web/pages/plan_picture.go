package pages

import (
	"fmt"

	"needlepace/book"
	"needlepace/web/answer"
)

// ganttPic is the plan in the width of a page and of a phone.
func ganttPic(p *book.Plan, d answer.When, name, text string, against *book.Plan) pic {
	wide, narrow := answer.Gantt(p, d, name, text, against), answer.Gantt(p, d, name, text, against)
	wide.Width, narrow.Width = 1070, 350
	return pic{wide, narrow}
}

// boundText says how much better a plan could be.
func boundText(p *book.Plan) string {
	switch {
	case len(p.Lots) == 0:
		return ""
	case p.Late == 0:
		return "So no other plan does better by its due days."
	case p.BoundHours < 0:
		return ""
	case p.BoundHours < .05:
		return "It is not proved how few late hours there must be."
	case p.Gap <= 1e-9:
		return "No plan has fewer late hours: this is proved."
	}
	return fmt.Sprintf("No plan can have fewer than %s late hours: a gap of at most %.0f %%.", fixed(p.BoundHours, 1), 100*p.Gap+.499)
}
