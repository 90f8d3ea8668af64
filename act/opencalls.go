package act

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"path"
	"slices"
	"strings"
	"sync"

	"github.com/pelletier/go-toml/v2"

	"needlepace/ask"
	"needlepace/shop"
	"needlepace/shop/visits"
	"needlepace/stitchfile"
	"needlepace/trial"
	"needlepace/words"
)

const callFile = "CALL.toml"

// CallFolder is where an open call of a visit is kept, with a / behind it.
func CallFolder(name string) string { return "calls/" + name + "/" }

// Calls are the names of a visit's open calls.
func (s *Shop) Calls(ctx context.Context, visit string) ([]string, error) {
	return s.namedIn(ctx, visit, "calls", callFile)
}

// OpenCall answers what an open call of a visit says, from what came by now.
func (s *Shop) OpenCall(ctx context.Context, visit, name string) (*ask.OpenCallAnswer, error) {
	b, key, came, err := s.whatCame(ctx, visit, CallFolder(name), callFile, "entries/", words.Say("refused.no-call", words.Args{"name": words.Name(name)}))
	if err != nil {
		return nil, err
	}
	a, err := s.calls.get(visit+"/"+name, key, func() (*ask.OpenCallAnswer, error) {
		returned, err := came()
		if err != nil {
			return nil, err
		}
		return s.askCall(ctx, visit, name, b, returned, nil)
	})
	if err != nil {
		return nil, err
	}
	classes, err := json.Marshal(a.Classes)
	if err != nil {
		return nil, err
	}
	return a, kindly(s.Visits.SeeCall(ctx, visit, name, shop.CallSeen{Of: shop.Digest(b), Classes: string(classes)}))
}

// CalledSoFar is an open call as its page shows it: the design, and what came by class as
// somebody of the shop has last seen it (seen), so that nothing is shown that nobody looked at.
func (s *Shop) CalledSoFar(ctx context.Context, page *shop.CallPage) (a *ask.OpenCallAnswer, seen bool, err error) {
	b, err := s.Visits.Read(ctx, page.Visit, CallFolder(page.Name)+callFile)
	if err != nil {
		return nil, false, err
	}
	kept, err := s.Visits.Seen(ctx, page.Visit, page.Name)
	if err != nil {
		return nil, false, err
	}
	if a, err = s.askCall(ctx, page.Visit, page.Name, b, nil, nil); err != nil || kept == nil || kept.Of != shop.Digest(b) {
		return a, false, err
	}
	if err := json.Unmarshal([]byte(kept.Classes), &a.Classes); err != nil {
		return nil, false, shop.Errorf(shop.Storage, "what was seen of the call cannot be read: %w", err)
	}
	return a, true, nil
}

func (s *Shop) askCall(ctx context.Context, visit, name string, b []byte, came []trial.Given, fresh []visits.File) (*ask.OpenCallAnswer, error) {
	free, err := s.slots.Take(ctx)
	if err != nil {
		return nil, err
	}
	defer free()
	a, err := ask.OpenCall(ctx, ask.OpenCallQuestion{Name: callFile, TOML: b, Came: came, Heard: s.heard.of, Last: trial.LastDay(s.Now())}, s.filesOf(ctx, visit, CallFolder(name), fresh))
	if err != nil && ctx.Err() != nil {
		return nil, shop.StoppedBy(ctx)
	}
	return a, err
}

// KeepCall checks and keeps the file of an open call (CALL.toml) in a visit. What came to
// it stays. A design of the shop that it names, or that bring finds (nil: none), is copied
// into the visit.
func (s *Shop) KeepCall(ctx context.Context, visit, name, by string, b []byte, bring Bring) (*ask.OpenCallAnswer, error) {
	if !trial.Short(name) {
		return nil, shop.At("short", shop.Saying(shop.Invalid, words.Say("refused.call-short", words.Args{"name": words.Name(name)})))
	}
	files, err := s.Visits.Files(ctx, visit)
	if err != nil {
		return nil, err
	}
	b, fresh, err := s.copied(ctx, files, b, bring)
	if err != nil {
		return nil, err
	}
	a, err := s.askCall(ctx, visit, name, b, nil, fresh)
	if err != nil {
		return nil, err
	}
	return a, s.Visits.Put(ctx, visit, by, append(fresh, visits.File{Name: CallFolder(name) + callFile, As: b})...)
}

