package ask

import (
	"strings"

	"needlepace/words"
)

// priceCaveats says that prices are an example's, or which are missing.
// machine names the machine whose prices stand in a table of the file.
func priceCaveats(example bool, missing []string, machine func(table string) string) words.Sentences {
	var out words.Sentences
	if example {
		out.Say("price.placeholder")
	}
	if len(missing) > 0 {
		out.Say("price.missing", words.Args{"keys": missingPrices(missing, machine)})
	}
	return out
}

// machineOf is the machine whose prices stand in a table of a shop's file.
func machineOf(table string) string { return strings.TrimPrefix(table, "money.machines.") }

// missingPrices puts keys of prices in words, those of machines with the
// machines that lack them.
func missingPrices(keys []string, machine func(table string) string) words.List {
	var out words.List
	var owned []string // keys of machines, in their order
	of := map[string]words.List{}
	for _, k := range keys {
		i := strings.LastIndexByte(k, '.')
		table, key := k[:i], strings.ReplaceAll(k[i+1:], "_", "-")
		if table == "money" {
			out.Say("rate." + key)
			continue
		}
		if of[key] == nil {
			owned = append(owned, key)
		}
		of[key] = append(of[key], words.Name(machine(table)))
	}
	for _, key := range owned {
		out.Say("rate."+key, words.Args{"machines": of[key]})
	}
	return out
}
