package sound

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/frame"
	"github.com/mewkiz/flac/meta"

	"needlepace/sound/synth"
)

// clicks are samples of one channel with a click every quarter of a second.
func clicks(rate, seconds int) []float64 {
	x := make([]float64, rate*seconds)
	for k := 0; k < 4*seconds; k++ {
		for i := range rate / 200 {
			if j := (2*k+1)*rate/8 + i; j < len(x) {
				x[j] = 0.6 * math.Exp(-float64(i)/float64(rate)*400) * math.Sin(2*math.Pi*1800*float64(i)/float64(rate))
			}
		}
	}
	return x
}

// wav writes samples as a WAV file of another kind than synth's.
func wav(x []float64, rate, channels, bits, tag int) []byte {
	var data bytes.Buffer
	for _, v := range x {
		for range channels {
			switch {
			case tag == tagFloat && bits == 64:
				_ = binary.Write(&data, binary.LittleEndian, v)
			case tag == tagFloat:
				_ = binary.Write(&data, binary.LittleEndian, float32(v))
			case bits == 8:
				data.WriteByte(byte(v*127 + 128))
			case bits == 24:
				n := int32(v * (1<<23 - 1))
				data.Write([]byte{byte(n), byte(n >> 8), byte(n >> 16)})
			case bits == 32:
				_ = binary.Write(&data, binary.LittleEndian, int32(v*(1<<31-1)))
			default:
				_ = binary.Write(&data, binary.LittleEndian, int16(v*(1<<15-1)))
			}
		}
	}
	var out bytes.Buffer
	out.WriteString("RIFF\x00\x00\x00\x00WAVELIST\x03\x00\x00\x00abc\x00fmt ")
	for _, v := range []any{uint32(16), uint16(tag), uint16(channels), uint32(rate), uint32(rate * channels * bits / 8),
		uint16(channels * bits / 8), uint16(bits)} {
		_ = binary.Write(&out, binary.LittleEndian, v)
	}
	out.WriteString("data")
	_ = binary.Write(&out, binary.LittleEndian, uint32(data.Len()))
	out.Write(data.Bytes())
	return out.Bytes()
}

// TestEveryKindOfWAVSoundsTheSame reads one sound in every depth, number of
// channels and rate.
func TestEveryKindOfWAVSoundsTheSame(t *testing.T) {
	for _, c := range []struct{ rate, channels, bits, tag int }{
		{16000, 1, 16, tagPCM}, {16000, 2, 16, tagPCM}, {16000, 1, 8, tagPCM}, {44100, 2, 24, tagPCM},
		{48000, 1, 32, tagPCM}, {48000, 1, 32, tagFloat}, {96000, 2, 64, tagFloat}, {8000, 1, 16, tagPCM},
		{192000, 1, 16, tagPCM},
	} {
		got, cut, err := Read(bytes.NewReader(wav(clicks(c.rate, 3), c.rate, c.channels, c.bits, c.tag)))
		if err != nil || cut {
			t.Errorf("%+v: %v, cut %v", c, err, cut)
			continue
		}
		if math.Abs(got.Seconds()-3) > 0.01 {
			t.Errorf("%+v: %.3f s, want 3", c, got.Seconds())
		}
		o := got.pulses(&evenBands)
		for k := range 12 {
			if at, gain := pick(o, 125+250*k); math.Abs(at-(0.125+0.25*float64(k))) > 0.002 || gain < 0.5 {
				t.Errorf("%+v: click %d at %.4f s, %.2f clear", c, k, at, gain)
			}
		}
	}
}

// TestSamplesKeepTheirSignAndSize reads single samples of every kind.
func TestSamplesKeepTheirSignAndSize(t *testing.T) {
	for _, f := range []pcm{{bits: 8}, {bits: 16}, {bits: 24}, {bits: 32}, {bits: 32, float: true}, {bits: 64, float: true}} {
		tag := tagPCM
		if f.float {
			tag = tagFloat
		}
		for _, want := range []float64{-0.5, -0.01, 0, 0.25, 0.99} {
			file := wav([]float64{want}, 16000, 1, f.bits, tag)
			if got := f.sample(file[len(file)-f.bits/8:]); math.Abs(got-want) > 0.02 {
				t.Errorf("%d bits, floating point %v: %g is read as %g", f.bits, f.float, want, got)
			}
		}
	}
}