// TakeEntries keeps what was mailed to an open call, as TakeReturns does to a trial.
func (s *Shop) TakeEntries(ctx context.Context, visit, name, by string, came []trial.Given) (said words.Sentences, err error) {
	return s.takeIn(ctx, visit, CallFolder(name), callFile, "entries/", words.Say("refused.no-call", words.Args{"name": words.Name(name)}), by, came)
}

// Limits of what the page of an open call takes.
const (
	MostEntry   = 24 << 20  // bytes of one entry with its files
	mostEntries = 256 << 20 // of all that it keeps: a visit has room for twice as much
)

// called keeps the count of a call's entries while one is put in.
var called sync.Mutex

// SendEntry keeps what somebody sent on the page of an open call: a row, and files of
// which one may be a photograph and one a recording. What of it cannot be is refused;
// what is doubtful is kept, and told where the call is read.
func (s *Shop) SendEntry(ctx context.Context, page *shop.CallPage, row ask.CalledRow, files []trial.Given) error {
	b, err := s.Visits.Read(ctx, page.Visit, CallFolder(page.Name)+callFile)
	if err != nil {
		return err
	}
	f, err := trial.ParseOpenCall(callFile, b)
	if err != nil {
		return err
	}
	digest, err := s.callDigest(ctx, page, f)
	if err != nil {
		return err
	}
	free, err := s.slots.Take(ctx) // a photograph of many points takes memory, and anybody may send one
	if err != nil {
		return err
	}
	defer free()
	id := CallFolder(page.Name) + "entries/page-" + shop.NewID()[:12]
	var put []visits.File
	size := 0
	for _, g := range files {
		size += len(g.Bytes)
		ext := strings.ToLower(path.Ext(g.Name))
		switch {
		case size > MostEntry:
			return shop.Saying(shop.TooLarge, words.Say("refused.call-large", words.Args{"most": words.Whole(MostEntry >> 20)}))
		case trial.IsPhotograph(g.Name) && row.Photo == "":
			if g.Bytes, err = trial.Photograph("the photograph", g.Bytes); err != nil {
				return shop.At("photo", shop.Saying(shop.Invalid, trial.Told(err)))
			}
			ext = ".jpg"
			row.Photo = path.Base(id) + ext
		case trial.IsRecording(g.Name) && row.Recording == "":
			if !bytes.HasPrefix(g.Bytes, []byte("RIFF")) && !bytes.HasPrefix(g.Bytes, []byte("fLaC")) {
				return shop.At("recording", shop.Saying(shop.Invalid, words.Say("refused.call-recording", words.Args{"ext": words.Name(ext)})))
			}
			row.Recording = path.Base(id) + ext
		default:
			return shop.Saying(shop.Invalid, words.Say("refused.call-files"))
		}
		put = append(put, visits.File{Name: id + ext, As: g.Bytes})
	}
	if d, err := words.ParseDay(row.Day); err == nil && d.Compare(words.NewDay(s.Now().AddDate(0, 0, 1).Date())) > 0 { // a day more: elsewhere it is tomorrow
		return shop.At("day", shop.Saying(shop.Invalid, words.Say("refused.day-to-come", words.Args{"day": d})))
	}
	if row.Time == "" && row.Recording == "" {
		return shop.At("time", shop.Saying(shop.Invalid, words.Say("refused.call-time")))
	}
	var sheet bytes.Buffer
	if err := ask.CalledSheet(&sheet, f.Name, digest, row); err != nil {
		return err
	}
	put = append(put, visits.File{Name: id + ".csv", As: sheet.Bytes()})
	called.Lock()
	defer called.Unlock()
	have, err := s.Visits.Files(ctx, page.Visit)
	if err != nil {
		return err
	}
	n, all := 0, int64(size)
	for _, x := range have {
		if strings.HasPrefix(x.Name, CallFolder(page.Name)+"entries/") {
			all += x.Bytes
			if strings.HasPrefix(path.Base(x.Name), "page-") && path.Ext(x.Name) == ".csv" {
				n++
			}
		}
	}
	if n >= page.Most || all > mostEntries {
		return shop.Saying(shop.Conflict, words.Say("refused.call-full"))
	}
	return s.Visits.Put(ctx, page.Visit, CallEntryBy, put...)
}

