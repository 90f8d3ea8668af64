package mqtt

import (
	"context"
	"errors"
	"io"
	"log"
	"log/slog"
	"net"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	broker "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/hooks/auth"
	"github.com/mochi-mqtt/server/v2/listeners"
	"github.com/mochi-mqtt/server/v2/packets"
)

// serve runs a broker on loopback, which lets everybody in.
func serve(t *testing.T) (*broker.Server, string) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	return serveOn(t, ln, new(auth.AllowHook), nil)
}

func serveOn(t *testing.T, ln net.Listener, who broker.Hook, config any) (*broker.Server, string) {
	t.Helper()
	s := broker.New(&broker.Options{InlineClient: true, Logger: slog.New(slog.DiscardHandler)})
	if err := s.AddHook(who, config); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(s.AddListener(listeners.NewNet("here", ln)), s.Serve()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { ln.Close() }) //nolint:errcheck // closing all of it waits for seconds
	return s, ln.Addr().String()
}

func until(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); !is(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("never: %s", what)
		}
	}
}

// Each message comes at least once, also what the shop could not keep the
// first time, what was sent while the program was away, and after the broker threw it out.
func TestWhatIsNotKeptComesAgain(t *testing.T) {
	s, at := serve(t)
	u, err := ParseBroker("mqtt://" + at)
	if err != nil {
		t.Fatal(err)
	}
	var mu sync.Mutex
	var got []string
	refuse := map[string]int{"2": 2, "5": 1}
	took := func() []string { mu.Lock(); defer mu.Unlock(); return slices.Clone(got) }
	feed := New(Options{Broker: u, Topic: "floor/+", Client: "shop", Retry: 20 * time.Millisecond,
		Take: func(_ context.Context, topic string, payload []byte) error {
			mu.Lock()
			defer mu.Unlock()
			m := string(payload)
			if topic != "floor/Gannet" {
				t.Errorf("%s came from %s", m, topic)
			}
			if refuse[m] > 0 {
				refuse[m]--
				return errors.New("the disk is full")
			}
			if !slices.Contains(got, m) { // what was kept and not acknowledged comes twice
				got = append(got, m)
			}
			return nil
		}})
	say := func(all ...string) {
		for _, m := range all {
			if err := s.Publish("floor/Gannet", []byte(m), false, 1); err != nil {
				t.Fatal(err)
			}
		}
	}
	run := func() (stop func()) {
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan struct{})
		go func() { defer close(ended); feed.Run(ctx) }()
		return func() { cancel(); <-ended }
	}
	stop := run()
	until(t, "connected", func() bool { return feed.State().Up })
	say("1", "2", "3")
	until(t, "three kept", func() bool { return len(took()) == 3 })
	stop()
	say("4", "5", "6")
	stop = run()
	defer stop()
	until(t, "six kept", func() bool { return len(took()) == 6 })
	c, ok := s.Clients.Get("shop")
	if !ok {
		t.Fatal("the broker does not know the shop")
	}
	c.Stop(errors.New("thrown out"))
	say("7")
	until(t, "seven kept", func() bool { return len(took()) == 7 })
	if want := []string{"1", "2", "3", "4", "5", "6", "7"}; !slices.Equal(slices.Sorted(slices.Values(took())), want) {
		t.Errorf("kept are %v", took()) // this broker sends again in any order
	}
	if n := feed.State().Failed; n != 3 {
		t.Errorf("%d messages could not be kept, want 3", n)
	}
	until(t, "all acknowledged", func() bool { c, ok := s.Clients.Get("shop"); return ok && c.State.Inflight.Len() == 0 })
}

// told counts what a feed logs as failed.
type told struct {
	slog.Handler
	failed *atomic.Int32
}

func (l told) Enabled(context.Context, slog.Level) bool { return true }

func (l told) Handle(_ context.Context, r slog.Record) error {
	if r.Level == slog.LevelError {
		l.failed.Add(1)
	}
	return nil
}

