package book

import (
	"testing"

	"github.com/shopspring/decimal"

	"needlepace/money"
	"needlepace/words"
)

// What a price is made of makes other goods; what comes later in an order's life does not.
func TestAQuoteIsForTheGoodsItWasMadeOf(t *testing.T) {
	line := func() *OrderLine {
		return &OrderLine{Line: 1, DesignID: "d", Placement: "chest", Garment: "polo", Quantity: 48, Threads: []string{"red"},
			LinePieces: LinePieces{Sizes: []SizeRow{{"navy", "M", 24}, {"white", "L", 24}},
				GarmentThreads: []GarmentThreads{{"white", []string{"blue"}}},
				LineNames:      LineNames{Names: []NameRow{{Name: "Jo", DesignID: "jo"}, {Name: "Ada", DesignID: "ada"}}}}}
	}
	o := &Order{Lines: []OrderLine{*line()}}
	q := &Quote{Lines: []QuoteLine{{Line: 1, Goods: line().Goods(), DesignID: "d", Quantity: 48}}}
	if !q.IsFor(o) {
		t.Fatal("of the same line it is for other goods")
	}
	for what, c := range map[string]struct {
		other  bool
		change func(l *OrderLine)
	}{
		"pieces":            {true, func(l *OrderLine) { l.Quantity++ }},
		"design":            {true, func(l *OrderLine) { l.DesignID = "e" }},
		"place":             {true, func(l *OrderLine) { l.Placement = "front" }},
		"garment":           {true, func(l *OrderLine) { l.Garment = "cap" }},
		"threads":           {true, func(l *OrderLine) { l.Threads = []string{"red", "blue"} }},
		"digitizing":        {true, func(l *OrderLine) { l.Digitize = true }},
		"cap frame":         {true, func(l *OrderLine) { l.CapFrame = true }},
		"metallic":          {true, func(l *OrderLine) { l.Metallic = true }},
		"heavy":             {true, func(l *OrderLine) { l.Heavy = .5 }},
		"speed":             {true, func(l *OrderLine) { l.Speed = 600 }},
		"kinds of job":      {true, func(l *OrderLine) { l.Job = 1 << 3 }},
		"threads on white":  {true, func(l *OrderLine) { l.GarmentThreads[0].Threads[0] = "green" }},
		"garments' colours": {true, func(l *OrderLine) { l.Sizes[0].Colour = "white" }},
		"another name":      {true, func(l *OrderLine) { l.Names[0].DesignID = "joanna" }},
		"no names":          {true, func(l *OrderLine) { l.Names = nil }},
		"names alone":       {true, func(l *OrderLine) { l.NamesAlone = true }},
		"threads of names":  {true, func(l *OrderLine) { l.NameThreads = []string{"gold"} }},
		"a partner":         {true, func(l *OrderLine) { l.Partner = Partner{Name: "Netherby", Days: 3} }},
		"another line":      {true, func(l *OrderLine) { l.Line = 2 }},
		"sizes":             {false, func(l *OrderLine) { l.Sizes[0].Size, l.Sizes[1].Pieces = "S", 20 }},
		"order of names":    {false, func(l *OrderLine) { l.Names[0], l.Names[1] = l.Names[1], l.Names[0] }},
		"what is sewn":      {false, func(l *OrderLine) { l.Good, l.Spoilt, l.Holds = 5, 1, []Hold{{MachineID: "m"}} }},
		"days of goods":     {false, func(l *OrderLine) { l.Deliveries = []Delivery{{Day: words.NewDay(2026, 3, 4), Pieces: 20}} }},
		"machines at most":  {false, func(l *OrderLine) { l.MostMachines = 1 }},
	} {
		l := line()
		c.change(l)
		o.Lines[0] = *l
		if q.IsFor(o) == c.other {
			t.Errorf("%s: other goods is %v, not %v", what, !c.other, c.other)
		}
	}
	p := line()
	p.Partner = Partner{Name: "Netherby", Days: 3, Price: money.Amount{Dec: decimal.NewFromInt(2)}}
	was := p.Goods()
	if p.Partner.Sent = words.NewDay(2026, 3, 4); p.Goods() != was {
		t.Error("sent to the partner it is other goods")
	}
	if p.Partner.Price.Dec = decimal.NewFromInt(3); p.Goods() == was {
		t.Error("at another price of the partner it is the same")
	}
	o.Lines = append(o.Lines, *line())
	if q.IsFor(o) {
		t.Error("with one more line it is the same")
	}
	// A quote of an earlier version, by what it says.
	o.Lines, q.Lines[0] = []OrderLine{*line()}, QuoteLine{Line: 1, DesignID: "d", Quantity: 48, Placement: "chest", Garment: "polo", Names: &QuoteNames{}}
	if !q.IsFor(o) {
		t.Error("a quote without goods is for others")
	}
	if o.Lines[0].Garment = "cap"; q.IsFor(o) {
		t.Error("a quote without goods is for caps too")
	}
}
