// Package phones keeps the phones that may use the shop. One comes in with a
// code that is good once and for minutes; from then on it is what its role is,
// until somebody takes it out. Codes and sessions are kept as digests only.
package phones
