package money

import (
	"math"
	"testing"
)

// "Faster at every length" is only said where it may be: by the same chances as
// any verdict, at the length at which it is least sure.
func TestFasterAtEveryLengthIsSaidByTheSameRule(t *testing.T) {
	chance := func(all ...int) (out []Chance) {
		for _, won := range all {
			out = append(out, Chance{Won: won, Of: 100})
		}
		return out
	}
	turning := func(p []Chance, at ...Turn) *Turning {
		return &Turning{Length: []float64{1, 2, 3, 4}, Machine: []float64{9, 9, 9, 9}, Base: []float64{10, 10, 10, 10}, Chance: p, At: at}
	}
	tied := []Chance{{Tied: 100, Of: 100}, {Tied: 100, Of: 100}, {Tied: 100, Of: 100}, {Tied: 100, Of: 100}}
	nan := math.NaN()
	for name, e := range map[string]struct {
		t    *Turning
		want []Stretch
	}{
		"sure everywhere":         {turning(chance(95, 99, 100, 91)), []Stretch{{1, 4, true, Wins}}},
		"less sure at one length": {turning(chance(95, 99, 80, 91)), []Stretch{{1, 4, true, Probably}}},
		"by chance":               {turning(chance(46, 51, 50, 49)), []Stretch{{1, 4, true, CannotTell}}},
		"nowhere unlike":          {turning(tied), []Stretch{{1, 4, true, Alike}}},
		"unlike at one length":    {turning(append(tied[:3:3], chance(99)...)), []Stretch{{1, 4, true, CannotTell}}},
		"a turn, known": {turning(chance(2, 30, 60, 97), Turn{Length: 2.5, Low: 1.5, High: 3.5, Below: false}),
			[]Stretch{{1, 1.5, false, Wins}, {3.5, 4, true, Wins}}},
		"a turn, not known": {turning(chance(2, 30, 60, 97), Turn{Length: 2.5, Low: nan, High: nan, Below: false}),
			[]Stretch{{1, 2.5, false, CannotTell}, {2.5, 4, true, CannotTell}}},
		"a turn that may be anywhere": {turning(chance(40, 50, 60, 60), Turn{Length: 2.5, Low: .5, High: 4.5, Below: true}),
			[]Stretch{{1, .5, true, CannotTell}, {4.5, 4, false, CannotTell}}},
	} {
		got := e.t.Stretches()
		if len(got) != len(e.want) {
			t.Errorf("%s: %+v", name, got)
			continue
		}
		for i := range got {
			if got[i] != e.want[i] {
				t.Errorf("%s: %+v, want %+v", name, got[i], e.want[i])
			}
		}
	}
	base := turning(chance(3, 2, 1, 4))
	base.Machine, base.Base = base.Base, base.Machine
	if s := base.Stretches(); len(s) != 1 || s[0] != (Stretch{1, 4, false, Wins}) {
		t.Errorf("the base is the faster: %+v", s)
	}
}
