package words

import (
	"encoding/json"
	"reflect"
	"time"
)

// Kept is a sentence that stays where it is kept: its JSON has what kind each of its
// arguments is, so that it is said in the language of whoever reads it, later too. As for a
// [Message], "text" is the sentence in English.
type Kept struct{ Message }

// IsZero reports whether nothing is said.
func (k Kept) IsZero() bool { return k.Message.IsZero() }

// kinds are the values that are kept as they are, by what their JSON calls them: these
// names never change.
var kinds = map[string]reflect.Type{
	"none": reflect.TypeFor[None](), "name": reflect.TypeFor[Name](), "number": reflect.TypeFor[Number](), "figure": reflect.TypeFor[Figure](),
	"share": reflect.TypeFor[Share](), "give-or-take": reflect.TypeFor[GiveOrTake](), "level": reflect.TypeFor[Level](),
	"chance": reflect.TypeFor[Chance](), "odds": reflect.TypeFor[Odds](), "day": reflect.TypeFor[Day](), "near-day": reflect.TypeFor[NearDay](),
	"full-day": reflect.TypeFor[FullDay](), "moment": reflect.TypeFor[Moment](), "time-of-day": reflect.TypeFor[TimeOfDay](),
	"seconds": reflect.TypeFor[Seconds](), "fine-seconds": reflect.TypeFor[FineSeconds](), "clock": reflect.TypeFor[Clock](),
	"hours": reflect.TypeFor[Hours](), "span": reflect.TypeFor[Span](), "mm": reflect.TypeFor[MM](), "stitch-mm": reflect.TypeFor[StitchMM](),
	"fine-mm": reflect.TypeFor[FineMM](), "size": reflect.TypeFor[Size](), "metres": reflect.TypeFor[Metres](), "mm2": reflect.TypeFor[AreaMM2](),
	"per-minute": reflect.TypeFor[PerMinute](), "length-unit": reflect.TypeFor[LengthUnit](), "money": reflect.TypeFor[Money](),
}

var kindOf = func() map[reflect.Type]string {
	out := map[reflect.Type]string{}
	for name, t := range kinds {
		out[t] = name
	}
	return out
}()

// kept is a value with its kind.
type kept struct {
	Is string          `json:"is"`
	V  json.RawMessage `json:"v,omitempty"`
}

// keep is a value as JSON. One of a kind that no other language says otherwise, as those of
// other packages, is its English text.
func keep(v Value) kept {
	of := func(is string, v any) kept {
		b, err := json.Marshal(v)
		if err != nil { // no number
			return kept{Is: "none"}
		}
		return kept{is, b}
	}
	all := func(n int, at func(int) Value) []kept {
		out := make([]kept, n)
		for i := range out {
			out[i] = keep(at(i))
		}
		return out
	}
	switch v := v.(type) {
	case nil:
		return kept{Is: "none"}
	case Kept:
		return of("sentence", v)
	case Message:
		return of("sentence", Kept{v})
	case Plain:
		return of("sentence", Kept{Message(v)})
	case Sentences:
		return of("sentences", all(len(v), func(i int) Value { return v[i] }))
	case List:
		return of("list", all(len(v), func(i int) Value { return v[i] }))
	case NearMoment:
		return of("near-moment", []time.Time{v.Time, v.Now})
	case Signed:
		return of("signed", keep(v.Numeric))
	}
	if is := kindOf[reflect.TypeOf(v)]; is != "" {
		return of(is, v)
	}
	return of("name", v.Text(nil))
}

// value is what was kept. What a later version kept in a kind that is not known here is nothing.
func (k kept) value() Value {
	several := func() (out []Value) {
		var all []kept
		json.Unmarshal(k.V, &all) //nolint:errcheck // then there are none
		for _, e := range all {
			out = append(out, e.value())
		}
		return out
	}
	switch k.Is {
	case "sentence":
		var m Kept
		if json.Unmarshal(k.V, &m) == nil {
			return m.Message
		}
	case "sentences":
		var out Sentences
		for _, v := range several() {
			if m, ok := v.(Message); ok {
				out = append(out, m)
			}
		}
		return out
	case "list":
		return List(several())
	case "near-moment":
		var at [2]time.Time
		if json.Unmarshal(k.V, &at) == nil {
			return NearMoment{Moment{at[0]}, at[1]}
		}
	case "signed":
		var of kept
		if json.Unmarshal(k.V, &of) == nil {
			if n, ok := of.value().(Numeric); ok {
				return Signed{n}
			}
		}
	default:
		if t := kinds[k.Is]; t != nil {
			p := reflect.New(t)
			if len(k.V) == 0 || json.Unmarshal(k.V, p.Interface()) == nil {
				return p.Elem().Interface().(Value)
			}
		}
	}
	return None{}
}

// keptMessage is the JSON of a Kept.
type keptMessage struct {
	Key  string          `json:"key"`
	Text string          `json:"text"`
	Args map[string]kept `json:"args,omitempty"`
}

// MarshalJSON is {"key": …, "text": in English, "args": {name: {"is": its kind, "v": it}}}.
func (k Kept) MarshalJSON() ([]byte, error) {
	out := keptMessage{Key: k.Key, Text: k.Raw()}
	for name, v := range k.Args {
		if out.Args == nil {
			out.Args = map[string]kept{}
		}
		out.Args[name] = keep(v)
	}
	return json.Marshal(out)
}

// GobEncode keeps a sentence as [Kept] does, for programs that help each other.
func (m Message) GobEncode() ([]byte, error) { return json.Marshal(Kept{m}) }

// GobDecode reads what GobEncode wrote.
func (m *Message) GobDecode(b []byte) error {
	var k Kept
	err := json.Unmarshal(b, &k)
	*m = k.Message
	return err
}

// UnmarshalJSON reads what MarshalJSON wrote. A sentence that the catalogue has no more is
// said as it was.
func (k *Kept) UnmarshalJSON(b []byte) error {
	var in keptMessage
	if err := json.Unmarshal(b, &in); err != nil {
		return err
	}
	k.Message = Message{Key: in.Key}
	if English().phrases[in.Key] == nil {
		k.read = in.Text
		return nil
	}
	for name, v := range in.Args {
		if k.Args == nil {
			k.Args = Args{}
		}
		k.Args[name] = v.value()
	}
	return nil
}
