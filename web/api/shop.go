package api

import (
	"time"

	"needlepace/demo"
	"needlepace/jobs"
	"needlepace/shop"
)

func parseTime(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339Nano, s)
	return t.UTC(), err
}

func shopRoutes() []*route {
	return []*route{
		{name: "getStatus", at: "GET /status", right: shop.Look,
			summary: "What the app is and whether the shop is still empty.", out: status{}, do: getStatus},
		{name: "getSettings", at: "GET /settings", right: shop.Look, summary: "How the shop wants to see things.",
			out: shop.Settings{}, do: getSettings},
		{name: "saveSettings", at: "PUT /settings", right: shop.KeepSettings, summary: "Change them.",
			in: shop.Settings{}, out: shop.Settings{}, do: saveSettings},
		{name: "getLogo", at: "GET /settings/logo", right: shop.Look, summary: "The picture on the shop's papers.",
			outType: "image/png", do: getLogo},
		{name: "saveLogo", at: "PUT /settings/logo", right: shop.KeepSettings,
			summary: "Put a PNG or JPEG on the shop's papers (at most 8 MB, 4,000 pixels each way); what is drawn on " +
				"it is kept as a PNG no larger than papers show.", inType: "image/png,image/jpeg", do: saveLogo},
		{name: "removeLogo", at: "DELETE /settings/logo", right: shop.KeepSettings,
			summary: "Papers without a picture.", do: removeLogo},
		{name: "loadDemo", at: "POST /demo", right: shop.KeepSettings,
			summary: "Put the invented demo shop into an empty shop, as work; its result is the status.",
			out:     jobs.Work{}, status: 202, do: loadDemo},
		{name: "listSetups", at: "GET /setups", right: shop.SeeMoney,
			summary: "The shifts (floor) or mixes (mix) kept under names.",
			query:   []param{{"kind", "string", "floor where left out", []string{"floor", "mix"}}}, out: setupPage{},
			do: listSetups},
		{name: "addSetup", at: "POST /setups", right: shop.SeeMoney,
			summary: "Keep a shift or mix under a name; what is wrong in its TOML is told and nothing kept.",
			in:      setupNew{}, out: shop.Setup{}, status: 201, do: with(addSetup)},
		{name: "getSetup", at: "GET /setups/{setup}", right: shop.SeeMoney, summary: "One of them.", out: shop.Setup{},
			do: getSetup},
		{name: "changeSetup", at: "PUT /setups/{setup}", right: shop.SeeMoney,
			summary: "Change it. base is the version it was made from.", in: setupNew{}, out: shop.Setup{},
			do: with(changeSetup)},
		{name: "deleteSetup", at: "DELETE /setups/{setup}", right: shop.SeeMoney, summary: "Forget it.",
			do: deleteSetup},
		{name: "getWork", at: "GET /work/{work}", right: shop.TimeRuns,
			summary: "Where long work stands. Ask again while it is waiting or running.",
			query:   []param{{"wait", "number", "seconds to wait for its end, at most 20", nil}}, out: jobs.Work{},
			do: getWork},
		{name: "cancelWork", at: "DELETE /work/{work}", right: shop.TimeRuns, summary: "Stop long work.",
			do: cancelWork},
		{name: "getWorkFile", at: "GET /work/{work}/{file}", right: shop.TimeRuns,
			summary: "A file that work made (named in its result).", outType: "application/octet-stream",
			do: workFileOf},
		{name: "getSession", at: "GET /session", summary: "Who is signed in.", out: sessionAnswer{}, do: getSession},
		{name: "signIn", at: "POST /session", summary: "Sign in; the answer sets a cookie.", in: signInAsked{},
			out: sessionAnswer{}, do: with(signIn)},
		{name: "signOut", at: "DELETE /session", summary: "Sign out.", do: signOut},
		{name: "listAccounts", at: "GET /accounts", right: shop.KeepAccounts, summary: "Who may sign in.",
			out: accountPage{}, do: listAccounts},
		{name: "addAccount", at: "POST /accounts", right: shop.KeepAccounts, summary: "A new account.",
			in: accountNew{}, out: shop.Account{}, status: 201, do: with(addAccount)},
		{name: "changeAccount", at: "PUT /accounts/{account}", right: shop.KeepAccounts,
			summary: "Change role, whether the account may sign in, or its password. Its sessions end where it may " +
				"not or the password changed.", in: accountChange{}, out: shop.Account{}, do: with(changeAccount)},
		{name: "getDescription", at: "GET //api/openapi.json", summary: "This description.", out: map[string]any{},
			do: getDescription},
		{name: "getHealth", at: "GET //healthz", summary: "A sign of life.", out: health{}, do: getHealth},
	}
}

type health struct {
	OK bool `json:"ok"`
}

func getHealth(*call) (any, error) { return health{true}, nil }

type status struct {
	Version  string `json:"version"`
	Empty    bool   `json:"empty" doc:"no designs and no machines yet"`
	Demo     string `json:"demo" doc:"name of the invented demo shop"`
	Designs  int    `json:"designs"`
	Machines int    `json:"machines"`
	Accounts bool   `json:"accounts" doc:"people sign in"`
	Role     string `json:"role" doc:"what whoever asks may do"`
}

