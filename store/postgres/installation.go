package postgres

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"sync"
	"time"

	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/stdlib"

	"needlepace/shop"
	"needlepace/store/internal/dbstore"
)

// Installation is a database with several shops, a schema each under the shop's own
// name. All shops that one program has open share its connections.
type Installation struct {
	address, shown string
	look           *sql.DB // at which shops there are
	write, read    *seats

	opening sync.Mutex
	held    *sql.Conn // its locks say which shops are in use here

	mu   sync.Mutex
	open map[string]*Store
}

// Connections are how many connections to the server an installation's shops share,
// half of them for reading; beside them stand two more.
const Connections = 20

// OpenInstallation opens the database at an address.
func OpenInstallation(ctx context.Context, address string) (*Installation, error) {
	look, err := connect(address, false)
	if err != nil {
		return nil, err
	}
	look.SetMaxOpenConns(2) // one holds the locks
	i := &Installation{address: address, shown: Shown(address), look: look, open: map[string]*Store{}}
	i.write, i.read = newSeats(), newSeats()
	if _, err := suits(ctx, look, i.shown); err != nil {
		return nil, errors.Join(err, look.Close())
	}
	return i, nil
}

// Shown is its address for people.
func (i *Installation) Shown() string { return i.shown }

// Place is a shop's own address.
func (i *Installation) Place(name string) string {
	u, err := url.Parse(i.address)
	if err != nil { // it was parsed when the installation was opened, by other rules
		return i.address
	}
	q := u.Query()
	q.Set("search_path", name)
	u.RawQuery = q.Encode()
	return u.String()
}

// Names are the shops that are there, by name.
func (i *Installation) Names(ctx context.Context) ([]string, error) {
	all, err := i.schemas(ctx)
	return slices.DeleteFunc(all, func(s string) bool { return !shop.IsAddressName(s) }), err
}

func (i *Installation) schemas(ctx context.Context) ([]string, error) {
	all, err := texts(ctx, i.look, `SELECT schemaname FROM pg_tables WHERE tablename IN ('goose_db_version', 'designs')
		GROUP BY schemaname HAVING count(*) = 2 ORDER BY schemaname`)
	if err != nil {
		return nil, told(i.shown, err)
	}
	return all, nil
}

// Open opens a shop; one that is not there is NotFound, one that is open here is Busy.
func (i *Installation) Open(ctx context.Context, name string) (*Store, error) {
	all, err := i.Names(ctx)
	if err != nil {
		return nil, err
	}
	if !slices.Contains(all, name) {
		return nil, shop.Errorf(shop.NotFound, "%s has no shop called %s", i.shown, name)
	}
	return i.opened(ctx, name)
}

// Make makes a shop and opens it; where one is, or something else has its name, it is
// Conflict.
func (i *Installation) Make(ctx context.Context, name string) (*Store, error) {
	if !shop.IsAddressName(name) {
		return nil, shop.NotAddressName(name)
	}
	if _, err := i.look.ExecContext(ctx, `CREATE SCHEMA "`+name+`"`); err != nil {
		if code := stateOf(err); code == "42P06" || code == "23505" { // duplicate_schema, or made at the same moment
			return nil, shop.Errorf(shop.Conflict, "%s has something called %s already; give another name", i.shown, name)
		}
		return nil, told(i.shown, err)
	}
	s, err := i.opened(ctx, name)
	if err != nil {
		_, err2 := i.look.ExecContext(context.WithoutCancel(ctx), `DROP SCHEMA "`+name+`" CASCADE`) // it was made just now, and is no shop
		return nil, errors.Join(err, told(i.shown, err2))
	}
	return s, nil
}

// Aside opens what stands under a name that no shop can have, and makes it first where it is to be; nil where nothing is.
func (i *Installation) Aside(ctx context.Context, name string, create bool) (*Store, error) {
	all, err := i.schemas(ctx)
	if err != nil {
		return nil, err
	}
	if !slices.Contains(all, name) {
		if !create {
			return nil, nil
		}
		if _, err := i.look.ExecContext(ctx, `CREATE SCHEMA IF NOT EXISTS "`+name+`"`); err != nil && stateOf(err) != "23505" { // made at the same moment
			return nil, told(i.shown, err)
		}
	}
	return i.opened(ctx, name)
}

func (i *Installation) opened(ctx context.Context, name string) (*Store, error) {
	i.opening.Lock()
	defer i.opening.Unlock()
	if i.shops()[name] != nil {
		return nil, shop.Errorf(shop.Busy, "%s is open already", name)
	}
	if err := i.hold(ctx); err != nil {
		return nil, err
	}
	write, err := i.connect(name, false, i.write)
	if err != nil {
		return nil, err
	}
	read, err := i.connect(name, true, i.read)
	if err != nil {
		return nil, errors.Join(err, write.Close())
	}
	s := &Store{DB: &dbstore.DB{Write: write, Read: read, Engine: engine, Now: time.Now}, shown: fmt.Sprintf("%s, %s", i.shown, name), schema: name,
		held: i.held}
	if err := s.open(ctx); err != nil {
		return nil, errors.Join(err, i.letGo(ctx, s), s.Close())
	}
	i.mu.Lock()
	i.open[name] = s
	i.mu.Unlock()
	s.let = func() error {
		i.opening.Lock()
		defer i.opening.Unlock()
		i.mu.Lock()
		delete(i.open, name)
		i.mu.Unlock()
		return i.letGo(context.Background(), s)
	}
	return s, nil
}

func (i *Installation) shops() map[string]*Store {
	i.mu.Lock()
	defer i.mu.Unlock()
	return maps.Clone(i.open)
}

