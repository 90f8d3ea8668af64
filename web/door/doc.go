// Package door is the way in for phones: a port of its own that speaks HTTPS
// with a certificate made here. Browsers give a page the microphone, a screen
// that stays on and work without a network only over HTTPS, and no public
// authority vouches for a computer in a workshop. So the shop has an authority
// of its own (authority.go), which a phone is told once to trust; names and
// addresses of this computer get a certificate of it that renews itself
// (leaf.go). The port (door.go) is closed until somebody asks for it.
//
// Whoever does not trust the authority yet comes by plain HTTP to the same port
// (split.go) and is shown how, and nothing else.
//
// Form of certificates: RFC 5280. What telephones ask of them: at most 398 days,
// names in subjectAltName, EKU serverAuth (rules that their makers publish for
// all TLS servers; from memory).
package door