// CallEntryBy is by whom an entry is kept that came on the page.
const CallEntryBy = "the call’s page"

// callDigest is the digest of a call's design.
func (s *Shop) callDigest(ctx context.Context, page *shop.CallPage, f *trial.OpenCall) (string, error) {
	d, err := s.filesOf(ctx, page.Visit, CallFolder(page.Name), nil).Design(f.Designs[0].File)
	if err != nil {
		return "", err
	}
	return trial.Digest(d), nil
}

// namedIn are the names of the folders of a kind in a visit that have a file.
func (s *Shop) namedIn(ctx context.Context, visit, folder, file string) ([]string, error) {
	files, err := s.Visits.Files(ctx, visit)
	if err != nil {
		return nil, err
	}
	out := []string{}
	for _, f := range files {
		if p := strings.Split(f.Name, "/"); len(p) == 3 && p[0] == folder && p[2] == file {
			out = append(out, p[1])
		}
	}
	return out, nil
}

// whatCame is the file of something in a visit that others send files for, what an answer
// about it is made from, as a key, and the files that came.
func (s *Shop) whatCame(ctx context.Context, visit, folder, file, into string, none words.Message) (b []byte, key string, came func() ([]trial.Given, error), err error) {
	files, err := s.Visits.Files(ctx, visit)
	if err != nil {
		return nil, "", nil, err
	}
	var from strings.Builder // all that it is made from: more may be in it than is read
	for _, f := range files {
		if !strings.HasPrefix(f.Name, "trials/") && !strings.HasPrefix(f.Name, "calls/") || strings.HasPrefix(f.Name, folder) {
			fmt.Fprintln(&from, f.Name, f.Digest)
		}
	}
	if b, err = s.Visits.Read(ctx, visit, folder+file); err != nil {
		if shop.CodeOf(err) == shop.NotFound {
			err = shop.Saying(shop.NotFound, none)
		}
		return nil, "", nil, err
	}
	return b, shop.Digest([]byte(from.String())), func() (all []trial.Given, err error) {
		for _, f := range files {
			if rest, ok := strings.CutPrefix(f.Name, folder+into); ok {
				b, err := s.Visits.Read(ctx, visit, f.Name)
				if err != nil {
					return nil, err
				}
				all = append(all, trial.Given{Name: rest, Bytes: b})
			}
		}
		return all, nil
	}, nil
}

// takeIn keeps files that came to a trial or an open call: sheets and recordings as they
// came, photographs upright, smaller and without what a camera wrote into them. What
// cannot be kept is told, a sentence each, and the rest is kept; nothing that is kept is
// written over.
func (s *Shop) takeIn(ctx context.Context, visit, folder, file, into string, none words.Message, by string, came []trial.Given) (said words.Sentences, err error) {
	have, err := s.Visits.Files(ctx, visit)
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(have, func(f shop.VisitFile) bool { return f.Name == folder+file }) {
		return nil, shop.Saying(shop.NotFound, none)
	}
	designs, err := s.digestsOf(ctx, visit, folder, file)
	if err != nil {
		return nil, err
	}
	var fit []trial.Given // what can be kept
	var from []string     // what each was called where it came from
	for _, c := range came {
		some, broken := trial.Unpack(c.Name, c.Bytes)
		said = append(said, broken...)
		for _, g := range some {
			base := fileWord(path.Base(g.Name))
			switch {
			case trial.IsPhotograph(base):
				if g.Bytes, err = trial.Photograph(g.Name, g.Bytes); err != nil {
					said = append(said, trial.Told(err))
					continue
				}
				base = strings.TrimSuffix(base, path.Ext(base)) + ".jpg"
			case trial.IsSheet(base):
				if err := trial.CanRead(g); err != nil {
					said = append(said, trial.Told(err))
					continue
				}
			case trial.IsRecording(base):
				if !bytes.HasPrefix(g.Bytes, []byte("RIFF")) && !bytes.HasPrefix(g.Bytes, []byte("fLaC")) {
					said.Say("returns.no-recording", words.Args{"file": words.Name(g.Name)})
					continue
				}
			case trial.OfPack(base, g.Bytes, designs):
				continue
			default:
				said = append(said, trial.NotRead(g.Name))
				if ext := path.Ext(base); !strings.EqualFold(ext, ".pdf") && !slices.Contains(stitchfile.Writable(), strings.ToLower(ext)) {
					continue
				} // a card that was filled in by hand, or what was sewn in place of the design: somebody needs it
			}
			fit = append(fit, trial.Given{Name: base, Bytes: g.Bytes})
			from = append(from, g.Name)
		}
	}
	for {
		keep, named := placed(have, folder+into, fit, from)
		if len(keep) == 0 {
			if said = append(said, named...); len(said) == 0 {
				said.Say("returns.nothing-kept")
			}
			return said, nil
		}
		err := s.Visits.Put(ctx, visit, by, keep...)
		if err == nil {
			return append(said, named...), nil
		}
		if shop.CodeOf(err) != shop.Conflict {
			return said, err
		}
		if have, _ = s.Visits.Files(ctx, visit); !slices.ContainsFunc(keep, func(k visits.File) bool {
			return slices.ContainsFunc(have, func(f shop.VisitFile) bool { return f.Name == k.Name })
		}) {
			return said, err
		} // else somebody sent in a file of the name meanwhile: this one gets another
	}
}

