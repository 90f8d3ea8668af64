// Package mqtt takes what machines tell (docs/machine-events.md) from an MQTT broker,
// protocol version 5. A message is acknowledged once it is kept, so the broker sends again what
// was under way when this program, the network or the database went.
package mqtt

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/url"
	"strings"
	"time"

	"github.com/eclipse/paho.golang/packets"
	"github.com/eclipse/paho.golang/paho"
)

// Options say where machines tell.
type Options struct {
	Broker *url.URL // see ParseBroker
	Topic  string   // filter; its last level is the machine's name or ID
	Client string   // this program's name at the broker; two with one name throw each other out
	Take   func(ctx context.Context, topic string, payload []byte) error
	Log    *slog.Logger
	Retry  time.Duration // after a connection that was lost; 0: 5 s
}

// Feed takes messages in.
type Feed struct {
	opt   Options
	state chan State // one, the latest
}

// State is how it goes.
type State struct {
	Up     bool      // connected
	Since  time.Time // for how long
	Why    string    // not connected
	Taken  int       // messages that were kept
	Last   time.Time // when the latest came
	Failed int       // times that a message could not be kept, and had to come again
}

const (
	dialFor   = 10 * time.Second
	keepAlive = 30               // s
	keptThere = 7 * 24 * 60 * 60 // s that the broker keeps what comes while this program is away
	atOnce    = 100              // messages that may be under way
)

// ParseBroker reads an address: mqtt://HOST or mqtts://HOST, with a port (1883 or 8883 where it is left
// out), a name and a password where the broker wants them.
func ParseBroker(s string) (*url.URL, error) {
	u, err := url.Parse(s)
	if err != nil {
		return nil, errors.New("it is no address: write mqtt://HOST or mqtts://HOST") // the error would show the password
	}
	port := map[string]string{"mqtt": "1883", "mqtts": "8883"}[u.Scheme]
	if port == "" || u.Hostname() == "" || u.Path != "" && u.Path != "/" || u.RawQuery != "" {
		return nil, errors.New("it is no address of a broker: write mqtt://HOST or mqtts://HOST, with a port where it is not the usual one")
	}
	if u.Port() == "" {
		u.Host = net.JoinHostPort(u.Hostname(), port)
	}
	return u, nil
}

// New is a feed that does not run yet.
func New(opt Options) *Feed {
	if opt.Log == nil {
		opt.Log = slog.New(slog.DiscardHandler)
	}
	if opt.Retry == 0 {
		opt.Retry = 5 * time.Second
	}
	f := &Feed{opt: opt, state: make(chan State, 1)}
	f.state <- State{Since: time.Now(), Why: "not yet"}
	return f
}

// State is how it goes.
func (f *Feed) State() State {
	s := <-f.state
	f.state <- s
	return s
}

func (f *Feed) set(change func(*State)) {
	s := <-f.state
	change(&s)
	f.state <- s
}

// Run takes messages in until ctx ends. It never gives up.
func (f *Feed) Run(ctx context.Context) {
	for ctx.Err() == nil {
		err := f.once(ctx)
		if ctx.Err() != nil {
			return
		}
		f.set(func(s *State) {
			if s.Up || s.Why != err.Error() {
				s.Since = time.Now()
			}
			s.Up, s.Why = false, err.Error()
		})
		f.opt.Log.Error("machines are not heard", "broker", f.opt.Broker.Host, "error", err)
		select {
		case <-time.After(f.opt.Retry):
		case <-ctx.Done():
		}
	}
}

// once is one connection, until it ends.
func (f *Feed) once(ctx context.Context) error {
	ctx, end := context.WithCancelCause(ctx)
	defer end(nil)
	conn, err := f.dial(ctx)
	if err != nil {
		return err
	}
	defer conn.Close() //nolint:errcheck // it is over
	client := paho.NewClient(paho.ClientConfig{
		ClientID: f.opt.Client, Conn: packets.NewThreadSafeConn(conn), PacketTimeout: dialFor,
		OnClientError:      func(err error) { end(err) },
		OnServerDisconnect: func(d *paho.Disconnect) { end(fmt.Errorf("the broker ended the connection, code %d", d.ReasonCode)) },
		OnPublishReceived: []func(paho.PublishReceived) (bool, error){func(p paho.PublishReceived) (bool, error) {
			if err := f.take(ctx, p.Packet); err != nil {
				conn.Close() //nolint:errcheck // before the library acknowledges what was not kept
				end(err)
			}
			return true, nil
		}},
	})
	c := &paho.Connect{ClientID: f.opt.Client, KeepAlive: keepAlive, Properties: &paho.ConnectProperties{
		SessionExpiryInterval: new(uint32(keptThere)), ReceiveMaximum: new(uint16(atOnce))}}
	if u := f.opt.Broker.User; u != nil {
		password, has := u.Password()
		c.Username, c.UsernameFlag, c.Password, c.PasswordFlag = u.Username(), true, []byte(password), has
	}
	if ack, err := client.Connect(ctx, c); err != nil {
		if ack != nil && ack.ReasonCode != 0 {
			short, _, _ := strings.Cut((&packets.Connack{ReasonCode: ack.ReasonCode}).Reason(), " - ")
			return fmt.Errorf("the broker does not let this program in: code %d, %s", ack.ReasonCode, short)
		}
		return fmt.Errorf("the broker does not let this program in: %w", err)
	}
	if _, err := client.Subscribe(ctx, &paho.Subscribe{Subscriptions: []paho.SubscribeOptions{{Topic: f.opt.Topic, QoS: 1}}}); err != nil {
		return fmt.Errorf("the broker does not give the topic %s: %w", f.opt.Topic, err)
	}
	f.set(func(s *State) { s.Up, s.Since, s.Why = true, time.Now(), "" })
	f.opt.Log.Info("machines are heard", "broker", f.opt.Broker.Host, "topic", f.opt.Topic)
	<-ctx.Done()                                       // when the connection is over the client says why, a little after client.Done
	client.Disconnect(&paho.Disconnect{ReasonCode: 0}) //nolint:errcheck // what was kept is acknowledged or comes again
	return context.Cause(ctx)
}

func (f *Feed) dial(ctx context.Context) (net.Conn, error) {
	d := &net.Dialer{Timeout: dialFor}
	var conn net.Conn
	var err error
	if f.opt.Broker.Scheme == "mqtts" {
		conn, err = (&tls.Dialer{NetDialer: d}).DialContext(ctx, "tcp", f.opt.Broker.Host)
	} else {
		conn, err = d.DialContext(ctx, "tcp", f.opt.Broker.Host)
	}
	if err != nil {
		return nil, fmt.Errorf("the broker cannot be reached: %w", err)
	}
	return conn, nil
}

// take keeps a message, which is acknowledged when it returns. Where it cannot be kept the
// connection must end first: the broker then sends it again on the next one.
func (f *Feed) take(ctx context.Context, p *paho.Publish) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := f.opt.Take(ctx, p.Topic, p.Payload); err != nil {
		f.set(func(s *State) { s.Failed++ })
		return fmt.Errorf("a message could not be kept: %w", err)
	}
	f.set(func(s *State) { s.Taken++; s.Last = time.Now() })
	return nil
}
