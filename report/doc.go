// Package report is what needlepace says in JSON and in pictures, once for the
// command line, the page and the papers: the written contract of
// docs/json.md, made from the domain packages' results. It computes nothing.
//
// Keys are stable: later versions add keys and never change or remove one. A
// `doc` tag is the key's sentence in the API's description.
package report
