package pages

import (
	"errors"
	"net/http"
	"path"
	"regexp"
	"slices"
	"strings"

	"needlepace/shop"
	"needlepace/web/serve"
	"needlepace/words"
)

// call is one request of a page being answered. A handler reads its input,
// calls verbs of the shop and fills a page; what it returns as an error is told
// by failPage.
type call struct {
	*serve.Call
	back *form    // what was pressed on the page and refused, where the page is shown again
	at   string   // the state of the shop before anything was read, of a page that is looked at
	keep bool     // it is kept as it is written
	same []string // IDs of designs that sew the same, where the page is kept by them
	// choice are the designs that its forms offer, where the page is kept by them.
	choice *designChoice
	// written is the page, where it is kept.
	written *serve.Written
}

// Routes are the pages and what their forms do.
func Routes() []serve.Route {
	var all []serve.Route
	for _, e := range entries() {
		method, path, ok := strings.Cut(e.at, " ")
		if !ok {
			method, path = "", e.at
		}
		all = append(all, serve.Route{Method: method, Path: path, Right: e.right, Fail: Fail,
			Do: func(c *serve.Call) error {
				if c.Method == http.MethodPost {
					if err := c.ParseForm(); err != nil {
						return serve.BadRequest("the form cannot be read: %v", err)
					}
				}
				if slices.Contains(spoken, e.at) {
					if c.Spoken = c.Chosen(); strings.HasPrefix(path, "/call") || path == "/trust" || path == "/phone" {
						c.Spoken = c.Wished() // nobody here had occasion to choose
					}
				}
				call := &call{Call: c}
				if c.Method == http.MethodGet {
					defer c.Shop.Reads()()
				}
				if c.Method == http.MethodGet && freshOf(c.URL.Path) != "" {
					r, err := c.Shop.Revision(c.Ctx)
					if err != nil {
						return err
					}
					call.at = serve.RevisionText(r)
				}
				if k, ok := keeps[e.at]; ok {
					return call.kept(&e, &k)
				}
				return e.do(call)
			}})
	}
	return all
}

// Fail tells what was wrong as a page.
func Fail(c *serve.Call, err error) { (&call{Call: c}).failPage(err) }

func noPage(c *call) error {
	return shop.Saying(shop.NotFound, words.Say("refused.no-page", words.Args{"path": words.Name(c.URL.Path)}))
}

// entry is one page, or one thing a page's form does.
type entry struct {
	at    string     // method and path, "GET /designs"; a path alone is for every method
	right shop.Right // empty: nobody need be signed in
	do    func(*call) error
}

