package act

import (
	"context"
	"fmt"
	"path"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"needlepace/ask"
	"needlepace/floor"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/shop/visits"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/trial"
	"needlepace/words"
)

// BeginVisit makes a visit, and gives the shop's pages visits.
func (s *Shop) BeginVisit(ctx context.Context, name, client, note string) (*shop.Visit, error) {
	v, err := s.Visits.Begin(ctx, name, client, note)
	if err != nil {
		return nil, err
	}
	return v, s.advises(ctx)
}

// ImportVisit takes in a visit that is one file, and gives the shop's pages visits.
func (s *Shop) ImportVisit(ctx context.Context, b []byte) (*shop.Visit, error) {
	v, err := s.Visits.Import(ctx, b)
	if err != nil {
		return nil, err
	}
	return v, s.advises(ctx)
}

func (s *Shop) advises(ctx context.Context) error {
	set, err := s.Settings.Get(ctx)
	if err != nil || set.Visits {
		return err
	}
	set.Visits = true
	return s.Settings.Save(ctx, set)
}

const trialFile = "TRIAL.toml"

// TrialFolder is where a trial of a visit is kept, with a / behind it.
func TrialFolder(name string) string { return "trials/" + name + "/" }

// Trials are the names of a visit's trials.
func (s *Shop) Trials(ctx context.Context, visit string) ([]string, error) {
	return s.namedIn(ctx, visit, "trials", trialFile)
}

// Trial answers what a trial of a visit says, from what came back by now.
func (s *Shop) Trial(ctx context.Context, visit, name string) (*ask.TrialAnswer, error) {
	b, key, came, err := s.whatCame(ctx, visit, TrialFolder(name), trialFile, "returns/", words.Say("refused.no-trial", words.Args{"name": words.Name(name)}))
	if err != nil {
		return nil, err
	}
	return s.trials.get(visit+"/"+name, key, func() (*ask.TrialAnswer, error) {
		returned, err := came()
		if err != nil {
			return nil, err
		}
		return s.askTrial(ctx, visit, name, b, returned, nil)
	})
}

// askTrial puts the question; fresh are files that come before those of the visit.
func (s *Shop) askTrial(ctx context.Context, visit, name string, b []byte, returned []trial.Given, fresh []visits.File) (*ask.TrialAnswer, error) {
	ctx, leave, err := s.hold(s.Elsewhere(ctx))
	if err != nil {
		return nil, err
	}
	defer leave()
	a, err := ask.Trial(ctx, ask.TrialQuestion{Name: trialFile, TOML: b, Returned: returned, Heard: s.heard.of, Last: trial.LastDay(s.Now())},
		s.filesOf(ctx, visit, TrialFolder(name), fresh))
	if err != nil && ctx.Err() != nil {
		return nil, shop.StoppedBy(ctx)
	}
	return a, err
}

// TrialEvidence is what the runs of a trial that count tell of its machines, as class pools
// take it: nothing of the client, the places, the people or the designs.
func (s *Shop) TrialEvidence(ctx context.Context, visit, name string) ([]ask.TrialEvidence, error) {
	a, err := s.Trial(ctx, visit, name)
	if err != nil {
		return nil, err
	}
	number, err := s.Classes.Number(ctx)
	if err != nil {
		return nil, err
	}
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	all, err := a.Evidence(ctx, number)
	if err != nil && ctx.Err() != nil {
		return nil, shop.StoppedBy(ctx)
	}
	return all, err
}

// PoolTrial keeps a trial's evidence beside that of other shops, for the shop's own
// classes; what cannot be kept, or is here already, is told.
func (s *Shop) PoolTrial(ctx context.Context, visit, name string) (said words.Sentences, err error) {
	all, err := s.TrialEvidence(ctx, visit, name)
	if err != nil {
		return nil, err
	}
	for _, e := range all {
		if e.Sheet == nil {
			said.Say("returns.as-it-is", words.Args{"what": words.Name(e.Machine + ": " + e.Why)})
			continue
		}
		if _, err := s.Classes.AddEvidence(ctx, e.Machine, string(e.Sheet.TOML())); shop.CodeOf(err) == shop.Invalid {
			said = append(said, trial.Told(err))
		} else if err != nil {
			return said, err
		}
	}
	return said, nil
}

// filesOf finds what the file of a trial or an open call names, by paths from its folder
// in the visit.
func (s *Shop) filesOf(ctx context.Context, visit, folder string, fresh []visits.File) floor.Sources {
	read := func(ref string) ([]byte, string, error) {
		at := path.Join(folder, ref)
		for _, f := range fresh {
			if f.Name == at {
				return f.As, at, nil
			}
		}
		b, err := s.Visits.Read(ctx, visit, at)
		return b, at, err
	}
	designs := map[string]*stitch.Design{}
	return floor.Sources{
		Design: func(ref string) (*stitch.Design, error) {
			if d := designs[ref]; d != nil {
				return d, nil
			}
			b, at, err := read(ref)
			if err != nil {
				return nil, err
			}
			d, err := stitchfile.Decode(b, path.Base(at))
			if err != nil {
				return nil, shop.Invalidf("%s: %w", at, err)
			}
			designs[ref] = d
			return d, nil
		},
		Sheet: func(ref string) (*machine.Sheet, error) {
			if c, ok := machine.Class(ref); ok {
				return c, nil
			}
			b, at, err := read(ref)
			if err != nil {
				return nil, err
			}
			m, err := machine.Parse(path.Base(at), b)
			if err != nil {
				return nil, shop.Invalidf("%w", err)
			}
			return m, nil
		},
	}
}

