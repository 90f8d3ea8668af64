package main

import (
	"encoding/json"

	"needlepace/demo"
)

// doneOrders are invented orders that the shop has finished, over some three
// months: what each was, when it came, and how it went. The same every time.
func doneOrders() ([]byte, error) {
	kinds := []struct {
		customer, design, placement, garment string
		pieces                               []int
		machine                              string
		cap                                  bool
		took, breaks                         float64 // against what is expected; breaks a 100 pieces
	}{
		{"Larkess Ferry Company", "larkess-ferry.dst", "left chest", "polo shirt, white", []int{252, 432, 720}, "Six Sisters", false, .97, 3},
		{"Ostrel Point Light Society", "ostrel-light.dst", "left chest", "fleece, slate", []int{144, 360, 540}, "Six Sisters", false, .98, 4},
		{"Gull & Ladle chowder house", "gull-cap.dst", "front", "cap, kelp", []int{24, 36, 60}, "Gannet", true, 1.18, 14},
		{"Pellsand Pilots", "whale-line.dst", "front", "tote bag", []int{40, 75}, "Gannet", false, .88, 2},
		{"Saltmere Rowing Club", "saltmere-oars.dst", "centre front", "sweatshirt, sound blue", []int{180, 288, 504}, "Six Sisters", false, 1.04, 6},
		{"Gull & Ladle chowder house", "chowder-patch.dst", "patch", "patch, twill", []int{30, 50}, "Skipper", false, .95, 4},
		{"Pellsand Sea Cadets", "wheel-badge.dst", "badge, left sleeve", "badge, navy twill", []int{30, 42}, "Skipper", false, 1.07, 9},
		{"Pellsand Bakers’ Row", "whale-line.dst", "bib", "apron, sail white", []int{60, 90}, "Gannet", false, 1.02, 2},
	}
	// Three orders come every seventh working day, over some three months.
	const orders, first = 26, 62
	all := []demo.Done{}
	for i := range orders {
		// A stride that shares no factor with the kinds walks through all of them.
		k := kinds[i*5%len(kinds)]
		n := k.pieces[i*7%len(k.pieces)]
		wobble := float64(i*37%11-5) / 100
		came := first - i/3*7
		spoilt := 0
		if n >= 100 && i%3 == 0 {
			spoilt = 1
		}
		all = append(all, demo.Done{Customer: k.customer, Design: k.design, Placement: k.placement, Garment: k.garment,
			Quantity: n, Cap: k.cap, Came: came, Due: 3 + i*3%4, Sewn: 2 + i%4, Machine: k.machine, Spoilt: spoilt,
			Breaks: int(k.breaks*float64(n)/100 + .5), Took: k.took + wobble, Delivered: i < orders-2})
	}
	b, err := json.MarshalIndent(all, "", "\t")
	return append(b, '\n'), err
}
