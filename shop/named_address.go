package shop

import "regexp"

var addressName = regexp.MustCompile(`^[a-z]([a-z0-9-]{0,38}[a-z0-9])?$`)

// IsAddressName reports whether a shop of an installation may be called so: its name
// is the first part of its page's address (a label of RFC 1123, section 2.1, that
// begins with a letter), of a file and of a database's schema; at most 40 characters.
func IsAddressName(name string) bool { return addressName.MatchString(name) }

// NotAddressName is the error of a name that IsAddressName does not take.
func NotAddressName(name string) error {
	return Invalidf("%.60q cannot be a shop's name here, since its page's address begins with it: small letters a to z, digits and -, "+
		"a letter first, no - last, at most 40 characters", name)
}
