package ask

import (
	"testing"

	"needlepace/money"
	"needlepace/words"
)

// The sentence decides, or says what would.
func TestTheFleetsSentenceDecides(t *testing.T) {
	more := func(n float64) money.Dec { return money.Measured(n) }
	for _, x := range []struct {
		want        string
		base, other FleetRow
	}{
		{"fleet.no-need", FleetRow{}, FleetRow{More: more(100)}},
		{"fleet.saves", FleetRow{}, FleetRow{More: more(-100)}},
		{"fleet.no-need", FleetRow{}, FleetRow{More: more(-100), Refused: 1}},
		{"fleet.no-need", FleetRow{}, FleetRow{More: more(-100), LateHours: 3}},
		{"fleet.no-help", FleetRow{Late: 2, LateMean: 2, LateHours: 9}, FleetRow{Late: 2, LateMean: 2, LateHours: 9, More: more(100)}},
		{"fleet.less-late", FleetRow{Late: 2, LateMean: 2, LateHours: 9}, FleetRow{Late: 2, LateMean: 1.8, LateHours: 4, More: more(100)}},
		{"fleet.pays-from", FleetRow{Late: 2, LateMean: 2, LateHours: 9}, FleetRow{Fewer: 1, More: more(100)}},
		{"fleet.pays-from", FleetRow{Refused: 2}, FleetRow{Fewer: 1, More: more(100)}},
		{"fleet.no-help", FleetRow{Late: 2, LateMean: 2, LateHours: 9}, FleetRow{Left: 1, More: more(100)}},
	} {
		a := &HindsightAnswer{Currency: "EUR", Fleets: []FleetRow{x.base, x.other}, Verdict: words.Sentences{}}
		a.Fleets[0].What, a.Fleets[1].What = words.Say("fleet.as-is"), words.Say("fleet.together")
		a.decide(&a.Fleets[0])
		if x.other.Left > 0 {
			if len(a.Verdict) != 0 {
				t.Errorf("%+v: %s", x.other, a.Verdict.Text(nil))
			}
			continue
		}
		if len(a.Verdict) != 1 || a.Verdict[0].Key != x.want {
			t.Errorf("%+v: %s, want %s", x.other, a.Verdict.Text(nil), x.want)
		}
	}
	// 300 more for 2 orders in time and 3 that are taken: 100 each.
	a := &HindsightAnswer{Currency: "EUR", Fleets: []FleetRow{{Late: 2, LateMean: 2, Refused: 3}, {More: more(300), Fewer: .5}}}
	a.decide(&a.Fleets[0])
	if len(a.Verdict) != 2 || a.Verdict[0].Args["each"].Text(nil) != "100 EUR" || a.Verdict[1].Key != "fleet.unsure" {
		t.Errorf("%s", a.Verdict.Text(nil))
	}
}
