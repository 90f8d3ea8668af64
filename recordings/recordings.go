// Package recordings holds sound that is being recorded beside a machine: it
// comes in pieces, survives a lost connection and is followed as it comes. The
// sound itself is not kept: of each piece only the strength of its onsets is
// (sound.Curve), in memory, until the recording is forgotten.
package recordings

import (
	"crypto/rand"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"needlepace/ask"
	"needlepace/shop"
	"needlepace/sound"
	"needlepace/words"
)

// Rate of the sound that comes in pieces, in samples a second: one channel, 16
// bits a sample, signed, the lower byte first.
const Rate = 16000

// What is held at most. A second of sound takes 9 kB.
const (
	most        = 16            // recordings
	mostSeconds = 8 * 3600      // of all of them together
	forgetAfter = 2 * time.Hour // without a sign of life
)

// Desk holds the recordings under way. The zero value is not ready: New.
type Desk struct {
	mu   sync.Mutex
	now  func() time.Time
	all  map[string]*recording
	held atomic.Int64 // samples of all of them
}

// recording is one of them.
type recording struct {
	mu      sync.Mutex // of what follows
	by      string
	of      ask.ListenQuestion
	design  *ask.Design
	tracker *sound.Tracker
	taken   int64        // samples
	curve   *sound.Curve // once all is there
	harm    sound.Damage // of the file that was given
	answer  *ask.ListenAnswer
	kept    []shop.Run // rows that were kept of it
	gone    bool       // it was forgotten
	seen    time.Time
}

// New is an empty desk.
func New(now func() time.Time) *Desk { return &Desk{now: now, all: map[string]*recording{}} }

// State is where a recording stands.
type State struct {
	ID       string  `json:"id"`
	Design   string  `json:"design" doc:"ID"`
	Machine  string  `json:"machine" doc:"ID of a machine of the shop, or the name of a built-in class"`
	Rate     int     `json:"rate" doc:"samples a second that are to be sent: one channel, 16 bits, signed, low byte first"`
	Next     int64   `json:"next" doc:"the sample to send next, from 0"`
	Seconds  float64 `json:"seconds" doc:"of sound so far"`
	Ended    bool    `json:"ended" doc:"no more sound is taken"`
	Signal   string  `json:"signal" enum:"none,clipped,foreign,faint,good" doc:"of the last five seconds"`
	Advice   string  `json:"advice" doc:"the same, for people: what to do"`
	Level    float64 `json:"level" doc:"dB under full scale, the loudest of the last seconds"`
	Sewing   bool    `json:"sewing"`
	Done     bool    `json:"done" doc:"the last stitch is believed to be sewn"`
	Speed    float64 `json:"speed" doc:"stitches/min just heard; 0 at rest"`
	SetSpeed float64 `json:"set_speed" doc:"stitches/min: as given, or as it fits best so far"`
	Stitch   int     `json:"stitch" doc:"believed to be sewn last, counted from 1; 0 before the first"`
	Low      int     `json:"low" doc:"between this stitch"`
	High     int     `json:"high" doc:"and this one it is likely to be"`
	Stitches int     `json:"stitches" doc:"of the design"`
	Kept     int     `json:"kept" doc:"rows of it among the machine's timed runs"`
	// KeptBreaks: what was heard was kept, also where no row came of it.
	KeptBreaks bool `json:"kept_breaks" doc:"what it says of thread breaks is kept"`
}

// Begin begins a recording for an account (by; empty where there are none). of says
// what is sewn, design and tracker are of it. Where too much is held the error is
// shop.Busy.
func (d *Desk) Begin(by string, of ask.ListenQuestion, design *ask.Design, t *sound.Tracker) (*State, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.forget()
	if len(d.all) >= most || d.held.Load() >= mostSeconds*Rate {
		return nil, d.full()
	}
	id := strings.ToLower(rand.Text())
	r := &recording{by: by, of: of, design: design, tracker: t, seen: d.now()}
	d.all[id] = r
	return r.state(id), nil
}

// forget drops what has given no sign of life; d is locked.
func (d *Desk) forget() {
	now := d.now()
	for id, r := range d.all {
		if now.Sub(r.seen) > forgetAfter {
			d.drop(id)
		}
	}
}

