package api

import "needlepace/shop"

func listRoutes() []*route {
	return []*route{
		op("listLists", "GET /lists", shop.Look,
			"The lists of designs and orders that whoever asks keeps under names: searches, states and orders of pages.", gives(listLists)),
		op("addList", "POST /lists", shop.Look, "Keep one.", makes(addList)),
		op("renameList", "PUT /lists/{list}", shop.Look, "Give one another name.", takes(renameList)),
		op("dropList", "DELETE /lists/{list}", shop.Look, "Forget one.", does(dropList)),
	}
}

type listPage struct {
	Lists []*shop.List `json:"lists"`
}

// listNew is a list as it is asked for.
type listNew struct {
	Of    string `json:"of" enum:"designs,orders"`
	Name  string `json:"name"`
	Query string `json:"query,omitempty" doc:"of the page's address: search, state, sort, customer, removed"`
}

type listName struct {
	Name string `json:"name"`
}

func listLists(c *call) (*listPage, error) {
	all, err := c.Shop.Lists.All(c.Ctx, c.Account().ID)
	return &listPage{orEmpty(all)}, err
}

func addList(c *call, in listNew) (*shop.List, error) {
	return c.Shop.Lists.Keep(c.Ctx, c.Account().ID, shop.List{Of: in.Of, Name: in.Name, Query: in.Query})
}

func renameList(c *call, in listName) (*shop.List, error) {
	return c.Shop.Lists.Rename(c.Ctx, c.Account().ID, c.PathValue("list"), in.Name)
}

func dropList(c *call) error {
	_, err := c.Shop.Lists.Drop(c.Ctx, c.Account().ID, c.PathValue("list"))
	return err
}
