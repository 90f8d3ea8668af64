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
	"needlepace/internal/cells"
	"needlepace/machine"
	"needlepace/shop"
	"needlepace/shop/visits"
	"needlepace/stitch"
	"needlepace/stitchfile"
	"needlepace/trial"
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
	files, err := s.Visits.Files(ctx, visit)
	if err != nil {
		return nil, err
	}
	out := []string{}
	for _, f := range files {
		if p := strings.Split(f.Name, "/"); len(p) == 3 && p[0] == "trials" && p[2] == trialFile {
			out = append(out, p[1])
		}
	}
	return out, nil
}

// Trial answers what a trial of a visit says, from what came back by now.
func (s *Shop) Trial(ctx context.Context, visit, name string) (*ask.TrialAnswer, error) {
	files, err := s.Visits.Files(ctx, visit)
	if err != nil {
		return nil, err
	}
	folder := TrialFolder(name)
	var key strings.Builder // of all that it is made from: more may be in it than is read
	for _, f := range files {
		if !strings.HasPrefix(f.Name, "trials/") || strings.HasPrefix(f.Name, folder) {
			fmt.Fprintln(&key, f.Name, f.Digest)
		}
	}
	b, err := s.Visits.Read(ctx, visit, folder+trialFile)
	if err != nil {
		if shop.CodeOf(err) == shop.NotFound {
			err = shop.Errorf(shop.NotFound, "there is no trial %q in this visit", name)
		}
		return nil, err
	}
	return s.trials.get(visit+"/"+name, shop.Digest([]byte(key.String())), func() (*ask.TrialAnswer, error) {
		var returned []trial.Given
		for _, f := range files {
			if rest, ok := strings.CutPrefix(f.Name, folder+"returns/"); ok {
				b, err := s.Visits.Read(ctx, visit, f.Name)
				if err != nil {
					return nil, err
				}
				returned = append(returned, trial.Given{Name: rest, Bytes: b})
			}
		}
		return s.askTrial(ctx, visit, name, b, returned, nil)
	})
}

// askTrial puts the question; fresh are files that come before those of the visit.
func (s *Shop) askTrial(ctx context.Context, visit, name string, b []byte, returned []trial.Given, fresh []visits.File) (*ask.TrialAnswer, error) {
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	a, err := ask.Trial(ctx, ask.TrialQuestion{Name: trialFile, TOML: b, Returned: returned}, s.trialSources(ctx, visit, name, fresh))
	if err != nil && ctx.Err() != nil {
		return nil, shop.StoppedBy(ctx)
	}
	return a, err
}

// trialSources finds what a trial's file names, by paths from its folder in the visit.
func (s *Shop) trialSources(ctx context.Context, visit, name string, fresh []visits.File) floor.Sources {
	read := func(ref string) ([]byte, string, error) {
		at := path.Join(TrialFolder(name), ref)
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
		return nil, shop.At("short", shop.Invalidf("the trial's short name is %q; give one of a-z, 0-9 and -", name))
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

// TakeReturns keeps what came back to a trial: sheets as they came, photographs upright,
// smaller and without what a camera wrote into them. What cannot be kept is told, a
// sentence each, and the rest is kept; nothing that is kept is written over.
func (s *Shop) TakeReturns(ctx context.Context, visit, name, by string, came []trial.Given) (said []string, err error) {
	have, err := s.Visits.Files(ctx, visit)
	if err != nil {
		return nil, err
	}
	folder := TrialFolder(name)
	if !slices.ContainsFunc(have, func(f shop.VisitFile) bool { return f.Name == folder+trialFile }) {
		return nil, shop.Errorf(shop.NotFound, "there is no trial %q in this visit", name)
	}
	say := func(format string, a ...any) { said = append(said, fmt.Sprintf(format, a...)) }
	var keep []visits.File
	kept := map[string]string{} // by digest: what is here already
	for _, f := range have {
		if strings.HasPrefix(f.Name, folder+"returns/") {
			kept[f.Digest] = path.Base(f.Name)
		}
	}
	for _, c := range came {
		some, err := trial.Unpack(c.Name, c.Bytes)
		if err != nil {
			say("%v", err)
			continue
		}
		for _, g := range some {
			base := fileWord(path.Base(g.Name))
			switch {
			case trial.IsPhotograph(base):
				if g.Bytes, err = trial.Photograph(g.Name, g.Bytes); err != nil {
					say("%v", err)
					continue
				}
				base = strings.TrimSuffix(base, path.Ext(base)) + ".jpg"
			case trial.IsSheet(base):
				if _, err := cells.Read(g.Name, g.Bytes); err != nil {
					say("%v", err)
					continue
				}
			case trial.OfPack(base):
				continue
			default:
				say("%s is neither a sheet (CSV, XLSX) nor a photograph (JPEG, PNG): it was not kept", g.Name)
				continue
			}
			digest := shop.Digest(g.Bytes)
			if was, ok := kept[digest]; ok {
				say("%s is here already, as %s", g.Name, was)
				continue
			}
			free := visits.Free(have, folder+"returns/"+base)
			if path.Base(free) != base {
				say("%s is here already and is not the same: this one is kept as %s, and both are read", base, path.Base(free))
			}
			kept[digest] = path.Base(free)
			have = append(have, shop.VisitFile{Name: free})
			keep = append(keep, visits.File{Name: free, As: g.Bytes})
		}
	}
	if len(keep) == 0 {
		if len(said) == 0 {
			say("nothing came that could be kept: send the sheets of the pack and photographs")
		}
		return said, nil
	}
	return said, s.Visits.Put(ctx, visit, by, keep...)
}
