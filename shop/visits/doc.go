// Package visits keeps visits: an adviser's work for a client, each a workspace of files
// apart from the shop's own things, that goes to another shop as one file.
package visits
