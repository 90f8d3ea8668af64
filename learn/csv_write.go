package learn

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
)

// WriteRuns writes observations as a file of timed runs that ReadRuns reads
// back. With blank the readings and dates are left empty, to be filled in.
func WriteRuns(w io.Writer, obs []Observation, blank bool) error {
	c := csv.NewWriter(w)
	if err := c.Write(Columns); err != nil {
		return err
	}
	num := func(v float64) string {
		if v == 0 {
			return ""
		}
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	for i := range obs {
		o := &obs[i]
		row := map[string]string{"design": o.Name, "set_speed": num(o.SetSpeed), "error": num(o.Error),
			"note": safe(o.Note), "needles": o.Needles.String(), "with": o.Holds(),
			"job": o.Job.String()}
		switch o.Kind {
		case BlockRun:
			row["block"] = strconv.Itoa(o.Block)
		case DisplayReading:
			row["length_mm"] = num(o.LengthMM)
			row["stitch"] = "straight"
			if o.Zigzag {
				row["stitch"] = "zigzag"
			}
		}
		if !blank {
			row["date"] = o.Date.String()
			switch {
			case o.Kind == DisplayReading:
				row["shown_speed"] = num(o.Shown)
			case o.Step >= 1:
				row["seconds"] = strconv.FormatFloat(o.Seconds, 'f', 0, 64)
			case o.Only != "":
				row["seconds"] = strconv.FormatFloat(o.Seconds, 'f', 3, 64)
			default:
				row["seconds"] = strconv.FormatFloat(o.Seconds, 'f', 1, 64)
			}
		}
		rec := make([]string, len(Columns))
		for k, name := range Columns {
			rec[k] = row[name]
		}
		if err := c.Write(rec); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// safe keeps a spreadsheet from taking a note for a formula.
func safe(s string) string {
	if strings.IndexAny(s, "=+-@") == 0 {
		return "'" + s
	}
	return s
}
