package book

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func TestTablesOfSizesAreReadAsPeopleHaveThem(t *testing.T) {
	want := []SizeRow{{"navy", "S", 10}, {"navy", "M", 20}, {"white", "M", 3}}
	for name, text := range map[string]string{
		"typed":               "navy: S 10, M 20; white: M 3",
		"typed on lines":      "navy: S 10, M=20\r\n\r\nwhite: M × 3\n",
		"a row each":          "colour\tsize\tpieces\nnavy\tS\t10\nnavy\tM\t20\nwhite\tM\t3\n",
		"heads in turn":       "Size,Qty,Color\nS,10,navy\nM,20,navy\nM,3,white\n",
		"no heads":            "navy;S;10\nnavy;M;20\nwhite;M;3",
		"a total":             "colour,size,pieces\nnavy,S,10\nnavy,M,20\nwhite,M,3\nTotal,,33\n",
		"a column each":       "\tS\tM\nnavy\t10\t20\nwhite\t\t3\n",
		"crossed with totals": "Garment\tS\tM\tTotal\nnavy\t10\t20\t30\nwhite\t0\t3\t3\nTotal\t10\t23\t33\n",
	} {
		got, err := ParseSizes(text)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
	if got, err := ParseSizes(SizesText(want)); err != nil || cmp.Diff(want, got) != "" {
		t.Errorf("what is written comes back as %v, %v", got, err)
	}
	// Sizes that are numbers are no pieces, and need no colour.
	if got, err := ParseSizes("\t38\t40\nnavy\t1\t2\n"); err != nil ||
		cmp.Diff([]SizeRow{{"navy", "38", 1}, {"navy", "40", 2}}, got) != "" {
		t.Errorf("sizes in numbers: %v, %v", got, err)
	}
	if got, err := ParseSizes("S 4, XL 5"); err != nil || cmp.Diff([]SizeRow{{"", "S", 4}, {"", "XL", 5}}, got) != "" {
		t.Errorf("without a colour: %v, %v", got, err)
	}
}

func TestTablesOfSizesThatDoNotAddUpAreRefused(t *testing.T) {
	for text, want := range map[string]string{
		"colour,size,pieces\nnavy,S,ten\n":                   `row 2, column 3: "ten" is no number of pieces`,
		"colour,size,pieces\nnavy,S,1\nNavy,s,2\n":           "Navy s stands there twice",
		"article,remark,pieces\na1,,1\na2,x,2\n":             `no column is called size or colour: there is "article" and "remark"; call the one`,
		"1\n2\n3\n":                                          "the rows have numbers of pieces alone",
		"article,size,pieces\na1,S,1\na2,S,2\n":              `S stands there twice ("article" was not read`,
		"colour,size,pieces\nnavy,S,10\ntotal,,11\n":         "the total is 11; the rows come to 10",
		"\tS\tM\tTotal\nnavy\t10\t20\t31\n":                  "row 2, column 4: the total of navy is 31; its sizes have 30",
		"\tS\tM\nnavy\t10\t20\ntotal\t10\t21\n":              "row 3, column 3: the total of M is 21; the rows have 20",
		"\tS\nnavy\t10\t20\n":                                `row 2, column 3: "20" stands under no size`,
		"\tS\tM\tTotal\nnavy\t10\t20\t30\nsum\t10\t20\t31\n": "the total is 31; the rows come to 30",
		"navy: S 0": "the table of sizes has no pieces",
	} {
		if got, err := ParseSizes(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q gave %v, %v; want %q", text, got, err, want)
		}
	}
	rows := []SizeRow{{"navy", "S", 10}}
	if err := CheckSizes(rows, 11); err == nil || !strings.Contains(err.Error(), "come to 10 pieces, the line has 11") {
		t.Error(err)
	}
}

// Parts by hand: what was reported of a colour is that colour's, the rest is
// counted from the top.
func TestPartsAreWhatIsLeftByThreads(t *testing.T) {
	l := &OrderLine{Line: 1, Quantity: 33, Threads: []string{"white"}, LinePieces: LinePieces{
		Sizes:          []SizeRow{{"navy", "S", 10}, {"navy", "M", 10}, {"white", "M", 3}, {"red", "L", 10}},
		GarmentThreads: []GarmentThreads{{"White", []string{"navy"}}},
	}}
	parts := func(good int, made map[string]int) (out []string) {
		l.Good = good
		for _, p := range l.Parts(made) {
			out = append(out, strings.Join(p.Line.Threads, "+")+" "+strings.ReplaceAll(SizesText(p.Rows), "\n", "; "))
			if n := InSizes(p.Rows); n != p.Line.Left() {
				t.Errorf("a part of %d pieces has rows of %d", p.Line.Left(), n)
			}
		}
		return out
	}
	for _, c := range []struct {
		good int
		made map[string]int
		want []string
	}{
		{0, nil, []string{"white navy: S 10, M 10; red: L 10", "navy white: M 3"}},
		{12, nil, []string{"white navy: M 8; red: L 10", "navy white: M 3"}},
		{12, map[string]int{"white": 2}, []string{"white navy: M 10; red: L 10", "navy white: M 1"}},
		{5, map[string]int{"white": 9}, []string{"white navy: S 8, M 10; red: L 10"}}, // more than there are
		{33, nil, nil},
	} {
		if got := parts(c.good, c.made); !cmp.Equal(got, c.want) {
			t.Errorf("%d sewn, %v by colour: %q, want %q", c.good, c.made, got, c.want)
		}
	}
}
