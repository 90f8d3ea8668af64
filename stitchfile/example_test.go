package stitchfile_test

import (
	"bytes"
	"fmt"

	"needlepace/stitch"
	"needlepace/stitchfile"
)

// Two stitches, a trim, a move of 30 mm and a stitch: written, read, counted.
func Example() {
	d := &stitch.Design{Name: "SAMPLE", Records: []stitch.Record{
		{DX: 20, DY: 0, Op: stitch.Sew},
		{DX: 20, DY: 5, Op: stitch.Sew},
		{Op: stitch.Trim},
		{DX: 300, Op: stitch.Jump},
		{DX: 0, DY: 20, Op: stitch.Sew},
	}}
	var file bytes.Buffer
	if err := stitchfile.Encode(&file, d, "dst"); err != nil {
		fmt.Println(err)
		return
	}
	back, err := stitchfile.Decode(file.Bytes(), "")
	if err != nil {
		fmt.Println(err)
		return
	}
	c := back.Count()
	fmt.Printf("%s in .%s: %d stitches, %d jumps, ends at %v\n", back.Name, back.Format, c.Stitches, c.Jumps, c.End)
	// Output: SAMPLE in .dst: 3 stitches, 3 jumps, ends at {340 25}
}
