package pages

import (
	"needlepace/book"
	"needlepace/picture"
	"needlepace/web/serve"
)

// ganttPic is the plan in the width of a page and of a phone.
func ganttPic(p *book.Plan, d serve.When, name, text string, against *book.Plan) pic {
	wide, narrow := picture.PlanGantt(p, d.W, d.Now, against), picture.PlanGantt(p, d.W, d.Now, against)
	wide.Name, wide.Text, narrow.Name, narrow.Text = name, text, name, text
	wide.Width, narrow.Width = 1070, 350
	return pic{wide, narrow}
}
