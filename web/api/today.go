package api

import (
	"needlepace/ask"
	"needlepace/shop"
)

func todayRoutes() []*route {
	return []*route{
		op("getToday", "GET /today", shop.Look,
			"What is on every machine now, by plan, by report or heard; what comes next; who needs a person when, and what else "+
				"does.", gives(getToday)),
		op("getLeft", "GET /machines/{machine}/left", shop.Look,
			"How long is left of the run on a machine that stands at a stitch, by the clock's law stitch by stitch.",
			gives(getLeft), integer("at_stitch", "made already, counted from 1"),
			param{"order", "string", "ID or number of the order that is on it; left out: what the floor or the plan has there", nil},
			integer("line", "of the order; left out: its first")),
	}
}

func getToday(c *call) (*ask.TodayAnswer, error) { return c.Today() }

func getLeft(c *call) (*ask.LeftAnswer, error) {
	q := c.Query()
	in := ask.LeftQuestion{Now: c.Shop.Now(), Machine: c.PathValue("machine"), Stitch: q.Integer("at_stitch", 0),
		Order: q.Get("order"), Line: q.Integer("line", 1)}
	if q.Err != nil {
		return nil, q.Err
	}
	return ask.Left(c.Ctx, c.Shop.Asked(), in)
}
