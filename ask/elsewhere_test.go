package ask

import (
	"bytes"
	"context"
	"encoding/gob"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"reflect"
	"strings"
	"testing"
	"time"

	"needlepace/audit"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/plan"
	"needlepace/stitchfile"
	"needlepace/trial/mixed"
)

// lost says what of a type is not read as it was written: gob leaves out fields that are not
// exported, and takes a pointer to a zero number for none.
func lost(t reflect.Type, at string, seen map[reflect.Type]bool) (out []string) {
	if reflect.PointerTo(t).Implements(reflect.TypeFor[gob.GobEncoder]()) || reflect.PointerTo(t).Implements(reflect.TypeFor[interface{ MarshalBinary() ([]byte, error) }]()) || seen[t] {
		return nil
	}
	seen[t] = true
	switch t.Kind() {
	case reflect.Pointer:
		if k := t.Elem().Kind(); k != reflect.Struct {
			out = append(out, fmt.Sprintf("%s is a pointer to %v", at, k))
		}
		return append(out, lost(t.Elem(), at, seen)...)
	case reflect.Slice, reflect.Array:
		return lost(t.Elem(), at+"[]", seen)
	case reflect.Map:
		return append(lost(t.Key(), at+" key", seen), lost(t.Elem(), at+"[]", seen)...)
	case reflect.Struct:
		for f := range t.Fields() {
			if !f.IsExported() {
				out = append(out, at+"."+f.Name)
				continue
			}
			out = append(out, lost(f.Type, at+"."+f.Name, seen)...)
		}
		return out
	case reflect.Interface, reflect.Func, reflect.Chan, reflect.UnsafePointer:
		return []string{fmt.Sprintf("%s is %v", at, t)}
	}
	return nil
}

// What goes to other programs and comes from them has nothing that is lost on the way, but
// what is only used while it is made.
func TestNothingIsLostOnTheWay(t *testing.T) {
	may := map[string]string{
		"Spread.plain":               "only while a file is read: what it means is filled in by then",
		"Observation.spot":           "given anew where it is fitted",
		"Slip.prior":                 "only while slips are looked for",
		"Drift.rows":                 "only while verdict and warnings are made",
		"HindsightQuestion.add":      "made of the question where it is answered",
		"HindsightQuestion.shift":    "made of the question where it is answered",
		"HindsightQuestion.Progress": "told by those who make it",
		"HindsightAnswer.offered":    "said by then",
		"FleetRow.staffed":           "said by then",
		"Result.post":                "only while it is fitted",
		"Finding.at":                 "only while findings are gathered",
		"Finding.cures":              "only while it is reckoned what they cost together",
	}
	for _, v := range []reflect.Type{
		reflect.TypeFor[shiftsAsked](), reflect.TypeFor[planAsked](), reflect.TypeFor[learnAsked](), reflect.TypeFor[learnt](),
		reflect.TypeFor[pieceAsked](), reflect.TypeFor[hearAsked](), reflect.TypeFor[hearing](), reflect.TypeFor[orderAsked](), reflect.TypeFor[crewAsked](), reflect.TypeFor[floor.Crew](),
		reflect.TypeFor[HindsightQuestion](), reflect.TypeFor[HindsightAnswer](),
		reflect.TypeFor[auditAsked](), reflect.TypeFor[audit.Report](), reflect.TypeFor[coursesAsked](), reflect.TypeFor[plan.Promised](), reflect.TypeFor[sampleAsked](),
		reflect.TypeFor[mixed.Draw](),
	} {
		seen := map[reflect.Type]bool{}
		for _, is := range lost(v, v.Name(), seen) {
			ok := false
			for name := range may {
				typ, field, _ := strings.Cut(name, ".")
				for s := range seen {
					if f, has := fieldOf(s, field); has && s.Name() == typ && strings.Contains(is+" ", "."+f+" ") {
						ok = true
					}
				}
			}
			if !ok {
				t.Errorf("%s does not arrive", is)
			}
		}
	}
	if got := lost(reflect.TypeFor[struct {
		A *float64
		b int
		C func()
	}](), "x", map[reflect.Type]bool{}); len(got) != 3 {
		t.Errorf("of three that are lost it found %v", got)
	}
}

