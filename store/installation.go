package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"needlepace/shop"
	"needlepace/store/postgres"
	"needlepace/store/sqlite"
)

// Installation is a place with several shops, each under a name of its own.
type Installation interface {
	// Names are the shops that are there, by name.
	Names(ctx context.Context) ([]string, error)
	// Open opens a shop; one that is not there is NotFound, one that is open here is
	// Busy.
	Open(ctx context.Context, name string) (Store, error)
	// Make makes a shop and opens it; where something has its name it is Conflict.
	Make(ctx context.Context, name string) (Store, error)
	// People opens where it is kept who is one person in several shops; it stays open until Close. Nil where nothing is
	// kept yet, unless it is to be made.
	People(ctx context.Context, create bool) (shop.PeopleStore, error)
	// Place is where a shop is, for Open, Backup and Move.
	Place(name string) string
	// Shown is the place for people: without a password.
	Shown() string
	// Close lets the place go; its shops must be closed before.
	Close() error
}

// OpenInstallation opens a place of several shops: a PostgreSQL database, whose schemas
// hold them, or a folder, whose files NAME.db do.
func OpenInstallation(ctx context.Context, place string) (Installation, error) {
	if postgres.IsAddress(place) {
		i, err := postgres.OpenInstallation(ctx, place)
		if err != nil {
			return nil, err
		}
		return &schemas{Installation: i}, nil
	}
	at, err := os.Stat(place)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, shop.Errorf(shop.NotFound, "there is no folder %s: make it first", place)
	case err != nil:
		return nil, shop.Errorf(shop.Storage, "%w", err)
	case !at.IsDir():
		return nil, shop.Invalidf("%s is a file: several shops are kept in a folder, each in a file NAME.db", place)
	}
	return &folder{path: place}, nil
}

// PeoplesName is what the place of several shops has its people by: no shop can be called so.
const PeoplesName = "_people"

// people are an installation's, once somebody has asked for them.
type people struct {
	mu sync.Mutex
	is Store
}

func (p *people) open(open func() (Store, error)) (shop.PeopleStore, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.is != nil {
		return p.is, nil
	}
	is, err := open()
	if err != nil || is == nil {
		return nil, err
	}
	p.is = is
	return is, nil
}

func (p *people) close() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.is == nil {
		return nil
	}
	return p.is.Close()
}

type schemas struct {
	*postgres.Installation
	people people
}

func (s *schemas) People(ctx context.Context, create bool) (shop.PeopleStore, error) {
	return s.people.open(func() (Store, error) {
		is, err := s.Aside(ctx, PeoplesName, create)
		if is == nil {
			return nil, err
		}
		return is, err
	})
}

func (s *schemas) Close() error { return errors.Join(s.people.close(), s.Installation.Close()) }

func (s *schemas) Open(ctx context.Context, name string) (Store, error) {
	return opened(s.Installation.Open(ctx, name))
}

func (s *schemas) Make(ctx context.Context, name string) (Store, error) {
	return opened(s.Installation.Make(ctx, name))
}

// folder has a file for each shop.
type folder struct {
	path   string
	making sync.Mutex
	people people
}

const shopFile = ".db"

func (f *folder) Shown() string { return f.path }
func (f *folder) Close() error  { return f.people.close() }

func (f *folder) People(ctx context.Context, create bool) (shop.PeopleStore, error) {
	return f.people.open(func() (Store, error) {
		if there, err := There(ctx, f.Place(PeoplesName)); err != nil || !there && !create {
			return nil, err
		}
		return Open(ctx, f.Place(PeoplesName))
	})
}

func (f *folder) Place(name string) string { return filepath.Join(f.path, name+shopFile) }

func (f *folder) Names(context.Context) (names []string, err error) {
	all, err := os.ReadDir(f.path)
	if err != nil {
		return nil, shop.Errorf(shop.Storage, "%w", err)
	}
	for _, e := range all {
		if name, ok := strings.CutSuffix(e.Name(), shopFile); ok && !e.IsDir() && shop.IsAddressName(name) {
			names = append(names, name)
		}
	}
	return names, nil
}

func (f *folder) Open(ctx context.Context, name string) (Store, error) {
	if !shop.IsAddressName(name) {
		return nil, shop.Errorf(shop.NotFound, "%s has no shop called %.60q", f.path, name)
	}
	f.making.Lock()
	there, err := There(ctx, f.Place(name))
	f.making.Unlock()
	switch {
	case err != nil:
		return nil, err
	case !there:
		return nil, shop.Errorf(shop.NotFound, "%s has no shop called %s", f.path, name)
	}
	return f.served(ctx, name)
}

func (f *folder) Make(ctx context.Context, name string) (Store, error) {
	if !shop.IsAddressName(name) {
		return nil, shop.NotAddressName(name)
	}
	f.making.Lock()
	defer f.making.Unlock()
	there, err := There(ctx, f.Place(name))
	switch {
	case err != nil:
		return nil, err
	case there:
		return nil, shop.Errorf(shop.Conflict, "%s has something called %s already; give another name", f.path, name)
	}
	return f.served(ctx, name)
}

func (f *folder) served(ctx context.Context, name string) (Store, error) {
	s, err := sqlite.Open(ctx, f.Place(name))
	if err != nil {
		return nil, err
	}
	if err := s.Serve(ctx); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}
