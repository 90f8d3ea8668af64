package stitch_test

import (
	"encoding/csv"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"testing"

	"needlepace/stitch"
	"needlepace/stitchfile"
)

// realDesigns is where real files may stand; they may not be copied here.
const realDesigns = "../../shared/data/real"

// labels are the kinds of records as somebody saw them in a drawing: by file, by
// record. Records that are in no range were not clear to the eye.
func labels(t *testing.T, name string) map[string]map[int]stitch.Kind {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	byName := map[string]stitch.Kind{}
	for k := range stitch.SewnKinds() {
		byName[k.String()] = k
	}
	out := map[string]map[int]stitch.Kind{}
	for _, r := range rows[1:] {
		from, err1 := strconv.Atoi(r[1])
		to, err2 := strconv.Atoi(r[2])
		k, ok := byName[r[3]]
		if err1 != nil || err2 != nil || !ok || from >= to {
			t.Fatalf("%s: %v", name, r)
		}
		if out[r[0]] == nil {
			out[r[0]] = map[int]stitch.Kind{}
		}
		for i := from; i < to; i++ {
			out[r[0]][i] = k
		}
	}
	return out
}

// tally is how far two hands and the recogniser agree on stitches.
type tally struct{ seen, agreed, right, likeA, likeB int }

func (t *tally) add(a, b, got stitch.Kind) {
	t.seen++
	if got == a {
		t.likeA++
	}
	if got == b {
		t.likeB++
	}
	if a == b {
		t.agreed++
		if got == a {
			t.right++
		}
	}
}

func (t tally) String() string {
	pct := func(n, of int) float64 { return 100 * float64(n) / float64(max(of, 1)) }
	return fmt.Sprintf("%5d stitches: the labels agree on %5.1f %%; the recogniser on %5.1f %% of those, "+
		"with one %5.1f %%, the other %5.1f %%", t.seen, pct(t.agreed, t.seen), pct(t.right, t.agreed), pct(t.likeA, t.seen), pct(t.likeB, t.seen))
}

// compare sets two labellings of real designs beside each other and the
// recogniser, and logs a table by design and one by the first labeller's kind.
func compare(t *testing.T, one, two string) (all tally) {
	t.Helper()
	first, second := labels(t, one), labels(t, two)
	byKind := map[stitch.Kind]*tally{}
	for _, file := range slices.Sorted(maps.Keys(first)) {
		read, err := stitchfile.ReadFile(filepath.Join(realDesigns, file))
		if os.IsNotExist(err) {
			t.Skip("real designs are not here: " + realDesigns)
		}
		if err != nil || read[0].Err != nil {
			t.Fatalf("%s: %v %v", file, err, read[0].Err)
		}
		d := read[0].Design
		var of tally
		wrong := map[string]int{}
		for i, got := range d.Kinds(3) {
			a, b := first[file][i], second[file][i]
			if a == stitch.NotSewn || b == stitch.NotSewn || !d.Records[i].Op.Penetrates() {
				continue
			}
			if byKind[a] == nil {
				byKind[a] = &tally{}
			}
			of.add(a, b, got)
			byKind[a].add(a, b, got)
			all.add(a, b, got)
			if a == b && got != a {
				wrong[a.String()+" as "+got.String()]++
			}
		}
		t.Logf("%s %v %v", file, of, wrong)
	}
	for k := range stitch.SewnKinds() {
		if byKind[k] != nil {
			t.Logf("%-12v%v", k, byKind[k])
		}
	}
	t.Logf("in all     %v", all)
	return all
}

// Ten real designs labelled twice from drawings, before the recogniser was asked
// about them and from different pictures, but by one and the same pair of eyes:
// common practice, no published source. At the first sight of them the recogniser
// agreed with 89.2 % of what the two agree on; what it did wrong was mended since,
// and one range of dst-19 corrected, in which both had overlooked an underlay. So
// this test guards what was reached; it is no blind trial any more.
func TestKindsOfRealDesigns(t *testing.T) {
	if all := compare(t, "labels-first.csv", "labels-second.csv"); float64(all.right) < 0.97*float64(all.agreed) {
		t.Errorf("the recogniser agrees with the labels on %d of %d stitches, below 97 %%", all.right, all.agreed)
	}
}

// Ten more real designs labelled by two who worked apart: each drew them in a way
// of its own and saw neither the other's labels, the recogniser nor its answers.
// Common practice, no published source. They agree on 98.7 % of 22,006 stitches. At
// the first sight of them the recogniser agreed with 66.7 % of what both say, with
// 66.8 % of the one's labels and 66.0 % of the other's; what was wrong for a general
// reason was mended since, with the answers known (96.7 %). So this guards what was
// reached and is no blind trial any more.
func TestKindsOfDesignsLabelledApart(t *testing.T) {
	all := compare(t, "labels-a.csv", "labels-b.csv")
	if float64(all.agreed) < 0.98*float64(all.seen) {
		t.Errorf("the two agree on %d of %d stitches, below 98 %%", all.agreed, all.seen)
	}
	if float64(all.right) < 0.95*float64(all.agreed) {
		t.Errorf("the recogniser agrees with the labels on %d of %d stitches, below 95 %%", all.right, all.agreed)
	}
}

// A third ten, labelled by two who worked apart. Common practice, no published
// source. The two agree on 90.5 % of 20,763 stitches. At the first sight of them the
// recogniser agreed with 74.6 % of what both say: one design, a net of crossing
// lines that both call fill, is a fifth of it, and of the others it had 93.7 %. Five
// of the ten were looked into since (dst-17, dst-39, exp-03, jef-31, pes-09), for
// 96.4 % of all; what was mended for other designs since brought 96.6 %.
func TestKindsOfAThirdTen(t *testing.T) {
	all := compare(t, "labels-c.csv", "labels-d.csv")
	if float64(all.right) < 0.95*float64(all.agreed) {
		t.Errorf("the recogniser agrees with the labels on %d of %d stitches, below 95 %%", all.right, all.agreed)
	}
}