// TestAFLACFileSoundsAsItsWAV writes a FLAC stream and reads it.
func TestAFLACFileSoundsAsItsWAV(t *testing.T) {
	x := clicks(16000, 2)
	var out bytes.Buffer
	e, err := flac.NewEncoder(&out, &meta.StreamInfo{BlockSizeMin: 16, BlockSizeMax: 65535, SampleRate: 16000, NChannels: 1,
		BitsPerSample: 16, NSamples: uint64(len(x))})
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(x); i += 4000 {
		s := make([]int32, 0, 4000)
		for _, v := range x[i:min(i+4000, len(x))] {
			s = append(s, int32(v*32767))
		}
		f := &frame.Frame{Header: frame.Header{HasFixedBlockSize: false, BlockSize: uint16(len(s)), SampleRate: 16000,
			Channels: frame.ChannelsMono, BitsPerSample: 16}, Subframes: []*frame.Subframe{{SubHeader: frame.SubHeader{
			Pred: frame.PredVerbatim}, Samples: s, NSamples: len(s)}}}
		if err := e.WriteFrame(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := e.Close(); err != nil {
		t.Fatal(err)
	}
	whole := out.Bytes()
	got, cut, err := Read(bytes.NewReader(whole))
	if err != nil || cut {
		t.Fatal(err, cut)
	}
	want, _, err := Read(bytes.NewReader(wav(x, 16000, 1, 16, tagPCM)))
	if err != nil {
		t.Fatal(err)
	}
	for b := range want.bands {
		if !bytes.Equal(got.bands[b][:want.n-20], want.bands[b][:want.n-20]) {
			t.Errorf("band %d differs from the WAV file's", b)
		}
	}
	if _, cut, err := Read(bytes.NewReader(whole[:len(whole)/2])); err != nil || !cut {
		t.Errorf("half a file: %v, cut %v", err, cut)
	}
}

// TestAFileThatIsNoSoundSaysWhy: each kind of bad input has its sentence.
func TestAFileThatIsNoSoundSaysWhy(t *testing.T) {
	good := wav(clicks(16000, 1), 16000, 1, 16, tagPCM)
	for _, c := range []struct {
		name, want string
		file       []byte
	}{
		{"empty", "empty", nil},
		{"text", "neither a WAV nor a FLAC", []byte("design,seconds\na.dst,12\n")},
		{"only a head", "ends before it says", good[:12]},
		{"no samples", "no sound", good[:56]},
		{"compressed", "packed in a way (85)", wav(nil, 16000, 1, 16, 85)},
		{"4,000 samples a second", "4,000 samples a second", wav(clicks(4000, 1), 4000, 1, 16, tagPCM)},
		{"12 bits", "samples of 12 bits", wav(nil, 16000, 1, 12, tagPCM)},
		{"no channels", "0 channels", wav(clicks(16000, 1), 16000, 0, 16, tagPCM)},
		{"a broken FLAC head", "FLAC", []byte("fLaC and then nothing of it")},
	} {
		_, _, err := Read(bytes.NewReader(c.file))
		var why *ReadError
		if !errors.As(err, &why) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if c, cut, err := Read(bytes.NewReader(good[:len(good)*2/3])); err != nil || !cut || c.Seconds() > 0.9 {
		t.Errorf("two thirds of a file: %v, cut %v", err, cut)
	}
}

// FuzzRead: whatever the bytes, a curve or a reason.
func FuzzRead(f *testing.F) {
	var b bytes.Buffer
	if err := synth.WAV(&b, clicks(16000, 1), 16000); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes()[:4000])
	f.Add(wav(clicks(8000, 1), 8000, 2, 24, tagPCM)[:3000])
	f.Add([]byte("fLaC\x00\x00\x00\x22"))
	f.Fuzz(func(t *testing.T, b []byte) {
		if c, _, err := Read(bytes.NewReader(b)); err == nil && c.n == 0 {
			t.Error("no error and no sound")
		}
	})
}
