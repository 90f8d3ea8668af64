package ask

import (
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"needlepace/book"
)

// Why a price is another is said of what differs by more than a simulated shift is known to, a hundredth; below that it is
// what the shop set.
func TestWhatMakesAPriceAnother(t *testing.T) {
	quote := func(run, piece float64, hour, price string) *book.Quote {
		return &book.Quote{Serial: "7-1", Currency: "EUR", Lines: []book.QuoteLine{{Line: 1, Quantity: 20, Price: decimal.RequireFromString(price),
			Mix:   []book.QuoteShare{{MachineID: "g", Machine: "Gannet", Part: decimal.NewFromInt(1), Run: run, Piece: piece}},
			Costs: []book.QuoteCost{{MachineID: "g", Hour: decimal.RequireFromString(hour)}}}}}
	}
	before := quote(300, 400, "20.00", "1.80")
	for _, c := range []struct {
		now  *book.Quote
		want string
	}{
		{quote(300, 400, "20.00", "1.80"), ""},
		{quote(302.9, 396.1, "20.19", "1.85"), "the shop’s prices"}, // each by less than 1 in 100
		{quote(303.1, 400, "20.00", "1.85"), "a run on Gannet takes"},
		{quote(300, 395.9, "20.00", "1.85"), "a piece holds Gannet"},
		{quote(300, 400, "20.21", "1.85"), "an hour of Gannet costs"},
	} {
		said := ""
		for _, m := range otherPrices(c.now, before) {
			said += m.Text(nil)
		}
		if c.want == "" && said != "" || !strings.Contains(said, c.want) || c.want != "" && strings.Contains(said, "the shop’s prices") != strings.HasPrefix(c.want, "the shop") {
			t.Errorf("of %+v is said %q, want %q", c.now.Lines[0].Mix, said, c.want)
		}
	}
}
