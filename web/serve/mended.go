package serve

import (
	"archive/zip"
	"bytes"
	"fmt"
	"path"
	"strings"

	"needlepace/ask"
	"needlepace/jobs"
)

// MendedFiles are the new files of a mend of many designs by the designs' IDs,
// and those that can be taken together as mended.zip.
func MendedFiles(a *ask.MendManyAnswer) map[string]jobs.File {
	out := map[string]jobs.File{}
	for i := range a.Designs {
		if d := &a.Designs[i]; d.Mend != nil && d.Changed {
			out[d.ID] = jobs.File{Name: d.Mend.NewFile, MediaType: "application/octet-stream", Content: d.Mend.Content}
		}
	}
	if b := MendedZip(a); b != nil {
		out["mended.zip"] = jobs.File{Name: "mended.zip", MediaType: "application/zip", Content: b}
	}
	return out
}

// MendedZip is the new files that can be taken together; nil for none. Files of
// one name are numbered.
func MendedZip(a *ask.MendManyAnswer) []byte {
	take := a.Take()
	if len(take) == 0 {
		return nil
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	seen := map[string]bool{}
	for _, d := range take {
		name, ext := d.Mend.NewFile, path.Ext(d.Mend.NewFile)
		for n := 2; seen[strings.ToLower(name)]; n++ {
			name = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(d.Mend.NewFile, ext), n, ext)
		}
		seen[strings.ToLower(name)] = true
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write(d.Mend.Content)
		}
		if err != nil {
			return nil // not into memory
		}
	}
	if z.Close() != nil {
		return nil
	}
	return b.Bytes()
}