// OfShop before an ID in a trial's file names a design or a machine of the shop: KeepTrial
// puts a copy of it into the visit.
const OfShop = "shop:"

// Bring finds a file that a trial's file names outside the visit: its bytes and what it is
// called; no bytes: it is none of those.
type Bring func(ref string) (called string, b []byte, err error)

// KeepTrial checks and keeps a trial's file (TRIAL.toml) in a visit. What came back to it
// stays. Designs and machines of the shop that it names, and files that bring finds (nil:
// none), are copied into the visit: what becomes of them later changes no trial.
func (s *Shop) KeepTrial(ctx context.Context, visit, name, by string, b []byte, bring Bring) (*ask.TrialAnswer, error) {
	if !trial.Short(name) {
		return nil, shop.At("short", shop.Saying(shop.Invalid, words.Say("refused.trial-short", words.Args{"name": words.Name(name)})))
	}
	files, err := s.Visits.Files(ctx, visit)
	if err != nil {
		return nil, err
	}
	b, fresh, err := s.copied(ctx, files, b, bring)
	if err != nil {
		return nil, err
	}
	a, err := s.askTrial(ctx, visit, name, b, nil, fresh)
	if err != nil {
		return nil, err
	}
	if had, err := s.Visits.Read(ctx, visit, TrialFolder(name)+trialFile); err == nil {
		if was, err := trial.Parse(trialFile, had); err == nil {
			ctx = shop.Detailed(ctx, planSince(was, a.File))
		}
	}
	return a, s.Visits.Put(ctx, visit, by, append(fresh, visits.File{Name: TrialFolder(name) + trialFile, As: b})...)
}

// copied is a trial's file that names copies of what stands outside the visit, and the
// copies that the visit does not have.
func (s *Shop) copied(ctx context.Context, have []shop.VisitFile, b []byte, bring Bring) (text []byte, fresh []visits.File, err error) {
	var f map[string]any
	if toml.Unmarshal(b, &f) != nil { // what is wrong is told where it is read
		return b, nil, nil
	}
	changed := false
	for _, of := range []struct {
		list, key, folder string
		ofShop            Bring
	}{{"design", "file", "designs", func(id string) (string, []byte, error) { return s.Designs.File(ctx, id) }},
		{"machine", "sheet", "machines", func(id string) (string, []byte, error) {
			m, err := s.Machines.Get(ctx, id)
			if err != nil {
				return "", nil, err
			}
			return m.Name + ".toml", m.Sheet.TOML(), nil
		}}} {
		all, _ := f[of.list].([]any)
		for i, x := range all {
			row, _ := x.(map[string]any)
			ref, _ := row[of.key].(string)
			find, id := bring, ref
			if rest, ok := strings.CutPrefix(ref, OfShop); ok {
				find, id = of.ofShop, rest
			}
			if find == nil || id == "" {
				continue
			}
			name, content, err := find(id)
			if err != nil {
				return nil, nil, shop.At(fmt.Sprintf("%s[%d].%s", of.list, i+1, of.key), err)
			}
			if content != nil {
				row[of.key] = "../../" + s.place(have, &fresh, of.folder+"/"+fileWord(name), content)
				changed = true
			}
		}
	}
	if changed {
		b, err = toml.Marshal(f)
	}
	return b, fresh, err
}

// place is where a file's copy is: that of the same bytes, or a new one.
func (s *Shop) place(have []shop.VisitFile, fresh *[]visits.File, name string, b []byte) string {
	all := slices.Clone(have)
	for _, f := range *fresh {
		all = append(all, shop.VisitFile{Name: f.Name, Digest: shop.Digest(f.As)})
	}
	digest, folder := shop.Digest(b), path.Dir(name)+"/"
	for _, f := range all {
		if f.Digest == digest && strings.HasPrefix(f.Name, folder) {
			return f.Name
		}
	}
	name = visits.Free(all, name)
	*fresh = append(*fresh, visits.File{Name: name, As: b})
	return name
}

// fileWord is a name as a visit's files may have it.
func fileWord(name string) string {
	name = strings.Map(func(r rune) rune {
		if strings.ContainsRune(`\/:*?"<>|`, r) {
			return '-'
		}
		return r
	}, shop.CleanFile(name))
	name = strings.TrimLeft(strings.TrimRight(name, ". "), ". ")
	if name == "" {
		name = "file"
	}
	if len(name) > 120 {
		name = name[len(name)-120:]
	}
	return strings.ToValidUTF8(name, "")
}

// TakeReturns keeps what came back to a trial: sheets and recordings as they came,
// photographs upright, smaller and without what a camera wrote into them. What cannot be
// kept is told, a sentence each, and the rest is kept; nothing that is kept is written
// over.
func (s *Shop) TakeReturns(ctx context.Context, visit, name, by string, came []trial.Given) (said words.Sentences, err error) {
	return s.takeIn(ctx, visit, TrialFolder(name), trialFile, "returns/", words.Say("refused.no-trial", words.Args{"name": words.Name(name)}), by, came)
}
