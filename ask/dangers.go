package ask

import (
	"context"

	"needlepace/audit"
	"needlepace/machine"
	"needlepace/words"
)

// dangersOf are what of a design may break a needle or strike on machines, a sentence each
// with those it is so on: whoever is asked to sew it reads that first.
func dangersOf(ctx context.Context, of *Design, on []*machine.Sheet, speed func(k int) float64) (out []words.Plain, err error) {
	var what []audit.Finding
	names := map[string]words.List{}
	for k, s := range on {
		job, err := (Job{Speed: speed(k)}).Clock()
		if err != nil {
			return nil, err
		}
		all, err := audit.Dangers(ctx, of.Design, s, job, audit.Options{FieldX: float64(s.Field.Width), FieldY: float64(s.Field.Height)})
		if err != nil {
			return nil, wrong(err)
		}
		for _, f := range all {
			key := f.What.Raw()
			if names[key] == nil {
				what = append(what, f)
			}
			names[key] = append(names[key], words.Name(s.Name))
		}
	}
	for _, f := range what {
		if is := names[f.What.Raw()]; len(is) < len(on) {
			out = append(out, words.Plain(words.Say("trial.danger-on", words.Args{"design": words.Name(of.Title()), "machines": is, "what": f.What, "ask": f.Ask})))
			continue
		}
		out = append(out, words.Plain(words.Say("trial.danger", words.Args{"design": words.Name(of.Title()), "what": f.What, "ask": f.Ask})))
	}
	return out, nil
}