func getStatus(c *call) (any, error) {
	_, designs, err := c.Shop.Designs.List(c.Ctx, shop.DesignQuery{Limit: 1})
	if err != nil {
		return nil, err
	}
	machines, err := c.Shop.Machines.List(c.Ctx)
	if err != nil {
		return nil, err
	}
	st := status{Version: c.Version, Empty: designs == 0 && len(machines) == 0, Demo: demo.Shop, Designs: designs,
		Machines: len(machines), Accounts: c.Accounts}
	if a := c.Account(); a != nil {
		st.Role = string(a.Role)
	}
	return st, nil
}

func getSettings(c *call) (any, error) {
	set, err := c.Shop.Settings.Get(c.Ctx)
	return set, err
}

func saveSettings(c *call) (any, error) {
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return nil, err
	}
	if err := c.read(&set); err != nil {
		return nil, err
	}
	return set, c.Shop.Settings.Save(c.Ctx, set)
}

type setupPage struct {
	Setups []*shop.Setup `json:"setups"`
}

func listSetups(c *call) (any, error) {
	q := c.Query()
	kind := q.OneOf("kind", "floor", "floor", "mix")
	if q.Err != nil {
		return nil, q.Err
	}
	all, err := c.Shop.Setups.List(c.Ctx, shop.SetupKind(kind))
	return setupPage{orEmpty(all)}, err
}

type setupNew struct {
	Kind string `json:"kind" enum:"floor,mix"`
	Name string `json:"name"`
	TOML string `json:"toml" doc:"docs: what a shift yields; comparing machines. A design is named by ID, file name or name, a sheet by a machine's ID or name or a class."`
	Base int    `json:"base,omitempty" doc:"when changing: the version it was made from"`
}

func addSetup(c *call, in setupNew) (any, error) {
	return c.Shop.Setups.Save(c.Ctx, shop.Setup{Kind: shop.SetupKind(in.Kind), Name: in.Name, TOML: in.TOML})
}

func getSetup(c *call) (any, error) { return c.Shop.Setups.Get(c.Ctx, c.PathValue("setup")) }

func changeSetup(c *call, in setupNew) (any, error) {
	return c.Shop.Setups.Save(c.Ctx, shop.Setup{ID: c.PathValue("setup"), Kind: shop.SetupKind(in.Kind), Name: in.Name,
		TOML: in.TOML, Version: in.Base})
}

func deleteSetup(c *call) (any, error) {
	return nil, c.Shop.Setups.Delete(c.Ctx, c.PathValue("setup"))
}

func getWork(c *call) (any, error) {
	q := c.Query()
	wait := q.Number("wait")
	if q.Err != nil {
		return nil, q.Err
	}
	wait = min(max(wait, 0), 20)
	w, err := c.Work(c.PathValue("work"), time.Duration(wait*float64(time.Second)))
	if err != nil {
		return nil, err
	}
	return w, nil
}

func cancelWork(c *call) (any, error) { return nil, c.StopWork(c.PathValue("work")) }

func workFileOf(c *call) (any, error) {
	w, err := c.Work(c.PathValue("work"), 0)
	if err != nil {
		return nil, err
	}
	if r, ok := w.Result.(jobs.Filed); ok {
		if f, ok := r.WorkFiles()[c.PathValue("file")]; ok {
			return c.download(f.Name, f.MediaType, f.Content, "")
		}
	}
	return nil, shop.Errorf(shop.NotFound, "this work has no file %q", c.PathValue("file"))
}

type sessionAnswer struct {
	SignedIn bool   `json:"signed_in"`
	Name     string `json:"name" doc:"empty where there are no accounts"`
	Role     string `json:"role"`
}

func getSession(c *call) (any, error) {
	a := c.Account()
	if a == nil {
		return sessionAnswer{}, nil
	}
	return sessionAnswer{true, a.Name, string(a.Role)}, nil
}

type signInAsked struct {
	Name     string `json:"name"`
	Password string `json:"password"`
}

func signIn(c *call, in signInAsked) (any, error) {
	a, err := c.Sessions.SignIn(c.Call, in.Name, in.Password)
	if err != nil {
		return nil, err
	}
	return sessionAnswer{true, a.Name, string(a.Role)}, nil
}

func signOut(c *call) (any, error) { return nil, c.Sessions.SignOut(c.Call) }

type accountPage struct {
	Accounts []*shop.Account `json:"accounts"`
}

func listAccounts(c *call) (any, error) {
	all, err := c.Shop.Accounts.List(c.Ctx)
	return accountPage{orEmpty(all)}, err
}

type accountNew struct {
	Name     string `json:"name"`
	Role     string `json:"role" enum:"owner,planner,operator"`
	Password string `json:"password" doc:"at least 10 characters"`
}

func addAccount(c *call, in accountNew) (any, error) {
	return c.Shop.Accounts.Add(c.Ctx, in.Name, in.Password, shop.Role(in.Role))
}

type accountChange struct {
	Role     string `json:"role" enum:"owner,planner,operator"`
	Disabled bool   `json:"disabled,omitempty"`
	Password string `json:"password,omitempty" doc:"left out: stays"`
}

func changeAccount(c *call, in accountChange) (any, error) {
	return c.Shop.Accounts.Change(c.Ctx, c.PathValue("account"), shop.Role(in.Role), in.Disabled, in.Password)
}

func getDescription(c *call) (any, error) {
	return c.bytes("application/json", Description(), "")
}

func loadDemo(c *call) (any, error) {
	if err := c.Shop.MayLoadDemo(c.Ctx); err != nil {
		return nil, err
	}
	return c.begin("demo", func(w *work) (any, error) {
		if err := c.Shop.LoadDemo(w.ctx, w.step); err != nil {
			return nil, err
		}
		return nil, nil
	})
}
