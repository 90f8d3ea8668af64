package sound

import (
	"bufio"
	"crypto/md5"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"

	"needlepace/words"
)

// readFLAC reads a FLAC stream (RFC 9639). A frame that cannot be read, or whose own sum is
// wrong, is passed over: the next one says where in the recording it lies, and silence stands
// for what is between.
func readFLAC(r *bufio.Reader, room func(float64) error) (*Curve, Damage, error) {
	s, err := flac.New(r)
	if err != nil {
		return nil, Damage{}, &ReadError{0, words.Say("refused.sound-flac-head", words.Args{"why": words.Name(err.Error())})}
	}
	rate := int(s.Info.SampleRate)
	l, err := NewListener(rate)
	if err != nil {
		return nil, Damage{}, &ReadError{-1, words.Say("refused.sound-rate", words.Args{"n": words.Whole(rate), "least": words.Whole(LeastRate), "most": words.Whole(MostRate)})}
	}
	full := math.Ldexp(1, int(s.Info.BitsPerSample)-1)
	stream := flacFrames{r: r, info: s.Info}
	var harm Damage
	var out []float64
	var raw []byte
	var first error // why a frame cannot be read
	sum := md5.New()
	heard, read, torn := uint64(0), uint64(0), false
	hear := func(x []float64) error {
		if heard += uint64(len(x)); heard > MostSeconds*uint64(rate) {
			return &ReadError{-1, words.Say("refused.sound-long")}
		}
		if err := room(float64(len(x)) / float64(rate)); err != nil {
			return err
		}
		l.Hear(x)
		return nil
	}
	said := s.Info.NSamples
	for {
		f, err := stream.next()
		switch {
		case errors.Is(err, io.EOF):
		case err != nil:
			if first == nil {
				first = err
			}
			f, err = stream.nextWhole()
			torn = err != nil
		}
		if stream.failed != nil {
			return nil, Damage{}, stream.failed
		}
		if errors.Is(err, io.EOF) {
			break
		}
		// Where the frame says that it lies further on, what was before it is missing.
		if at := stream.place(f); at > heard && (said == 0 || at < said) {
			if harm.Lost == 0 {
				harm.From = float64(heard) / float64(rate)
			}
			harm.Lost += float64(at-heard) / float64(rate)
			for at > heard {
				out = append(out[:0], make([]float64, min(at-heard, 4096))...)
				if err := hear(out); err != nil {
					return nil, Damage{}, err
				}
			}
		}
		out, raw = out[:0], raw[:0]
		for i := range f.Subframes[0].NSamples {
			v := 0.0
			for _, c := range f.Subframes {
				n := c.Samples[i]
				v += float64(n)
				for b := uint8(0); b < f.BitsPerSample; b += 8 {
					raw = append(raw, byte(n>>b))
				}
			}
			out = append(out, v/full/float64(len(f.Subframes)))
		}
		sum.Write(raw)
		read += uint64(len(out))
		if err := hear(out); err != nil {
			return nil, Damage{}, err
		}
	}
	switch {
	case read == 0 && first != nil:
		return nil, Damage{}, &ReadError{-1, words.Say("refused.sound-flac", words.Args{"why": words.Name(first.Error())})}
	case read == 0:
		return nil, Damage{}, &ReadError{-1, words.Say("refused.sound-none")}
	}
	harm.Cut = heard < said || said == 0 && torn
	harm.Longer = said > 0 && heard > said
	harm.Sum = harm == Damage{} && s.Info.MD5sum != [md5.Size]byte{} && [md5.Size]byte(sum.Sum(nil)) != s.Info.MD5sum
	return l.Curve(), harm, nil
}

// flacFrames are the frames of a FLAC stream one by one, with a way back to where the present
// one begins.
type flacFrames struct {
	r        io.Reader
	info     *meta.StreamInfo
	buf      []byte
	from, at int   // the present frame's first byte in buf, and what is read next
	failed   error // the reader's, but its end
}

// Read is a Reader's, for the frames' reader.
func (s *flacFrames) Read(p []byte) (int, error) {
	if s.at == len(s.buf) {
		s.buf = append(s.buf[:copy(s.buf, s.buf[s.from:])], make([]byte, 1<<15)...)
		s.at, s.from = s.at-s.from, 0
		n, err := s.r.Read(s.buf[s.at:])
		if s.buf = s.buf[:s.at+n]; n == 0 {
			if err == nil {
				err = io.ErrNoProgress
			}
			if !errors.Is(err, io.EOF) {
				s.failed = err
			}
			return 0, err
		}
	}
	n := copy(p, s.buf[s.at:])
	s.at += n
	return n, nil
}

// next is the frame that begins here; io.EOF where nothing does.
func (s *flacFrames) next() (*frame.Frame, error) {
	s.from = s.at
	f, err := frame.New(s)
	if err != nil {
		return nil, err
	}
	if f.BitsPerSample == 0 { // as the head says
		f.BitsPerSample = s.info.BitsPerSample
	}
	if f.BitsPerSample != s.info.BitsPerSample || f.Channels.Count() != int(s.info.NChannels) {
		return nil, fmt.Errorf("a frame of %d channels of %d bits in a stream of %d of %d", f.Channels.Count(), f.BitsPerSample, s.info.NChannels, s.info.BitsPerSample)
	}
	if err := f.Parse(); err != nil {
		return nil, err
	}
	return f, nil
}

// nextWhole is the first frame that can be read and begins after where the last one did, which could
// not; io.EOF where there is none.
func (s *flacFrames) nextWhole() (*frame.Frame, error) {
	var two [2]byte
	for s.at = s.from + 1; ; s.at = s.from + 1 {
		s.from = s.at
		if _, err := io.ReadFull(s, two[:]); err != nil {
			return nil, io.EOF
		}
		if two[0] != 0xFF || two[1]&^1 != 0xF8 { // what a frame begins with (RFC 9639, 9.1)
			continue
		}
		s.at = s.from
		if f, err := s.next(); err == nil {
			return f, nil
		}
	}
}

// place is the sample of the stream that a frame begins with.
func (s *flacFrames) place(f *frame.Frame) uint64 {
	if f.HasFixedBlockSize {
		return f.Num * uint64(s.info.BlockSizeMax)
	}
	return f.Num
}
