package api

import (
	"io"

	"needlepace/ask"
	"needlepace/shop"
	"needlepace/shop/visits"
	"needlepace/trial"
	"needlepace/web/serve"
	"needlepace/words"
)

func visitRoutes() []*route {
	name := text("name", "path in the visit, e.g. notes/first.txt")
	return []*route{
		op("listVisits", "GET /visits", shop.KeepVisits, "The shop's visits: an adviser's work for clients, kept apart.", gives(listVisits),
			yes("removed", "those that are put away")),
		op("addVisit", "POST /visits", shop.KeepVisits, "Begin a visit.", makes(addVisit)),
		op("importVisit", "POST /visits/import", shop.KeepVisits,
			"Take in a visit that is one file; one that is torn or foreign is refused with why.",
			gives(importVisit).from("application/zip").as(201)),
		op("getVisit", "GET /visits/{visit}", shop.KeepVisits, "A visit, its trials and its files.", gives(getVisit)),
		op("changeVisit", "PUT /visits/{visit}", shop.KeepVisits, "Change its name, client or note.", takes(changeVisit)),
		op("putVisitAway", "POST /visits/{visit}/away", shop.KeepVisits, "Put it away, off the list.", does(awayVisit(true))),
		op("putVisitBack", "POST /visits/{visit}/back", shop.KeepVisits, "Put it back on the list.", does(awayVisit(false))),
		op("eraseVisit", "DELETE /visits/{visit}", shop.KeepVisits, "Take one that is put away out for good.", does(eraseVisit)),
		op("exportVisit", "GET /visits/{visit}/whole.zip", shop.KeepVisits, "The whole visit as one file, with digests.",
			file("application/zip", func(c *call) error { return c.VisitWhole() })),
		op("getVisitFile", "GET /visits/{visit}/file", shop.KeepVisits, "A file of a visit.",
			file("application/octet-stream", func(c *call) error { return c.VisitFile(c.URL.Query().Get("name")) }), name),
		op("putVisitFile", "PUT /visits/{visit}/file", shop.KeepVisits, "Keep a file in a visit, in place of one that has its name.",
			does(putVisitFile).from("application/octet-stream"), name),
		op("dropVisitFile", "DELETE /visits/{visit}/file", shop.KeepVisits, "Take a file out of a visit.", does(dropVisitFile), name),
		op("keepTrial", "PUT /visits/{visit}/trials/{trial}", shop.KeepVisits,
			"Keep a trial's file, TRIAL.toml. shop:ID names a design or a machine of the shop, of which the visit gets a copy.", takes(keepTrial)),
		op("getTrial", "GET /visits/{visit}/trials/{trial}", shop.KeepVisits, "What a trial says, from what came back by now.", gives(getTrial)),
		op("takeReturn", "POST /visits/{visit}/trials/{trial}/returns", shop.KeepVisits,
			"Take in a file that came back: a sheet, a photograph, a zip of them. What cannot be kept is told.",
			gives(takeReturn).from("application/octet-stream"), text("name", "what the file is called")),
		op("getTrialPack", "GET /visits/{visit}/trials/{trial}/packs/{file}", shop.KeepVisits, "The pack for a place, PLACE.zip.",
			file("application/zip", func(c *call) error { return c.TrialPack() }), text("paper", "paper size", "A4", "Letter"), text("language", "of the card", "en", "es", "pt", "tr", "vi")),
		op("getTrialEvidence", "GET /visits/{visit}/trials/{trial}/evidence", shop.KeepVisits,
			"What the runs that count tell of each machine, for class pools: sheets to send to other shops, or to keep with addEvidence. Nothing of the client, the places or the designs is in them.",
			gives(getTrialEvidence)),
		op("keepCall", "PUT /visits/{visit}/calls/{call}", shop.KeepVisits,
			"Keep the file of an open call, CALL.toml. shop:ID names a design of the shop, of which the visit gets a copy.", takes(keepCall)),
		op("getCall", "GET /visits/{visit}/calls/{call}", shop.KeepVisits, "What an open call says, from what came by now, and its page.", gives(getCall)),
		op("takeEntries", "POST /visits/{visit}/calls/{call}/entries", shop.KeepVisits,
			"Take in a file that was mailed to an open call: a sheet, a photograph, a recording, a zip of them. What cannot be kept is told.",
			gives(takeEntries).from("application/octet-stream"), text("name", "what the file is called")),
		op("openCallPage", "POST /visits/{visit}/calls/{call}/open", shop.KeepVisits,
			"Open the page of an open call to whoever has its code; before, it is shut.", takes(openCallPage)),
		op("shutCallPage", "POST /visits/{visit}/calls/{call}/shut", shop.KeepVisits, "Shut it.",
			does(func(c *call) error {
				return c.Shop.Visits.ShutCallPage(c.Ctx, c.PathValue("visit"), c.PathValue("call"))
			})),
		op("getCallPack", "GET /visits/{visit}/calls/{call}/pack.zip", shop.KeepVisits, "Stitch files, card and sheet of an open call.",
			file("application/zip", func(c *call) error { return c.CallPack() }), text("paper", "paper size", "A4", "Letter"), text("language", "of the card", "en", "es", "pt", "tr", "vi")),
		op("getTrialPaper", "GET /visits/{visit}/trials/{trial}/paper/{file}", shop.KeepVisits, "The paper: trial.pdf or trial.html.",
			file("application/pdf,text/html", func(c *call) error { return c.TrialPaper() }), text("paper", "paper size", "A4", "Letter"),
			text("language", "its language; left out: what the trial's file says, or that of whoever asks", "en", "es", "pt", "tr", "vi")),
	}
}

