package audit

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"needlepace/clock"
	"needlepace/machine"
	"needlepace/stitch"
	"needlepace/stitchfile"
)

const realDir = "../../shared/data/real"

// realDesigns reads the real stitch files beside the project.
func realDesigns(t testing.TB) map[string]*stitch.Design {
	t.Helper()
	entries, err := os.ReadDir(realDir)
	if errors.Is(err, fs.ErrNotExist) {
		t.Skip("the real stitch files are not beside the project (" + realDir + "): nothing to check")
	}
	all := map[string]*stitch.Design{}
	for _, e := range entries {
		if !stitchfile.HasExtension(e.Name()) {
			continue
		}
		b, err := os.ReadFile(filepath.Join(realDir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		d, err := stitchfile.Decode(b, e.Name())
		if err != nil {
			continue // stitchfile's own tests say which cannot be read, and why
		}
		all[e.Name()] = d
	}
	if len(all) < 100 {
		t.Fatalf("only %d of the real designs could be read", len(all))
	}
	return all
}

func class(t testing.TB, id string) *machine.Sheet {
	t.Helper()
	s, ok := machine.Class(id)
	if !ok {
		t.Fatalf("no machine class %q", id)
	}
	return s
}

func TestMendOfRealDesignsIsSafe(t *testing.T) {
	// Source: 131 real stitch files in six formats from public repositories (data beside the project, terms mostly unstated, for checking only).
	sheets := machine.Classes()
	var gained, whole float64
	changed, k := 0, 0
	designs := realDesigns(t)
	names := make([]string, 0, len(designs))
	for n := range designs {
		names = append(names, n)
	}
	slices.Sort(names)
	for _, name := range names {
		d := designs[name]
		if testing.Short() && len(d.Records) > 9_000 {
			continue
		}
		sheet := sheets[k%len(sheets)]
		k++
		threads, _ := ThreadsOf(d, Blocks(d))
		before := slices.Clone(d.Records)
		m, err := Mend(context.Background(), d, sheet, clock.Job{}, MendOptions{Threads: threads, Rounds: 300, States: 300})
		if err != nil {
			t.Errorf("%s on %s: %v", name, sheet.Name, err)
			continue
		}
		if !slices.Equal(before, d.Records) {
			t.Errorf("%s: mend changed the design it was given", name)
		}
		if m.After.Seconds > m.Before.Seconds {
			t.Errorf("%s: slower, %.3f → %.3f s", name, m.Before.Seconds, m.After.Seconds)
		}
		if m.Proof.Before != m.Proof.After || m.Proof.Before.Points == 0 && d.Count().Stitches > 0 {
			t.Errorf("%s: another picture: %+v", name, m.Proof)
		}
		listed := 0
		for _, c := range m.Changes {
			listed += len(c.Stitches)
		}
		if m.After.Stitches != m.Before.Stitches-listed+m.Proof.StitchesAdded {
			t.Errorf("%s: %d stitches of %d after %d listed as dropped and %d added", name, m.After.Stitches, m.Before.Stitches,
				listed, m.Proof.StitchesAdded)
		}
		if m.Changed() {
			changed++
		}
		gained += m.Saved()
		whole += m.Before.Seconds
		readsBack(t, name, m.Design, sheet)
	}
	t.Logf("%d of %d designs changed, %.0f of %.0f s gained (%.2f %%)", changed, k, gained, whole, 100*gained/whole)
}

func TestAuditOfRealDesigns(t *testing.T) {
	// Source: 131 real stitch files in six formats from public repositories (data beside the project, terms mostly unstated, for checking only).
	sheet := class(t, "single-15-1200")
	kinds := map[Kind]int{}
	for name, d := range realDesigns(t) {
		threads, _ := ThreadsOf(d, Blocks(d))
		r, err := Check(context.Background(), d, sheet, clock.Job{}, Options{Threads: threads, Pieces: 12})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if r.Total > r.Seconds {
			t.Errorf("%s: all findings cost %.1f s of a run of %.1f s", name, r.Total, r.Seconds)
		}
		before, gravest := 1e18, Hurts
		for _, f := range r.Findings {
			kinds[f.Kind]++
			if f.Severity != gravest {
				before = 1e18
			}
			if f.Severity > gravest || f.Seconds > before || f.Seconds < 0 || f.Seconds > r.Seconds || f.Seconds > f.Alone {
				t.Errorf("%s: %s (%v) costs %.1f s (alone %.1f s) after %.1f s (%v), the run takes %.1f s", name, f.Kind,
					f.Severity, f.Seconds, f.Alone, before, gravest, r.Seconds)
			}
			before, gravest = f.Seconds, f.Severity
			if f.From < 0 || f.To < f.From || f.To > r.Stitches || f.Block < 0 || f.Block >= Blocks(d) || f.What.IsZero() || f.Ask.IsZero() || f.Count < 1 {
				t.Errorf("%s: %+v of %d stitches", name, f, r.Stitches)
			}
			if f.OrderSeconds != 12*f.Seconds {
				t.Errorf("%s: %v s a run, %v s for 12 pieces on one head", name, f.Seconds, f.OrderSeconds)
			}
		}
	}
	// Looked at by eye, 26 November 2026: rows of jef designs that share holes on
	// purpose, fans of satin, satin of 8 and 11 mm on bare cloth, a butt joint.
	for kind, most := range map[Kind]int{StackedLayers: 100, InnerCurve: 40, ForeignHoles: 60, NoUnderlay: 15, PullGap: 20,
		BackAndForth: 15} {
		if n := kinds[kind]; n == 0 || n > most {
			t.Errorf("%d × %s on the real designs, plausible are 1 to %d", n, kind, most)
		}
	}
	t.Logf("findings: %v", kinds)
}

// readsBack writes the design in the formats there are and reads it again: the
// same holes, cuts, stops and time.
func readsBack(t *testing.T, name string, d *stitch.Design, sheet *machine.Sheet) {
	t.Helper()
	trims := sheet.Reading.TrimAfterJumps
	for _, ext := range stitchfile.Writable() {
		format := ext[1:]
		var buf bytes.Buffer
		done, err := stitchfile.EncodeFor(&buf, d, format, stitchfile.Readers{Trim: trims})
		if err != nil {
			var unsupported *stitchfile.UnsupportedError
			if errors.As(err, &unsupported) {
				continue // a form the format does not have: said so, nothing written
			}
			t.Errorf("%s as %s: %v", name, format, err)
			continue
		}
		back, err := stitchfile.Decode(buf.Bytes(), "back."+format)
		if err != nil {
			t.Errorf("%s as %s: %v", name, format, err)
			continue
		}
		but := But{Shift: done.Shift, Added: done.Added, Tail: done.Tail, Stops: done.Stops > 0}
		if err := SameSewing(d, back, trims, but); err != nil {
			t.Errorf("%s as %s: %v", name, format, err)
		}
	}
}

// What is found in a real design is found in it turned and mirrored too.
func TestRealDesignsTurnedHaveTheSameFindings(t *testing.T) {
	// Source: 131 real stitch files in six formats from public repositories (data beside the project, terms mostly unstated, for checking only).
	sheet := class(t, "single-15-1200")
	turns := map[string]func(x, y int16) (int16, int16){
		"turned": func(x, y int16) (int16, int16) { return -y, x }, "mirrored": func(x, y int16) (int16, int16) { return -x, y },
	}
	for name, d := range realDesigns(t) {
		if testing.Short() && len(d.Records) > 10_000 {
			continue
		}
		found := func(d *stitch.Design) string {
			r, err := Check(context.Background(), d, sheet, clock.Job{}, Options{})
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			n := map[Kind]map[Severity]int{}
			for _, f := range r.Findings {
				if n[f.Kind] == nil {
					n[f.Kind] = map[Severity]int{}
				}
				n[f.Kind][f.Severity]++
			}
			return fmt.Sprint(n)
		}
		want := found(d)
		for how, turn := range turns {
			c := *d
			c.Records = slices.Clone(d.Records)
			for i := range c.Records {
				r := &c.Records[i]
				r.DX, r.DY = turn(r.DX, r.DY)
			}
			if got := found(&c); got != want {
				t.Errorf("%s %s: %s; as it is: %s", name, how, got, want)
			}
		}
	}
}
