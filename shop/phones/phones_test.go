package phones_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"needlepace/shop"
	"needlepace/shop/phones"
	"needlepace/store/sqlite"
)

var (
	owner    = &shop.Account{Name: "Ada", Role: shop.Owner}
	planner  = &shop.Account{Name: "Ben", Role: shop.Planner}
	operator = &shop.Account{Name: "Cleo", Role: shop.Operator}
)

// kept is a shop's phones with a clock of the test's own.
type kept struct {
	*phones.Phones
	t    *testing.T
	now  time.Time
	file string
}

func open(t *testing.T) *kept {
	t.Helper()
	k := &kept{t: t, now: time.Date(2026, 3, 4, 5, 6, 7, 123_456_789, time.UTC), file: filepath.Join(t.TempDir(), "shop.db")}
	store, err := sqlite.Open(t.Context(), k.file)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { store.Close() })
	k.Phones = phones.New(store, func() time.Time { return k.now })
	return k
}

func (k *kept) ask(by *shop.Account, name string, role shop.Role) (*shop.Phone, string) {
	k.t.Helper()
	p, err := k.Ask(k.t.Context(), by, name, role)
	if err != nil {
		k.t.Fatal(err)
	}
	return p, k.Code(p)
}

func wantCode(t *testing.T, err error, code shop.Code) {
	t.Helper()
	if shop.CodeOf(err) != code {
		t.Errorf("error %v, want code %s", err, code)
	}
}

func TestAPhoneIsWhatItsRoleIsUntilItIsTakenOut(t *testing.T) {
	k := open(t)
	p, code := k.ask(planner, " Bay 2 ", shop.Operator)
	typed := strings.ToLower(code[:4] + "-" + code[4:8] + " " + code[8:])
	secret, in, err := k.LetIn(t.Context(), typed)
	if err != nil || in.ID != p.ID || len(secret) < 50 {
		t.Fatalf("%q: %+v, %v", typed, in, err)
	}
	who, err := k.SignedIn(t.Context(), secret)
	if err != nil || who.Name != "Bay 2" || who.Role != shop.Operator {
		t.Fatalf("%+v, %v", who, err)
	}
	k.now = k.now.Add(5 * time.Hour)
	if _, err := k.SignedIn(t.Context(), secret); err != nil {
		t.Fatal(err)
	}
	if all, err := k.List(t.Context()); err != nil || len(all) != 1 || !all[0].Seen.Equal(k.now.Truncate(time.Microsecond)) || all[0].By != "Ben" {
		t.Errorf("%+v, %v", all, err)
	}
	if err := k.TakeOut(t.Context(), planner, p.ID); err != nil {
		t.Fatal(err)
	}
	_, err = k.SignedIn(t.Context(), secret)
	wantCode(t, err, shop.SignIn)
}

func TestACodeIsGoodOnceAndForMinutes(t *testing.T) {
	k := open(t)
	p, code := k.ask(owner, "Bay 2", shop.Planner)
	if p, err := k.Get(t.Context(), owner, p.ID); err != nil || code == "" || k.Code(p) != code {
		t.Error("the code cannot be shown again while it waits", err)
	}
	for _, wrong := range []string{"", "x", code[:15], code + "A", strings.Repeat("A", 16), "' OR 1=1 --     "} {
		_, _, err := k.LetIn(t.Context(), wrong)
		wantCode(t, err, shop.SignIn)
	}
	if _, _, err := k.LetIn(t.Context(), code); err != nil {
		t.Fatal(err)
	}
	_, _, err := k.LetIn(t.Context(), code)
	wantCode(t, err, shop.SignIn)
	if k.Code(p) != "" {
		t.Error("a used code is shown")
	}
	// Too old by a second; a clock that was put back does not make it good for longer.
	for _, step := range []time.Duration{phones.CodeTime(), -2 * time.Minute} {
		p, code := k.ask(owner, "Bay "+step.String(), shop.Operator)
		began := k.now
		k.now = began.Add(step)
		_, _, err := k.LetIn(t.Context(), code)
		wantCode(t, err, shop.SignIn)
		if step > 0 && k.Code(p) != "" {
			t.Error("an old code is shown")
		}
		k.now = began
	}
	// Another code takes the place of the first, and of the session when it is used.
	p, first := k.ask(owner, "Bay 4", shop.Operator)
	if p, err = k.NewCode(t.Context(), owner, p.ID); err != nil {
		t.Fatal(err)
	}
	_, _, err = k.LetIn(t.Context(), first)
	wantCode(t, err, shop.SignIn)
	old, _, err := k.LetIn(t.Context(), k.Code(p))
	if err != nil {
		t.Fatal(err)
	}
	if p, err = k.NewCode(t.Context(), owner, p.ID); err != nil {
		t.Fatal(err)
	}
	if _, err := k.SignedIn(t.Context(), old); err != nil {
		t.Error("a code that nobody has used ends a session")
	}
	if _, _, err := k.LetIn(t.Context(), k.Code(p)); err != nil {
		t.Fatal(err)
	}
	_, err = k.SignedIn(t.Context(), old)
	wantCode(t, err, shop.SignIn)
}

