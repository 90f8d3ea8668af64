package main

// floorQuestions are a shift, a comparison and a cost of the demo shop.
func floorQuestions(d *demoServed) []asked {
	shift, mix := d.setup("floor"), d.setup("mix")
	return []asked{
		{name: "floor", command: []string{"floor", "../../demo/floor/SHOP.toml"},
			post: "/floor", body: `{"setup":"` + shift + `","what_if":true}`, page: "/floor/" + shift + "?more=1",
			tables:  map[string][]string{"machines": {"floor", "../../demo/floor/SHOP.toml", "--no-what-if", "--csv"}},
			differs: []string{"file"}},
		{name: "compare", command: []string{"compare", "../../demo/floor/MIX.toml"},
			post: "/compare", body: `{"setup":"` + mix + `"}`, page: "/compare/" + mix,
			tables:  map[string][]string{"designs": {"compare", "../../demo/floor/MIX.toml", "--csv"}},
			differs: []string{"file"}},
		{name: "cost", command: []string{"cost", "--shop", "../../demo/floor/SHOP.toml", "-m", "Skipper", "../../demo/designs/ostrel-light.dst"}},
	}
}
