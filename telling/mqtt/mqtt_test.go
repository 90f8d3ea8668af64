package mqtt

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"slices"
	"sync"
	"testing"
	"time"

	broker "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/hooks/auth"
	"github.com/mochi-mqtt/server/v2/listeners"
)

// serve runs a broker on loopback.
func serve(t *testing.T) (*broker.Server, string) {
	t.Helper()
	s := broker.New(&broker.Options{InlineClient: true, Logger: slog.New(slog.DiscardHandler)})
	if err := s.AddHook(new(auth.AllowHook), nil); err != nil {
		t.Fatal(err)
	}
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
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

func TestABrokersAddressIsReadOrRefused(t *testing.T) {
	for in, want := range map[string]string{"mqtt://floor": "floor:1883", "mqtts://u:p@floor": "floor:8883", "mqtt://[::1]:99/": "[::1]:99"} {
		if u, err := ParseBroker(in); err != nil || u.Host != want {
			t.Errorf("%s: %v, %v", in, u, err)
		}
	}
	for _, in := range []string{"", "floor:1883", "http://floor", "mqtt://", "mqtt://floor/topic", "mqtt://%zz"} {
		if u, err := ParseBroker(in); err == nil {
			t.Errorf("%s is taken for %v", in, u)
		}
	}
}
