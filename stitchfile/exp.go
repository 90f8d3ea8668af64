package stitchfile

import (
	"needlepace/stitch"
)

var expFormat = format{name: "exp", exts: []string{"exp"}, sniff: func([]byte) certainty { return no }, config: func([]byte) Config { return Config{} }, decode: func(b []byte) (*stitch.Design, error) { return nil, formatErr("exp", 0, "not yet", "") }}
