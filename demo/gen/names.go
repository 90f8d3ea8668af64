package main

import (
	dz "needlepace/demo/digitize"
	"needlepace/stitch"
)

// crew are people whose names are sewn on a garment each (demo/orders/crew.csv).
var crew = []string{"JO", "ADA", "BRAM", "CELIA", "GRETA", "WILHELMINA"}

// oneName is a name in capitals, one colour.
func oneName(name string) *stitch.Design {
	p := dz.New(name)
	l := dz.Lettering{Height: 12}
	l.Between = func(way float64) {
		if way > farAway {
			p.Lock()
			p.Trim()
		}
	}
	p.Lock()
	p.Text(name, l)
	p.Lock()
	return p.Centred()
}

// crewNames is a list in small capitals with a trim after every letter.
func crewNames() *job {
	j := newJob("crew-names.dst", "CREW NAMES", "Crew list", "Saltmere Rowing Club", "sleeve")
	j.thread(navy)
	rows := []string{"ADA", "BRAM", "CELIA", "DOVE", "EDDA", "FINN", "GRETA", "COX - JOSS"}
	for i, name := range rows {
		l := dz.Lettering{Height: 8, Stroke: 1.35, Gap: 1.5}
		l.Between = j.lettersTrimmed
		l.Bend = dz.On(dz.XY(-l.Width(name)/2, -13*float64(i)), 0)
		if i > 0 {
			j.hop()
		}
		j.Text(name, l)
	}
	j.thread(red)
	for i, y := range []float64{12, -13*7 - 4} {
		if i > 0 {
			j.hop()
		}
		a, b := dz.Rails(dz.Path(-22, y, 22, y), 1.5)
		j.Column(a, b, 0.42)
	}
	j.Lock()
	return j
}
