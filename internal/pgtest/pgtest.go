// Package pgtest gives tests databases on a PostgreSQL server of their own: one
// server a test program, started when the first database is asked for, reachable by
// a socket in a folder of its own only. A watcher stops it and removes its folder
// when the test program ends, however it ends: it waits at a pipe that only the test
// program holds open.
package pgtest

import (
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib" // the driver
)

// Server is a server.
type Server struct {
	Folder string // of its socket, its data and its log
	bin    string
	as     *syscall.Credential
	set    string   // more of its settings
	watch  *os.File // closed: the server ends
	admin  *sql.DB
	err    error
	n      atomic.Int32

	mu    sync.Mutex
	ready map[string]bool // templates
}

var one = sync.OnceValue(func() *Server { return begin("off", small) })

// binaries are where the server's programs are: PostgreSQL refuses root, and
// Debian keeps them out of PATH.
func binaries() (string, error) {
	if p, err := exec.LookPath("postgres"); err == nil {
		return filepath.Dir(p), nil
	}
	all, err := filepath.Glob("/usr/lib/postgresql/*/bin/postgres")
	if err != nil || len(all) == 0 {
		return "", errors.New("PostgreSQL is not installed (apt-get install postgresql): nothing is tested on it")
	}
	slices.SortFunc(all, func(a, b string) int { return cmp.Compare(len(a), len(b))*2 + cmp.Compare(a, b) })
	return filepath.Dir(all[len(all)-1]), nil
}

// nobodyElse is the user that the server runs as: postgres where this is root.
func nobodyElse() (*syscall.Credential, error) {
	if os.Getuid() != 0 {
		return nil, nil
	}
	u, err := user.Lookup("postgres")
	if err != nil {
		return nil, fmt.Errorf("this is root, as whom PostgreSQL does not run, and there is no user postgres: %w", err)
	}
	uid, err1 := strconv.ParseUint(u.Uid, 10, 32)
	gid, err2 := strconv.ParseUint(u.Gid, 10, 32)
	return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, errors.Join(err1, err2)
}

// Words are sorted here as people do, so that a query that relies on bytes is seen.
var initial = []string{"--no-sync", "--auth=trust", "--username=postgres", "--encoding=UTF8", "--locale=C.UTF-8",
	"--locale-provider=icu", "--icu-locale=en-US"}

func begin(fsync, set string) *Server {
	s := &Server{ready: map[string]bool{}, set: set}
	s.err = func() (err error) {
		if s.bin, err = binaries(); err != nil {
			return err
		}
		if s.as, err = nobodyElse(); err != nil {
			return err
		}
		if s.Folder, err = os.MkdirTemp("/tmp", "needlepace-pg-"); err != nil { // a socket's name must be short
			return err
		}
		if s.as != nil {
			if err := os.Chown(s.Folder, int(s.as.Uid), int(s.as.Gid)); err != nil {
				return err
			}
		}
		init := s.command(filepath.Join(s.bin, "initdb"), append(initial, "-D", filepath.Join(s.Folder, "data"))...)
		if out, err := init.CombinedOutput(); err != nil {
			return fmt.Errorf("initdb: %w: %s", err, out)
		}
		return s.start(fsync)
	}()
	return s
}

func (s *Server) command(name string, args ...string) *exec.Cmd {
	c := exec.Command(name, args...)
	c.Dir = s.Folder
	c.Env = []string{"PATH=/usr/bin:/bin", "LC_ALL=C.UTF-8"}
	c.SysProcAttr = &syscall.SysProcAttr{Credential: s.as}
	return c
}

// watcher ends the server at once when its input ends, and takes its folder away
// unless it is told a line before.
const watcher = `"$1" -D data -k "$PWD" -c listen_addresses= -c fsync="$2" -c full_page_writes="$2" -c deadlock_timeout=20ms \
  -c max_connections=60 $3 </dev/null >>log 2>&1 & server=$!
keep=; read -r keep
kill -QUIT $server; wait $server
[ -n "$keep" ] || { cd /; rm -rf "$PWD_OF"; }`