type visitsPage struct {
	Visits []*shop.Visit `json:"visits"`
}

func listVisits(c *call) (*visitsPage, error) {
	q := c.Query()
	removed := q.Yes("removed")
	if q.Err != nil {
		return nil, q.Err
	}
	all, err := c.Shop.Visits.List(c.Ctx, removed)
	return &visitsPage{append([]*shop.Visit{}, all...)}, err
}

type visitSaid struct {
	Name   string `json:"name"`
	Client string `json:"client,omitempty"`
	Note   string `json:"note,omitempty"`
	Base   int    `json:"base,omitempty" doc:"when changing: the version it was made from"`
}

func addVisit(c *call, in visitSaid) (*shop.Visit, error) {
	return c.Shop.BeginVisit(c.Ctx, in.Name, in.Client, in.Note)
}

func importVisit(c *call) (*shop.Visit, error) { return c.ImportVisit(c.Body) }

type wholeVisit struct {
	*shop.Visit
	Trials []string         `json:"trials" doc:"short names"`
	Calls  []string         `json:"calls" doc:"short names of open calls"`
	Files  []shop.VisitFile `json:"files"`
}

func getVisit(c *call) (*wholeVisit, error) {
	v, err := c.Shop.Visits.Get(c.Ctx, c.PathValue("visit"))
	if err != nil {
		return nil, err
	}
	a := &wholeVisit{Visit: v}
	if a.Trials, err = c.Shop.Trials(c.Ctx, v.ID); err != nil {
		return nil, err
	}
	if a.Calls, err = c.Shop.Calls(c.Ctx, v.ID); err != nil {
		return nil, err
	}
	files, err := c.Shop.Visits.Files(c.Ctx, v.ID)
	a.Files = append([]shop.VisitFile{}, files...)
	return a, err
}

func changeVisit(c *call, in visitSaid) (*shop.Visit, error) {
	return c.Shop.Visits.Describe(c.Ctx, c.PathValue("visit"), in.Base, in.Name, in.Client, in.Note)
}

func awayVisit(away bool) func(*call) error {
	return func(c *call) error { return c.Shop.Visits.PutAway(c.Ctx, c.PathValue("visit"), away) }
}

func eraseVisit(c *call) error { return c.Shop.Visits.Erase(c.Ctx, c.PathValue("visit")) }

func putVisitFile(c *call) error {
	b, err := io.ReadAll(c.Body)
	if err != nil {
		return serve.Cut(err)
	}
	return c.Shop.Visits.Put(c.Ctx, c.PathValue("visit"), c.By(), visits.File{Name: c.URL.Query().Get("name"), As: b})
}

func dropVisitFile(c *call) error {
	return c.Shop.Visits.TakeOut(c.Ctx, c.PathValue("visit"), c.URL.Query().Get("name"))
}

type trialAsked struct {
	TOML string `json:"toml" doc:"the trial's file (docs/trials.md)"`
}

func keepTrial(c *call, in trialAsked) (*ask.TrialAnswer, error) {
	return c.Shop.KeepTrial(c.Ctx, c.PathValue("visit"), c.PathValue("trial"), c.By(), []byte(in.TOML), nil)
}

