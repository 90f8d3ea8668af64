package web

import "net/http"

// pages registers the pages and assets.
func (s *Server) pages(mux *http.ServeMux) {}