func TestOnlyAnOwnerGivesMoreThanTheLowestRole(t *testing.T) {
	k := open(t)
	for by, may := range map[*shop.Account]string{owner: "operator planner owner", planner: "operator", operator: "", {}: "", nil: ""} {
		for _, role := range []shop.Role{shop.Operator, shop.Planner, shop.Owner} {
			p, err := k.Ask(t.Context(), by, string(role)+" of somebody", role)
			if !strings.Contains(may, string(role)) || by == nil {
				wantCode(t, err, shop.Forbidden)
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			for _, other := range []*shop.Account{planner, operator, nil} {
				if other != nil && other.Role.MayLetIn(role) {
					continue
				}
				_, err := k.Get(t.Context(), other, p.ID)
				wantCode(t, err, shop.Forbidden)
				_, err = k.NewCode(t.Context(), other, p.ID)
				wantCode(t, err, shop.Forbidden)
				wantCode(t, k.TakeOut(t.Context(), other, p.ID), shop.Forbidden)
			}
			if err := k.TakeOut(t.Context(), by, p.ID); err != nil {
				t.Error(err)
			}
		}
	}
	_, err := k.Ask(t.Context(), owner, "King", "king")
	wantCode(t, err, shop.Invalid)
	_, err = k.Ask(t.Context(), owner, " ", shop.Operator)
	wantCode(t, err, shop.Invalid)
}

func TestAPhoneThatNobodyUsesIsForgotten(t *testing.T) {
	k := open(t)
	_, code := k.ask(owner, "Bay 2", shop.Operator)
	secret, _, err := k.LetIn(t.Context(), code)
	if err != nil {
		t.Fatal(err)
	}
	k.now = k.now.Add(phones.SessionTime() - time.Hour)
	if _, err := k.SignedIn(t.Context(), secret); err != nil { // that counts as use
		t.Fatal(err)
	}
	k.now = k.now.Add(phones.SessionTime() + time.Hour)
	_, err = k.SignedIn(t.Context(), secret)
	wantCode(t, err, shop.SignIn)
	k.ask(owner, "Bay 2", shop.Operator) // its name is free again
}

// The file holds neither code nor secret: whoever reads a backup comes in
// nowhere.
func TestCodesAndSecretsAreNotKept(t *testing.T) {
	k := open(t)
	_, waiting := k.ask(owner, "Bay 2", shop.Operator)
	_, code := k.ask(owner, "Bay 3", shop.Operator)
	secret, _, err := k.LetIn(t.Context(), code)
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{k.file, k.file + "-wal"} {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range []string{waiting, code, secret} {
			if bytes.Contains(b, []byte(s)) {
				t.Errorf("%s holds a secret", filepath.Base(file))
			}
		}
		if file != k.file && !bytes.Contains(b, []byte("Bay 3")) {
			t.Error("the test looks at the wrong file")
		}
	}
}
