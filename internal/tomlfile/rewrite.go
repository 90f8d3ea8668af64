package tomlfile

import (
	"bytes"
	"encoding/json"
	"maps"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// Entry is one table of a list in a settings file: a [[machine]], or one of
// machine = [{…}].
type Entry struct {
	List   string // "machine"
	Number int    // in its list, from 1

	pairs  []pair
	inline bool
}

// pair is a key with its value as it stands in the file.
type pair struct {
	key      string
	start    int // byte where the key begins
	text     bool
	value    string
	from, to int // bytes of the value
}

// Has reports whether the table has the key, whatever its value.
func (e *Entry) Has(key string) bool { return e.find(key) != nil }

// Text is a key's value where that is text, else empty.
func (e *Entry) Text(key string) string {
	if p := e.find(key); p != nil && p.text {
		return p.value
	}
	return ""
}

func (e *Entry) find(key string) *pair {
	for i := range e.pairs {
		if e.pairs[i].key == key {
			return &e.pairs[i]
		}
	}
	return nil
}

type edit struct {
	from, to int
	text     string
}

// Rewrite changes text in the tables of a settings file's lists and leaves all
// else, comments and order too, as it is written. change gives the values to
// put by key: text that is there is replaced, a key that is not there is put
// before the table's first one, and a value that is not text is left. A file
// that is no TOML comes back as it is. Errors are those of change.
func Rewrite(b []byte, change func(*Entry) (put map[string]string, err error)) ([]byte, error) {
	b = bytes.TrimPrefix(b, []byte("\xEF\xBB\xBF"))
	all, ok := entries(b)
	if !ok {
		return b, nil
	}
	var edits []edit
	for _, e := range all {
		put, err := change(e)
		if err != nil {
			return nil, err
		}
		for _, key := range slices.Sorted(maps.Keys(put)) {
			p, value := e.find(key), quoted(put[key])
			switch {
			case p != nil && !p.text:
			case p != nil && p.value == put[key]:
			case p != nil:
				edits = append(edits, edit{p.from, p.to, value})
			case e.inline:
				edits = append(edits, edit{e.pairs[0].start, e.pairs[0].start, key + " = " + value + ", "})
			default:
				edits = append(edits, edit{e.pairs[0].start, e.pairs[0].start, key + " = " + value + "\n"})
			}
		}
	}
	return edited(b, edits), nil
}

// edited is a file with some of its bytes changed.
func edited(b []byte, edits []edit) []byte {
	slices.SortStableFunc(edits, func(x, y edit) int { return x.from - y.from })
	var out bytes.Buffer
	at := 0
	for _, x := range edits {
		out.Write(b[at:x.from])
		out.WriteString(x.text)
		at = x.to
	}
	out.Write(b[at:])
	return out.Bytes()
}

// entries are the tables of a file's lists that have a key, in their order.
func entries(b []byte) (all []*Entry, ok bool) {
	count := map[string]int{}
	begin := func(list string, inline bool) *Entry {
		count[list]++
		e := &Entry{List: list, Number: count[list], inline: inline}
		all = append(all, e)
		return e
	}
	var p unstable.Parser
	p.Reset(b)
	var in *Entry // the table that keys stand in; nil: one of no list
	top := true
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.ArrayTable:
			name, _ := dotted(e)
			in, top = begin(name, false), false
		case unstable.Table:
			in, top = nil, false
		case unstable.KeyValue:
			if in != nil {
				in.pairs = append(in.pairs, pairOf(e))
				continue
			}
			v := e.Value()
			if !top || v.Kind != unstable.Array {
				continue
			}
			name, _ := dotted(e)
			for it := v.Children(); it.Next(); {
				if it.Node().Kind != unstable.InlineTable {
					continue
				}
				x := begin(name, true)
				for kv := it.Node().Children(); kv.Next(); {
					if kv.Node().Kind == unstable.KeyValue {
						x.pairs = append(x.pairs, pairOf(kv.Node()))
					}
				}
			}
		}
	}
	all = slices.DeleteFunc(all, func(e *Entry) bool { return len(e.pairs) == 0 })
	return all, p.Error() == nil
}

func pairOf(kv *unstable.Node) pair {
	var p pair
	p.key, p.start = dotted(kv)
	if v := kv.Value(); v.Kind == unstable.String {
		p.text, p.value = true, string(v.Data)
		p.from = int(v.Raw.Offset)
		p.to = p.from + int(v.Raw.Length)
	}
	return p
}

// dotted is an expression's key and the byte where it begins.
func dotted(e *unstable.Node) (key string, start int) {
	var parts []string
	for it := e.Key(); it.Next(); {
		if len(parts) == 0 {
			start = int(it.Node().Raw.Offset)
		}
		parts = append(parts, string(it.Node().Data))
	}
	return strings.Join(parts, "."), start
}

// quoted is a TOML basic string; JSON's escapes are TOML's too.
func quoted(s string) string {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(s); err != nil { // a string always can
		return `""`
	}
	return strings.TrimRight(b.String(), "\n")
}