func getTrial(c *call) (*ask.TrialAnswer, error) {
	return c.Shop.Trial(c.Ctx, c.PathValue("visit"), c.PathValue("trial"))
}

type returnTaken struct {
	Refused []string         `json:"refused" doc:"what was not kept, or not as it came"`
	Trial   *ask.TrialAnswer `json:"trial" doc:"what it says now"`
}

func takeReturn(c *call) (*returnTaken, error) {
	b, err := io.ReadAll(c.Body)
	if err != nil {
		return nil, serve.Cut(err)
	}
	refused, err := c.Shop.TakeReturns(c.Ctx, c.PathValue("visit"), c.PathValue("trial"), c.By(),
		[]trial.Given{{Name: shop.CleanFile(c.URL.Query().Get("name")), Bytes: b}})
	if err != nil {
		return nil, err
	}
	a, err := getTrial(c)
	return &returnTaken{plain(refused), a}, err
}

type callAsked struct {
	TOML string `json:"toml" doc:"the call's file (docs/trials.md)"`
}

func keepCall(c *call, in callAsked) (*ask.OpenCallAnswer, error) {
	return c.Shop.KeepCall(c.Ctx, c.PathValue("visit"), c.PathValue("call"), c.By(), []byte(in.TOML), nil)
}

type wholeCall struct {
	*ask.OpenCallAnswer
	Page *shop.CallPage `json:"page" doc:"null: it was never opened"`
}

func getCall(c *call) (*wholeCall, error) {
	a, err := c.Shop.OpenCall(c.Ctx, c.PathValue("visit"), c.PathValue("call"))
	if err != nil {
		return nil, err
	}
	p, err := c.Shop.Visits.CallPage(c.Ctx, c.PathValue("visit"), c.PathValue("call"))
	return &wholeCall{a, p}, err
}

type entriesTaken struct {
	Refused []string   `json:"refused" doc:"what was not kept, or not as it came"`
	Call    *wholeCall `json:"call" doc:"what it says now"`
}

func takeEntries(c *call) (*entriesTaken, error) {
	b, err := io.ReadAll(c.Body)
	if err != nil {
		return nil, serve.Cut(err)
	}
	refused, err := c.Shop.TakeEntries(c.Ctx, c.PathValue("visit"), c.PathValue("call"), c.By(),
		[]trial.Given{{Name: shop.CleanFile(c.URL.Query().Get("name")), Bytes: b}})
	if err != nil {
		return nil, err
	}
	a, err := getCall(c)
	return &entriesTaken{plain(refused), a}, err
}

type callOpened struct {
	Most int `json:"most,omitempty" doc:"entries that it takes, 1 to 400; left out: 200"`
}

func openCallPage(c *call, in callOpened) (*shop.CallPage, error) {
	if _, err := c.Shop.OpenCall(c.Ctx, c.PathValue("visit"), c.PathValue("call")); err != nil {
		return nil, err
	}
	return c.Shop.Visits.OpenCallPage(c.Ctx, c.PathValue("visit"), c.PathValue("call"), in.Most)
}

type trialEvidence struct {
	Evidence []machineEvidence `json:"evidence" doc:"of each machine of the trial, in its order"`
}

type machineEvidence struct {
	Machine string `json:"machine"`
	Class   string `json:"class,omitempty" doc:"what kind of machine it is"`
	TOML    string `json:"toml,omitempty" doc:"a learned sheet with evidence"`
	Why     string `json:"why,omitempty" doc:"why there is none"`
}

func getTrialEvidence(c *call) (*trialEvidence, error) {
	all, err := c.Shop.TrialEvidence(c.Ctx, c.PathValue("visit"), c.PathValue("trial"))
	if err != nil {
		return nil, err
	}
	out := &trialEvidence{Evidence: []machineEvidence{}}
	for _, e := range all {
		m := machineEvidence{Machine: e.Machine, Why: e.Why}
		if e.Sheet != nil {
			m.Class, m.TOML = e.Sheet.Class, string(e.Sheet.TOML())
		}
		out.Evidence = append(out.Evidence, m)
	}
	return out, nil
}

// plain is sentences as the API has them.
func plain(all words.Sentences) []string {
	out := make([]string, len(all))
	for i, m := range all {
		out[i] = m.Raw()
	}
	return out
}
