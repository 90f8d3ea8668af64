package ask

import (
	"math"

	"needlepace/book"
	"needlepace/words"
)

// otherPrice is from what share on a time or the cost of an hour is another than in the quote before: the yield of
// simulated shifts is known to quotePrecision.
const otherPrice = quotePrecision

// otherPrices says, of each line that is as it was in the quote before and costs otherwise each, what makes the
// difference: the clock's run, the floor's reports and the times of hands, what an hour costs, or what the shop set.
func otherPrices(now, before *book.Quote) (out words.Sentences) {
	for i := range now.Lines {
		is := &now.Lines[i]
		for k := range before.Lines {
			if was := &before.Lines[k]; was.Line == is.Line && was.Goods == is.Goods && was.Quantity == is.Quantity && !was.Price.Equal(is.Price) {
				out.Say("quote.other-price", words.Args{"line": words.Whole(is.Line), "serial": words.Name(before.Serial),
					"was": before.Cash(was.Price), "is": now.Cash(is.Price), "why": priceChanged(now, before, is, was)})
			}
		}
	}
	return out
}

func priceChanged(now, before *book.Quote, is, was *book.QuoteLine) (why words.List) {
	other := func(a, b float64) bool { return math.Abs(a-b) > otherPrice*math.Abs(b) }
	mix := map[string]book.QuoteShare{}
	for _, m := range was.On() {
		mix[m.MachineID] = m
	}
	if len(mix) != len(is.On()) {
		why = append(why, words.Say("quote.since-machines"))
	}
	for _, m := range is.On() {
		w, had := mix[m.MachineID]
		if !had {
			continue
		}
		name := words.Name(m.Machine)
		switch {
		case other(m.Run, w.Run):
			why = append(why, words.Say("quote.since-run", words.Args{"machine": name, "is": words.Seconds(m.Run), "was": words.Seconds(w.Run)}))
		case other(m.Piece, w.Piece):
			why = append(why, words.Say("quote.since-held", words.Args{"machine": name, "is": words.Seconds(m.Piece), "was": words.Seconds(w.Piece)}))
		}
		x, y := costOf(is, m.MachineID), costOf(was, m.MachineID)
		if x != nil && y != nil && other(x.Hour.InexactFloat64(), y.Hour.InexactFloat64()) {
			why = append(why, words.Say("quote.since-hour", words.Args{"machine": name, "is": now.Cash(x.Hour), "was": before.Cash(y.Hour)}))
		}
	}
	if len(why) == 0 {
		why = append(why, words.Say("quote.since-set"))
	}
	return why
}

func costOf(l *book.QuoteLine, machine string) *book.QuoteCost {
	for i := range l.Costs {
		if l.Costs[i].MachineID == machine {
			return &l.Costs[i]
		}
	}
	return nil
}
