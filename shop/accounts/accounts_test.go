package accounts

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/store/storetest"
)

func TestCommonPasswordsAreRefused(t *testing.T) {
	for _, p := range []string{
		"1234567890", "0987654321", "qwertyuiop", "password123", "passw0rd123", "P@ssw0rd!!", "aaaaaaaaaaaa", "abcdefghijk", "iloveyou123", "letmein1234",
		"1q2w3e4r5t", "asdfghjkl;", "19900101 ", "adaadaada1", "Adalovelace", "needlepace1", "short", strings.Repeat("x", 600), "football2024",
		"Ada Lovelace", "ada.lovelace", "Lovelace Ada", "lovelace_ada1", "Summer2026", "sifre123456", "senha123456", "matkhau123",
	} {
		if err := CheckPassword("Ada Lovelace", p); shop.CodeOf(err) != shop.Invalid || shop.ErrorOf(err).Key != "password" {
			t.Errorf("%q: %v", p, err)
		}
	}
	for _, p := range []string{"a long enough password", "correct horse battery staple", "Tz7-hm2-Kq9x", "vier kalte gelbe Löffel", "кислая лодка седьмая", strings.Repeat("abc xyz ", 60)} {
		if err := CheckPassword("Ada Lovelace", p); err != nil {
			t.Errorf("%q: %v", p, err)
		}
	}
	// Ten characters are the least, however hard to guess and however many bytes they are.
	for p, ok := range map[string]bool{"Tz7-hm2-Kq": true, "Tz7-hm2-K": false, "жΩ7-λm2-Kџ": true, "жΩ7-λm2-Џ": false} {
		if err := CheckPassword("Ada", p); (err == nil) != ok {
			t.Errorf("%q: %v", p, err)
		}
	}
	began := time.Now()
	CheckPassword("Ada", strings.Repeat("aB3$", 128)) //nolint:errcheck // only its time
	if took := time.Since(began); took > 5*time.Second {
		t.Errorf("a long password is weighed for %v", took)
	}
}

