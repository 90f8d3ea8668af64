package api

import (
	"encoding/json"
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
		op("getStatus", "GET /status", shop.Look,
			"What the app is and whether the shop is still empty.", gives(getStatus)),
		op("find", "GET /find", shop.Look,
			"Orders, designs, customers and machines that have a word that begins with each of the words given, without "+
				"case and accents: at most eight of each kind.",
			gives(find), text("find", "the words")),
		op("getSettings", "GET /settings", shop.Look, "How the shop wants to see things.", gives(getSettings)),
		op("saveSettings", "PUT /settings", shop.KeepSettings,
			"Change them.", gives(saveSettings).reads(shop.Settings{})),
		op("getLogo", "GET /settings/logo", shop.Look,
			"The picture on the shop's papers.", file("image/png", getLogo),
			text("v", "says nothing: an address that has another picture is another, so that browsers ask for it anew")),
		op("saveLogo", "PUT /settings/logo", shop.KeepSettings,
			"Put a PNG or JPEG on the shop's papers (at most 8 MB, 4,000 pixels each way); what is drawn on it is "+
				"kept as a PNG no larger than papers show.",
			does(saveLogo).from("image/png,image/jpeg")),
		op("removeLogo", "DELETE /settings/logo", shop.KeepSettings, "Papers without a picture.", does(removeLogo)),
		op("loadDemo", "POST /demo", shop.KeepSettings,
			"Put the invented demo shop into an empty shop, as work; its result is the status.",
			gives(loadDemo).as(202)),
		op("listChanges", "GET /changes", shop.Look,
			"What was changed in the shop, newest first: of what whoever asks may do.", gives(listChanges),
			text("thing", "only of a kind of thing, e.g. order"), text("ref", "only of the thing with this ID"),
			integer("offset", "from 0"), integer("limit", "1 to 500; 50 where left out")),
		op("undoChange", "POST /changes/{change}/undo", shop.Look,
			"Take a change back: all of it is as it was before. It takes the right that the change took. Where any of it "+
				"was changed since it is a conflict, and nothing is done. The answer is the change that took it back, which "+
				"can be taken back too.", gives(undoChange)),
		op("listSetups", "GET /setups", shop.SeeMoney,
			"The shifts (floor) or mixes (mix) kept under names.",
			gives(listSetups), text("kind", "floor where left out", "floor", "mix")),
		op("addSetup", "POST /setups", shop.SeeMoney,
			"Keep a shift or mix under a name; what is wrong in its TOML is told and nothing kept.", makes(addSetup)),
		op("getSetup", "GET /setups/{setup}", shop.SeeMoney, "One of them.", gives(getSetup)),
		op("changeSetup", "PUT /setups/{setup}", shop.SeeMoney,
			"Change it. base is the version it was made from.", takes(changeSetup)),
		op("deleteSetup", "DELETE /setups/{setup}", shop.SeeMoney, "Forget it.", does(deleteSetup)),
		op("getWork", "GET /work/{work}", shop.TimeRuns,
			"Where long work stands. Ask again while it is waiting or running.",
			gives(getWork), number("wait", "seconds to wait for its end, at most 20")),
		op("cancelWork", "DELETE /work/{work}", shop.TimeRuns, "Stop long work.", does(cancelWork)),
		op("getWorkFile", "GET /work/{work}/{file}", shop.TimeRuns,
			"A file that work made (named in its result).", file("application/octet-stream,application/zip", workFileOf)),
		op("getSession", "GET /session", "", "Who is signed in.", gives(getSession)),
		op("signIn", "POST /session", "", "Sign in; the answer sets a cookie.", takes(signIn)),
		op("signOut", "DELETE /session", "", "Sign out.", does(signOut)),
		op("changePassword", "PUT /session/password", shop.Look,
			"Give whoever is signed in another password. Their other sign-ins end, and the answer sets a cookie.",
			takesOnly(changePassword)),
		op("listSignIns", "GET /sign-ins", shop.Look,
			"Where whoever asks is signed in; where everybody is with all.",
			gives(listSignIns), yes("all", "everybody's: for who says who may sign in")),
		op("endOtherSignIns", "DELETE /sign-ins", shop.Look,
			"End all of one's own sign-ins but the one that asks, in all shops.", does(endOthers)),
		op("endSignIn", "DELETE /sign-ins/{signin}", shop.Look,
			"End one of one's own sign-ins; whoever says who may sign in ends anybody's.", does(endSignIn)),
		op("listTokens", "GET /tokens", shop.KeepAccounts, "What programs come in with.", gives(listTokens)),
		op("addToken", "POST /tokens", shop.KeepAccounts,
			"A token for a program. It is sent as Authorization: Bearer TOKEN, to the API only.", makes(addToken)),
		op("deleteToken", "DELETE /tokens/{token}", shop.KeepAccounts, "Take a token back.", does(deleteToken)),
		op("listAccounts", "GET /accounts", shop.KeepAccounts, "Who may sign in.", gives(listAccounts)),
		op("addAccount", "POST /accounts", shop.KeepAccounts, "A new account.", makes(addAccount)),
		op("changeAccount", "PUT /accounts/{account}", shop.KeepAccounts,
			"Change role, whether the account may sign in, or its password. Its sessions end where it may not or "+
				"the password changed.",
			takes(changeAccount)),
		op("getDescription", "GET //api/openapi.json", "", "This description.", gives(getDescription)),
		op("getHealth", "GET //healthz", "", "A sign of life.", gives(getHealth)),
	}
}

