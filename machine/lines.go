package machine

import (
	"sort"

	"github.com/pelletier/go-toml/v2/unstable"
)

// findLines notes the line on which each key and table first stands. It wants
// a document that toml.Unmarshal has accepted.
func findLines(b []byte, line map[string]int) {
	var newlines []int
	for i, c := range b {
		if c == '\n' {
			newlines = append(newlines, i)
		}
	}
	var p unstable.Parser
	p.Reset(b)
	// note joins the keys to prefix, and returns the path and the last line.
	note := func(prefix string, keys unstable.Iterator) string {
		for keys.Next() {
			k := keys.Node()
			prefix = join(prefix, string(k.Data))
			if _, ok := line[prefix]; !ok {
				line[prefix] = 1 + sort.SearchInts(newlines, int(k.Raw.Offset))
			}
		}
		return prefix
	}
	const deepest = 4 // tables in tables; no key of a sheet stands deeper
	var keyValue func(prefix string, n *unstable.Node, depth int)
	keyValue = func(prefix string, n *unstable.Node, depth int) {
		path := note(prefix, n.Key())
		if v := n.Value(); v.Kind == unstable.InlineTable && depth < deepest {
			for it := v.Children(); it.Next(); {
				if it.Node().Kind == unstable.KeyValue {
					keyValue(path, it.Node(), depth+1)
				}
			}
		}
	}
	prefix := ""
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			prefix = note("", e.Key())
		case unstable.KeyValue:
			keyValue(prefix, e, 0)
		}
	}
}
