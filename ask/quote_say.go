package ask

import (
	"slices"

	"needlepace/book"
	"needlepace/money"
	"needlepace/words"
)

// QuoteTitle says whose quote it is, of when, and how long it holds.
func QuoteTitle(q *book.Quote) words.Message {
	return words.Say("quote.head", words.Args{
		"serial": words.Name(q.Serial), "customer": words.Name(q.Customer), "day": q.Day,
		"valid": words.NearDay{Day: q.Valid, Today: q.Day}, "currency": words.Name(q.Currency),
	})
}

// QuoteVerdict is the answer: what it comes to, and when it can be had.
func QuoteVerdict(q *book.Quote) words.Sentences {
	var out words.Sentences
	days := QuoteDay(q)
	if !q.TooLate.IsZero() { // what makes the rest useless comes first
		out, days = days[:1:1], days[1:]
	}
	out.Say("quote.sum", words.Args{"net": q.Cash(q.Net), "gross": q.Cash(q.Gross)})
	if q.Deposit.IsPositive() {
		out.Say("quote.deposit-say", words.Args{"percent": words.Name(q.DepositPercent), "deposit": q.Cash(q.Deposit)})
	}
	return append(out, days...)
}

// QuoteDay is when the order can be had.
func QuoteDay(q *book.Quote) words.Sentences {
	return daysSay(q.Day, &PromiseAnswer{Earliest: q.Earliest, Promise: q.Promise, TooLate: q.TooLate, Latest: q.Latest, Due: q.Due,
		Chance: q.Chance, OnTime: q.OnTime})
}

// daysSay says which day can be promised, as seen on a day; first, where that is so, that
// none is because the first that could be is after the latest day.
func daysSay(today words.Day, a *PromiseAnswer) words.Sentences {
	if a.TooLate.IsZero() {
		return dayVerdict(today, a.Earliest, a.Promise, a.Due, a.Chance, a.OnTime)
	}
	near := func(d words.Day) words.Value { return words.NearDay{Day: d, Today: today} }
	out := words.Sentences{words.Say("promise.too-late", words.Args{"day": near(a.TooLate), "latest": near(a.Latest)})}
	rest := dayVerdict(today, a.Earliest, a.TooLate, a.Due, a.Chance, a.OnTime)
	return append(out, rest[1:]...)
}

// namedShares is how many machines of a mix are told of one by one.
const namedShares = 4

// QuoteTimes is what the price of a line is made from: the machines of the mix and
// their parts, and the times on each.
func QuoteTimes(l *book.QuoteLine) words.Sentences {
	var out words.Sentences
	if l.Partner != "" {
		return append(out, words.Say("quote.partner", words.Args{"partner": words.Name(l.Partner), "days": words.Count(l.PartnerDays, "day")}))
	}
	mix := l.On()
	if len(mix) > 1 {
		var parts words.List
		for _, m := range mix {
			parts = append(parts, words.Say("quote.part", words.Args{
				"machine": words.Name(m.Machine), "share": words.Share(m.Part.InexactFloat64()),
			}))
		}
		out.Say("quote.mix", words.Args{"parts": parts})
	}
	for i, m := range mix[:min(len(mix), namedShares)] {
		machine, heads := words.Name(m.Machine), words.Count(m.Heads, "head")
		run, piece := words.Seconds(m.Run), words.Seconds(m.Piece)
		if i == 0 {
			out.Say("quote.times", words.Args{"machine": machine, "heads": heads, "run": run, "piece": piece})
		} else {
			out.Say("quote.times-too", words.Args{"machine": machine, "heads": heads, "run": run, "piece": piece})
		}
	}
	if n := l.Names; n != nil && n.Files > 1 {
		out.Say("quote.names", words.Args{"names": words.Count(n.Names, "name"), "mean": words.Seconds(n.Mean), "short": words.Name(n.Short),
			"low": words.Seconds(n.ShortSeconds), "long": words.Name(n.Long), "high": words.Seconds(n.LongSeconds)})
	} else if n != nil {
		out.Say("quote.names-alike", words.Args{"names": words.Count(n.Names, "name"), "mean": words.Seconds(n.Mean)})
	}
	return out
}

// QuoteCost is what it all costs the shop; not for the customer.
func QuoteCost(q *book.Quote) words.Message {
	return words.Say("quote.cost", words.Args{
		"hours": words.Fixed(q.Hours, 1), "cost": q.Cash(q.Cost),
		"margin": words.Name(q.Margin),
	})
}