func (s *Server) start(fsync string) error {
	in, out, err := os.Pipe()
	if err != nil {
		return err
	}
	c := s.command("/bin/sh", "-c", watcher, "watcher", filepath.Join(s.bin, "postgres"), fsync, s.set)
	c.Env = append(c.Env, "PWD_OF="+s.Folder)
	c.Stdin = in
	c.SysProcAttr.Setsid = true // Ctrl-C is for the tests
	if err := c.Start(); err != nil {
		return err
	}
	in.Close() //nolint:errcheck // the watcher's now
	s.watch = out
	go c.Wait() //nolint:errcheck // of a watcher that was told to end
	if s.admin == nil {
		if s.admin, err = sql.Open("pgx", s.Address("postgres")); err != nil {
			return err
		}
	}
	for until := time.Now().Add(20 * time.Second); ; time.Sleep(20 * time.Millisecond) {
		if err = s.admin.Ping(); err == nil || time.Now().After(until) {
			return err
		}
	}
}

// Address is that of a database.
func (s *Server) Address(database string) string {
	return "postgres:///" + database + "?host=" + s.Folder + "&user=postgres"
}

// Restart ends the server as a power cut would, and starts it again.
func (s *Server) Restart(t testing.TB) {
	t.Helper()
	if _, err := s.watch.WriteString("again\n"); err != nil {
		t.Fatal(err)
	}
	s.watch.Close() //nolint:errcheck // it has read
	for until := time.Now().Add(20 * time.Second); time.Now().Before(until); time.Sleep(10 * time.Millisecond) {
		if _, err := os.Stat(filepath.Join(s.Folder, "data", "postmaster.pid")); errors.Is(err, os.ErrNotExist) {
			break
		}
		if b, err := os.ReadFile(filepath.Join(s.Folder, "data", "postmaster.pid")); err == nil {
			var pid int
			if _, err := fmt.Sscan(string(b), &pid); err == nil && syscall.Kill(pid, 0) != nil {
				break
			}
		}
	}
	if err := s.start("on"); err != nil {
		t.Fatal(err)
	}
}

// Durable is a server for one test, which keeps what it acknowledged over a Restart.
func Durable(t testing.TB) *Server {
	t.Helper()
	return durable(t, small)
}

// Large is such a server for a study, with the memory that is meant for one, and swept.
func Large(t testing.TB) *Server {
	t.Helper()
	return durable(t, "-c shared_buffers=2GB -c max_wal_size=4GB")
}

// small are the settings of a server that begins quickly.
const small = "-c shared_buffers=16MB -c autovacuum=off"

func durable(t testing.TB, set string) *Server {
	t.Helper()
	s := begin("on", set)
	s.mustBe(t)
	t.Cleanup(func() { s.watch.Close() }) //nolint:errcheck // the watcher sees it
	return s
}

func (s *Server) mustBe(t testing.TB) {
	t.Helper()
	if s.err != nil {
		if _, err := binaries(); err != nil {
			t.Skip(err)
		}
		t.Fatal(s.err)
	}
}

// Database is the address of an empty database, on the test program's server. The
// test is left out where PostgreSQL is not installed.
func Database(t testing.TB) string {
	t.Helper()
	s := one()
	s.mustBe(t)
	return s.Database(t)
}

// Database is the address of an empty database.
func (s *Server) Database(t testing.TB) string {
	t.Helper()
	name := fmt.Sprintf("test_%d", s.n.Add(1))
	s.create(t, name, "template1")
	return s.Address(name)
}

// Made is the address of a database that make has made once and that is copied for
// each test.
func Made(t testing.TB, name string, make func(address string)) string {
	t.Helper()
	s := one()
	s.mustBe(t)
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.ready[name] {
		s.create(t, name, "template1")
		defer func() {
			if !s.ready[name] { // the test failed meanwhile
				s.admin.Exec("DROP DATABASE " + name + " WITH (FORCE)") //nolint:errcheck // it ends with the server
			}
		}()
		make(s.Address(name))
		s.ready[name] = true
	}
	copied := fmt.Sprintf("%s_%d", name, s.n.Add(1))
	s.create(t, copied, name)
	return s.Address(copied)
}

func (s *Server) create(t testing.TB, name, from string) {
	t.Helper()
	if _, err := s.admin.Exec("CREATE DATABASE " + name + " TEMPLATE " + from + ""); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if from != "template1" {
			s.admin.Exec("DROP DATABASE IF EXISTS " + name + " WITH (FORCE)") //nolint:errcheck // it ends with the server
		}
	})
}
