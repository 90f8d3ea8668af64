package stitchfile

import (
	"needlepace/stitch"
)

var pesFormat = format{name: "pes", exts: []string{"pes"}, sniff: func([]byte) certainty { return no }, config: func([]byte) Config { return Config{} }, decode: func(b []byte) (*stitch.Design, error) { return nil, formatErr("pes", 0, "not yet", "") }}