// entries are all pages.
func entries() []entry {
	return []entry{
		{"GET /{$}", shop.Look, showHome},
		{"GET /today", shop.Look, showToday},
		{"GET /today/wall", shop.Look, showWall},
		{"GET /find", shop.Look, showFind},
		{"GET /language", "", showLanguages},
		{"POST /language", "", languageForm},
		{"GET /help", "", showHelp},
		{"GET /help/{topic}", "", showTopic},
		{"GET /help/pictures/{picture}", "", showHelpPicture},
		{"GET /designs", shop.Look, showDesigns},
		{"GET /designs/mend", shop.AskWhatIf, asked((*call).mendManyPage)},
		{"POST /designs/mend", shop.AskWhatIf, mendManyForm},
		{"GET /designs/mended", shop.AskWhatIf, showMendedMany},
		{"GET /designs/mended/zip", shop.AskWhatIf, mendedZip},
		{"POST /designs/mended", shop.KeepDesigns, on("/designs/mended", keepMendedManyForm)},
		{"GET /designs/{design}", shop.Look, showDesign},
		{"POST /designs/{design}", shop.KeepDesigns, describeForm},
		{"POST /designs/{design}/remove", shop.KeepDesigns, on("/designs/{design}", removeDesignForm)},
		{"POST /designs/{design}/restore", shop.KeepDesigns, on("/designs/{design}", restoreDesignForm)},
		{"GET /designs/{design}/audit", shop.Look, showAudit},
		{"GET /designs/{design}/letter/{file}", shop.Look, (*call).LetterFile},
		{"GET /designs/{design}/listen", shop.TimeRuns, showListen},
		{"GET /listen", shop.TimeRuns, listenForm},
		{"GET /recordings/{recording}", shop.TimeRuns, showHeard},
		{"POST /recordings/{recording}/hear", shop.TimeRuns, hearForm},
		{"POST /recordings/{recording}/keep", shop.TimeRuns, on("/recordings/{recording}", keepHeardForm)},
		{"POST /recordings/{recording}/drop", shop.TimeRuns, dropRecordingForm},
		{"POST /designs/{design}/mend", shop.AskWhatIf, mendForm},
		{"GET /designs/{design}/mended", shop.AskWhatIf, showMended},
		{"GET /designs/{design}/mended/file", shop.AskWhatIf, mendedFile},
		{"POST /designs/{design}/mended", shop.KeepDesigns, on("/designs/{design}/mended", keepMendedForm)},

		{"GET /machines", shop.Look, showMachines},
		{"POST /machines", shop.KeepMachines, addMachineForm},
		{"GET /machines/{machine}", shop.Look, showMachine},
		{"GET /machines/{machine}/sheet.toml", shop.Look, showSheetFile},
		{"POST /machines/{machine}/sheet", shop.KeepMachines, changeSheetForm},
		{"POST /machines/{machine}/undo", shop.KeepMachines, on("/machines/{machine}", undoSheetForm)},
		{"POST /machines/{machine}/remove", shop.KeepMachines, on("/machines/{machine}", removeMachineForm)},
		{"POST /machines/{machine}/runs", shop.TimeRuns, addRunForm},
		{"POST /machines/{machine}/runs/{run}/remove", shop.KeepMachines, on("/machines/{machine}", removeRunForm)},
		{"POST /machines/{machine}/heard/{heard}/runs/remove", shop.KeepMachines, on("/machines/{machine}", removeHeardRunsForm)},
		{"POST /machines/{machine}/heard/{heard}/remove", shop.KeepMachines, on("/machines/{machine}", removeHeardForm)},
		{"POST /machines/{machine}/learn", shop.KeepMachines, on("/machines/{machine}", learnForm(false))},
		{"GET /machines/{machine}/learned", shop.KeepMachines, showLearned},
		{"POST /machines/{machine}/learned", shop.KeepMachines, on("/machines/{machine}/learned", learnForm(true))},
		{"POST /machines/{machine}/learned/{slip}", shop.KeepMachines,
			on("/machines/{machine}/learned", learnForm(false))},
		{"GET /machines/{machine}/testpiece", shop.AskWhatIf, asked((*call).testPiecePage)},
		{"POST /machines/{machine}/testpiece", shop.AskWhatIf, testPieceForm},
		{"POST /machines/{machine}/testpiece/keep", shop.KeepDesigns,
			on("/machines/{machine}/testpiece", keepTestPieceForm)},

		{"GET /machines/{machine}/evidence.toml", shop.KeepMachines, exportFile},
		{"GET /classes", shop.Look, asked((*call).classesPage)},
		{"POST /classes", shop.KeepMachines, keepClassForm},
		{"POST /classes/evidence", shop.KeepMachines, on("/classes", addEvidenceForm)},
		{"GET /classes/{made}/sheet.toml", shop.Look, classFile},
		{"POST /classes/{made}/start", shop.KeepMachines, on("/classes", startFromForm)},
		{"POST /classes/{made}/remove", shop.KeepMachines, on("/classes", removeClassForm)},

		{"GET /time", shop.TimeRuns, showTime},
		{"GET /time/new", shop.TimeRuns, newTiming},
		{"GET /time/{timing}", shop.Look, showTiming},

		{"GET /compare", shop.SeeMoney, showCompares},
		{"POST /compare", shop.SeeMoney, makeCompare},
		{"GET /compare/{setup}", shop.SeeMoney, showCompare},
		{"POST /compare/{setup}", shop.SeeMoney, showCompare},
		{"POST /compare/{setup}/remove", shop.SeeMoney, on("/compare/{setup}", dropSetup("/compare"))},
		{"GET /visits", shop.KeepVisits, showVisits},
		{"POST /visits", shop.KeepVisits, beginVisitForm},
		{"POST /visits/import", shop.KeepVisits, on("/visits", importVisitForm)},
		{"GET /visits/{visit}", shop.KeepVisits, showVisit},
		{"POST /visits/{visit}", shop.KeepVisits, describeVisitForm},
		{"GET /visits/{visit}/whole.zip", shop.KeepVisits, (*call).VisitWhole},
		{"POST /visits/{visit}/files", shop.KeepVisits, on("/visits/{visit}", putVisitForm)},
		{"GET /visits/{visit}/files/{name...}", shop.KeepVisits, func(c *call) error { return c.VisitFile(c.PathValue("name")) }},
		{"POST /visits/{visit}/drop", shop.KeepVisits, on("/visits/{visit}", dropVisitForm)},
		{"POST /visits/{visit}/away", shop.KeepVisits, on("/visits/{visit}", awayVisitForm(true))},
		{"POST /visits/{visit}/back", shop.KeepVisits, on("/visits/{visit}", awayVisitForm(false))},
		{"POST /visits/{visit}/erase", shop.KeepVisits, on("/visits/{visit}", eraseVisitForm)},
		{"GET /visits/{visit}/plan", shop.KeepVisits, showTrialPlan},
		{"POST /visits/{visit}/plan", shop.KeepVisits, keepTrialForm},
		{"GET /visits/{visit}/trials/{trial}", shop.KeepVisits, showTrial},
		{"GET /visits/{visit}/trials/{trial}/packs/{file}", shop.KeepVisits, (*call).TrialPack},
		{"POST /visits/{visit}/trials/{trial}/returns", shop.KeepVisits, on("/visits/{visit}/trials/{trial}", returnsForm)},
		{"POST /visits/{visit}/trials/{trial}/scale", shop.KeepVisits, on("/visits/{visit}/trials/{trial}", scaleForm)},
		{"GET /visits/{visit}/trials/{trial}/grade", shop.KeepVisits, showGrade},
		{"POST /visits/{visit}/trials/{trial}/grade", shop.KeepVisits, keepGradesForm},
		{"GET /visits/{visit}/trials/{trial}/paper/{file}", shop.KeepVisits, (*call).TrialPaper},
		{"GET /visits/{visit}/trials/{trial}/evidence.zip", shop.KeepVisits, (*call).TrialEvidence},
		{"POST /visits/{visit}/trials/{trial}/evidence", shop.KeepVisits, on("/visits/{visit}/trials/{trial}", poolTrialForm)},
		{"GET /visits/{visit}/call", shop.KeepVisits, showCallPlan},
		{"POST /visits/{visit}/call", shop.KeepVisits, keepCallForm},
		{"GET /visits/{visit}/calls/{call}", shop.KeepVisits, showCall},
		{"GET /visits/{visit}/calls/{call}/pack.zip", shop.KeepVisits, (*call).CallPack},
		{"POST /visits/{visit}/calls/{call}/entries", shop.KeepVisits, on("/visits/{visit}/calls/{call}", entriesForm)},
		{"POST /visits/{visit}/calls/{call}/open", shop.KeepVisits, on("/visits/{visit}/calls/{call}", openCallForm)},
		{"POST /visits/{visit}/calls/{call}/shut", shop.KeepVisits, on("/visits/{visit}/calls/{call}", shutCallForm)},
		{"GET /call", "", showCalled},
		{"GET /call/{code}", "", showAnswer},
		{"POST /call/{code}", "", answerForm},
		{"GET /call/{code}/pack.zip", "", calledPack},
		{"GET /floor", shop.SeeMoney, showFloors},
		{"POST /floor", shop.SeeMoney, on("/floor", makeFloor)},
		{"GET /floor/{setup}", shop.SeeMoney, showFloor},
		{"POST /floor/{setup}", shop.SeeMoney, showFloor},
		{"POST /floor/{setup}/remove", shop.SeeMoney, on("/floor/{setup}", dropSetup("/floor"))},

		{"GET /orders", shop.Look, showOrders},
		{"POST /orders", shop.KeepOrders, addOrderForm},
		{"GET /orders/after", shop.SeeMoney, showAfter},
		{"GET /orders/rough", shop.SeeMoney, asked((*call).roughPage)},
		{"POST /orders/rough", shop.KeepOrders, on("/orders/rough", keepRoughForm)},
		{"POST /orders/{order}/rough", shop.KeepOrders, on("/orders/{order}", roughCameForm)},
		{"GET /orders/table", shop.KeepOrders, showOrderTable},
		{"POST /orders/table", shop.KeepOrders, orderTableForm},
		{"GET /plan/costs", shop.SeeMoney, showDear},
		{"GET /orders/new", shop.KeepOrders, newOrder},
		{"GET /orders/{order}", shop.Look, showOrder},
		{"POST /orders/{order}", shop.KeepOrders, changeOrderForm},
		{"GET /orders/{order}/change", shop.KeepOrders, showOrderForm},
		{"POST /orders/{order}/state", shop.KeepOrders, on("/orders/{order}", moveOrderForm)},
		{"GET /orders/{order}/quote", shop.SeeMoney, asked((*call).quotePage)},
		{"POST /orders/{order}/quote", shop.SeeMoney, keepQuoteForm},
		{"GET /orders/{order}/quotes/{quote}", shop.SeeMoney, showKeptQuote},
		{"POST /orders/{order}/quotes/{quote}/accept", shop.KeepOrders,
			on("/orders/{order}/quotes/{quote}", acceptForm)},
		{"GET /orders/{order}/quotes/{quote}/{file}", shop.SeeMoney, (*call).QuoteFile},
		{"GET /orders/{order}/runsheet", shop.Look, showRunSheet},
		{"GET /orders/{order}/runsheet.pdf", shop.Look, (*call).RunSheetFile},
		{"POST /orders/{order}/garments", shop.KeepOrders, garmentsForm},
		{"POST /orders/{order}/start", shop.RecordPieces, startForm},
		{"GET /orders/{order}/record", shop.RecordPieces, showRecord},
		{"POST /orders/{order}/record", shop.RecordPieces, recordForm},
		{"POST /orders/{order}/record/{report}/undo", shop.RecordPieces, on("/orders/{order}/record", undoReportForm)},
		{"POST /orders/{order}/deliveries", shop.KeepOrders, on("/orders/{order}", deliverForm)},
		{"POST /orders/{order}/deliveries/{delivery}/undo", shop.KeepOrders, on("/orders/{order}", undoDeliveryForm)},
		{"GET /plan", shop.Look, showPlan},
		{"GET /plan/bars", shop.Look, showBars},
		{"POST /plan", shop.MakePlans, makePlanForm},
		{"POST /plan/hold", shop.KeepOrders, holdForm},
		{"GET /plan/try", shop.AskWhatIf, asked((*call).tryPage)},
		{"POST /plan/try", shop.AskWhatIf, tryFormPost},
		{"GET /plan/fleet", shop.SeeMoney, asked((*call).fleetPage)},
		{"POST /plan/fleet", shop.SeeMoney, fleetForm},
		{"GET /plan/hours", shop.SeeMoney, showHours},
		{"POST /plan/hours", shop.SeeMoney, keepHours},
		{"GET /plan/hours.toml", shop.SeeMoney, hoursTOML},
		{"GET /plan/thread", shop.Look, showThreadList},
		{"GET /plan/{file}", shop.Look, (*call).PlanFile},

		{"POST /lists", shop.Look, keepListForm},
		{"POST /lists/{list}", shop.Look, renameListForm},
		{"POST /lists/{list}/remove", shop.Look, dropListForm},
		{"GET /history", shop.Look, showHistory},
		{"POST /history/{change}/undo", shop.Look, undoForm},

		{"GET /settings", shop.Look, showSettings},
		{"POST /settings", shop.KeepSettings, settingsForm},
		{"POST /settings/logo", shop.KeepSettings, on("/settings", logoForm)},
		{"POST /settings/logo/remove", shop.KeepSettings, on("/settings", removeLogoForm)},
		{"POST /settings/accounts", shop.KeepAccounts, accountForm},
		{"POST /settings/accounts/{account}", shop.KeepAccounts, on("/settings", changeAccountForm)},
		{"GET /settings/running", shop.KeepSettings, showRunning},
		{"GET /settings/sign-ins", shop.Look, showSignIns},
		{"POST /settings/sign-ins/password", shop.Look, passwordForm},
		{"POST /settings/sign-ins/end", shop.Look, on("/settings/sign-ins", endOthersForm)},
		{"GET /shops", shop.Look, showShops},
		{"POST /shops", shop.Look, joinForm},
		{"POST /settings/sign-ins/{signin}/end", shop.Look, on("/settings/sign-ins", endSignInForm)},
		{"POST /settings/tokens", shop.KeepAccounts, tokenForm},
		{"POST /settings/tokens/{token}/remove", shop.KeepAccounts, on("/settings/sign-ins", takeTokenBackForm)},
		{"GET /settings/phones", shop.KeepPhones, showPhones},
		{"POST /settings/phones", shop.KeepPhones, askPhoneForm},
		{"POST /settings/phones/door", shop.KeepAccounts, on("/settings/phones", doorForm)},
		{"GET /settings/phones/{phone}", shop.KeepPhones, showPhone},
		{"POST /settings/phones/{phone}/code", shop.KeepPhones, on("/settings/phones", phoneCodeForm)},
		{"POST /settings/phones/{phone}/remove", shop.KeepPhones, on("/settings/phones", takePhoneOutForm)},
		{"GET /trust", "", showTrust},
		{"GET /trust/{file}", "", trustFile},
		{"GET /phone", "", showLetIn},
		{"POST /phone", "", letInForm},
		{"POST /begin", shop.KeepSettings, beginForm},
		{"GET /begin", shop.Look, showBegun},
		{"POST /demo", shop.KeepSettings, on("/{$}", demoForm)},
		{"GET /demo", shop.Look, showDemo},
		{"POST /demo/out", shop.KeepSettings, on("/settings", demoOutForm)},
		{"GET /sign-in", "", showSignIn},

		{"GET /work/{work}", shop.TimeRuns, showWork},
		{"POST /work/{work}/stop", shop.TimeRuns, stopWorkForm},
		{"/", shop.Look, noPage},
	}
}