// A line that is full refuses at once; what waits in it gets its turn.
func TestTheLineRefusesAtOnceWhenItIsFull(t *testing.T) {
	l := newLine()
	first, err := l.take(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var frees []func()
	for len(frees)+1 < cap(l.slots) {
		f, err := l.take(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		frees = append(frees, f)
	}
	var wg sync.WaitGroup
	var served, refused atomic.Int32
	for range 100 {
		wg.Go(func() {
			free, err := l.take(t.Context())
			if shop.CodeOf(err) == shop.Busy {
				refused.Add(1)
				return
			}
			if err == nil {
				served.Add(1)
				free()
			}
		})
	}
	for end := time.Now().Add(5 * time.Second); refused.Load() < 100-waitingMost; time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			t.Errorf("%d of 100 were refused at once", refused.Load())
			break
		}
	}
	first()
	for _, f := range frees {
		f()
	}
	wg.Wait()
	if served.Load() != waitingMost || refused.Load() != 100-waitingMost {
		t.Errorf("%d were served and %d refused", served.Load(), refused.Load())
	}
	if n := l.in.Load(); n != 0 {
		t.Errorf("%d are still in the line", n)
	}
	ctx, cancel := context.WithCancel(t.Context())
	free, err := l.take(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for range cap(l.slots) - 1 {
		if _, err := l.take(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	cancel()
	if _, err := l.take(ctx); shop.CodeOf(err) != shop.Stopped {
		t.Errorf("one that went away: %v", err)
	}
	free()
}

const adas, bens = "vintage lighthouse sparrow", "granite teapot on a Tuesday"

// people are the accounts of a new shop, with a clock and a cost of hashing (kB) of the test's.
func people(t *testing.T, now *time.Time, memory uint32, names ...string) (s *Accounts, all []*shop.Account, file string) {
	t.Helper()
	file = filepath.Join(t.TempDir(), "shop.db")
	store := storetest.Open(t, file)
	t.Cleanup(func() { store.Close() }) //nolint:errcheck // a test's
	s = New(store, func() time.Time { return *now }, memory, nil)
	for i, name := range names {
		a, err := s.Add(t.Context(), name, []string{adas, bens}[i], []shop.Role{shop.Owner, shop.Operator}[i])
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, a)
	}
	return s, all, file
}

// What lets anybody in is kept as its SHA-256 alone: who reads the shop's file, or a copy, comes in
// by nothing that stands there.
func TestWhatLetsAnybodyInIsKeptAsItsDigestAlone(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	s, all, file := people(t, &now, 1<<10, "Ada", "Ben")
	in, err := s.SignIn(t.Context(), "Ada", adas, Browser{})
	if err != nil {
		t.Fatal(err)
	}
	token, _, err := s.MakeToken(t.Context(), all[0], "till", shop.Operator, now.Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Program(t.Context(), token); err != nil {
		t.Errorf("the token lets nobody in: %v", err)
	}
	var kept []byte
	file = storetest.File(t, file)
	for _, f := range []string{file, file + "-wal"} { // the copy of a database has no log
		b, err := os.ReadFile(f)
		if err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
		kept = append(kept, b...)
	}
	for what, secret := range map[string]string{"token": token, "session": in.Secret, "browser": in.Device} {
		sum := sha256.Sum256([]byte(secret))
		digest := hex.EncodeToString(sum[:])
		if !bytes.Contains(kept, []byte(digest)) {
			t.Errorf("the digest of the %s is not kept: the test shows nothing of it", what)
		}
		if bytes.Contains(kept, []byte(secret)) {
			t.Errorf("the %s itself is kept", what)
		}
		if _, err := s.Program(t.Context(), digest); shop.CodeOf(err) != shop.SignIn {
			t.Errorf("a program comes in by the digest of the %s: %v", what, err)
		}
		if _, err := s.SignedIn(t.Context(), digest, ""); shop.CodeOf(err) != shop.SignIn {
			t.Errorf("somebody is signed in by the digest of the %s: %v", what, err)
		}
	}
	if bytes.Contains(kept, []byte(adas)) {
		t.Error("the password itself is kept")
	}
}

// Who is shut out does not sign in, and is told no more than with a wrong password.
func TestWhoIsShutOutDoesNotSignIn(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	s, all, _ := people(t, &now, 1<<10, "Ada", "Ben")
	ben := func() (*SignedIn, error) { return s.SignIn(t.Context(), "Ben", bens, Browser{}) }
	if _, err := ben(); err != nil {
		t.Fatal(err)
	}
	_, wrong := s.SignIn(t.Context(), "Ben", "another one entirely", Browser{})
	for _, out := range []bool{true, false} {
		if _, err := s.Change(t.Context(), all[1].ID, shop.Operator, out, ""); err != nil {
			t.Fatal(err)
		}
		in, err := ben()
		if out && (in != nil || shop.CodeOf(err) != shop.SignIn || err.Error() != wrong.Error()) {
			t.Errorf("shut out: %+v, %v; a wrong password: %v", in, err, wrong)
		}
		if !out && err != nil {
			t.Errorf("let in again: %v", err)
		}
	}
}

// meddled is a store in which something happens after an account was read.
type meddled struct {
	shop.AccountStore
	then func()
}

func (m *meddled) after(a *shop.Account, err error) (*shop.Account, error) {
	if then := m.then; then != nil {
		m.then = nil
		then()
	}
	return a, err
}

func (m *meddled) Account(ctx context.Context, id string) (*shop.Account, error) {
	return m.after(m.AccountStore.Account(ctx, id))
}

func (m *meddled) AccountNamed(ctx context.Context, name string) (*shop.Account, error) {
	return m.after(m.AccountStore.AccountNamed(ctx, name))
}

// A password takes a tenth of a second to be held against its hash, and what is done to the account meanwhile holds: another
// password, another role, being shut out.
func TestWhatIsDoneToAnAccountMeanwhileHolds(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	const another = "six green ladders by the quay"
	ctx := t.Context()
	for what, c := range map[string]struct {
		meanwhile, asked func(s *Accounts, id string) error
		code             shop.Code
		role             shop.Role
		password         string // by which Ben comes in then; empty: by none
	}{
		"a role, while the password is changed": {
			func(s *Accounts, id string) error { _, err := s.Change(ctx, id, shop.Planner, false, ""); return err },
			func(s *Accounts, id string) error {
				_, err := s.ChangeOwn(ctx, id, bens, another, Browser{})
				return err
			}, "", shop.Planner, another},
		"shut out, while the password is changed": {
			func(s *Accounts, id string) error { _, err := s.Change(ctx, id, shop.Operator, true, ""); return err },
			func(s *Accounts, id string) error {
				_, err := s.ChangeOwn(ctx, id, bens, another, Browser{})
				return err
			}, shop.NotFound, shop.Operator, ""},
		"a password, while the role is changed": {
			func(s *Accounts, id string) error {
				_, err := s.ChangeOwn(ctx, id, bens, another, Browser{})
				return err
			},
			func(s *Accounts, id string) error { _, err := s.Change(ctx, id, shop.Planner, false, ""); return err }, "", shop.Planner, another},
		"a password, while the one before signs in": {
			func(s *Accounts, id string) error {
				_, err := s.Change(ctx, id, shop.Operator, false, another)
				return err
			},
			func(s *Accounts, _ string) error { _, err := s.SignIn(ctx, "Ben", bens, Browser{}); return err }, shop.SignIn, shop.Operator, another},
		"shut out, while the password signs in": {
			func(s *Accounts, id string) error { _, err := s.Change(ctx, id, shop.Operator, true, ""); return err },
			func(s *Accounts, _ string) error { _, err := s.SignIn(ctx, "Ben", bens, Browser{}); return err }, shop.SignIn, shop.Operator, ""},
	} {
		t.Run(what, func(t *testing.T) {
			s, all, _ := people(t, &now, 1<<10, "Ada", "Ben")
			store := s.store
			m := &meddled{AccountStore: store}
			slow := New(m, s.now, 1<<10, nil)
			m.then = func() {
				if err := c.meanwhile(s, all[1].ID); err != nil {
					t.Error(err)
				}
			}
			if err := c.asked(slow, all[1].ID); shop.CodeOf(err) != c.code {
				t.Errorf("it ends with %v, want %q", err, c.code)
			}
			ben, err := s.Get(ctx, all[1].ID)
			if err != nil || ben.Role != c.role || ben.Disabled != (c.password == "") {
				t.Errorf("then Ben is %+v, %v", ben, err)
			}
			if in, err := s.SignIns(ctx, ben.ID, ""); err != nil || ben.Disabled && len(in) > 0 {
				t.Errorf("signed in %d times, %v", len(in), err)
			}
			for _, p := range []string{bens, another} {
				if _, err := s.SignIn(ctx, "Ben", p, Browser{}); (err == nil) != (p == c.password) {
					t.Errorf("by %q then: %v", p, err)
				}
			}
		})
	}
}

// A browser is known for who signed in in it, and for 400 days.
func TestABrowserIsKnownForItsPersonAndForATime(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	s, _, _ := people(t, &now, 1<<10, "Ada", "Ben")
	in, err := s.SignIn(t.Context(), "Ada", adas, Browser{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, device string
		days         int
		known        bool
	}{
		{"Ada", in.Device, 0, true}, {"Ben", in.Device, 0, false}, {"Cleo", in.Device, 0, false},
		{"Ada", "", 0, false}, {"Ada", in.Secret, 0, false},
		{"Ada", in.Device, 399, true}, {"Ada", in.Device, 401, false},
	} {
		at := now
		now = now.AddDate(0, 0, c.days)
		if known, err := s.Knows(t.Context(), c.name, c.device); known != c.known || err != nil {
			t.Errorf("%s after %d days: known %v, %v", c.name, c.days, known, err)
		}
		now = at
	}
}

// While the strangers' line is full, whoever's browser is known signs in; a stranger, with
// whatever name and password, is refused before anything is hashed.
func TestAKnownBrowserHasALineOfItsOwn(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	s, _, _ := people(t, &now, 1<<10, "Ada", "Ben")
	in, err := s.SignIn(t.Context(), "Ada", adas, Browser{})
	if err != nil {
		t.Fatal(err)
	}
	for range cap(s.strangers.slots) { // at work
		free, err := s.strangers.take(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		defer free()
	}
	gone, cancel := context.WithCancel(t.Context())
	var waiting sync.WaitGroup
	for range 100 {
		waiting.Go(func() { s.SignIn(gone, "Ada", "wrong password", Browser{}) }) //nolint:errcheck // it waits until it is gone
	}
	defer waiting.Wait()
	defer cancel()
	for end := time.Now().Add(5 * time.Second); s.strangers.in.Load() < s.strangers.most && time.Now().Before(end); {
		time.Sleep(time.Millisecond)
	}
	soon, cancel2 := context.WithTimeout(t.Context(), 3*time.Second)
	defer cancel2()
	for _, name := range []string{"Ada", "Ben", "nobody of this name"} {
		if _, err := s.SignIn(soon, name, adas, Browser{}); shop.CodeOf(err) != shop.Busy {
			t.Errorf("a stranger as %s: %v", name, err)
		}
	}
	if _, err := s.SignIn(soon, "Ben", bens, Browser{Device: in.Device}); shop.CodeOf(err) != shop.Busy {
		t.Errorf("Ben in Ada's browser is no stranger: %v", err)
	}
	if _, err := s.SignIn(soon, "Ada", adas, Browser{Device: in.Device}); err != nil {
		t.Errorf("Ada in her browser: %v", err)
	}
}

// That a name is nobody's is not to be seen by the time either.
func TestANameThatIsNobodysTakesAsLong(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	s, _, _ := people(t, &now, 4<<10, "Ada")
	quickest := map[string]time.Duration{}
	for range 4 {
		for _, name := range []string{"Ada", "Nobody"} {
			began := time.Now()
			if _, err := s.SignIn(t.Context(), name, "wrong password", Browser{}); shop.CodeOf(err) != shop.SignIn {
				t.Fatal(err)
			}
			if took := time.Since(began); quickest[name] == 0 || took < quickest[name] {
				quickest[name] = took
			}
		}
	}
	if quickest["Nobody"] < quickest["Ada"]/3 {
		t.Errorf("a wrong password takes %v, a name that is nobody's %v", quickest["Ada"], quickest["Nobody"])
	}
}

// A token may do no more than who makes it, and lasts two years at most.
func TestATokenMayDoNoMoreThanItsMaker(t *testing.T) {
	now := time.Date(2026, 3, 4, 5, 6, 7, 0, time.UTC)
	s, all, _ := people(t, &now, 1<<10, "Ada", "Ben")
	for i, c := range []struct {
		by   *shop.Account
		role shop.Role
		days int
		want shop.Code
	}{
		{nil, shop.Operator, 1, shop.Forbidden}, {all[1], shop.Owner, 1, shop.Forbidden}, {all[1], shop.Planner, 1, shop.Forbidden},
		{all[1], shop.Operator, 1, ""}, {all[0], shop.Owner, 1, ""}, {all[0], "king", 1, shop.Invalid}, {all[0], shop.Owner, 0, shop.Invalid},
		{all[0], shop.Owner, 729, ""}, {all[0], shop.Owner, 732, shop.Invalid},
	} {
		secret, _, err := s.MakeToken(t.Context(), c.by, strings.Repeat("x", i+1), c.role, now.AddDate(0, 0, c.days))
		if shop.CodeOf(err) != c.want || (secret != "") != (c.want == "") {
			t.Errorf("%+v: %v", c, err)
		}
	}
}
