package main

import "needlepace/machine"

type sheetFile struct {
	file  string
	sheet *machine.Sheet
}

// machines are the shop's machines: built-in classes under the shop's names,
// with the few constants that the shop has read off its own machines.
func machines() []sheetFile {
	return []sheetFile{
		{"skipper.toml", own("compact-8", "Skipper", map[string]float64{"rest.trim": 3.4, "rest.colour_stop": 4.6})},
		{"gannet.toml", own("single-15-light", "Gannet", map[string]float64{"rest.trim": 4.3,
			"rest.colour_stop": 7.9})},
		{"six-sisters.toml", own("multi-6", "Six Sisters", nil)},
	}
}

// own is a class's sheet under the shop's name. Constants that the shop has
// timed with a stopwatch, some ten of each, are measured and known to 5 %.
func own(class, name string, timed map[string]float64) *machine.Sheet {
	s, ok := machine.Class(class)
	if !ok {
		panic("gen: no machine class " + class)
	}
	s.Name = name
	for path, v := range timed {
		c, ok := machine.ConstantAt(path)
		if !ok {
			panic("gen: no constant " + path)
		}
		c.Set(s, v)
		s.SD[path] = 0.05
		s.BasisOf[path] = machine.Measured
	}
	return s
}