// QuoteCaveats are what the shop is to know of its prices, and no customer:
// which stand for its own, which are missing, and heads that stay empty.
func QuoteCaveats(q *book.Quote) words.Sentences {
	out := append(words.Sentences{}, priceCaveats(q.Placeholder, q.Missing, machineOf)...)
	for i := range q.Lines {
		l := &q.Lines[i]
		for _, s := range l.Steps {
			if s.Quantity == l.Quantity && s.Idle > 0 {
				out.Say("quote.idle", words.Args{
					"design": words.Name(l.Design), "pieces": words.Count(l.Quantity, "piece"),
					"idle": words.Count(s.Idle, "head"), "heads": words.Whole(l.Heads),
				})
			}
		}
	}
	return out
}

// QuoteDesign is a line's design by its file; of quotes kept without one, by its
// name.
func QuoteDesign(l *book.QuoteLine) words.Message {
	if l.File == "" {
		return DesignFile(l.Design, "")
	}
	return DesignFile(l.File, l.Label)
}

// QuoteWork is what is done to a line's goods, and on what design.
func QuoteWork(l *book.QuoteLine) (what, design words.Message) {
	what = words.Say("quote.embroidery")
	if l.Placement != "" {
		what = words.Say("quote.embroidery-at", words.Args{"place": words.Name(l.Placement)})
	}
	if l.Names != nil {
		what = words.Say("quote.with-names", words.Args{"work": what, "names": words.Count(l.Names.Names, "name")})
	}
	return what, words.Say("quote.design", words.Args{
		"design": QuoteDesign(l), "size": words.Size{W: l.WidthMM, H: l.HeightMM},
		"stitches": words.Count(l.Stitches, "stitch"), "colours": words.Count(len(l.Colours), "colour"),
	})
}

// QuoteGoods is how many of what goods a line is of.
func QuoteGoods(l *book.QuoteLine) words.Value {
	if l.Garment == "" {
		return words.Count(l.Quantity, "piece")
	}
	return words.Say("quote.goods", words.Args{"pieces": words.Whole(l.Quantity), "garment": words.Name(l.Garment)})
}

// QuoteFee is what a quote asks for once; a set-up says of which line it is where it is not the design's only one.
func QuoteFee(q *book.Quote, f book.QuoteFee) words.Message {
	kind, design := f.Of()
	another := func(x book.QuoteFee) bool { return x.Kind == f.Kind && x.Design == f.Design && x.Line != f.Line }
	switch kind {
	case book.SetupFee:
		if slices.ContainsFunc(q.Fees, another) {
			return words.Say("quote.fee-set-up-line", words.Args{"design": words.Name(design), "line": words.Whole(f.Line)})
		}
		return words.Say("quote.fee-set-up", words.Args{"design": words.Name(design)})
	case book.DigitizingFee:
		return words.Say("quote.fee-digitizing", words.Args{"design": words.Name(design)})
	}
	return words.Say("quote.fee", words.Args{"fee": words.Name(design)})
}

// QuoteExtra is what is taken off or charged beside lines and fees.
type QuoteExtra struct {
	What   words.Message
	Amount money.Dec
}

// QuoteExtras are a quote's discount and delivery, where there are any.
func QuoteExtras(q *book.Quote) (out []QuoteExtra) {
	if q.Discount.IsPositive() {
		out = append(out, QuoteExtra{words.Say("quote.discount", words.Args{"percent": words.Name(q.DiscountPercent)}),
			q.Discount.Neg()})
	}
	if q.Delivery.IsPositive() {
		out = append(out, QuoteExtra{words.Say("quote.delivery"), q.Delivery})
	}
	return out
}

// QuoteTotal says what the last sum of a quote is, with tax or without any.
func QuoteTotal(q *book.Quote) words.Message {
	if q.Tax.IsZero() {
		return words.Say("quote.gross-untaxed")
	}
	return words.Say("quote.gross")
}

// QuoteDeposit is what the deposit is of.
func QuoteDeposit(q *book.Quote) words.Message {
	return words.Say("quote.deposit", words.Args{"percent": words.Name(q.DepositPercent)})
}

// DesignFile is a design's file by its name, with the label inside it beside.
func DesignFile(file, label string) words.Message {
	if label == "" {
		return words.Say("design.file", words.Args{"file": words.Name(file)})
	}
	return words.Say("design.file-labelled", words.Args{"file": words.Name(file), "label": words.Name(label)})
}
