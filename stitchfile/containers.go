package stitchfile

// container names the container format by its signature, "" for none.
func container(b []byte) string {
	switch {
	case len(b) >= 4 && string(b[:4]) == "PK\x03\x04":
		return "zip"
	case len(b) >= 3 && string(b[:3]) == "\x1f\x8b\x08":
		return "gz"
	}
	return ""
}
