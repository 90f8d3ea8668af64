package synth

import (
	"encoding/binary"
	"io"
)

// WAV writes samples of one channel as 16-bit PCM.
func WAV(w io.Writer, samples []float64, rate int) error {
	n := uint32(2 * len(samples))
	head := []any{[]byte("RIFF"), n + 36, []byte("WAVEfmt "), uint32(16), uint16(1), uint16(1), uint32(rate),
		uint32(2 * rate), uint16(2), uint16(16), []byte("data"), n}
	for _, v := range head {
		if err := binary.Write(w, binary.LittleEndian, v); err != nil {
			return err
		}
	}
	b := make([]byte, 0, n)
	for _, s := range samples {
		b = binary.LittleEndian.AppendUint16(b, uint16(int16(min(max(s, -1), 1)*32767)))
	}
	_, err := w.Write(b)
	return err
}