// hold sees to it that there is a connection for locks. One that broke took its locks
// with it: those of the shops that are open are taken again.
func (i *Installation) hold(ctx context.Context) (err error) {
	if i.held != nil {
		if i.held.PingContext(ctx) == nil {
			return nil
		}
		i.held.Close() //nolint:errcheck // it is broken
	}
	if i.held, err = i.look.Conn(ctx); err != nil {
		i.held = nil
		return told(i.shown, err)
	}
	for _, s := range i.shops() {
		s.held = i.held
		if _, err := i.held.ExecContext(ctx, "SELECT pg_advisory_lock_shared("+s.lock(lockForm)+")"); err != nil {
			return told(i.shown, err)
		}
	}
	return nil
}

func (i *Installation) letGo(ctx context.Context, s *Store) error {
	_, err := i.held.ExecContext(ctx, "SELECT pg_advisory_unlock_shared("+s.lock(lockForm)+")")
	if err == nil || classify(err) == dbstore.Away || errors.Is(err, sql.ErrConnDone) || errors.Is(err, driver.ErrBadConn) {
		return nil // let go, or gone with the connection
	}
	return told(i.shown, err)
}

func (i *Installation) connect(name string, reading bool, of *seats) (*sql.DB, error) {
	c, err := parsed(i.address, reading)
	if err != nil {
		return nil, err
	}
	db := sql.OpenDB(seated{stdlib.GetConnector(*c), of, name})
	db.SetMaxOpenConns(Connections / 4) // no shop takes all
	db.SetMaxIdleConns(-1)              // the seats keep what is free
	return db, nil
}

// Close lets the database go; the shops must be closed before.
func (i *Installation) Close() error {
	i.opening.Lock()
	defer i.opening.Unlock()
	var err error
	if i.held != nil {
		if err = i.held.Close(); errors.Is(err, sql.ErrConnDone) {
			err = nil
		}
	}
	return errors.Join(err, i.write.end(), i.read.end(), i.look.Close())
}

// seats are the connections that shops share, for writing or for reading. One that is
// free goes to whichever shop asks next, best to the one that had it.
type seats struct {
	taken chan struct{}

	mu   sync.Mutex
	free []*session // the latest last
	over bool
}

// session is a connection to the server, whoever uses it.
type session struct {
	*stdlib.Conn
	shop  string // whose schema it looks at
	moves int    // from one shop to another
	since time.Time
}

const (
	// mostMoves is how often a connection goes from one shop to another before it is
	// ended: its process remembers the tables of every shop that it saw.
	mostMoves = 200
	// stillThere is how long a free connection is taken to be good without a look.
	stillThere = time.Second
)

func newSeats() *seats { return &seats{taken: make(chan struct{}, Connections/2)} }

// pop is a free connection that had the shop last, else the one that is free longest; nil
// for none.
func (s *seats) pop(shop string) *session {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.free) == 0 {
		return nil
	}
	at := 0
	for i := range slices.Backward(s.free) {
		if s.free[i].shop == shop {
			at = i
			break
		}
	}
	c := s.free[at]
	s.free = slices.Delete(s.free, at, at+1)
	return c
}

// push gives a connection back; it is ended where it cannot be used again.
func (s *seats) push(c *session) error {
	p := c.Conn.Conn().PgConn()
	s.mu.Lock()
	if p.IsClosed() || p.TxStatus() != 'I' || c.moves >= mostMoves || s.over {
		s.mu.Unlock()
		return c.Close()
	}
	c.since = time.Now()
	s.free = append(s.free, c)
	s.mu.Unlock()
	return nil
}

// end ends the connections that are free, and from now on each that is given back.
func (s *seats) end() (err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.over = true
	for _, c := range s.free {
		err = errors.Join(err, c.Close())
	}
	s.free = nil
	return err
}

// seated gives a shop connections while there is a seat.
type seated struct {
	driver.Connector
	of   *seats
	shop string
}

// Connect waits for a seat, and takes a connection that is free or makes one.
func (c seated) Connect(ctx context.Context) (driver.Conn, error) {
	select {
	case c.of.taken <- struct{}{}:
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	conn, err := c.session(ctx)
	if err != nil {
		<-c.of.taken
		return nil, err
	}
	return &seatedConn{conn, c.of}, nil
}

func (c seated) session(ctx context.Context) (*session, error) {
	for {
		s := c.of.pop(c.shop)
		if s == nil {
			break
		}
		if s.shop == c.shop && time.Since(s.since) < stillThere {
			return s, nil
		}
		if err := s.look(ctx, c.shop); err == nil {
			return s, nil
		}
		s.Close() //nolint:errcheck // it is broken: the next one
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
	}
	conn, err := c.Connector.Connect(ctx)
	if err != nil {
		return nil, err
	}
	s := &session{Conn: conn.(*stdlib.Conn)}
	if err := s.look(ctx, c.shop); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// look turns a connection to a shop's schema. What it prepared for another one's is
// prepared anew by the server (PREPARE in PostgreSQL's documentation: where search_path
// changes, a statement is parsed again).
func (s *session) look(ctx context.Context, shop string) error {
	if s.shop != shop {
		s.moves++
	}
	s.shop = ""
	if _, err := s.Conn.Conn().Exec(ctx, `SET search_path TO "`+shop+`"`); err != nil {
		return err
	}
	s.shop = shop
	return nil
}

// seatedConn is a connection while a shop uses it.
type seatedConn struct {
	*session
	of *seats
}

// Close gives the connection and its seat back; it is called once.
func (c *seatedConn) Close() error {
	defer func() { <-c.of.taken }()
	return c.of.push(c.session)
}

// stateOf is the SQLSTATE of an error; empty where it has none.
func stateOf(err error) string {
	var pg *pgconn.PgError
	if errors.As(err, &pg) {
		return pg.Code
	}
	return ""
}
