package setups

import (
	"context"
	"path"
	"slices"
	"strings"
	"time"

	"needlepace/book"
	"needlepace/internal/tomlfile"
	"needlepace/machine"
	"needlepace/shop"
)

// refKeys are the keys of a setup's lists that name a machine ('m') or a
// design ('d') of the shop.
var refKeys = map[shop.SetupKind]map[string]map[string]byte{
	shop.FloorSetup: {"machine": {"sheet": 'm'}, "job": {"design": 'd'}},
	shop.MixSetup:   {"machine": {"sheet": 'm'}, "design": {"design": 'd'}},
	shop.PlanSetup:  {"machine": {"name": 'm'}, "down": {"machine": 'm'}},
}

// byID puts the IDs of machines and designs in the place of their names, so
// that a setup goes on meaning them whatever they, or others, are called. A
// job that has no name of its own keeps what its design was called.
func (s *Setups) byID(ctx context.Context, kind shop.SetupKind, toml string) (string, error) {
	return s.rewrite(kind, toml, func(what byte, ref string) (string, error) { return s.idOf(ctx, kind, what, ref) })
}

func (s *Setups) idOf(ctx context.Context, kind shop.SetupKind, what byte, ref string) (string, error) {
	if what == 'd' {
		d, err := s.designs.Find(ctx, ref)
		if err != nil {
			return "", err
		}
		return d.ID, nil
	}
	if _, class := machine.Class(ref); class && kind != shop.PlanSetup {
		return ref, nil
	}
	m, err := s.machines.Find(ctx, ref)
	if err != nil {
		return "", err
	}
	return m.ID, nil
}

// byName is the workshop as people read it: machines by their names, where a
// name is one machine's alone.
func (s *Setups) byName(ctx context.Context, toml string) (string, error) {
	all, err := s.machines.List(ctx)
	if err != nil {
		return "", err
	}
	return s.rewrite(shop.PlanSetup, toml, func(_ byte, ref string) (string, error) {
		m, err := shop.MachineNamed(all, ref)
		if err != nil {
			gone, err := s.machines.Get(ctx, ref)
			if err == nil {
				return gone.Name, nil
			}
			return ref, missing(err)
		}
		if _, err := shop.MachineNamed(all, m.Name); err != nil {
			return m.ID, nil
		}
		return m.Name, nil
	})
}

// identify gives the kept workshop's machines their IDs and present names, also
// those taken off the list.
func (s *Setups) identify(ctx context.Context, w *book.Workshop) error {
	if len(w.Machine)+len(w.Down)+len(w.Money.Machines) == 0 {
		return nil
	}
	all, err := s.machines.List(ctx)
	if err != nil {
		return err
	}
	return w.Identify(func(ref string) (string, string, error) {
		m, err := shop.MachineNamed(all, ref)
		if err != nil {
			m, err = s.machines.Get(ctx, ref)
		}
		if err != nil {
			return ref, ref, missing(err)
		}
		return m.ID, m.Name, nil
	})
}

func (s *Setups) rewrite(kind shop.SetupKind, toml string, to func(what byte, ref string) (string, error)) (
	string, error,
) {
	out, err := tomlfile.Rewrite([]byte(toml), func(e *tomlfile.Entry) (map[string]string, error) {
		put := map[string]string{}
		for key, what := range refKeys[kind][e.List] {
			ref := e.Text(key)
			if ref == "" {
				continue
			}
			is, err := to(what, ref)
			if err != nil {
				return nil, err
			}
			put[key] = is
			if what == 'd' && is != ref && !e.Has("name") {
				put["name"] = strings.TrimSuffix(path.Base(ref), path.Ext(ref))
			}
		}
		return put, nil
	})
	if err == nil && kind == shop.PlanSetup {
		out, err = tomlfile.Rekey(out, pricedMachines, func(ref string) (string, error) { return to('m', ref) })
	}
	return string(out), err
}

// pricedMachines is the table of the workshop whose keys are machines: what
// they cost.
var pricedMachines = []string{"money", "machines"}

// missing is nil for an error that says that a name means nothing, or several.
func missing(err error) error {
	if code := shop.CodeOf(err); code == shop.NotFound || code == shop.Invalid {
		return nil
	}
	return err
}

// ByID puts IDs in the place of names in setups that an older version kept. A
// name that several machines have now is that of the one which was there when the
// setup was kept. A name that nothing has any more, or that several had already,
// is left: using such a setup says so.
func (s *Setups) ByID(ctx context.Context) error {
	for _, kind := range []shop.SetupKind{shop.FloorSetup, shop.MixSetup, shop.PlanSetup} {
		all, err := s.store.Setups(ctx, kind)
		if err != nil {
			return err
		}
		for _, old := range all {
			toml, err := s.migrated(ctx, old)
			if err != nil {
				return err
			}
			if toml == old.TOML {
				continue
			}
			kept := *old
			kept.TOML, kept.Version = toml, old.Version+1
			if err := s.store.SaveSetup(ctx, &kept); err != nil {
				return err
			}
		}
	}
	return nil
}

func (s *Setups) migrated(ctx context.Context, old *shop.Setup) (string, error) {
	return s.rewrite(old.Kind, old.TOML, func(what byte, ref string) (string, error) {
		id, err := s.idOf(ctx, old.Kind, what, ref)
		if what == 'm' && shop.CodeOf(err) == shop.Invalid {
			id, err = s.idThen(ctx, ref, old.Changed)
		}
		if err != nil {
			return ref, missing(err)
		}
		return id, nil
	})
}

// idThen is the machine that had a name at a time.
func (s *Setups) idThen(ctx context.Context, ref string, at time.Time) (string, error) {
	all, err := s.machines.List(ctx)
	if err != nil {
		return "", err
	}
	all = slices.DeleteFunc(all, func(m *shop.Machine) bool { return m.Added.After(at) })
	m, err := shop.MachineNamed(all, ref)
	if err != nil {
		return "", err
	}
	return m.ID, nil
}
