package api

import (
	"needlepace/shop"
	"needlepace/shop/accounts"
)

type passwordChange struct {
	Before   string `json:"before" doc:"the password until now"`
	Password string `json:"password" doc:"at least 10 characters, and none that is commonly used"`
}

func changePassword(c *call, in passwordChange) error {
	return c.Sessions.ChangePassword(c.Call, in.Before, in.Password)
}

type signInPage struct {
	SignIns []accounts.SignIn `json:"sign_ins"`
}

func listSignIns(c *call) (*signInPage, error) {
	q := c.Query()
	all := q.Yes("all")
	if q.Err != nil {
		return nil, q.Err
	}
	list, err := c.SignIns(all)
	return &signInPage{list}, err
}

func endOthers(c *call) error { return c.EndOthers() }

func endSignIn(c *call) error { return c.EndSignIn(c.PathValue("signin")) }

type tokenPage struct {
	Tokens []*shop.Token `json:"tokens"`
}

func listTokens(c *call) (*tokenPage, error) {
	all, err := c.Shop.Accounts.Tokens(c.Ctx)
	return &tokenPage{orEmpty(all)}, err
}

type tokenNew struct {
	Name    string `json:"name" doc:"what it is for; histories show it"`
	Role    string `json:"role" enum:"owner,planner,operator"`
	Expires string `json:"expires" doc:"the moment it is over (RFC 3339), in at most two years"`
}

type tokenMade struct {
	Token  shop.Token `json:"token"`
	Secret string     `json:"secret" doc:"what the program sends; told once and not kept"`
}

func addToken(c *call, in tokenNew) (*tokenMade, error) {
	expires, err := parseTime(in.Expires)
	switch {
	case in.Expires == "":
		return nil, shop.At("expires", shop.Invalidf("expires is missing: the moment the token is over, as 2027-03-01T00:00:00Z"))
	case err != nil:
		return nil, shop.At("expires", shop.Invalidf("expires is no moment; write it as 2027-03-01T00:00:00Z"))
	}
	secret, t, err := c.Shop.Accounts.MakeToken(c.Ctx, c.Account(), in.Name, shop.Role(in.Role), expires)
	if err != nil {
		return nil, err
	}
	c.Shop.Accounts.Fresh(t.ID) // told here
	return &tokenMade{*t, secret}, nil
}

func deleteToken(c *call) error { return c.Shop.Accounts.TakeBack(c.Ctx, c.PathValue("token")) }
