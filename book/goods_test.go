package book

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"needlepace/words"
)

func TestBatchesAreWhatCanBeBegunWhen(t *testing.T) {
	on := func(d int) words.Day { return words.NewDay(2026, 3, d) }
	l := &OrderLine{Quantity: 100, LinePieces: LinePieces{Deliveries: []Delivery{
		{Day: on(2), Pieces: 20}, {Day: on(5), Pieces: 30}, {Day: on(9), Pieces: 40, Came: on(3)},
	}}}
	for _, c := range []struct {
		what string
		good int
		day  words.Day
		want []Batch
	}{
		{"at first", 0, on(1), []Batch{{0, 10, words.Day{}, words.Day{}}, {3, 40, words.Day{}, words.Day{}},
			{1, 20, on(2), words.Day{}}, {2, 30, on(5), words.Day{}}}},
		{"one is late", 0, on(4), []Batch{{0, 10, words.Day{}, words.Day{}}, {3, 40, words.Day{}, words.Day{}},
			{1, 20, on(5), on(2)}, {2, 30, on(5), words.Day{}}}},
		{"some are sewn", 55, on(1), []Batch{{1, 15, on(2), words.Day{}}, {2, 30, on(5), words.Day{}}}},
		{"all are sewn", 100, on(1), nil},
	} {
		l.Good = c.good
		got := l.Batches(words.Day{}, c.day)
		if len(got) != len(c.want) {
			t.Errorf("%s: %v", c.what, got)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: batch %d is %v, want %v", c.what, i, got[i], c.want[i])
			}
		}
	}
	text := DeliveriesText(l.Deliveries)
	if back, err := ParseDeliveries(text); err != nil || DeliveriesText(back) != text || len(back) != 3 {
		t.Errorf("%q comes back as %v, %v", text, back, err)
	}
	if got, err := ParseDeliveries("2026-03-10 40; 2026-03-12=60"); err != nil || !cmp.Equal([]int{got[0].Pieces, got[1].Pieces}, []int{40, 60}) {
		t.Errorf("typed otherwise: %v, %v", got, err)
	}
	if _, err := ParseDeliveries("soon: 40"); err == nil {
		t.Error("a delivery without a day is read")
	}
	for want, ds := range map[string][]Delivery{
		"has no day":             {{Pieces: 1}},
		"give 1 or more":         {{Day: on(1)}},
		"two deliveries":         {{Day: on(1), Pieces: 1}, {Day: on(1), Pieces: 1}},
		"the line has 100 piece": {{Day: on(1), Pieces: 101}},
	} {
		if err := CheckDeliveries(&OrderLine{Quantity: 100, LinePieces: LinePieces{Deliveries: ds}}); err == nil ||
			!strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v", ds, err)
		}
	}
}
