package book

import (
	"math"
	"strings"

	"needlepace/money"
	"needlepace/words"
)

// RoughSaid is what was said of a design before there was a stitch file: what was asked for,
// and the ranges that eight in ten of the like lie in.
type RoughSaid struct {
	Width     float64   `json:"width_mm"`
	Height    float64   `json:"height_mm"`
	Kind      string    `json:"kind"`
	Cover     string    `json:"cover"`
	Colours   int       `json:"colours"`
	Quantity  int       `json:"quantity"`
	CapFrame  bool      `json:"cap_frame,omitempty"`
	Placement string    `json:"placement,omitempty"`
	Garment   string    `json:"garment,omitempty"`
	Said      words.Day `json:"said"`

	Stitches RoughRange `json:"stitches"`
	Machine  string     `json:"machine,omitempty"` // that a run takes so long on
	Run      RoughRange `json:"run_seconds"`
	// Price is of a piece, without tax and digitizing; nil: there were no prices. It is
	// for nobody who may not see money.
	Price    *RoughPrice `json:"price,omitempty"`
	Currency string      `json:"currency"`
}

// RoughRange is what eight in ten of the like lie in, and their middle.
type RoughRange struct {
	Low  float64 `json:"low"`
	Mid  float64 `json:"mid"`
	High float64 `json:"high"`
}

// RoughPrice is a range of money.
type RoughPrice struct {
	Low  money.Dec `json:"low"`
	Mid  money.Dec `json:"mid"`
	High money.Dec `json:"high"`
}

// MostRoughs is how many designs without a file an order asks for at most.
const MostRoughs = 50

// twoFigures is a count to two figures: more would be read as more than is known.
func twoFigures(v float64) words.Value {
	step := 1.0
	for v/step >= 100 {
		step *= 10
	}
	return words.Whole(int(math.Round(v/step) * step))
}

// What is what was asked for, in words.
func (r *RoughSaid) What() words.Message {
	return words.Say("rough.asked-for", words.Args{"pieces": words.Whole(r.Quantity),
		"kind": words.Say("rough." + strings.ReplaceAll(r.Kind, " ", "-")),
		"size": words.Size{W: r.Width, H: r.Height}})
}

// Told is what was said of it; with the prices only for who may see money.
func (r *RoughSaid) Told(prices bool) words.Sentences {
	out := words.Sentences{words.Say("rough.told", words.Args{"day": r.Said, "mid": twoFigures(r.Stitches.Mid),
		"low": twoFigures(r.Stitches.Low), "high": twoFigures(r.Stitches.High)})}
	if p := r.Price; prices && p != nil {
		out.Say("rough.told-price", words.Args{"mid": r.cash(p.Mid), "low": r.cash(p.Low), "high": r.cash(p.High)})
	}
	return out
}

// Came is how a design that came differs from what was said, by its stitches.
func (r *RoughSaid) Came(stitches int) words.Message {
	n, mid, share := words.Count(stitches, "stitch"), twoFigures(r.Stitches.Mid), words.Share(float64(stitches)/r.Stitches.Mid)
	if n := float64(stitches); n < r.Stitches.Low || n > r.Stitches.High {
		return words.Say("rough.is-outside", words.Args{"stitches": words.Count(stitches, "stitch"), "mid": mid, "share": share})
	}
	return words.Say("rough.is-inside", words.Args{"stitches": n, "mid": mid, "share": share})
}

// Costs is how the price of a piece differs from what was said; no message where none
// was said, or in other money.
func (r *RoughSaid) Costs(price money.Dec, currency string) words.Message {
	p := r.Price
	if p == nil || currency != r.Currency || !p.Mid.IsPositive() {
		return words.Message{}
	}
	return words.Say("rough.costs", words.Args{"price": r.cash(price), "mid": r.cash(p.Mid), "low": r.cash(p.Low), "high": r.cash(p.High),
		"share": words.Share(price.Div(p.Mid).InexactFloat64())})
}

func (r *RoughSaid) cash(d money.Dec) words.Money { return words.Money{Amount: d, Code: r.Currency} }
