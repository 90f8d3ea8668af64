package pages

import (
	"needlepace/book"
	"needlepace/web/answer"
)

// ganttPic is the plan in the width of a page and of a phone.
func ganttPic(p *book.Plan, d answer.When, name, text string, against *book.Plan) pic {
	wide, narrow := answer.Gantt(p, d, name, text, against), answer.Gantt(p, d, name, text, against)
	wide.Width, narrow.Width = 1070, 350
	return pic{wide, narrow}
}
