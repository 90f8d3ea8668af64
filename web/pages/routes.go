package pages

import (
	"net/http"

	"needlepace/shop"
	"needlepace/web/answer"
	"needlepace/web/serve"
)

// call is one request of a page being answered. A handler reads its input,
// calls verbs of the shop and fills a page; what it returns as an error is told
// by failPage.
type call struct{ *serve.Call }

// Routes are the pages and what their forms do.
func Routes() []serve.Route {
	var all []serve.Route
	for _, e := range entries() {
		all = append(all, serve.Route{Method: e.method, Path: e.path, Need: e.need, Open: e.need == "",
			Do: func(c *serve.Call) error { return e.do(&call{c}) }, Fail: fail})
	}
	return all
}

func fail(c *serve.Call, err error) { (&call{c}).failPage(err) }

func noPage(c *call) error {
	return shop.Errorf(shop.NotFound, "there is no page at %s", c.URL.Path)
}

// entry is one page, or one thing a page's form does.
type entry struct {
	method, path string
	need         shop.Role // empty: nobody need be signed in
	do           func(*call) error
}

// entries are all pages.
func entries() []entry {
	return []entry{
		{"GET", "/{$}", shop.Operator, showHome},
		{"GET", "/designs", shop.Operator, showDesigns},
		{"GET", "/designs/{design}", shop.Operator, showDesign},
		{"POST", "/designs/{design}", shop.Planner, describeForm},
		{"POST", "/designs/{design}/remove", shop.Planner, removeDesignForm},
		{"POST", "/designs/{design}/restore", shop.Planner, restoreDesignForm},
		{"GET", "/designs/{design}/audit", shop.Operator, showAudit},
		{"POST", "/designs/{design}/mend", shop.Operator, mendForm},
		{"GET", "/designs/{design}/mended", shop.Operator, showMended},
		{"GET", "/designs/{design}/mended/file", shop.Operator, mendedFile},
		{"POST", "/designs/{design}/mended", shop.Planner, keepMendedForm},

		{"GET", "/machines", shop.Operator, showMachines},
		{"POST", "/machines", shop.Planner, addMachineForm},
		{"GET", "/machines/{machine}", shop.Operator, showMachine},
		{"GET", "/machines/{machine}/sheet.toml", shop.Operator, showSheetFile},
		{"POST", "/machines/{machine}/sheet", shop.Planner, changeSheetForm},
		{"POST", "/machines/{machine}/undo", shop.Planner, undoSheetForm},
		{"POST", "/machines/{machine}/remove", shop.Planner, removeMachineForm},
		{"POST", "/machines/{machine}/runs", shop.Operator, addRunForm},
		{"POST", "/machines/{machine}/runs/{run}/remove", shop.Planner, removeRunForm},
		{"POST", "/machines/{machine}/learn", shop.Planner, learnForm},
		{"GET", "/machines/{machine}/learned", shop.Operator, showLearned},
		{"POST", "/machines/{machine}/learned", shop.Planner, keepLearnedForm},
		{"GET", "/machines/{machine}/testpiece", shop.Operator, showTestPiece},
		{"POST", "/machines/{machine}/testpiece", shop.Operator, testPieceForm},
		{"POST", "/machines/{machine}/testpiece/keep", shop.Planner, keepTestPieceForm},

		{"GET", "/time", shop.Operator, showTime},
		{"GET", "/time/new", shop.Operator, newTiming},
		{"GET", "/time/{timing}", shop.Operator, showTiming},

		{"GET", "/compare", shop.Operator, showCompares},
		{"POST", "/compare", shop.Planner, makeCompare},
		{"GET", "/compare/{setup}", shop.Operator, showCompare},
		{"POST", "/compare/{setup}", shop.Planner, keepCompare},
		{"POST", "/compare/{setup}/remove", shop.Planner, dropSetup("/compare")},
		{"GET", "/floor", shop.Operator, showFloors},
		{"POST", "/floor", shop.Planner, makeFloor},
		{"GET", "/floor/{setup}", shop.Operator, showFloor},
		{"POST", "/floor/{setup}", shop.Planner, keepFloor},
		{"POST", "/floor/{setup}/remove", shop.Planner, dropSetup("/floor")},

		{"GET", "/orders", shop.Operator, showOrders},
		{"POST", "/orders", shop.Planner, addOrderForm},
		{"GET", "/orders/new", shop.Planner, newOrder},
		{"GET", "/orders/{order}", shop.Operator, showOrder},
		{"POST", "/orders/{order}", shop.Planner, changeOrderForm},
		{"GET", "/orders/{order}/change", shop.Planner, showOrderForm},
		{"POST", "/orders/{order}/state", shop.Planner, moveOrderForm},
		{"GET", "/orders/{order}/quote", shop.Planner, showQuote},
		{"POST", "/orders/{order}/quote", shop.Planner, keepQuoteForm},
		{"GET", "/orders/{order}/quotes/{quote}", shop.Planner, showKeptQuote},
		{"GET", "/orders/{order}/quotes/{quote}/{file}", shop.Planner, func(c *call) error { return answer.QuoteFile(c.Call) }},
		{"GET", "/orders/{order}/runsheet", shop.Operator, showRunSheet},
		{"GET", "/orders/{order}/runsheet.pdf", shop.Operator, runSheetPDF},
		{"POST", "/orders/{order}/start", shop.Operator, startForm},
		{"GET", "/orders/{order}/record", shop.Operator, showRecord},
		{"POST", "/orders/{order}/record", shop.Operator, recordForm},
		{"GET", "/plan", shop.Operator, showPlan},
		{"POST", "/plan", shop.Planner, makePlanForm},
		{"POST", "/plan/hold", shop.Planner, holdForm},
		{"GET", "/plan/try", shop.Operator, showTry},
		{"POST", "/plan/try", shop.Operator, tryFormPost},
		{"GET", "/plan/hours", shop.Planner, showHours},
		{"POST", "/plan/hours", shop.Planner, hoursForm},
		{"GET", "/plan/{file}", shop.Operator, planFile},

		{"GET", "/settings", shop.Operator, showSettings},
		{"POST", "/settings", shop.Owner, settingsForm},
		{"POST", "/settings/logo", shop.Owner, logoForm},
		{"POST", "/settings/logo/remove", shop.Owner, removeLogoForm},
		{"POST", "/settings/accounts", shop.Owner, accountForm},
		{"POST", "/settings/accounts/{account}", shop.Owner, changeAccountForm},
		{"POST", "/demo", shop.Owner, demoForm},
		{"GET", "/demo", shop.Operator, showDemo},
		{"GET", "/sign-in", "", showSignIn},

		{"GET", "/work/{work}", shop.Operator, showWork},
		{"POST", "/work/{work}/stop", shop.Operator, stopWorkForm},
		{"", "/", shop.Operator, noPage},
	}
}

// see sends the browser to another page of ours.
func (c *call) see(path string) error {
	http.Redirect(c.W, c.Request, path, http.StatusSeeOther)
	return nil
}