type health struct {
	OK bool `json:"ok"`
}

func getHealth(*call) (*health, error) { return &health{true}, nil }

type status struct {
	Version  string `json:"version"`
	Empty    bool   `json:"empty" doc:"no designs and no machines yet"`
	Demo     string `json:"demo" doc:"name of the invented demo shop"`
	Designs  int    `json:"designs"`
	Machines int    `json:"machines"`
	Accounts bool   `json:"accounts" doc:"people sign in"`
	Role     string `json:"role" doc:"what whoever asks may do"`
}

func getStatus(c *call) (*status, error) {
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
	return &st, nil
}

func getSettings(c *call) (*shop.Settings, error) {
	set, err := c.Shop.Settings.Get(c.Ctx)
	return &set, err
}

func saveSettings(c *call) (*shop.Settings, error) {
	set, err := c.Shop.Settings.Get(c.Ctx)
	if err != nil {
		return nil, err
	}
	if err := c.read(&set); err != nil {
		return nil, err
	}
	if err := c.Shop.Settings.Save(c.Ctx, set); err != nil {
		return nil, err
	}
	return getSettings(c) // as they are kept
}

type setupPage struct {
	Setups []*shop.Setup `json:"setups"`
}

func listSetups(c *call) (*setupPage, error) {
	q := c.Query()
	kind := q.OneOf("kind", "floor", "floor", "mix")
	if q.Err != nil {
		return nil, q.Err
	}
	all, err := c.Shop.Setups.List(c.Ctx, shop.SetupKind(kind))
	return &setupPage{orEmpty(all)}, err
}

type setupNew struct {
	Kind string `json:"kind" enum:"floor,mix"`
	Name string `json:"name"`
	TOML string `json:"toml" doc:"docs: what a shift yields; comparing machines. A design is named by ID, file name or name, a sheet by a machine's ID or name or a class."`
	Base int    `json:"base,omitempty" doc:"when changing: the version it was made from"`
}

func addSetup(c *call, in setupNew) (*shop.Setup, error) {
	return c.Shop.Setups.Save(c.Ctx, shop.Setup{Kind: shop.SetupKind(in.Kind), Name: in.Name, TOML: in.TOML})
}

func getSetup(c *call) (*shop.Setup, error) { return c.Shop.Setups.Get(c.Ctx, c.PathValue("setup")) }

