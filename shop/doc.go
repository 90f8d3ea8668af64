// Package shop is the shop's own things and what can be done with them: its
// designs, its machines and the history of their sheets, timed runs, settings,
// shifts and mixes to simulate, and the people who may use them.
//
// Shop is the main type: the page and the API call its verbs and nothing else.
// The numbers come from the domain packages (clock, learn, audit, floor,
// money); shop reads what they need out of a Store and keeps what is dear to
// compute. A Store is any database that passes the contract in storetest.
//
// The package knows no HTTP and no SQL. The time of day is handed in (Options).
package shop