// asks is what the address asks for under a name.
func (c *call) asks(name string) string { return c.URL.Query().Get(name) }

// asked shows a page with the form that its address fills in.
func asked[In any](show func(*call, *In, *form) error) func(*call) error {
	return func(c *call) error {
		var in In
		f, err := c.form(&in)
		if err != nil {
			return err
		}
		return show(c, &in, f)
	}
}

// on is what a form does that does not show itself again: what is refused is told
// on the page that it stands on.
func on(page string, do func(*call) error) func(*call) error {
	return func(c *call) error {
		if err := do(c); err != nil {
			return c.again(page, err)
		}
		return nil
	}
}

// again shows the page that a form was sent from, with what was wrong on top and
// what was typed. Where the page cannot be shown either, or nothing is wrong with
// what was sent, the error is told alone.
func (c *call) again(at string, err error) error {
	switch shop.CodeOf(err) {
	case shop.Invalid, shop.NotFound, shop.Conflict:
	default:
		return err
	}
	i := slices.IndexFunc(entries(), func(e entry) bool { return e.at == "GET "+at })
	page := entries()[i]
	if !c.May(page.right) {
		return err
	}
	e, by := shop.ErrorOf(err), &wrongFields{}
	text := words.Sentence(e.In(c.writer()))
	if !errors.As(err, &by) && c.PostForm.Has(e.Key) {
		by.wrong = map[string]string{e.Key: text}
	}
	c.back = &form{name: path.Base(c.URL.Path), typed: c.PostForm, sent: true, wrong: by.wrong, told: []string{text}, all: true}
	c.URL.Path = pathValue.ReplaceAllStringFunc(at, func(s string) string { return c.PathValue(strings.Trim(s, "{}")) })
	if page.do(c) != nil {
		return err
	}
	return nil
}

var pathValue = regexp.MustCompile(`\{[^{}]*\}`)

// see sends the browser to another page of ours.
func (c *call) see(path string) error {
	http.Redirect(c.W, c.Request, path, http.StatusSeeOther)
	return nil
}

// seeIf is see where there is an address.
func (c *call) seeIf(path string) error {
	if path == "" {
		return nil
	}
	return c.see(path)
}

// seeOr sends the browser to another page of ours where nothing went wrong.
func (c *call) seeOr(path string, err error) error {
	if err != nil {
		return err
	}
	return c.see(path)
}
