// aubio (Debian package aubio-tools: P. Brossier's library for the analysis of music),
// sox and flac (packages of their own names), independent programs: where they are
// not installed these checks are left out. ./dev test installs them.

package sound

import (
	"bytes"
	"errors"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"needlepace/sound/synth"
)

// outside runs a program, or leaves the test out where there is none.
func outside(t *testing.T, name string, args ...string) string {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), name, args...).Output() //nolint:gosec // names and files of this test
	if errors.Is(err, exec.ErrNotFound) || errors.Is(err, fs.ErrNotExist) {
		t.Skipf("%s is not installed", name)
	}
	if err != nil {
		t.Fatalf("%s %q: %v", name, args, err)
	}
	return string(out)
}

// strokesAt is a machine's strokes so many a minute, as samples and when they fall.
func strokesAt(perMinute, seconds float64) (samples, at []float64) {
	p := &synth.Performance{Seconds: seconds + 1, Runs: [][2]float64{{0.5, seconds}}}
	for x := 0.5; x < seconds; x += 60 / perMinute {
		p.Strokes = append(p.Strokes, synth.Stroke{At: x, Speed: 12})
		at = append(at, x)
	}
	return p.Record(synth.Quiet, rand.New(rand.NewPCG(8, 2))), at
}

func saved(t *testing.T, samples []float64) string {
	t.Helper()
	var b bytes.Buffer
	if err := synth.WAV(&b, samples, synth.Rate); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "strokes.wav")
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// TestOnsetsAreWhereAnotherProgramHearsThem: within 20 ms, a frame of aubio's and
// the smoothing of its peaks.
func TestOnsetsAreWhereAnotherProgramHearsThem(t *testing.T) {
	samples, at := strokesAt(240, 20)
	out := outside(t, "aubioonset", "-i", saved(t, samples), "-H", "128", "-B", "512", "-t", "0.5")
	o := heardBy(t, samples, synth.Rate).pulses(&evenBands)
	theirs := strings.Fields(out)
	if len(theirs) < len(at)*9/10 || len(theirs) > len(at)*11/10 {
		t.Fatalf("aubio hears %d onsets of %d", len(theirs), len(at))
	}
	near := 0
	for _, f := range theirs {
		x, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		best, peak := 0, float32(0)
		for ms := max(0, int(x*1000)-120); ms < min(len(o), int(x*1000)+120); ms++ {
			if o[ms] > peak {
				best, peak = ms, o[ms]
			}
		}
		if peak > 0.5 && math.Abs(float64(best)/1000-x) < 0.02 {
			near++
		}
	}
	if near < len(theirs)*95/100 {
		t.Errorf("%d of aubio's %d onsets are ours within 20 ms", near, len(theirs))
	}
}

// TestTheRhythmIsTheTempoAnotherProgramHears: within 4 %, and whether aubio takes one
// beat or two for one is left open, as is usual where programs for tempo are compared
// (F. Gouyon et al., IEEE Trans. Audio Speech Lang. Process. 14 (2006) 1832–1844,
// accuracy 2; from memory).
func TestTheRhythmIsTheTempoAnotherProgramHears(t *testing.T) {
	samples, _ := strokesAt(132, 30)
	out := strings.Fields(outside(t, "aubio", "tempo", saved(t, samples)))
	theirs, err := strconv.ParseFloat(out[0], 64)
	if err != nil {
		t.Fatal(out, err)
	}
	r := rhythmOf(heardBy(t, samples, synth.Rate).pulses(&evenBands), 0.2)
	sum := make([]float64, gridSize)
	best := 0
	for f := range r.n {
		for k, e := range r.at(f) {
			sum[k] += float64(e)
		}
	}
	for k := range sum {
		if sum[k] > sum[best] {
			best = k
		}
	}
	ours := 60 * gridSpeed(best)
	near := func(beats float64) bool { return math.Abs(ours/beats-1) < 0.04 }
	if !near(theirs) && !near(theirs*2) || math.Abs(ours/132-1) > 0.02 {
		t.Errorf("%.1f beats a minute, aubio hears %.1f; there are 132", ours, theirs)
	}
}

// TestFilesOfOtherProgramsSoundTheSame: what sox and flac write of one sound.
func TestFilesOfOtherProgramsSoundTheSame(t *testing.T) {
	samples, at := strokesAt(240, 6)
	file := saved(t, samples)
	for name, how := range map[string][]string{
		"8.wav":      {"sox", file, "-b", "8", "OUT"},
		"24.wav":     {"sox", file, "-b", "24", "OUT"},
		"float.wav":  {"sox", file, "-e", "floating-point", "-b", "32", "OUT"},
		"stereo.wav": {"sox", file, "-c", "2", "-r", "44100", "OUT"},
		"8000.wav":   {"sox", file, "-r", "8000", "OUT"},
		"192.wav":    {"sox", file, "-r", "192000", "OUT"},
		"sox.flac":   {"sox", file, "OUT"},
		"best.flac":  {"flac", "--silent", "--best", "-o", "OUT", file},
		"fast.flac":  {"flac", "--silent", "--fast", "-o", "OUT", file},
	} {
		t.Run(name, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), name)
			args := append([]string(nil), how[1:]...)
			for i := range args {
				if args[i] == "OUT" {
					args[i] = out
				}
			}
			outside(t, how[0], args...)
			f, err := os.Open(out)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close() //nolint:errcheck // only read
			c, harm, err := Read(f)
			if err != nil || harm != (Damage{}) || math.Abs(c.Seconds()-7) > 0.1 {
				t.Fatalf("%v, %+v", err, harm)
			}
			o := c.pulses(&evenBands)
			for _, x := range at {
				if got, gain := pick(o, int(math.Round(x/Step))+1); math.Abs(got-x) > 0.004 || gain < 0.4 {
					t.Errorf("the stroke at %.3f s is heard at %.4f, %.2f clear", x, got, gain)
				}
			}
		})
	}
}
