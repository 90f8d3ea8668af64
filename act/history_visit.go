package act

import (
	"fmt"
	"path"
	"slices"
	"strconv"
	"strings"

	"needlepace/shop"
	"needlepace/trial"
	"needlepace/words"
)

// visitDid says what was done to a visit, as a store noted it; older changes have no more than a file.
func visitDid(ch *shop.Changed) words.Message {
	name := words.Name(ch.Name)
	what, details, _ := strings.Cut(ch.What, "\n")
	if what == shop.VisitDescribed {
		return words.Say("change.visit-described", words.Args{"name": name})
	}
	for begins, key := range map[string]string{shop.VisitPageOpened: "page-opened", shop.VisitPageShut: "page-shut"} {
		if call, ok := strings.CutPrefix(what, begins); ok {
			return words.Say("change.visit-did", words.Args{"name": name, "did": words.Say("change-in."+key, words.Args{"of": words.Name(call)})})
		}
	}
	for begins, verb := range map[string]string{shop.VisitFilePut: "put", shop.VisitReplaced: "replaced", shop.VisitTakenOut: "taken-out"} {
		if file, ok := strings.CutPrefix(what, begins); ok {
			did := detailed(fileDid(file, verb), details)
			if ch.Things > 1 {
				did = words.Say("change-in.and-more", words.Args{"did": did, "files": words.Count(ch.Things-1, "file")})
			}
			return words.Say("change.visit-did", words.Args{"name": name, "did": did})
		}
	}
	return words.Say("change.visit-changed", words.Args{"name": name})
}

// fileDid says what was done to a file of a visit: what it is by where it stands.
func fileDid(file, verb string) words.Message {
	base, kept := path.Base(file), "file-"+verb
	parts := strings.Split(file, "/")
	if len(parts) < 3 || parts[0] != "trials" && parts[0] != "calls" {
		return words.Say("change-in."+kept, words.Args{"file": words.Name(base), "folder": words.Name(path.Dir(file))})
	}
	of, kind := words.Name(parts[1]), strings.TrimSuffix(parts[0], "s")
	came := parts[2] == "returns" || parts[2] == "entries"
	did := ""
	switch {
	case base == trialFile || base == callFile:
		did = kind + "-" + verb
	case came && base == "scales.csv" && verb != "taken-out":
		did = "scale"
	case came && strings.HasPrefix(base, gradesBy) && verb != "taken-out":
		did = "grades"
	case !came:
		return words.Say("change-in."+kept, words.Args{"file": words.Name(base), "folder": words.Name(path.Dir(file))})
	}
	if did != "" {
		return words.Say("change-in."+did, words.Args{"of": of})
	}
	switch {
	case trial.IsPhotograph(base):
		did = "photo-"
	case trial.IsRecording(base):
		did = "recording-"
	default:
		did = "return-"
	}
	did += kind + "-" + verb
	return words.Say("change-in."+did, words.Args{"file": words.Name(base), "of": of})
}

// detailed says what was done with its details, of which a store noted a line each.
func detailed(did words.Message, details string) words.Message {
	var all words.List
	for line := range strings.Lines(details) {
		key, about, named := strings.Cut(strings.TrimSuffix(line, "\n"), " ")
		if named && about != "" {
			all = append(all, words.Say("change-in.detail."+key, words.Args{"name": words.Name(about)}))
		} else {
			all = append(all, words.Say("change-in.detail."+key))
		}
	}
	if len(all) == 0 {
		return did
	}
	return words.Say("change-in.detailed", words.Args{"did": did, "details": all})
}

// mostDetails is how many details are noted of a change.
const mostDetails = 12

// planSince are the details of a trial's file that took the place of another, a line each.
func planSince(was, is *trial.File) string {
	before, after := planParts(was), planParts(is)
	named := func(x planPart) func(planPart) bool {
		return func(y planPart) bool { return x.what == y.what && x.name == y.name }
	}
	var out []string
	for _, x := range after {
		switch i := slices.IndexFunc(before, named(x)); {
		case i < 0:
			out = append(out, x.what+"-added "+x.name)
		case before[i].as != x.as:
			out = append(out, x.what+"-changed "+x.name)
		}
	}
	for _, x := range before {
		if !slices.ContainsFunc(after, named(x)) {
			out = append(out, x.what+"-gone "+x.name)
		}
	}
	if len(out) > mostDetails {
		out = append(out[:mostDetails-1], "more")
	}
	return strings.Join(out, "\n")
}

// planPart is a part of a trial's file that is told by itself, and what stands in it.
type planPart struct{ what, name, as string }

func planParts(f *trial.File) (all []planPart) {
	for _, m := range f.Machines {
		all = append(all, planPart{"machine", m.Name, fmt.Sprint(m)})
	}
	for _, d := range f.Designs {
		all = append(all, planPart{"design", d.Name, fmt.Sprint(d)})
	}
	for _, p := range f.Places {
		all = append(all, planPart{"place", p.Name, fmt.Sprint(p)})
	}
	if f.Money != nil {
		all = append(all, planPart{"money", "", fmt.Sprint(*f.Money)})
	}
	rest := *f
	rest.Machines, rest.Designs, rest.Places, rest.Money, rest.Repeats = nil, nil, nil, nil, 0
	return append(all, planPart{"repeats", "", strconv.Itoa(f.Repeats)}, planPart{"rest", "", fmt.Sprint(rest)})
}
