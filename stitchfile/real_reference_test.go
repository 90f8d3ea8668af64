package stitchfile

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"needlepace/stitch"
)

const realDir = "../../shared/data/real"

// measured is what the reference gives for a design, with its conventions: y
// down, positions after each stitch record.
type measured struct {
	stitches, jumps, trims, stops int
	minX, maxX, minY, maxY        int
	length                        float64
	positions                     string
}

func measure(d *stitch.Design) measured {
	m := measured{}
	x, y := 0, 0
	h := sha256.New()
	first := true
	for _, r := range d.Records {
		x, y = x+int(r.DX), y-int(r.DY)
		switch r.Op {
		case stitch.Sew, stitch.Sequin:
			m.stitches++
			m.length += math.Hypot(float64(r.DX), float64(r.DY))
			var b [8]byte
			binary.LittleEndian.PutUint32(b[:], uint32(int32(x)))
			binary.LittleEndian.PutUint32(b[4:], uint32(int32(y)))
			h.Write(b[:])
			if first {
				m.minX, m.maxX, m.minY, m.maxY = x, x, y, y
				first = false
			}
			m.minX, m.maxX, m.minY, m.maxY = min(m.minX, x), max(m.maxX, x), min(m.minY, y), max(m.maxY, y)
		case stitch.Jump:
			m.jumps++
		case stitch.Trim:
			m.trims++
		case stitch.ColourStop, stitch.Stop:
			m.stops++
		}
	}
	m.positions = hex.EncodeToString(h.Sum(nil))
	return m
}

func TestX(t *testing.T) {
	f, err := os.Open(filepath.Join(realDir, "reference.csv"))
	if err != nil {
		t.Skip("no outside data")
	}
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows[1:] {
		name := row[0]
		files, err := ReadFile(filepath.Join(realDir, name))
		if err != nil {
			fmt.Println(name, "ERR", err)
			continue
		}
		d := files[0].Design
		m := measure(d)
		num := func(i int) float64 { v, _ := strconv.ParseFloat(row[i], 64); return v }
		s := ""
		for i, v := range []int{m.stitches, m.jumps, m.trims, m.stops, m.minX, m.maxX, m.minY, m.maxY} {
			if int(num(2+i)) != v {
				s += fmt.Sprintf(" %s %v want %v;", rows[0][2+i], v, row[2+i])
			}
		}
		if math.Abs(num(10)-m.length) > 0.001 {
			s += fmt.Sprintf(" length %.3f want %v;", m.length, row[10])
		}
		if m.positions != row[11] {
			s += " positions"
		}
		if int(num(12)) != len(d.Threads) {
			s += fmt.Sprintf(" threads %d want %v", len(d.Threads), row[12])
		}
		fmt.Println(name, s)
		for _, w := range d.Warnings {
			fmt.Println("    ", w.Code, w.Offset, w.Text)
		}
	}
}
