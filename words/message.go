package words

import (
	"encoding/json"
	"errors"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Args are the arguments of a sentence, by the names that it has for them.
type Args map[string]Value

// Message is a sentence (or a heading, a phrase): its key in the catalogue and
// its arguments. It is a Value, so a sentence may be an argument of another.
type Message struct {
	Key  string
	Args Args
	read string // the English sentence of one that was read from JSON
}

// Say is the sentence under a key, with its arguments where it has some: args
// is at most one.
func Say(key string, args ...Args) Message {
	m := Message{Key: key}
	if len(args) > 0 {
		m.Args = args[0]
	}
	return m
}

// IsZero reports whether nothing is said.
func (m Message) IsZero() bool { return m.Key == "" }

// Text is the sentence in the writer's language.
func (m Message) Text(w *Writer) string {
	if m.IsZero() || m.read != "" {
		return m.read
	}
	l := w.language()
	p := l.phrase(m.Key)
	if p == nil {
		return "[" + m.Key + "]"
	}
	var b strings.Builder
	for _, part := range p.form(l, func(name string) string {
		n, ok := m.Args[name].(Number)
		if !ok {
			return ""
		}
		plain, _ := digits(n.V, n.Places)
		return plain
	}) {
		if v := m.Args[part.arg]; part.arg == "" {
			b.WriteString(part.text)
		} else if v == nil {
			b.WriteString("{" + part.arg + "}")
		} else {
			b.WriteString(v.Text(w))
		}
	}
	return b.String()
}

// Raw is the sentence in English: files have one language.
func (m Message) Raw() string { return m.Text(nil) }

// MarshalJSON is {"key": …, "text": in English, "args": {name: raw figure}}.
func (m Message) MarshalJSON() ([]byte, error) {
	out := struct {
		Key  string         `json:"key"`
		Text string         `json:"text"`
		Args map[string]any `json:"args,omitempty"`
	}{Key: m.Key, Text: m.Raw()}
	for name, v := range m.Args {
		if out.Args == nil {
			out.Args = map[string]any{}
		}
		if n, ok := v.(Numeric); ok && n.Raw() != "" {
			out.Args[name] = json.Number(n.Raw())
		} else {
			out.Args[name] = v.Raw()
		}
	}
	return json.Marshal(out)
}

// UnmarshalJSON reads what MarshalJSON wrote: the key, and the sentence as it
// stands there. Its arguments have lost their kinds and are not read.
func (m *Message) UnmarshalJSON(b []byte) error {
	var in struct{ Key, Text string }
	if err := json.Unmarshal(b, &in); err != nil {
		return err
	}
	*m = Message{Key: in.Key, read: in.Text}
	return nil
}

// Why is the sentence of the catalogue that an error says, the outermost of those that it
// wraps; of one that says none its text.
func Why(err error) Value {
	var said interface{ Says() Message }
	if errors.As(err, &said) && !said.Says().IsZero() {
		return said.Says()
	}
	return Name(err.Error())
}

// Sentences are messages one after the other.
type Sentences []Message

// Say adds the sentence under a key, as [Say] makes it.
func (s *Sentences) Say(key string, args ...Args) { *s = append(*s, Say(key, args...)) }

// Lines are the sentences in English, each for itself.
func (s Sentences) Lines() []string {
	t := make([]string, len(s))
	for i, m := range s {
		t[i] = m.Raw()
	}
	return t
}

// Text joins the sentences with spaces.
func (s Sentences) Text(w *Writer) string {
	t := make([]string, len(s))
	for i, m := range s {
		t[i] = m.Text(w)
	}
	return strings.Join(t, " ")
}

// Raw joins the sentences with spaces, in English.
func (s Sentences) Raw() string { return s.Text(nil) }

// Plain is a sentence that files have as its English text alone, without key
// and arguments.
type Plain Message

// Text is the sentence in the writer's language.
func (p Plain) Text(w *Writer) string { return Message(p).Text(w) }

// Raw is the sentence in English.
func (p Plain) Raw() string { return Message(p).Raw() }

// MarshalText is the sentence in English.
func (p Plain) MarshalText() ([]byte, error) { return []byte(p.Raw()), nil }

// UnmarshalText reads what MarshalText wrote: the sentence as it stands there.
func (p *Plain) UnmarshalText(text []byte) error {
	*p = Plain{read: string(text)}
	return nil
}

// Sentence is a text that begins with a capital and ends with a full stop.
func Sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return s
	}
	if !strings.ContainsAny(s[len(s)-1:], ".!?") {
		s += "."
	}
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}
