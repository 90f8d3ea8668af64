package stitchfile

import (
	"needlepace/stitch"
)

var jefFormat = format{name: "jef", exts: []string{"jef"}, sniff: func([]byte) certainty { return no }, config: func([]byte) Config { return Config{} }, decode: func(b []byte) (*stitch.Design, error) { return nil, formatErr("jef", 0, "not yet", "") }}
