package money

import (
	"reflect"
	"testing"
)

// yearsOf is machines whose years cost so much, week by week; the first figure
// is the year by the sheets as they are.
func yearsOf(years ...[]int64) *Comparison {
	c := &Comparison{Level: .9, Machines: make([]MachineResult, len(years))}
	for i, y := range years {
		m := &c.Machines[i]
		m.SheetID = string(rune('a' + i))
		m.YearCost.Mid = Measured(float64(y[0]))
		for _, v := range y[1:] {
			m.yearly = append(m.yearly, Measured(float64(v)))
		}
	}
	return c
}

// weeks is n weeks in which a year costs so much.
func weeks(n int, cost int64) (out []int64) {
	for range n {
		out = append(out, cost)
	}
	return out
}

// The best is held against whom it beats least surely, wherever that stands.
func TestTheCheapestIsHeldAgainstItsClosestRival(t *testing.T) {
	best := append([]int64{90}, weeks(20, 90)...)
	dear := append([]int64{200}, weeks(20, 200)...)                            // beaten in 20 of 20
	close12 := append(append([]int64{95}, weeks(12, 100)...), weeks(8, 80)...) // beaten in 12 of 20
	close16 := append(append([]int64{94}, weeks(16, 100)...), weeks(4, 80)...) // beaten in 16 of 20
	for _, e := range []struct {
		years       [][]int64
		best, rival int
		won         int
		is          Verdict
	}{
		{[][]int64{dear, best, close12}, 1, 2, 12, CannotTell},
		{[][]int64{close12, best, dear}, 1, 0, 12, CannotTell},
		{[][]int64{best, dear, close16, close12}, 0, 3, 12, CannotTell},
		{[][]int64{close16, dear, best}, 2, 0, 16, Probably},
		{[][]int64{dear, best}, 1, 0, 20, Wins},
		{[][]int64{dear, best, dear}, 1, 0, 20, Wins}, // of two alike the first
	} {
		j := yearsOf(e.years...).cheapest()
		if j.Best != e.best || j.Rival != e.rival || j.Chance.Won != e.won || j.Is != e.is {
			t.Errorf("%+v; want machine %d against %d, %d of 20, %s", j, e.best, e.rival, e.won, e.is)
		}
	}
	if j := yearsOf(best).cheapest(); j.Best != 0 || j.Rival != -1 || j.Is != Wins || j.Tells != nil {
		t.Errorf("a machine alone: %+v", j)
	}
	if j := yearsOf(best, best).cheapest(); j.Rival != 1 || j.Is != Alike || j.Tells != nil {
		t.Errorf("two that are the same: %+v", j)
	}
}

// Where it cannot be told, what would tell is named: a test piece on the machine
// whose sheet leaves most open, and more weeks where more weeks would do.
func TestWhatWouldTellTwoMachinesApart(t *testing.T) {
	near := Chance{Won: 13, Of: 20}  // 0.643: more weeks may bring it to 0.70
	clear := Chance{Won: 10, Of: 20} // 0.5: it is known that it is even
	for _, e := range []struct {
		what   string
		a, b   float64 // what the sheets leave open
		shared bool
		p      Chance
		want   []Tell
	}{
		{"a winner", 5, 6, false, Chance{Won: 20, Of: 20}, nil},
		{"the same machine", 5, 6, false, Chance{Tied: 20, Of: 20}, nil},
		{"the other's sheet", 5, 6, false, clear, []Tell{{By: BySheet, Machine: 1, SD: 6}}},
		{"its own sheet", 7, 6, false, clear, []Tell{{By: BySheet, Machine: 0, SD: 7}}},
		{"two sheets that leave as much open", 6, 6, false, clear, []Tell{{By: BySheet, Machine: 0, SD: 6}}},
		{"sheets that leave nothing open", 0, 0, false, clear, nil},
		{"one sheet for both", 5, 6, true, clear, nil},
		{"more weeks", 0, 0, false, near, []Tell{{By: ByWeeks, Weeks: near.MoreDraws(.9)}}},
		{"both", 0, 6, false, near, []Tell{{By: BySheet, Machine: 1, SD: 6}, {By: ByWeeks, Weeks: near.MoreDraws(.9)}}},
	} {
		c := yearsOf([]int64{1}, []int64{2})
		c.Machines[0].sheetSD, c.Machines[1].sheetSD = e.a, e.b
		if e.shared {
			c.Machines[1].SheetID = c.Machines[0].SheetID
		}
		if got := c.tells(0, 1, e.p); !reflect.DeepEqual(got, e.want) {
			t.Errorf("%s: %+v, want %+v", e.what, got, e.want)
		}
	}
	if near.MoreDraws(.9) <= near.Of || clear.MoreDraws(.9) != 0 {
		t.Errorf("more weeks: %d and %d", near.MoreDraws(.9), clear.MoreDraws(.9))
	}
}
