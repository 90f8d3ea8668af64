package paper

import "strings"

// oneText drops control signs that a text format cannot hold (RFC 5545 TEXT
// allows only HTAB and line ends; XML none of the others) and makes all line
// ends LF.
func oneText(s string) string {
	s = strings.ToValidUTF8(s, "�")
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' && r != '\n' || r == 0x7f || r == 0xfffe || r == 0xffff {
			return -1
		}
		return r
	}, s)
}

// cellText is a text for a table cell: one that a spreadsheet would take for
// a formula (it begins with =, +, −, @, a tab or a line end) gets an apostrophe
// before it.
func cellText(s string) string {
	s = oneText(s)
	if s != "" && strings.ContainsRune("=+-@\t\n", rune(s[0])) {
		return "'" + s
	}
	return s
}
