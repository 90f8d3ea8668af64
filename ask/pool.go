package ask

import (
	"context"
	"errors"
	"math"
	"slices"

	"needlepace/learn"
	"needlepace/machine"
	"needlepace/words"
)

// PoolQuestion asks what learned machines say of their class.
type PoolQuestion struct {
	Sheets []string // by the asker's names for them
	Class  string   // the class they were learned from; empty: the built-in one that their sheets name
}

// PoolAnswer is what learned machines say of their class. Its JSON is a written
// contract: later versions add keys and never change one.
type PoolAnswer struct {
	Class     string          `json:"class" doc:"short id of the class, and the new sheet's name"`
	About     string          `json:"about" doc:"what kind of machine it is"`
	Machines  int             `json:"machines"`
	Shops     int             `json:"shops"`
	Verdict   words.Sentences `json:"verdict"`
	Caveats   words.Sentences `json:"caveats"`
	Constants []PoolConstant  `json:"constants"`
	Terms     []PoolTerm      `json:"terms" doc:"terms of the law that were tried"`
	Members   []PoolMember    `json:"members" doc:"the sheets, in the order asked"`

	Before *machine.Sheet `json:"-"`
	Sheet  *machine.Sheet `json:"-"` // the class sheet
}

// PoolConstant is a constant of the class before and after.
type PoolConstant struct {
	Path    string  `json:"path"`
	Unit    string  `json:"unit"`
	Before  float64 `json:"before"`
	SDOld   float64 `json:"sd_before" doc:"relative"`
	Value   float64 `json:"value"`
	SD      float64 `json:"sd" doc:"relative: of the class's next machine"`
	Between float64 `json:"between" doc:"relative: how far its machines lie apart; 0 where none told"`
	Told    int     `json:"told" doc:"machines whose runs told something of it"`
}

// PoolTerm is how often a term of the law was believed.
type PoolTerm struct {
	Term     string             `json:"term"`
	Believed int                `json:"believed" doc:"machines believed to have it"`
	Of       int                `json:"of" doc:"machines it was tried on"`
	Chance   float64            `json:"chance" doc:"that the class's next machine has it"`
	InLaw    bool               `json:"in_law" doc:"the class sheet has it"`
	Values   map[string]float64 `json:"values" doc:"its constants, by path"`
}

// PoolMember is one of the sheets.
type PoolMember struct {
	Sheet string `json:"sheet"`
	Runs  int    `json:"runs" doc:"timed rows it was learned from"`
	Shop  int    `json:"shop" doc:"which of the shops, from 1"`
	Odd   string `json:"odd" doc:"a sentence where it is unlike the others"`
}

// Pool answers what learned machines say of their class. Where sheets cannot be
// pooled, the error names each and why (learn.RefusedError).
func Pool(ctx context.Context, from Sheets, q PoolQuestion) (*PoolAnswer, error) {
	if len(q.Sheets) == 0 {
		return nil, Errorf("no sheet to pool: name learned sheets of one class").At("sheets")
	}
	var members []learn.PoolMember
	for _, name := range q.Sheets {
		s, err := from.Sheet(ctx, name)
		if err != nil {
			return nil, err
		}
		members = append(members, learn.PoolMember{Name: name, Sheet: s})
	}
	class, err := poolClass(ctx, from, q, members)
	if err != nil {
		return nil, err
	}
	p, err := learn.Pool(ctx, class, members)
	if ctx.Err() != nil {
		return nil, stopped(ctx)
	}
	if err != nil {
		key := "sheets"
		if !errors.As(err, &learn.RefusedError{}) {
			key = "class"
		}
		return nil, Errorf("%w", err).At(key)
	}
	a := &PoolAnswer{Class: class.Name, About: class.Class, Machines: p.Class.Pool.Machines, Shops: p.Class.Pool.Shops,
		Constants: []PoolConstant{}, Terms: []PoolTerm{}, Before: class, Sheet: p.Class}
	for _, k := range p.Constants {
		a.Constants = append(a.Constants, PoolConstant{k.Path, k.Unit, k.Prior, k.PriorSD, k.Value, k.SD, k.Between, k.Told})
	}
	for _, t := range p.Terms {
		chance := 1 / (1 + math.Exp(-t.Odds))
		a.Terms = append(a.Terms, PoolTerm{t.Term, t.Believed, t.Of, chance, t.Odds > 0 && len(t.Values) > 0, t.Values})
	}
	var shops []string
	for _, m := range members {
		e := m.Sheet.Fit.Evidence
		if !slices.Contains(shops, e.Shop) {
			shops = append(shops, e.Shop)
		}
		a.Members = append(a.Members, PoolMember{m.Name, m.Sheet.Fit.Runs, slices.Index(shops, e.Shop) + 1, ""})
	}
	a.say(p)
	return a, nil
}

// poolClass is the class that sheets are pooled into.
func poolClass(ctx context.Context, from Sheets, q PoolQuestion, members []learn.PoolMember) (*machine.Sheet, error) {
	if q.Class != "" {
		s, err := from.Sheet(ctx, q.Class)
		return s, err
	}
	text := members[0].Sheet.Class
	if s, ok := machine.ClassOf(text); ok {
		return s, nil
	}
	return nil, Errorf("%s says that it is %q, which is no built-in class: name the class sheet it was learned from",
		members[0].Name, text).At("class")
}

// Few machines say little of how far machines lie apart.
const fewMachines = 5