// placed gives files that came names of their own in a folder; what is there already is told and left out. from
// is what each was called where it came from.
func placed(have []shop.VisitFile, folder string, came []trial.Given, from []string) (keep []visits.File, said words.Sentences) {
	have = slices.Clone(have)
	kept := map[string]string{} // by digest: what is here already
	for _, f := range have {
		if strings.HasPrefix(f.Name, folder) {
			kept[f.Digest] = path.Base(f.Name)
		}
	}
	for i, g := range came {
		digest := shop.Digest(g.Bytes)
		if was, ok := kept[digest]; ok {
			said.Say("returns.here-already", words.Args{"file": words.Name(from[i]), "was": words.Name(was)})
			continue
		}
		free := visits.Free(have, folder+g.Name)
		if path.Base(free) != g.Name {
			said.Say("returns.kept-as", words.Args{"file": words.Name(g.Name), "as": words.Name(path.Base(free))})
		}
		kept[digest] = path.Base(free)
		have = append(have, shop.VisitFile{Name: free})
		keep = append(keep, visits.File{Name: free, As: g.Bytes, New: true})
	}
	return keep, said
}

// digestsOf are the names of the designs of a trial or an open call by their digests.
func (s *Shop) digestsOf(ctx context.Context, visit, folder, file string) (all map[string]string, err error) {
	b, err := s.Visits.Read(ctx, visit, folder+file)
	if err != nil {
		return nil, err
	}
	var f struct {
		Design []trial.DesignKeys `toml:"design"`
	}
	if err := toml.Unmarshal(b, &f); err != nil {
		return nil, shop.Errorf(shop.Storage, "%s cannot be read: %w", folder+file, err)
	}
	from := s.filesOf(ctx, visit, folder, nil)
	all = map[string]string{}
	for _, d := range f.Design {
		if design, err := from.Design(d.File); err == nil { // else it is told where the answer is asked for
			all[trial.Digest(design)] = d.Name
		}
	}
	return all, nil
}

// hearings remember what recordings said.
type hearings struct {
	mu  sync.Mutex
	all map[string]float64
}

// mostHearings is how many stay.
const mostHearings = 4000

// of is what was heard of a recording on a machine; what do gives is kept, but for errors
// that another try might not have.
func (h *hearings) of(recording []byte, on string, do func() (float64, error)) (float64, error) {
	key := shop.Digest(recording) + " " + on
	h.mu.Lock()
	v, ok := h.all[key]
	h.mu.Unlock()
	if ok {
		return v, nil
	}
	v, err := do()
	if err != nil {
		return 0, err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.all == nil || len(h.all) >= mostHearings {
		h.all = map[string]float64{}
	}
	h.all[key] = v
	return v, nil
}
