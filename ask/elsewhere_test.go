package ask

import (
	"encoding/gob"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"needlepace/floor"
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
		"Result.post":                "only while it is fitted",
	}
	for _, v := range []reflect.Type{
		reflect.TypeFor[shiftsAsked](), reflect.TypeFor[planAsked](), reflect.TypeFor[learnAsked](), reflect.TypeFor[learnt](),
		reflect.TypeFor[pieceAsked](), reflect.TypeFor[hearAsked](), reflect.TypeFor[hearing](), reflect.TypeFor[orderAsked](), reflect.TypeFor[crewAsked](), reflect.TypeFor[floor.Crew](),
		reflect.TypeFor[HindsightQuestion](), reflect.TypeFor[HindsightAnswer](),
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
