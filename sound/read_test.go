package sound

import (
	"bytes"
	"crypto/md5"
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
		got, harm, err := Read(bytes.NewReader(wav(clicks(c.rate, 3), c.rate, c.channels, c.bits, c.tag)))
		if err != nil || harm != (Damage{}) {
			t.Errorf("%+v: %v, %+v", c, err, harm)
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

// flacFile is samples of 16 kHz as a FLAC stream of frames of a quarter of a second, each of 8,000 bytes
// and its head, and where each begins; what its own head says can be made wrong.
func flacFile(t testing.TB, x []float64, wrong func(*meta.StreamInfo)) (file []byte, begins []int) {
	t.Helper()
	var out, raw bytes.Buffer
	for _, v := range x {
		_ = binary.Write(&raw, binary.LittleEndian, int16(v*32767))
	}
	info := &meta.StreamInfo{BlockSizeMin: 16, BlockSizeMax: 65535, SampleRate: 16000, NChannels: 1,
		BitsPerSample: 16, NSamples: uint64(len(x)), MD5sum: md5.Sum(raw.Bytes())}
	if wrong != nil {
		wrong(info)
	}
	e, err := flac.NewEncoder(&out, info)
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
		begins = append(begins, out.Len())
		if err := e.WriteFrame(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := e.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes(), begins
}

// TestAFLACFileSoundsAsItsWAV writes a FLAC stream and reads it.
func TestAFLACFileSoundsAsItsWAV(t *testing.T) {
	x := clicks(16000, 2)
	file, _ := flacFile(t, x, nil)
	got, harm, err := Read(bytes.NewReader(file))
	if err != nil || harm != (Damage{}) {
		t.Fatal(err, harm)
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
}

// TestWhatADamagedFLACFileHoldsIsHeardAndWhatItLostIsTold: eight frames with a click each.
func TestWhatADamagedFLACFileHoldsIsHeardAndWhatItLostIsTold(t *testing.T) {
	x := clicks(16000, 2)
	whole, at := flacFile(t, x, nil)
	says := func(wrong func(*meta.StreamInfo)) []byte { b, _ := flacFile(t, x, wrong); return b }
	with := func(change func(b []byte) []byte) []byte { return change(bytes.Clone(whole)) }
	for _, c := range []struct {
		name    string
		file    []byte
		want    Damage
		clicks  string // the frames whose clicks are heard
		seconds float64
	}{
		{"a bit turned in the third frame", with(func(b []byte) []byte { b[at[2]+4000] ^= 4; return b }), Damage{Lost: 0.25, From: 0.5}, "01.34567", 2},
		{"a frame's head overwritten", with(func(b []byte) []byte { clear(b[at[4]:][:9]); return b }), Damage{Lost: 0.25, From: 1}, "0123.567", 2},
		{"two frames apart", with(func(b []byte) []byte { b[at[1]+99]++; b[at[6]+99]++; return b }), Damage{Lost: 0.5, From: 0.25}, "0.2345.7", 2},
		{"the first frame", with(func(b []byte) []byte { b[at[0]+99]++; return b }), Damage{Lost: 0.25}, ".1234567", 2},
		{"a frame taken out", with(func(b []byte) []byte { return append(b[:at[5]], b[at[6]:]...) }), Damage{Lost: 0.25, From: 1.25}, "01234.67", 2},
		{"ended within a frame", whole[:at[3]+4000], Damage{Cut: true}, "012.....", 0.75},
		{"ended between frames", whole[:at[3]], Damage{Cut: true}, "012.....", 0.75},
		{"the last frame", with(func(b []byte) []byte { b[at[7]+99]++; return b }), Damage{Cut: true}, "0123456.", 1.75},
		{"torn and ended", with(func(b []byte) []byte { b[at[1]+99]++; return b[:at[4]] }), Damage{Lost: 0.25, From: 0.25, Cut: true}, "0.23....", 1},
		{"a tag after it", append(bytes.Clone(whole), append([]byte("TAG"), make([]byte, 125)...)...), Damage{}, "01234567", 2},
		{"another sum", says(func(i *meta.StreamInfo) { i.MD5sum[0]++ }), Damage{Sum: true}, "01234567", 2},
		{"no sum", says(func(i *meta.StreamInfo) { clear(i.MD5sum[:]) }), Damage{}, "01234567", 2},
		{"more than its head says", says(func(i *meta.StreamInfo) { i.NSamples = 20000 }), Damage{Longer: true}, "01234567", 2},
		{"less than its head says", says(func(i *meta.StreamInfo) { i.NSamples++ }), Damage{Cut: true}, "01234567", 2},
		{"a length that is not said", says(func(i *meta.StreamInfo) { i.NSamples = 0 })[:at[5]+100], Damage{Cut: true}, "01234...", 1.25},
	} {
		got, harm, err := Read(bytes.NewReader(c.file))
		if err != nil || harm != c.want {
			t.Errorf("%s: %v, %+v, want %+v", c.name, err, harm, c.want)
			continue
		}
		if math.Abs(got.Seconds()-c.seconds) > 0.01 {
			t.Errorf("%s: %.3f s, want %g", c.name, got.Seconds(), c.seconds)
		}
		if (harm == Damage{}) != (len(harm.Says()) == 0) {
			t.Errorf("%s: %+v says %v", c.name, harm, harm.Says())
		}
		o := got.pulses(&evenBands)
		for k, is := range c.clicks {
			heard := false
			if 125+250*k < len(o)-10 {
				at, gain := pick(o, 125+250*k)
				heard = math.Abs(at-(0.125+0.25*float64(k))) < 0.002 && gain > 0.5
			}
			if heard != (is != '.') {
				t.Errorf("%s: click %d heard: %v", c.name, k, heard)
			}
		}
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
	// RF64 (EBU Tech 3306): the sizes stand in a chunk of their own, those of four bytes are all ones.
	large := append([]byte("RF64\xff\xff\xff\xffWAVEds64\x1c\x00\x00\x00"), make([]byte, 28)...)
	binary.LittleEndian.PutUint64(large[28:], 32000)
	large = append(large, good[12:]...)
	copy(large[len(large)-32004:], "\xff\xff\xff\xff")
	for name, file := range map[string][]byte{"WAV": good, "RF64": large} {
		if c, harm, err := Read(bytes.NewReader(file)); err != nil || harm != (Damage{}) || math.Abs(c.Seconds()-1) > 0.01 {
			t.Errorf("%s: %v, %+v", name, err, harm)
		}
		if c, harm, err := Read(bytes.NewReader(file[:len(file)*2/3])); err != nil || harm != (Damage{Cut: true}) || c.Seconds() > 0.9 {
			t.Errorf("two thirds of a file, %s: %v, %+v", name, err, harm)
		}
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
	file, _ := flacFile(f, clicks(16000, 1), nil)
	f.Add(file[:8300])
	f.Fuzz(func(t *testing.T, b []byte) {
		if c, _, err := Read(bytes.NewReader(b)); err == nil && c.n == 0 {
			t.Error("no error and no sound")
		}
	})
}
