package book

import (
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
)

// shiftsOf reads shifts that are written as "mon tue 07:00-11:30 2"; none but the hours: every day.
func shiftsOf(t *testing.T, lines ...string) *Workshop {
	t.Helper()
	var toml strings.Builder
	for _, l := range lines {
		f := strings.Fields(l)
		hours, operators := f[len(f)-2], f[len(f)-1]
		from, to, _ := strings.Cut(hours, "-")
		toml.WriteString("[[shift]]\n")
		if days := f[:len(f)-2]; len(days) > 0 {
			toml.WriteString(`days = ["` + strings.Join(days, `", "`) + "\"]\n")
		}
		toml.WriteString("from = \"" + from + "\"\nto = \"" + to + "\"\noperators = " + operators + "\n")
	}
	w, err := ParseWorkshop("w.toml", []byte(toml.String()))
	if err != nil {
		t.Fatal(err)
	}
	return w
}

const workdays = "mon tue wed thu fri "

// What a week comes to, worked out by hand.
func TestAWeekByHand(t *testing.T) {
	for _, c := range []struct {
		name      string
		shifts    []string
		open      float64 // h a week
		count     int
		operators float64
		together  int
	}{
		{"one shift", []string{workdays + "08:00-16:00 2"}, 40, 5, 2, 2},
		{"a break makes two tables of it", []string{workdays + "07:00-11:30 2", workdays + "12:00-15:30 2"}, 40, 5, 2, 2},
		{"two tables side by side", []string{workdays + "07:00-11:00 2", workdays + "11:00-15:30 2"}, 42.5, 5, 2, 2},
		{"twelve hours are one shift", []string{workdays + "06:00-18:00 1"}, 60, 5, 1, 1},
		{"two crews a day", []string{workdays + "06:00-14:00 3", workdays + "14:00-22:00 1"}, 80, 10, 2, 3},
		{"two crews with a break each", []string{workdays + "06:00-10:00 2", workdays + "10:15-14:00 2", workdays + "14:00-18:00 2",
			workdays + "18:15-22:00 2"}, 77.5, 10, 2, 2},
		{"around the clock", []string{"06:00-06:00 2"}, 168, 21, 2, 2},
		{"three crews around the clock", []string{"06:00-14:00 2", "14:00-22:00 2", "22:00-06:00 2"}, 168, 21, 2, 2},
		{"a night, Sunday's into Monday", []string{"sun mon 22:00-06:00 2"}, 16, 2, 2, 2},
		{"a short Saturday", []string{workdays + "08:00-16:00 2", "sat 07:00-09:00 1"}, 42, 6, 82. / 42, 2},
		{"one more from nine to eleven", []string{workdays + "08:00-16:00 2", workdays + "09:00-11:00 1"}, 40, 5, 2.25, 3},
		{"two tables of the same hours", []string{workdays + "08:00-16:00 1", workdays + "08:00-16:00 1"}, 40, 5, 2, 2},
	} {
		w := shiftsOf(t, c.shifts...)
		k := w.Week()
		if k.Seconds != c.open*3600 || k.Shifts != c.count || k.ShiftHours() != c.open/float64(c.count) ||
			k.Operators() != c.operators || w.Together() != c.together {
			t.Errorf("%s: %v h in %d shifts, %v operators, %d together; want %v, %d, %v, %d", c.name, k.Seconds/3600, k.Shifts,
				k.Operators(), w.Together(), c.open, c.count, c.operators, c.together)
		}
	}
	if k := (&Workshop{}).Week(); k.ShiftHours() != 0 || k.Operators() != 0 {
		t.Errorf("no shift: %+v", k)
	}
}

// However the same hours and people are written down: in another order, cut in two,
// day by day.
func TestAWeekHangsOnHoursAndHandsAlone(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	days := strings.Fields(workdays + "sat sun")
	for range 60 {
		var shifts []string
		for range 1 + r.IntN(4) {
			var on []string
			for _, d := range days {
				if r.IntN(2) == 0 {
					on = append(on, d)
				}
			}
			shifts = append(shifts, strings.Join(on, " ")+" "+clockText(r.IntN(96))+"-"+clockText(r.IntN(96))+" "+[]string{"1", "2", "3"}[r.IntN(3)])
		}
		want := shiftsOf(t, shifts...).Week()
		r.Shuffle(len(shifts), func(i, j int) { shifts[i], shifts[j] = shifts[j], shifts[i] })
		if got := shiftsOf(t, shifts...).Week(); !reflect.DeepEqual(got, want) {
			t.Fatalf("%q shuffled: %+v, was %+v", shifts, got, want)
		}
		var cut []string
		for _, s := range shifts {
			f := strings.Fields(s)
			from, to, _ := strings.Cut(f[len(f)-2], "-")
			on := f[:len(f)-2]
			if len(on) == 0 {
				on = days
			}
			for _, d := range on {
				if from < "11:15" && to > "11:15" { // not over midnight: the second part's day is the first's
					cut = append(cut, d+" "+from+"-11:15 "+f[len(f)-1], d+" 11:15-"+to+" "+f[len(f)-1])
				} else {
					cut = append(cut, d+" "+from+"-"+to+" "+f[len(f)-1])
				}
			}
		}
		if got := shiftsOf(t, cut...).Week(); !reflect.DeepEqual(got, want) {
			t.Fatalf("%q cut to %q: %+v, was %+v", shifts, cut, got, want)
		}
	}
}

func clockText(quarter int) string {
	return string([]byte{byte('0' + quarter/40), byte('0' + quarter/4%10), ':', "0134"[quarter%4], "0505"[quarter%4]})
}
