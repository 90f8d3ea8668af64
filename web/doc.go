// Package web is the local web app: what serves the pages (package pages) and
// the JSON API (package api) that gives all the pages show. Server.Handler is
// the whole app as one http.Handler: safety headers, the check for requests
// from other sites, size limits, then the one table of routes (routes.go),
// which says what each needs: a role, or no sign-in where there are accounts.
//
// A handler reads its input, calls one verb and answers. No number is computed
// here, in pages or in api; those two do not import each other. What they share
// of HTTP is in package serve, long work in package jobs.
package web