func fieldOf(t reflect.Type, name string) (string, bool) {
	if t.Kind() != reflect.Struct {
		return "", false
	}
	f, ok := t.FieldByName(name)
	return f.Name, ok
}

// helpers make what they are asked from nothing but the bytes that they get.
type helpers struct{ made map[string]int }

func (h *helpers) Make(ctx context.Context, kind string, parts [][]byte, tell func(done, of float64)) (came [][]byte, there bool, err error) {
	for _, p := range parts {
		b, err := Help(ctx, nil, kind, p, tell)
		if err != nil {
			return nil, true, err
		}
		h.made[kind]++
		came = append(came, b)
	}
	return came, true, nil
}

// An audit, the courses of a whole plan and the weighing of a trial are the same wherever they are made, to the last digit.
func TestOneAuditOnePlanAndATrialAreTheSameElsewhere(t *testing.T) {
	wasAudit, wasCourses, wasSample := auditAway, coursesAway, sampleAway
	defer func() { auditAway, coursesAway, sampleAway = wasAudit, wasCourses, wasSample }()
	ctx := context.Background()
	b, err := os.ReadFile("../demo/designs/crew-names.dst")
	if err != nil {
		t.Fatal(err)
	}
	d, err := stitchfile.Decode(b, "crew-names.dst")
	if err != nil {
		t.Fatal(err)
	}
	sheet, _ := machine.Class("single-15-light")
	shelf := Given{Stitches: NewDesign(d, "crew-names.dst", "crew names"), On: sheet}
	p := promiseShop(rand.New(rand.NewPCG(71, 5)), 40, 4, shopKind{"usual", floor.Work{}, 2000, 20_000, 40})
	sc, err := plan.Solve(ctx, p.Problem, plan.Options{Moves: 2_000, NoBound: true})
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	data := &mixed.Data{Rows: 4, Cols: 3}
	for row := range 4 {
		for col := range 3 {
			for range 2 {
				data.Values = append(data.Values, mixed.Value{Row: row, Col: col, Y: 0.02 * rng.NormFloat64()})
			}
		}
	}
	for _, c := range []struct {
		kind string
		ask  func(ctx context.Context) (any, error)
	}{
		{"audit", func(ctx context.Context) (any, error) {
			a, err := Audit(ctx, shelf, AuditQuestion{Job: Job{Speed: 700}, Pieces: 12, HoopX: 90, HoopY: 90, Density: true})
			if err != nil {
				return nil, err
			}
			return []any{a, a.Penetrations, a.Kinds()}, nil
		}},
		{"courses", func(ctx context.Context) (any, error) { return promised(ctx, p, sc, &plan.Drawn{}, .9, allJobs) }},
		{"trial", func(ctx context.Context) (any, error) { return sample(ctx, data, mixed.Options{Seed: 3, Draws: 300}) }},
	} {
		auditAway, coursesAway, sampleAway = wasAudit, wasCourses, wasSample
		h := &helpers{map[string]int{}}
		want, err := c.ask(WithElsewhere(ctx, h))
		if err != nil || len(h.made) != 0 {
			t.Fatalf("what is quick is not asked of others: %s, %v, %v", c.kind, h.made, err)
		}
		auditAway, coursesAway, sampleAway = 100, 10, 10
		got, err := c.ask(WithElsewhere(ctx, h))
		if err != nil || h.made[c.kind] != 1 {
			t.Fatalf("%s: others made %v, %v", c.kind, h.made, err)
		}
		w, err1 := json.Marshal(want)
		g, err2 := json.Marshal(got)
		if err := errors.Join(err1, err2); err != nil || !bytes.Equal(w, g) || len(w) < 1000 {
			t.Errorf("%s: %d bytes here, %d elsewhere, not the same, %v", c.kind, len(w), len(g), err)
		}
	}
	// Of an audit whose time is over what takes long is left out, here as there.
	h := &helpers{map[string]int{}}
	over, stop := context.WithTimeout(WithElsewhere(ctx, h), time.Nanosecond)
	defer stop()
	<-over.Done()
	if a, err := Audit(over, shelf, AuditQuestion{}); err != nil || len(a.NotLookedAt) == 0 {
		t.Errorf("with no time left: %v", err)
	}
}
