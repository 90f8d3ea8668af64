package ask

import (
	"github.com/shopspring/decimal"

	"needlepace/book"
	"needlepace/money"
)

// QuoteAgreed is what was agreed with the customer beside the prices; zero: nothing.
type QuoteAgreed struct {
	Discount money.Dec // percent taken off lines and fees
	Delivery money.Dec // charged for it, without tax
	Deposit  money.Dec // percent of the total, with tax, that is paid before work begins
}

// mostDelivery is the highest charge for a delivery: beyond it is a slip.
var mostDelivery = decimal.New(1, 12)

func (q *QuoteAgreed) check() error {
	hundred := decimal.NewFromInt(100)
	switch {
	case q.Discount.IsNegative() || q.Discount.GreaterThan(hundred):
		return Errorf("the discount is %s %%; give 0 to 100", q.Discount).At("discount")
	case q.Deposit.IsNegative() || q.Deposit.GreaterThan(hundred):
		return Errorf("the deposit is %s %%; give 0 to 100", q.Deposit).At("deposit")
	case q.Delivery.IsNegative() || q.Delivery.GreaterThan(mostDelivery):
		return Errorf("the charge for delivery is %s; give 0 or more", q.Delivery).At("delivery_charge")
	}
	return nil
}

// together sums a quote up, and what it would come to with each step of each line, the
// other lines as they are.
func (q *QuoteAgreed) together(to *book.Quote, rates *money.Rates) {
	var before money.Dec
	for i := range to.Lines {
		before = before.Add(to.Lines[i].Sum)
	}
	for _, f := range to.Fees {
		before = before.Add(f.Amount)
	}
	for i := range to.Lines {
		own := to.Lines[i].Sum // what stands in the sum for the line
		for _, s := range to.Lines[i].Steps {
			if s.Quantity == to.Lines[i].Quantity {
				own = own.Add(s.SetupFee)
			}
		}
		for k := range to.Lines[i].Steps {
			s := &to.Lines[i].Steps[k]
			pieces := s.Price.Mul(decimal.NewFromInt(int64(s.Quantity)))
			s.Net = q.net(before.Sub(own).Add(pieces).Add(s.SetupFee), rates)
			s.Gross = rates.WithTax(s.Net)
		}
	}
	to.Delivery = rates.Round(q.Delivery)
	to.Net = q.net(before, rates)
	to.Discount = before.Add(to.Delivery).Sub(to.Net)
	to.Gross = rates.WithTax(to.Net)
	to.Tax = to.Gross.Sub(to.Net)
	to.Deposit = rates.Round(to.Gross.Mul(q.Deposit).Shift(-2))
	to.DiscountPercent, to.DepositPercent = q.Discount.String(), q.Deposit.String()
}

// net is what lines and fees come to without tax, the discount taken off and the
// delivery charged.
func (q *QuoteAgreed) net(before money.Dec, rates *money.Rates) money.Dec {
	return before.Sub(rates.Round(before.Mul(q.Discount).Shift(-2))).Add(rates.Round(q.Delivery))
}
