package stitchfile

import (
	"needlepace/stitch"
)

var pecFormat = format{name: "pec", exts: []string{"pec"}, sniff: func([]byte) certainty { return no }, config: func([]byte) Config { return Config{} }, decode: func(b []byte) (*stitch.Design, error) { return nil, formatErr("pec", 0, "not yet", "") }}