// say puts the answer into sentences.
func (a *PoolAnswer) say(p *learn.Pooled) {
	told := 0
	for _, k := range a.Constants {
		if k.Told > 0 {
			told++
		}
	}
	a.Verdict.Say("pool.verdict", words.Args{"class": words.Name(a.Class), "from": p.Class.Pool.Words(),
		"told": words.Whole(told), "constants": words.Count(len(a.Constants), "constant")})
	for _, t := range a.Terms {
		term, of := words.Say("term."+t.Term), words.Count(t.Of, "machine")
		switch {
		case t.InLaw:
			a.Verdict.Say("pool.term-in", words.Args{"term": term, "believed": words.Whole(t.Believed), "of": of,
				"chance": words.Chance(t.Chance)})
		case t.Believed > 0:
			a.Verdict.Say("pool.term", words.Args{"term": term, "believed": words.Whole(t.Believed), "of": of,
				"chance": words.Chance(t.Chance)})
		}
	}
	a.Caveats = words.Sentences{}
	for _, o := range p.Odd {
		m := &a.Members[o.Member]
		c, _ := machine.ConstantAt(o.Path)
		say := words.Say("pool.odd", words.Args{"machine": words.Name(m.Sheet), "constant": constantNamed(o.Path),
			"value": withUnit(o.Value, c.Unit), "class": withUnit(o.Class, c.Unit), "with": words.GiveOrTake(o.Between),
			"without": words.GiveOrTake(o.Without)})
		m.Odd = say.Raw()
		a.Caveats = append(a.Caveats, say)
	}
	if a.Machines < fewMachines {
		a.Caveats.Say("pool.few", words.Args{"machines": words.Count(a.Machines, "machine"), "enough": words.Whole(fewMachines)})
	}
	if a.Shops == 1 && a.Machines >= fewMachines {
		a.Caveats.Say("pool.one-shop")
	}
	for _, t := range a.Terms {
		if t.Believed > 0 && len(t.Values) == 0 {
			a.Caveats.Say("pool.own", words.Args{"machines": words.Count(t.Believed, "machine"),
				"term": words.Say("term." + t.Term)})
		}
	}
}

// withUnit is a figure with the unit of a sheet's constant.
func withUnit(v float64, unit string) words.Value {
	if unit == "" {
		return words.Figure(v)
	}
	return coded{words.Say("pool.figure", words.Args{"n": words.Figure(v), "unit": words.Name(unit)}), words.Figure(v).Raw()}
}

// ConstantsTable is each constant of the class before and after.
func (a *PoolAnswer) ConstantsTable() *Table {
	t := table("class", words.Say("pool.constants"),
		column("constant", "clock.constant"),
		number("before", "learn.before"),
		number("now", "learn.now"),
		column("unit", "learn.unit"),
		number("relative_sd_before", "learn.sd-before"),
		number("relative_sd", "learn.sd-now"),
		number("relative_between", "pool.apart"),
		number("told", "pool.told"),
	)
	for _, k := range a.Constants {
		var between words.Value = coded{words.None{}, "0"}
		if k.Told > 0 {
			between = words.GiveOrTake(k.Between)
		}
		t.add(constantNamed(k.Path), words.Figure(k.Before), words.Figure(k.Value), words.Name(k.Unit),
			words.GiveOrTake(k.SDOld), words.GiveOrTake(k.SD), between, words.Whole(k.Told))
	}
	return t
}

// TermsTable is how often each term of the law was believed.
func (a *PoolAnswer) TermsTable() *Table {
	t := table("terms", words.Say("pool.terms"),
		column("term", "pool.of-law"),
		number("believed", "pool.believed"),
		number("of", "pool.tried"),
		number("chance", "pool.next"),
	)
	for _, k := range a.Terms {
		t.add(coded{words.Say("term." + k.Term), k.Term}, words.Whole(k.Believed), words.Whole(k.Of), words.Chance(k.Chance))
	}
	return t
}

// MembersTable is a row for each sheet.
func (a *PoolAnswer) MembersTable() *Table {
	t := table("members", words.Say("pool.members"),
		column("sheet", "pool.sheet"),
		number("runs", "pool.rows"),
		number("shop", "pool.shop"),
		column("odd", "learn.odd"),
	)
	for _, m := range a.Members {
		var odd words.Value
		if m.Odd != "" {
			odd = coded{words.Say("pool.unlike"), m.Odd}
		}
		t.add(words.Name(m.Sheet), words.Whole(m.Runs), words.Whole(m.Shop), odd)
	}
	return t
}

// Share is a learned sheet with its evidence for other shops and nothing of the
// shop; shop is the random number it counts by (32 hexadecimal digits). A class
// text of the shop's own goes along where ownClass says so.
func Share(s *machine.Sheet, shop string, ownClass bool) (*machine.Sheet, error) {
	if why := learn.CheckEvidence(s); why != "" {
		return nil, Errorf("%s", why)
	}
	if _, ok := machine.ClassOf(s.Class); !ok && !ownClass {
		return nil, Errorf("its class is %q, a text of your own that would go along: if it names nobody, say that it may",
			s.Class).At("own_class")
	}
	out := s.Shared(shop)
	if err := machine.Validate(out); err != nil {
		return nil, wrong(err)
	}
	return out, nil
}

// SharedName is a file name for a shared sheet that says nothing of the shop.
func SharedName(s *machine.Sheet) string { return "evidence-" + s.Fit.Digest[:12] + ".toml" }
