package words

import (
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
)

func TestANumberAndItsUnitStayOnOneLine(t *testing.T) {
	for _, c := range []struct{ text, want string }{ // ~ is the space that does not break
		{"7.6 % of 36 s", "7.6~% of 36~s"},
		{"18 min 45 s, between 18 min and 19 min", "18~min~45~s, between 18~min and 19~min"},
		{"1 h 02 min (28.55 EUR a piece)", "1~h~02~min (28.55~EUR a piece)"},
		{"48.5 × 30.0 mm at 850 stitches/min", "48.5~×~30.0~mm at 850~stitches/min"},
		{"± 3.5 %; 2.5 days; 8 MB.", "±~3.5~%; 2.5~days; 8~MB."},
		{"Fri 20 Mar 2026, 2:05 pm", "Fri 20~Mar 2026, 2:05~pm"},
		{"12,50 €, 3 CA$", "12,50~€, 3~CA$"},
		{"12 dk 5 sn, 5 giây, 1 giờ 02 phút", "12~dk~5~sn, 5~giây, 1~giờ~02~phút"},
		{"{n} mm and {min} min {s} s", "{n}~mm and {min}~min~{s}~s"},
		// What is no unit breaks as any other text.
		{"12 pieces in 3 blocks", "12 pieces in 3 blocks"},
		{"as s, 5 small ones, 5 s-curves, 1 m2, min 45", "as s, 5 small ones, 5 s-curves, 1 m2, min 45"},
		{"stitch 12 and 4 in a row", "stitch 12 and 4~in a row"}, // inches: nothing is lost
		{" 5", " 5"}, {"5 ", "5 "}, {"", ""}, {"5", "5"},
	} {
		if got := Firm(c.text); got != strings.ReplaceAll(c.want, "~", noBreak) {
			t.Errorf("%q is %q, want %q", c.text, strings.ReplaceAll(got, noBreak, "~"), c.want)
		}
	}
}

// Whatever unit a figure has, in any language, its text has no place to break.
func TestNoFigureBreaks(t *testing.T) {
	for _, l := range Languages() {
		for _, w := range []*Writer{{Language: l}, {Language: l, Inch: true, Hours12: true}} {
			for _, v := range []Value{
				Seconds(8.4), Seconds(36), Seconds(1125), Seconds(3720), FineSeconds(34.2), Hours(26.5), Span(0.5), Span(5.2), Span(60), Share(0.076),
				Share(0.41), GiveOrTake(0.035), Level(0.9), Chance(0.5), MM(48.5), StitchMM(3.2), FineMM(0.35), AreaMM2(14), Size{48.5, 30}, Metres(1204),
				PerMinute(850), TimeOfDay(14 * 3600e9), Signed{Seconds(18)}, Signed{Seconds(-75)},
				Money{Amount: decimal.NewFromInt(1234), Code: "EUR"}, Money{Amount: decimal.NewFromInt(1234), Code: "CAD", Sign: true},
			} {
				if s := v.Text(w); strings.Contains(Firm(s), " ") {
					t.Errorf("%s: %T breaks: %q", l.Tag, v, strings.ReplaceAll(Firm(s), noBreak, "~"))
				}
			}
		}
	}
}

// A day and its month stay together in every language, and a month's name of two words is one piece.
func TestNoDayIsPartedFromItsMonth(t *testing.T) {
	for _, l := range Languages() {
		for month := range 12 {
			day := NewDay(2026, time.Month(month+1), 20)
			if s := Firm(NearDay{Day: day, Today: day}.Text(&Writer{Language: l})); len(strings.Split(s, " ")) != 2 {
				t.Errorf("%s breaks within %q", l.Tag, strings.ReplaceAll(s, noBreak, "~"))
			}
		}
	}
}

func BenchmarkFirm(b *testing.B) {
	s := strings.Repeat("A run of 7.6 % that takes 18 min 45 s, and nothing else is to be said of it. ", 1000)
	b.SetBytes(int64(len(s)))
	for b.Loop() {
		Firm(s)
	}
}
