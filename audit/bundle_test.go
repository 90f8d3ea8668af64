package audit

import (
	"context"
	"math"
	"strings"
	"testing"

	"needlepace/clock"
	"needlepace/demo"
	"needlepace/words"
)

// lone is findings of one kind, 50 mm apart, each in an object of its own.
func lone(n int) (*survey, []Finding) {
	v := &survey{lim: DefaultLimits(), l: &layout{}}
	var out []Finding
	for k := range n {
		v.l.objects = append(v.l.objects, Object{First: 10 * k, Last: 10*k + 10})
		out = append(out, Finding{Kind: FewStitches, From: 10 * k, To: 10*k + 4, X: float64(50 * k), Block: k, Count: 2,
			Seconds: float64(k), Alone: float64(2 * k), Split: 1, Peak: float64(k)})
	}
	return v, out
}

// Up to LongList findings that lie apart stand for themselves; one more, and all
// are one finding, with every place kept and the dearest first.
func TestALongListOfOneRuleIsOneFinding(t *testing.T) {
	n := int(DefaultLimits().LongList)
	v, few := lone(n)
	if got := v.bundle(each(few)); len(got) != n || got[0].Places != nil {
		t.Fatalf("%d findings apart are %d", n, len(got))
	}
	v, many := lone(n + 1)
	got := v.bundle(each(many))
	if len(got) != 1 {
		t.Fatalf("%d findings are %d", n+1, len(got))
	}
	f := got[0]
	sum := float64(n*(n+1)) / 2
	if f.Count != 2*(n+1) || f.Seconds != sum || f.Alone != 2*sum || f.Split != float64(n+1) || f.Peak != float64(n) ||
		f.From != 0 || f.To != 10*n+4 || !f.Spread || f.X != float64(50*n) || f.Block != n {
		t.Errorf("together: %+v", f)
	}
	if len(f.Places) != n+1 {
		t.Fatalf("%d places", len(f.Places))
	}
	for i, p := range f.Places {
		k := n - i // the dearest first
		if p.From != 10*k || p.To != 10*k+4 || p.X != float64(50*k) || p.Block != k || p.Count != 2 ||
			p.Seconds != float64(k) || p.Peak != float64(k) {
			t.Errorf("place %d: %+v", i, p)
		}
	}
	if text := f.What.Text(nil); !strings.Contains(text, "the like in 3 other places") {
		t.Errorf("it says %q", text)
	}
}

// Two within one look are one, and so are two in one object; a graver one is
// never hidden among others, nor one of another kind.
func TestWhatLiesTogetherIsOneFindingButNeverAGraverOne(t *testing.T) {
	for _, c := range []struct {
		is     string
		change func(fs []Finding)
		want   int
	}{
		{"apart", func([]Finding) {}, 3},
		{"within one look", func(fs []Finding) { fs[1].X = oneLook }, 2},
		{"just beyond", func(fs []Finding) { fs[1].X = oneLook + 0.1 }, 3},
		{"in one object", func(fs []Finding) { fs[1].From = 5 }, 2},
		{"in one object by its bounds alone", func(fs []Finding) { fs[1].From, fs[1].Spread = 5, true }, 3},
		{"one is graver", func(fs []Finding) { fs[1].X, fs[1].Severity = 0, Hurts }, 3},
		{"one is of another kind", func(fs []Finding) { fs[1].X, fs[1].Kind = 0, MissingLock }, 3},
	} {
		v, fs := lone(3)
		c.change(fs)
		if got := v.bundle(each(fs)); len(got) != c.want {
			t.Errorf("%s: %d findings, want %d", c.is, len(got), c.want)
		}
	}
}

// What is graver than a loss of time stands by how far it passes its limit, what
// costs time only by its cost.
func TestTheWorstPlaceIsTheMark(t *testing.T) {
	v, fs := lone(5)
	fs[2].Over = 3
	if f := v.bundle(each(fs))[0]; f.Places[0].Seconds != 4 {
		t.Errorf("costs time only: %+v", f.Places[0])
	}
	for i := range fs {
		fs[i].Severity = Shows
	}
	if f := v.bundle(each(fs))[0]; f.Places[0].Seconds != 2 || f.Over != 3 {
		t.Errorf("shows: %+v", f.Places[0])
	}
}

// Gathering loses no place, no second and no stitch: the findings are those of
// an audit that gathers nothing but what lies together.
func TestGatheringLosesNothing(t *testing.T) {
	for _, x := range demo.Designs() {
		d := demoDesign(t, x)
		type sum struct {
			places, count int
			seconds       float64
		}
		of := func(long float64) map[Kind]sum {
			lim := DefaultLimits()
			lim.LongList = long
			r, err := Check(context.Background(), d, class(t, "single-15-1200"), clock.Job{}, Options{Limits: &lim})
			if err != nil {
				t.Fatal(err)
			}
			sums := map[Kind]sum{}
			for _, f := range r.Findings {
				s := sums[f.Kind]
				sums[f.Kind] = sum{s.places + max(1, len(f.Places)), s.count + f.Count, s.seconds + f.Seconds}
			}
			return sums
		}
		each, all := of(100_000), of(1)
		for kind, a := range each {
			if b := all[kind]; a.places != b.places || a.count != b.count || math.Abs(a.seconds-b.seconds) > 1e-6 {
				t.Errorf("%s, %s: %+v apart, %+v gathered", x.File, kind, a, b)
			}
		}
	}
}

// Threads that are all left without a lock are one finding with all its places.
func TestLocksLeftToTheMachineKeepTheirPlaces(t *testing.T) {
	v, fs := lone(mostlyLeast)
	got := v.bundle(each(asOne(fs, words.Say("finding.no-locks"))))
	if len(got) != 1 || len(got[0].Places) != mostlyLeast || got[0].What.Key != "finding.no-locks" {
		t.Fatalf("%+v", got)
	}
	for i, p := range got[0].Places {
		if p.From != 10*i {
			t.Errorf("place %d: %+v", i, p)
		}
	}
}

// each are pointers to findings.
func each(fs []Finding) (out []*Finding) {
	for i := range fs {
		out = append(out, &fs[i])
	}
	return out
}