// A broker that wants a name and a password gets them; how it goes is told: since when, why not, what came.
func TestHowItGoesIsTold(t *testing.T) {
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s, at := serveOn(t, ln, new(auth.Hook), &auth.Options{Ledger: &auth.Ledger{Auth: auth.AuthRules{{Username: "shop", Password: "gull & ladle", Allow: true}}}})
	run := func(as string, of Options) (*Feed, func(), *atomic.Int32) {
		of.Broker, err = ParseBroker("mqtt://" + as + at)
		if err != nil {
			t.Fatal(err)
		}
		failed := &atomic.Int32{}
		of.Topic, of.Client, of.Log = "floor/+", "shop", slog.New(told{slog.DiscardHandler, failed})
		of.Take = func(context.Context, string, []byte) error { return nil }
		f := New(of)
		ctx, cancel := context.WithCancel(t.Context())
		ended := make(chan struct{})
		go func() { defer close(ended); f.Run(ctx) }()
		return f, func() { cancel(); <-ended }, failed
	}
	for _, as := range []string{"", "shop:another@", "shop@"} { // 0x86: bad user name or password (MQTT 5.0, 3.2.2.2)
		f, stop, failed := run(as, Options{Retry: time.Millisecond})
		until(t, "refused", func() bool { return failed.Load() > 0 })
		before, first := failed.Load(), f.State()
		if first.Up || !strings.Contains(first.Why, "does not let this program in: code 134, Bad User Name or Password") || first.Taken != 0 || !first.Last.IsZero() {
			t.Errorf("as %q: %+v", as, first)
		}
		until(t, "refused again", func() bool { return failed.Load() > before+3 })
		if is := f.State(); is.Since != first.Since { // it is the same reason still
			t.Errorf("as %q: %+v, at first %+v", as, is, first)
		}
		stop()
	}
	f, stop, failed := run("shop:gull%20%26%20ladle@", Options{Retry: 300 * time.Millisecond})
	defer stop()
	made := f.State().Since
	time.Sleep(2 * time.Millisecond)
	until(t, "connected", func() bool { return f.State().Up })
	up := f.State()
	if up.Why != "" || !up.Since.After(made) {
		t.Errorf("connected: %+v, made %v", up, made)
	}
	if err := s.Publish("floor/Gannet", []byte("1"), false, 1); err != nil {
		t.Fatal(err)
	}
	until(t, "one came", func() bool { return f.State().Taken == 1 })
	if is := f.State(); is.Last.Before(up.Since) || is.Failed != 0 {
		t.Errorf("after one message: %+v", is)
	}
	c, ok := s.Clients.Get("shop")
	if !ok {
		t.Fatal("the broker does not know the shop")
	}
	if err := s.DisconnectClient(c, packets.ErrServerShuttingDown); err != nil {
		t.Log(err) // the connection is closed, as it should be
	}
	until(t, "not connected", func() bool { return failed.Load() == 1 })
	if is := f.State(); is.Up || !strings.Contains(is.Why, "the broker ended the connection, code 139") || !is.Since.After(up.Since) { // 0x8B: server shutting down (MQTT 5.0, 3.14.2.1)
		t.Errorf("thrown out: %+v", is)
	}
	until(t, "connected again", func() bool { return f.State().Up })
}

// By mqtts:// nothing is said to who cannot show that it is the broker.
func TestABrokerThatNobodyKnowsHearsNothing(t *testing.T) {
	server := httptest.NewUnstartedServer(nil) // its certificate is nobody's
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	server.StartTLS()
	defer server.Close()
	u, err := ParseBroker("mqtts://shop:secret@" + server.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	f := New(Options{Broker: u, Topic: "floor/+", Client: "shop", Retry: time.Millisecond})
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	go f.Run(ctx)
	until(t, "refused", func() bool { return f.State().Why != "not yet" })
	if is := f.State(); is.Up || !strings.Contains(is.Why, "certificate") {
		t.Errorf("%+v", is)
	}
}

func TestABrokersAddressIsReadOrRefused(t *testing.T) {
	for in, want := range map[string]string{"mqtt://floor": "floor:1883", "mqtts://u:p@floor": "floor:8883", "mqtt://[::1]:99/": "[::1]:99"} {
		if u, err := ParseBroker(in); err != nil || u.Host != want {
			t.Errorf("%s: %v, %v", in, u, err)
		}
	}
	for _, in := range []string{"", "floor:1883", "http://floor", "mqtt://", "mqtt://floor/topic", "mqtt://%zz", "mqtt://floor?x=1", "mqtt://u:secret@fl oor"} {
		if u, err := ParseBroker(in); err == nil {
			t.Errorf("%s is taken for %v", in, u)
		} else if strings.Contains(err.Error(), "secret") {
			t.Errorf("a password is told: %v", err)
		}
	}
}
