package sound

import (
	"bufio"
	"encoding/binary"
	"errors"
	"io"
	"math"

	"needlepace/words"
)

// MostSeconds is the longest recording that is read: four hours.
const MostSeconds = 4 * 3600

// ReadError says why a sound file cannot be heard.
type ReadError struct {
	Offset int64         // of the file; −1: nowhere in particular
	Why    words.Message // a sentence without an end
}

// Says is the reason and where, as a sentence of the catalogue.
func (e *ReadError) Says() words.Message {
	if e.Offset < 0 {
		return e.Why
	}
	return words.Say("refused.sound-at", words.Args{"at": words.Whole(int(e.Offset)), "why": e.Why})
}

// Error gives the reason and where.
func (e *ReadError) Error() string { return e.Says().Raw() }

// Damage is what is wrong with a sound file of which something could be heard; the zero value is nothing.
type Damage struct {
	Cut    bool    // it ends before it says that it does
	Lost   float64 // s within it that could not be read: silence stands there
	From   float64 // s, where the first of that is
	Longer bool    // it holds more than it says; all of it was heard
	Sum    bool    // all could be read, and is not what the file's sum was taken of
}

// Says is what is wrong, in sentences of the catalogue.
func (d Damage) Says() (all words.Sentences) {
	if d.Lost > 0 {
		all.Say("listen.lost", words.Args{"time": words.Seconds(d.Lost), "from": words.Seconds(d.From)})
	}
	if d.Cut {
		all.Say("listen.cut")
	}
	if d.Longer {
		all.Say("listen.longer")
	}
	if d.Sum {
		all.Say("listen.sum")
	}
	return all
}

// Read hears a WAV or FLAC file to its end: PCM of 8, 16, 24 or 32 bits or
// floating point in WAV, any number of channels, which are averaged, 8,000 to
// 192,000 samples a second. A file that is damaged gives what it holds, and what
// is wrong with it. Errors are a *ReadError, or the reader's.
func Read(r io.Reader) (*Curve, Damage, error) {
	return ReadWhile(r, func(float64) error { return nil })
}

// ReadWhile is Read that asks before each piece, of so many seconds, whether there is room for its curve, 9 kB
// a second; the error where there is none ends it.
func ReadWhile(r io.Reader, room func(seconds float64) error) (*Curve, Damage, error) {
	b := bufio.NewReaderSize(r, 1<<16)
	head, err := b.Peek(12)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, Damage{}, err
	}
	switch {
	case len(head) >= 12 && (string(head[:4]) == "RIFF" || string(head[:4]) == "RF64") && string(head[8:12]) == "WAVE":
		return readWAV(b, room)
	case len(head) >= 4 && string(head[:4]) == "fLaC":
		return readFLAC(b, room)
	case len(head) == 0:
		return nil, Damage{}, &ReadError{0, words.Say("refused.sound-empty")}
	}
	return nil, Damage{}, &ReadError{0, words.Say("refused.sound-kind")}
}

// pcm says how samples lie in a WAV file.
type pcm struct {
	channels, bits int
	rate           int
	float          bool
}

// Tags of the fmt chunk (Microsoft, Multimedia Programming Interface and Data
// Specifications 1.0, 1991, and WAVEFORMATEXTENSIBLE).
const (
	tagPCM        = 1
	tagFloat      = 3
	tagExtensible = 0xFFFE
)

// readWAV reads the chunks of a RIFF file up to the end of its samples.
func readWAV(r *bufio.Reader, room func(float64) error) (*Curve, Damage, error) {
	at := int64(0)
	get := func(n int) ([]byte, error) {
		buf := make([]byte, n)
		k, err := io.ReadFull(r, buf)
		at += int64(k)
		return buf[:k], err
	}
	if _, err := get(12); err != nil {
		return nil, Damage{}, &ReadError{at, words.Say("refused.sound-head")}
	}
	var f *pcm
	large := int64(math.MaxInt64) // of the samples, where four bytes do not hold it
	for {
		h, err := get(8)
		if err != nil {
			if f == nil {
				return nil, Damage{}, &ReadError{at, words.Say("refused.sound-before")}
			}
			return nil, Damage{}, &ReadError{at, words.Say("refused.sound-none")}
		}
		size := int64(binary.LittleEndian.Uint32(h[4:]))
		switch string(h[:4]) {
		case "fmt ":
			if size < 16 || size > 4096 {
				return nil, Damage{}, &ReadError{at - 4, words.Say("refused.sound-head-size", words.Args{"n": words.Whole(int(size))})}
			}
			b, err := get(int(size + size&1))
			if err != nil {
				return nil, Damage{}, &ReadError{at, words.Say("refused.sound-head")}
			}
			if f, err = pcmOf(b); err != nil {
				return nil, Damage{}, err
			}
		case "ds64": // EBU Tech 3306: sizes of eight bytes, the samples' is the second
			if size < 16 || size > 4096 {
				return nil, Damage{}, &ReadError{at - 4, words.Say("refused.sound-head-size", words.Args{"n": words.Whole(int(size))})}
			}
			b, err := get(int(size + size&1))
			if err != nil {
				return nil, Damage{}, &ReadError{at, words.Say("refused.sound-head")}
			}
			if n := int64(binary.LittleEndian.Uint64(b[8:])); n > 0 {
				large = n
			}
		case "data":
			if f == nil {
				return nil, Damage{}, &ReadError{at, words.Say("refused.sound-order")}
			}
			if size == math.MaxUint32 || size == 0 { // a recorder that never came back to say
				size = large
			}
			return f.hear(r, size, room)
		default:
			n, err := io.CopyN(io.Discard, r, size+size&1)
			if at += n; err != nil {
				return nil, Damage{}, &ReadError{at, words.Say("refused.sound-none")}
			}
		}
	}
}

