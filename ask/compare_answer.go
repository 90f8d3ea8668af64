package ask

import (
	"needlepace/clock"
	"needlepace/money"
	"needlepace/words"
)

// ComparisonAnswer is machines compared on a mix: the written contract of
// `compare --json` and of the API (docs/json.md).
type ComparisonAnswer struct {
	Mix         string            `json:"mix"`
	File        string            `json:"file,omitempty" doc:"of the mix, where it is a file"`
	Currency    string            `json:"currency"`
	Seed        uint64            `json:"seed"`
	Weeks       int               `json:"weeks"`
	Level       float64           `json:"level"`
	Base        string            `json:"base"`
	Machines    []ComparedMachine `json:"machines"`
	Designs     []ComparedDesign  `json:"designs"`
	Pairs       []ComparedPair    `json:"pairs" doc:"every machine but the base against the base"`
	Beats       [][]float64       `json:"beats" doc:"[i][j]: chance that machine i's year costs less than j's"`
	Cheapest    string            `json:"cheapest" doc:"the machine on which a year costs least, by the figures as they are"`
	Rival       string            `json:"rival,omitempty" doc:"the machine that it beats least surely"`
	Is          money.Verdict     `json:"is" enum:"wins,probably,cannot-tell,alike" doc:"what may be said of the cheapest against its rival"`
	Missing     []string          `json:"missing" doc:"keys of prices that count as 0 because they are missing"`
	Placeholder bool              `json:"placeholder" doc:"the prices are an example's, not the owner's own"`
	Verdict     words.Sentences   `json:"verdict" doc:"the answer in sentences"`
	Caveats     words.Sentences   `json:"caveats" doc:"what to know before relying on it"`

	week  words.Message
	lines []string // of a year, in their order
}

// MoneyRange is an amount and its interval.
type MoneyRange struct {
	Mid  string `json:"mid" doc:"decimal"`
	Low  string `json:"low"`
	High string `json:"high"`
}

func moneyRange(r money.Range, places int32) MoneyRange {
	return MoneyRange{r.Mid.StringFixed(places), r.Low.StringFixed(places), r.High.StringFixed(places)}
}

// ComparedMachine is one machine of a comparison.
type ComparedMachine struct {
	Machine        string            `json:"machine"`
	Existing       bool              `json:"existing"`
	Heads          int               `json:"heads"`
	RatedSpeed     float64           `json:"rated_speed"`
	HeldSpeed      float64           `json:"held_speed"`
	Hours          Estimate          `json:"hours_a_week"`
	Available      float64           `json:"hours_available"`
	Needed         int               `json:"machines_needed"`
	PiecesPerShift Estimate          `json:"pieces_per_shift"`
	OEE            OEE               `json:"oee"`
	PerPiece       MoneyRange        `json:"cost_per_piece"`
	Year           MoneyRange        `json:"cost_per_year"`
	Lines          map[string]string `json:"year_lines"`
	Price          string            `json:"price" doc:"of one, or what it could be sold for today"`
	CrewMachines   int               `json:"crew_machines" doc:"machines in its crew"`
	CrewOperators  int               `json:"crew_operators"`
}

// ComparedDesign is one design of a comparison.
type ComparedDesign struct {
	Design      string          `json:"design"`
	Weekly      int             `json:"weekly"`
	MeanStitch  float64         `json:"mean_stitch_mm"`
	First       string          `json:"first" doc:"whose run ends first"`
	FirstChance float64         `json:"first_chance"`
	Most        string          `json:"most" doc:"who yields most pieces an hour"`
	MostChance  float64         `json:"most_chance"`
	Why         string          `json:"why"`
	On          []ComparedOn    `json:"on"`
	FirstIs     money.Verdict   `json:"first_is" enum:"wins,probably,cannot-tell,alike" doc:"what may be said of the first"`
	MostIs      money.Verdict   `json:"most_is" enum:"wins,probably,cannot-tell,alike"`
	Kinds       []ComparedKind  `json:"kinds" doc:"where the machines differ, most first"`
	Verdict     words.Sentences `json:"verdict"`

	why words.Message
}

// Longest is the seconds at which the axis of the design's strips ends: the
// longest run, or the end of the widest interval.
func (d *ComparedDesign) Longest() float64 {
	longest := 0.0
	for _, on := range d.On {
		longest = max(longest, on.Seconds, on.Interval.High)
	}
	return longest
}

// ComparedOn is one design on one machine.
type ComparedOn struct {
	Machine  string         `json:"machine"`
	Seconds  float64        `json:"seconds"`
	Interval clock.Interval `json:"interval"`
	Held     float64        `json:"held_speed"`
	PerPiece float64        `json:"machine_seconds_per_piece"`
	Parts    clock.Parts    `json:"parts"`
	Idle     int            `json:"idle_heads" doc:"heads that stay empty in the last run of an order"`
}

// ComparedPair is one machine against the base.
type ComparedPair struct {
	Machine    string          `json:"machine"`
	Base       string          `json:"base"`
	Cheaper    float64         `json:"chance_cheaper"`
	Faster     float64         `json:"chance_fewer_hours"`
	Invest     string          `json:"invest"`
	Saving     MoneyRange      `json:"saving_per_year"`
	Payback    []string        `json:"payback_years"`
	Discounted []string        `json:"discounted_payback_years"`
	NPV        MoneyRange      `json:"net_present_value"`
	Worth      float64         `json:"chance_npv_positive"`
	Tie        *MoneyRange     `json:"tie_price" doc:"price of one machine at which a year costs the same; null where there is none"`
	Reason     string          `json:"reason"`
	Turning    []Turning       `json:"turning"`
	CheaperIs  money.Verdict   `json:"cheaper_is" enum:"wins,probably,cannot-tell,alike" doc:"what may be said of the machine against the base; wins and probably of whichever is the likelier"`
	Years      int             `json:"years" doc:"that the sums of money look at: the machine's life"`
	Annual     MoneyRange      `json:"worth_per_year" doc:"the present value spread evenly over the years"`
	Verdict    words.Sentences `json:"verdict"`
}

// Turning is run time by stitch length for one kind of stitching.
type Turning struct {
	Shape     string    `json:"shape"`
	Length    []float64 `json:"length_mm"`
	Machine   []float64 `json:"machine_seconds_per_1000"`
	Base      []float64 `json:"base_seconds_per_1000"`
	Chance    []float64 `json:"chance_faster"`
	Turns     []Turn    `json:"turns"`
	Stretches []Stretch `json:"stretches"`
}

// Turn is the stitch length at which two machines change places.
type Turn struct {
	Length float64  `json:"length_mm"`
	Low    *float64 `json:"low_mm"`
	High   *float64 `json:"high_mm"`
	Below  string   `json:"faster_below"`
}

// Stretch is a range of stitch lengths over which one machine is the faster.
type Stretch struct {
	From   float64       `json:"from_mm"`
	To     float64       `json:"to_mm"`
	Faster string        `json:"faster"`
	Is     money.Verdict `json:"is" enum:"wins,probably,cannot-tell,alike" doc:"what may be said of that"`
}
