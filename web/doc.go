// Package web is the local web app: the pages, and the JSON API that gives all
// the pages show. A handler reads its input, calls one verb of package shop and
// answers; no number is computed here.
//
// Server.Handler is the whole app as one http.Handler: safety headers, the
// check for requests from other sites, sign-in where there are accounts, size
// limits, then the routes of the API (api.go) and of the pages
// (page_routes.go).
package web
