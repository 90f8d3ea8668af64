package stitch_test

import (
	"encoding/csv"
	"os"
	"path/filepath"
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

// Ten real designs labelled twice from drawings, before the recogniser was asked
// about them and from different pictures, but by one and the same pair of eyes:
// common practice, no published source. At the first sight of them the recogniser
// agreed with 89.2 % of what the two agree on; what it did wrong was mended since,
// and one range of dst-19 corrected, in which both had overlooked an underlay. So
// this test guards what was reached; it is no blind trial any more.
func TestKindsOfRealDesigns(t *testing.T) {
	first, second := labels(t, "labels-first.csv"), labels(t, "labels-second.csv")
	both, agreed, right := 0, 0, 0
	for file, one := range first {
		all, err := stitchfile.ReadFile(filepath.Join(realDesigns, file))
		if os.IsNotExist(err) {
			t.Skip("real designs are not here: " + realDesigns)
		}
		if err != nil || all[0].Err != nil {
			t.Fatalf("%s: %v %v", file, err, all[0].Err)
		}
		got := all[0].Design.Kinds(3)
		n, same, ok := 0, 0, 0
		wrong := map[string]int{}
		for i, a := range one {
			b, seen := second[file][i]
			if !seen || got[i] == stitch.NotSewn {
				continue
			}
			n++
			if a != b {
				continue
			}
			same++
			if got[i] == a {
				ok++
			} else {
				wrong[a.String()+" as "+got[i].String()]++
			}
		}
		t.Logf("%s: %d stitches labelled twice, the labels agree on %.1f %%, the recogniser on %.1f %% of those %v", file, n,
			100*float64(same)/float64(n), 100*float64(ok)/float64(same), wrong)
		both, agreed, right = both+n, agreed+same, right+ok
	}
	t.Logf("in all %d: the labels agree on %.1f %%, the recogniser on %.1f %% of those", both,
		100*float64(agreed)/float64(both), 100*float64(right)/float64(agreed))
	if share := float64(right) / float64(agreed); share < 0.95 {
		t.Errorf("the recogniser agrees with the labels on %.1f %%, below 95 %%", 100*share)
	}
}
