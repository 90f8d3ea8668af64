package paper

import (
	"fmt"

	"needlepace/ask"
	"needlepace/book"
	"needlepace/words"
)

// PlanSheets are a plan's lots and its lines' days, for a workbook.
func PlanSheets(p *book.Plan) []Sheet {
	return []Sheet{TableSheet("Plan", ask.LotTable(p)), TableSheet("Days", ask.DayTable(p)), TableSheet("Goal", ask.GoalTable(p))}
}

// ThreadSheets are the thread of a plan by day, and together, for a workbook.
func ThreadSheets(a *ask.ThreadListAnswer) []Sheet {
	return []Sheet{TableSheet("Thread by day", a.DayTable()), TableSheet("Together", a.ThreadTable())}
}

// PlanCalendar is a plan's lots as appointments: one for each stretch of
// working hours that a lot stands in would be many; one a lot, from its set-up
// to its end, is what a calendar is looked at for. since, if any, is what changed since the plan was made.
func PlanCalendar(p *book.Plan, since *ask.SinceAnswer, shopName string) *Calendar {
	c, loc := &Calendar{Name: shopName + ": plan", Note: since.Line().Text(nil), Made: p.Made}, p.Zone.Location()
	times := map[string]int{} // a job may come to a machine more than once
	for i := range p.Lots {
		l := &p.Lots[i]
		uid := l.Job + "@" + l.MachineID
		if times[uid]++; times[uid] > 1 {
			uid = fmt.Sprintf("%s.%d", uid, times[uid])
		}
		e := Event{
			UID: uid + ".needlepace", Start: l.SetupFrom, End: l.To,
			Summary: fmt.Sprintf("%s %s: %s on %s",
				l.Name, l.Customer, words.Count(l.Quantity, "piece").Text(nil), l.Machine),
			Description: fmt.Sprintf("%s; set-up %.0f min, %s to put on; sewing from %s",
				words.Count(l.Runs, "run").Text(nil),
				l.Setup/60, words.Count(l.Cones, "cone").Text(nil), l.From.In(loc).Format("2 January 15:04")),
			Location: l.Machine, Categories: []string{l.Machine},
		}
		if l.Late {
			e.Categories = append(e.Categories, "late")
		}
		c.Events = append(c.Events, e)
	}
	return c
}
