package ask

import (
	"github.com/shopspring/decimal"

	"needlepace/audit"
	"needlepace/words"
)

// MostPoints is how many findings a letter or a drawing numbers; nobody works
// through a longer list, and the gravest come first.
const MostPoints = 25

// LetterTerms are what a letter to a digitizer says beside the audit.
type LetterTerms struct {
	To, From string          // as it greets and signs; may be empty
	Hour     decimal.Decimal // what an hour of the machine is worth; 0: nobody said
	Currency string          // of Hour, e.g. EUR
	Year     bool            // the audit's pieces are those of a year, no order
}

// mostHour bounds what an hour is worth, in any currency.
var mostHour = decimal.New(1, 9)

// Check says what is wrong with the terms.
func (t LetterTerms) Check() error {
	switch {
	case t.Hour.IsNegative() || t.Hour.GreaterThan(mostHour):
		return Errorf("an hour of the machine is worth %s; give 0 to %s", t.Hour, words.Whole(1_000_000_000).Text(nil))
	case t.Hour.IsPositive() && t.Currency == "":
		return Errorf("an hour of the machine is worth %s of no currency; name it, e.g. EUR", t.Hour)
	}
	return nil
}

// Letter is an audit as it is put to the digitizer.
type Letter struct {
	*AuditAnswer
	Terms    LetterTerms
	Greeting words.Message
	Opening  words.Sentences
	Closing  words.Sentences
	Points   []LetterPoint
	LeftOut  int // points that are not in it
}

// LetterPoint is one finding as the letter has it.
type LetterPoint struct {
	*Finding
	Why    words.Message
	Please words.Message
	Worth  words.Value // of the order; nil where nobody said what an hour is worth or it takes no time
}

// LetterOf puts an audit into a letter.
func LetterOf(a *AuditAnswer, t LetterTerms) (*Letter, error) {
	if err := t.Check(); err != nil {
		return nil, err
	}
	l := &Letter{AuditAnswer: a, Terms: t, LeftOut: max(0, len(a.Findings)-MostPoints)}
	design := words.Name(a.Design)
	l.Greeting = words.Say("letter.greeting")
	if t.To != "" {
		l.Greeting = words.Say("letter.greeting-name", words.Args{"name": words.Name(t.To)})
	}
	l.Opening.Say("letter.thanks", words.Args{"design": design})
	switch {
	case len(a.Findings) == 0:
		l.Opening.Say("letter.clean", words.Args{"machine": words.Name(a.Machine)})
	case a.Total >= leastCost:
		l.Opening.Say("letter.opening", words.Args{"points": words.Count(min(len(a.Findings), MostPoints), "point"),
			"machine": words.Name(a.Machine), "time": words.Seconds(a.Seconds), "total": words.Seconds(a.Total)})
	default:
		l.Opening.Say("letter.opening-no-time", words.Args{"points": words.Count(min(len(a.Findings), MostPoints), "point"),
			"machine": words.Name(a.Machine), "time": words.Seconds(a.Seconds)})
	}
	if len(a.Findings) == 0 {
		return l, nil // nothing is asked for, so no new file is
	}
	l.Opening.Say("letter.your-reason")
	if l.LeftOut > 0 {
		l.Closing.Say("letter.left-out", words.Args{"points": words.Count(l.LeftOut, "point")})
	}
	if a.Total >= leastCost {
		l.Closing.Say("letter.together")
	}
	l.Closing.Say("letter.closing")
	for i := range a.Findings[:min(len(a.Findings), MostPoints)] {
		f := &a.Findings[i]
		p := LetterPoint{Finding: f, Why: words.Say("letter.why." + string(f.Kind)), Please: words.Message(f.Ask)}
		if f.Kind == audit.Order { // how we find it is no matter of theirs
			p.Please = words.Say("letter.ask-order")
		}
		p.Worth = l.worth(f.OrderSeconds)
		l.Points = append(l.Points, p)
	}
	return l, nil
}

// worth is what seconds of the machine are worth; nil: nobody said, or nothing.
func (l *Letter) worth(seconds float64) words.Value {
	if !l.Terms.Hour.IsPositive() || seconds < leastCost {
		return nil
	}
	v := l.Terms.Hour.Mul(decimal.NewFromFloat(seconds)).Div(decimal.NewFromInt(3600))
	return words.Money{Amount: v, Code: l.Terms.Currency}
}

// Worth is what all points together are worth in the order, solved together; nil as of a point.
func (l *Letter) Worth() words.Value { return l.worth(l.Total * float64(l.Runs)) }
