package api

// routes is the API. A new entry is one line here and its handler beside its
// like.
func routes() []*route {
	var all []*route
	for _, some := range [][]*route{
		designRoutes(), clockRoutes(), machineRoutes(), classRoutes(), runRoutes(), listenRoutes(), teachRoutes(), auditRoutes(), floorRoutes(),
		orderRoutes(), planRoutes(), todayRoutes(), visitRoutes(), listRoutes(), shopRoutes(),
	} {
		all = append(all, some...)
	}
	return all
}