// drop forgets a recording; d is locked.
func (d *Desk) drop(id string) {
	r := d.all[id]
	r.mu.Lock()
	defer r.mu.Unlock()
	d.held.Add(-r.taken)
	r.gone = true
	delete(d.all, id)
}

// full is the error where too much is held; d is locked.
func (d *Desk) full() error {
	return shop.Saying(shop.Busy, words.Say("refused.recordings", words.Args{"n": words.Whole(len(d.all))}))
}

// hold takes up room for so many samples more of r, which is locked. Where there is too little the error is
// shop.Busy.
func (d *Desk) hold(r *recording, samples int64) error {
	if r.gone { // while it was waited for
		return shop.Saying(shop.NotFound, words.Say("refused.no-recording"))
	}
	if d.held.Add(samples) > mostSeconds*Rate {
		d.held.Add(-samples)
		return shop.Saying(shop.Busy, words.Say("refused.recordings-full"))
	}
	r.taken += samples
	return nil
}

// find gives a recording of an account, locked; the caller unlocks it.
func (d *Desk) find(id, by string) (*recording, error) {
	d.mu.Lock()
	r := d.all[id]
	if r != nil && r.by == by {
		r.seen = d.now()
	}
	d.mu.Unlock()
	if r == nil || r.by != by {
		return nil, shop.Saying(shop.NotFound, words.Say("refused.no-recording"))
	}
	r.mu.Lock()
	return r, nil
}

// Add takes samples that begin at one: those that are there already are left
// out, so that a piece may be sent twice. Where some before it are missing the error is
// shop.Conflict: Look says which comes next.
func (d *Desk) Add(id, by string, from int64, pcm []byte) (*State, error) {
	r, err := d.find(id, by)
	if err != nil {
		return nil, err
	}
	defer r.mu.Unlock()
	switch {
	case len(pcm)%2 != 0:
		return nil, shop.Invalidf("the piece has %d bytes; a sample has two", len(pcm))
	case from < 0 || from > r.taken:
		return nil, shop.At("from", shop.Errorf(shop.Conflict, "the piece begins at sample %d, and %d comes next", from, r.taken))
	case r.curve != nil:
		return nil, shop.Saying(shop.Conflict, words.Say("refused.recording-ended"))
	}
	if have := 2 * (r.taken - from); have >= int64(len(pcm)) {
		return r.state(id), nil
	} else {
		pcm = pcm[have:]
	}
	n := len(pcm) / 2
	if (r.taken+int64(n))/Rate > sound.MostSeconds {
		return nil, shop.Saying(shop.TooLarge, words.Say("refused.recording-long"))
	}
	samples := make([]float64, n)
	for i := range samples {
		samples[i] = float64(int16(binary.LittleEndian.Uint16(pcm[2*i:]))) / (1 << 15)
	}
	if err := d.hold(r, int64(n)); err != nil {
		return nil, err
	}
	r.tracker.Hear(samples)
	return r.state(id), nil
}

// AddFile takes a whole WAV or FLAC file as the recording, and ends it.
func (d *Desk) AddFile(id, by string, file io.Reader) (*State, error) {
	r, err := d.find(id, by)
	if err != nil {
		return nil, err
	}
	defer r.mu.Unlock()
	if r.taken > 0 || r.curve != nil {
		return nil, shop.Saying(shop.Conflict, words.Say("refused.recording-has"))
	}
	c, harm, err := sound.ReadWhile(file, func(seconds float64) error { return d.hold(r, int64(math.Ceil(seconds*Rate))) })
	if err != nil {
		d.held.Add(-r.taken)
		r.taken = 0
		if full := (*shop.Error)(nil); errors.As(err, &full) {
			return nil, err
		}
		return nil, shop.Saying(shop.Invalid, words.Say("refused.file-unheard", words.Args{"why": words.Why(err)}))
	}
	r.curve, r.harm = c, harm
	return r.state(id), nil
}

// Look says where a recording stands.
func (d *Desk) Look(id, by string) (*State, error) {
	r, err := d.find(id, by)
	if err != nil {
		return nil, err
	}
	defer r.mu.Unlock()
	return r.state(id), nil
}

// heardFor is how long a machine is believed to be where it was last heard, after
// the sound has stopped coming.
const heardFor = 30 * time.Second

