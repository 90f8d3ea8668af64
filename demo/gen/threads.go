package main

import "needlepace/stitch"

// The shop's cones, under the shop's own names.
var (
	navy   = cone("harbour navy", 26, 42, 88)
	white  = cone("sail white", 244, 242, 234)
	red    = cone("lamp red", 198, 40, 48)
	yellow = cone("buoy yellow", 240, 182, 44)
	slate  = cone("quay slate", 98, 110, 120)
	green  = cone("kelp green", 42, 106, 86)
	blue   = cone("sound blue", 44, 112, 172)
	foam   = cone("foam", 186, 216, 226)
	rope   = cone("rope", 202, 164, 110)
	ink    = cone("tar", 24, 26, 32)
	dawn   = cone("dawn", 240, 146, 96)
)

func cone(name string, r, g, b uint8) stitch.Thread {
	return stitch.Thread{Name: name, R: r, G: g, B: b, Known: true}
}