func pcmOf(b []byte) (*pcm, error) {
	f := &pcm{
		channels: int(binary.LittleEndian.Uint16(b[2:])),
		rate:     int(binary.LittleEndian.Uint32(b[4:])),
		bits:     int(binary.LittleEndian.Uint16(b[14:])),
	}
	tag := int(binary.LittleEndian.Uint16(b))
	if tag == tagExtensible && len(b) >= 26 {
		tag = int(binary.LittleEndian.Uint16(b[24:]))
	}
	f.float = tag == tagFloat
	switch {
	case tag != tagPCM && tag != tagFloat:
		return nil, &ReadError{-1, words.Say("refused.sound-packed", words.Args{"tag": words.Whole(tag)})}
	case f.channels < 1 || f.channels > 64:
		return nil, &ReadError{-1, words.Say("refused.sound-channels", words.Args{"n": words.Whole(f.channels)})}
	case f.float && f.bits != 32 && f.bits != 64, !f.float && f.bits != 8 && f.bits != 16 && f.bits != 24 && f.bits != 32:
		return nil, &ReadError{-1, words.Say("refused.sound-bits", words.Args{"n": words.Whole(f.bits)})}
	case f.rate < LeastRate || f.rate > MostRate:
		return nil, &ReadError{-1, words.Say("refused.sound-rate", words.Args{"n": words.Whole(f.rate), "least": words.Whole(LeastRate), "most": words.Whole(MostRate)})}
	}
	return f, nil
}

// hear takes size bytes of samples, or as many as there are.
func (f *pcm) hear(r io.Reader, size int64, room func(float64) error) (*Curve, Damage, error) {
	l, err := NewListener(f.rate)
	if err != nil {
		return nil, Damage{}, err
	}
	one := f.bits / 8
	frame := one * f.channels
	buf := make([]byte, frame*4096)
	out := make([]float64, 0, 4096)
	left := size
	seconds := 0.0
	for left >= int64(frame) {
		n, err := io.ReadFull(r, buf[:min(int64(len(buf)), left-left%int64(frame))])
		left -= int64(n)
		out = out[:0]
		for i := 0; i+frame <= n; i += frame {
			s := 0.0
			for c := range f.channels {
				s += f.sample(buf[i+c*one:])
			}
			out = append(out, s/float64(f.channels))
		}
		if seconds += float64(len(out)) / float64(f.rate); seconds > MostSeconds {
			return nil, Damage{}, &ReadError{-1, words.Say("refused.sound-long")}
		}
		if err := room(float64(len(out)) / float64(f.rate)); err != nil {
			return nil, Damage{}, err
		}
		l.Hear(out)
		if err != nil {
			if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
				break
			}
			return nil, Damage{}, err
		}
	}
	if seconds == 0 {
		return nil, Damage{}, &ReadError{-1, words.Say("refused.sound-none")}
	}
	return l.Curve(), Damage{Cut: size != math.MaxInt64 && left >= int64(frame)}, nil
}

// sample is one sample, −1…1; one that is no number is 0.
func (f *pcm) sample(b []byte) float64 {
	switch {
	case f.float && f.bits == 64:
		return number(math.Float64frombits(binary.LittleEndian.Uint64(b)))
	case f.float:
		return number(float64(math.Float32frombits(binary.LittleEndian.Uint32(b))))
	case f.bits == 8: // unsigned, as the format has it
		return (float64(b[0]) - 128) / 128
	case f.bits == 16:
		return float64(int16(binary.LittleEndian.Uint16(b))) / (1 << 15)
	case f.bits == 24:
		return float64(int32(uint32(b[0])<<8|uint32(b[1])<<16|uint32(b[2])<<24)>>8) / (1 << 23)
	}
	return float64(int32(binary.LittleEndian.Uint32(b))) / (1 << 31)
}

func number(v float64) float64 {
	if !(v >= -8 && v <= 8) {
		return 0
	}
	return v
}