// Heard is where machines are believed to be whose sound is coming in now.
func (d *Desk) Heard() (all []ask.HeardAt) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.now()
	for id, r := range d.all {
		if now.Sub(r.seen) > heardFor {
			continue
		}
		r.mu.Lock()
		if s := r.state(id); !s.Ended && !s.Done && s.Stitch > 0 {
			all = append(all, ask.HeardAt{Machine: s.Machine, Design: s.Design, Stitch: s.Stitch, At: r.seen})
		}
		r.mu.Unlock()
	}
	slices.SortFunc(all, func(a, b ask.HeardAt) int { return a.At.Compare(b.At) })
	return all
}

// Question ends a recording and gives what is to be asked about it.
func (d *Desk) Question(id, by string) (ask.ListenQuestion, error) {
	r, err := d.find(id, by)
	if err != nil {
		return ask.ListenQuestion{}, err
	}
	defer r.mu.Unlock()
	if r.taken == 0 {
		return ask.ListenQuestion{}, shop.Saying(shop.Invalid, words.Say("refused.nothing-recorded"))
	}
	if r.curve == nil {
		r.curve, r.tracker = r.tracker.Curve(), nil
	}
	q := r.of
	q.Curve, q.Harm = r.curve, r.harm
	return q, nil
}

// Answered keeps what was heard beside the recording it was heard in.
func (d *Desk) Answered(id, by string, a *ask.ListenAnswer) error {
	r, err := d.find(id, by)
	if err != nil {
		return err
	}
	defer r.mu.Unlock()
	r.answer = a
	return nil
}

// Answer is what was heard in a recording; shop.NotFound before it was.
func (d *Desk) Answer(id, by string) (*ask.ListenAnswer, error) {
	r, err := d.find(id, by)
	if err != nil {
		return nil, err
	}
	defer r.mu.Unlock()
	if r.answer == nil {
		return nil, shop.Saying(shop.NotFound, words.Say("refused.not-heard-yet"))
	}
	return r.answer, nil
}

// Keep keeps the rows of what was heard by keep, once: asked again it gives those
// kept before.
func (d *Desk) Keep(id, by string, keep func(*ask.ListenAnswer) ([]shop.Run, error)) ([]shop.Run, error) {
	r, err := d.find(id, by)
	if err != nil {
		return nil, err
	}
	defer r.mu.Unlock()
	switch {
	case r.kept != nil:
		return r.kept, nil
	case r.answer == nil:
		return nil, shop.Saying(shop.NotFound, words.Say("refused.not-heard-yet"))
	}
	r.kept, err = keep(r.answer)
	return r.kept, err
}

// Drop forgets a recording. Rows that were kept of it stay.
func (d *Desk) Drop(id, by string) error {
	r, err := d.find(id, by)
	if err != nil {
		return err
	}
	r.mu.Unlock()
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.all[id] == r { // it may be forgotten by now
		d.drop(id)
	}
	return nil
}

func (r *recording) seconds() float64 { return float64(r.taken) / Rate }

func (r *recording) state(id string) *State {
	s := &State{ID: id, Design: r.of.Design, Machine: r.of.Machine, Rate: Rate, Next: r.taken, Seconds: r.seconds(),
		Ended: r.curve != nil, Stitches: r.design.Counts.Stitches, Kept: len(r.kept), KeptBreaks: r.kept != nil, Level: -64, Signal: string(sound.SignalNone)}
	if r.tracker != nil {
		w := r.tracker.Where()
		s.Signal, s.Level, s.Sewing, s.Done, s.Speed, s.SetSpeed = string(w.Signal), w.Level, w.Sewing, w.Done, w.Speed, w.SetSpeed
		s.Stitch, s.Low, s.High = w.Stitch+1, w.Low+1, w.High+1
	}
	s.Advice = Advice(s).Text(nil)
	return s
}

// Advice says of a recording under way how it sounds and what to do.
func Advice(s *State) words.Message {
	switch sound.Signal(s.Signal) {
	case sound.SignalClipped:
		return words.Say("hearing.clipped")
	case sound.SignalForeign:
		return words.Say("hearing.foreign")
	case sound.SignalFaint:
		if s.Sewing {
			return words.Say("hearing.faint")
		}
		return words.Say("hearing.waits")
	case sound.SignalGood:
		return words.Say("hearing.good")
	}
	return words.Say("hearing.none")
}
