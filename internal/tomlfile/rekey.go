package tomlfile

import (
	"bytes"
	"regexp"
	"slices"

	"github.com/pelletier/go-toml/v2/unstable"
)

// Rekey changes the keys right under a table, such as the names of
// [money.machines.NAME], however they are written, and leaves all else as it is.
// A file that is no TOML comes back as it is. Errors are those of to.
func Rekey(b []byte, table []string, to func(key string) (string, error)) ([]byte, error) {
	b = bytes.TrimPrefix(b, []byte("\xEF\xBB\xBF"))
	var edits []edit
	var wrong error
	// under looks at a key below path, and gives the whole path.
	under := func(path []string, e *unstable.Node) []string {
		path = slices.Clone(path)
		for it := e.Key(); it.Next(); {
			part := it.Node()
			if slices.Equal(path, table) && wrong == nil {
				is, err := to(string(part.Data))
				if wrong = err; err == nil && is != string(part.Data) {
					from := int(part.Raw.Offset)
					edits = append(edits, edit{from, from + int(part.Raw.Length), keyText(is)})
				}
			}
			path = append(path, string(part.Data))
		}
		return path
	}
	var pair func(path []string, kv *unstable.Node)
	pair = func(path []string, kv *unstable.Node) {
		path = under(path, kv)
		if v := kv.Value(); v.Kind == unstable.InlineTable {
			for it := v.Children(); it.Next(); {
				if it.Node().Kind == unstable.KeyValue {
					pair(path, it.Node())
				}
			}
		}
	}
	var p unstable.Parser
	p.Reset(b)
	var in []string
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			in = under(nil, e)
		case unstable.KeyValue:
			pair(in, e)
		}
	}
	if p.Error() != nil {
		return b, nil
	}
	return edited(b, edits), wrong
}

var bareKey = regexp.MustCompile(`^[A-Za-z0-9_-]+$`)

// keyText is a key as a file has it.
func keyText(key string) string {
	if bareKey.MatchString(key) {
		return key
	}
	return quoted(key)
}
