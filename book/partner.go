package book

import (
	"errors"
	"strings"

	"needlepace/money"
	"needlepace/words"
)

// Partner is another workshop that makes a line in place of the shop's machines. All
// zero: the shop makes it.
type Partner struct {
	Name string `json:"name" toml:"name"`
	Days int    `json:"days" toml:"days"` // of the calendar, from the day it goes there to the day it is back
	// Price is what the partner asks a piece, without tax, in the shop's currency. It is
	// for nobody who may not see money.
	Price money.Amount `json:"price,omitzero" toml:"price"`
	Sent  words.Day    `json:"sent,omitzero" toml:"sent"` // it went there; zero: not yet
	Back  words.Day    `json:"back,omitzero" toml:"back"` // it came back, made; zero: not yet
}

// mostPartnerDays is for how long a line may be at a partner: beyond it is a slip.
const mostPartnerDays = 365

// Sews reports whether the partner makes the line.
func (p *Partner) Sews() bool { return p.Name != "" }

// Equal reports whether the same is agreed of both.
func (p Partner) Equal(q Partner) bool {
	return p.Name == q.Name && p.Days == q.Days && p.Price.Equal(q.Price.Dec) && p.Sent == q.Sent && p.Back == q.Back
}

// Check says what is wrong with it.
func (p *Partner) Check() error {
	p.Name = strings.TrimSpace(p.Name)
	switch {
	case !p.Sews() && !p.Equal(Partner{}):
		return errors.New("say who the partner is that makes it, or leave days and price out")
	case !p.Sews():
		return nil
	case p.Days < 1 || p.Days > mostPartnerDays:
		return errors.New("give the days until it is back from the partner, 1 to 365")
	case p.Price.IsNegative():
		return errors.New("the partner's price a piece is below 0")
	case !p.Back.IsZero() && p.Sent.IsZero():
		return errors.New("it is back from the partner, but was never sent: give the day it went there")
	case !p.Back.IsZero() && p.Back.Before(p.Sent):
		return errors.New("it came back from the partner before it was sent: put one of the days right")
	}
	return nil
}

// AtPartner is when a line is back from its partner, as seen on a day before that.
type AtPartner struct {
	From words.Day // it goes there, or went
	Back words.Day // it is back, on the next day at the earliest where its day has passed
	Late words.Day // the day on which it was to be back and is not; zero: none passed
}

// AtPartner says when a line that a partner makes is back. It goes there when all its
// garments are here and its sample is approved.
func (l *OrderLine) AtPartner(goods, today words.Day) AtPartner {
	a := AtPartner{From: today}
	if sent := l.Partner.Sent; !sent.IsZero() {
		a.From = sent
	} else {
		for _, b := range l.Batches(goods, today) {
			if b.From.After(a.From) {
				a.From = b.From
			}
		}
	}
	if a.Back = a.From.Add(l.Partner.Days); a.Back.Before(today) {
		a.Back, a.Late = today.Add(1), a.Back
	}
	return a
}

// PartnerText says how far a line is that a partner makes, as seen on a day; nil: the
// shop makes it.
func (l *OrderLine) PartnerText(goods, today words.Day) words.Value {
	p := &l.Partner
	near := func(d words.Day) words.NearDay { return words.NearDay{Day: d, Today: today} }
	at := l.AtPartner(goods, today)
	partner := words.Name(p.Name)
	switch {
	case !p.Sews():
		return nil
	case !p.Back.IsZero():
		return words.Say("partner.back", words.Args{"partner": partner, "back": near(p.Back)})
	case p.Sent.IsZero():
		return words.Say("partner.to-send", words.Args{"partner": partner, "from": near(at.From), "back": near(at.Back)})
	case !at.Late.IsZero():
		return words.Say("partner.late", words.Args{"partner": partner, "sent": near(p.Sent), "back": near(at.Late)})
	}
	return words.Say("partner.sent", words.Args{"partner": partner, "sent": near(p.Sent), "back": near(at.Back)})
}

// WithoutPrices is the order for who may not see money.
func (o *Order) WithoutPrices() *Order {
	out := *o
	out.Lines = append([]OrderLine{}, o.Lines...)
	for i := range out.Lines {
		l := &out.Lines[i]
		l.Partner.Price = money.Amount{}
		if l.Foretold != nil {
			told := *l.Foretold
			told.Price, l.Foretold = nil, &told
		}
	}
	out.Roughs = append([]RoughSaid(nil), o.Roughs...)
	for i := range out.Roughs {
		out.Roughs[i].Price = nil
	}
	return &out
}
