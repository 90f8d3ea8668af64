package pages

import (
	"needlepace/book"
	"needlepace/picture"
	"needlepace/web/serve"
)

// drawPlan draws a plan in the width of a page and of a phone.
func (p *page) drawPlan(id string, pl *book.Plan, d serve.When, name, text string, against *book.Plan) {
	wide, narrow := picture.PlanGantt(pl, d.W, d.Now, against), picture.PlanGantt(pl, d.W, d.Now, against)
	wide.Name, wide.Text, narrow.Name, narrow.Text = name, text, name, text
	wide.Width, narrow.Width = 1070, 350
	p.draw(id, wide, narrow)
}
