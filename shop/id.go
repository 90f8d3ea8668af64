package shop

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"strings"
)

// NewID is a random name for a thing: 20 characters of base 32, 100 bits.
func NewID() string { return strings.ToLower(rand.Text()[:20]) }

// Digest is the SHA-256 of bytes, in hexadecimal.
func Digest(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}
