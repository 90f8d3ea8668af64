package stitchfile

import (
	"needlepace/stitch"
)

var vp3Format = format{name: "vp3", exts: []string{"vp3"}, sniff: func([]byte) certainty { return no }, config: func([]byte) Config { return Config{} }, decode: func(b []byte) (*stitch.Design, error) { return nil, formatErr("vp3", 0, "not yet", "") }}