func changeSetup(c *call, in setupNew) (*shop.Setup, error) {
	return c.Shop.Setups.Save(c.Ctx, shop.Setup{ID: c.PathValue("setup"), Kind: shop.SetupKind(in.Kind), Name: in.Name,
		TOML: in.TOML, Version: in.Base})
}

func deleteSetup(c *call) error {
	return c.Shop.Setups.Delete(c.Ctx, c.PathValue("setup"))
}

func getWork(c *call) (*jobs.Work, error) {
	q := c.Query()
	wait := q.Number("wait")
	if q.Err != nil {
		return nil, q.Err
	}
	wait = min(max(wait, 0), 20)
	w, err := c.Work(c.PathValue("work"), time.Duration(wait*float64(time.Second)))
	return &w, err
}

func cancelWork(c *call) error { return c.StopWork(c.PathValue("work")) }

func workFileOf(c *call) error {
	w, err := c.Work(c.PathValue("work"), 0)
	if err != nil {
		return err
	}
	if r, ok := w.Result.(jobs.Filed); ok {
		if f, ok := r.WorkFiles()[c.PathValue("file")]; ok {
			c.Download(f.Name, f.MediaType, f.Content, "")
			return nil
		}
	}
	return shop.Errorf(shop.NotFound, "this work has no file %q", c.PathValue("file"))
}

type sessionAnswer struct {
	SignedIn bool   `json:"signed_in"`
	Name     string `json:"name" doc:"empty where there are no accounts"`
	Role     string `json:"role"`
}

func getSession(c *call) (*sessionAnswer, error) {
	a := c.Account()
	if a == nil {
		return &sessionAnswer{}, nil
	}
	return &sessionAnswer{true, a.Name, string(a.Role)}, nil
}

type signInAsked struct {
	Name     string `json:"name"`
	Password string `json:"password"`
}

func signIn(c *call, in signInAsked) (*sessionAnswer, error) {
	a, err := c.Sessions.SignIn(c.Call, in.Name, in.Password)
	if err != nil {
		return nil, err
	}
	return &sessionAnswer{true, a.Name, string(a.Role)}, nil
}

func signOut(c *call) error { return c.Sessions.SignOut(c.Call) }

type accountPage struct {
	Accounts []*shop.Account `json:"accounts"`
}

func listAccounts(c *call) (*accountPage, error) {
	all, err := c.Shop.Accounts.List(c.Ctx)
	return &accountPage{orEmpty(all)}, err
}

type accountNew struct {
	Name     string `json:"name"`
	Role     string `json:"role" enum:"owner,planner,operator"`
	Password string `json:"password" doc:"at least 10 characters"`
}

func addAccount(c *call, in accountNew) (*shop.Account, error) {
	return c.Shop.Accounts.Add(c.Ctx, in.Name, in.Password, shop.Role(in.Role))
}

type accountChange struct {
	Role     string `json:"role" enum:"owner,planner,operator"`
	Disabled bool   `json:"disabled,omitempty"`
	Password string `json:"password,omitempty" doc:"left out: stays"`
}

func changeAccount(c *call, in accountChange) (*shop.Account, error) {
	return c.Shop.Accounts.Change(c.Ctx, c.PathValue("account"), shop.Role(in.Role), in.Disabled, in.Password)
}

func getDescription(*call) (*obj, error) {
	var d obj
	err := json.Unmarshal(Description(), &d)
	return &d, err
}

func loadDemo(c *call) (*jobs.Work, error) {
	if err := c.Shop.MayLoadDemo(c.Ctx); err != nil {
		return nil, err
	}
	return c.begin("demo", func(w *work) (any, error) {
		return nil, c.Shop.LoadDemo(w.ctx, w.step)
	})
}

type foundPage struct {
	Found []shop.Found `json:"found"`
}

func find(c *call) (*foundPage, error) {
	all, err := c.Shop.Find(c.Ctx, c.Query().Get("find"))
	return &foundPage{orEmpty(all)}, err
}
