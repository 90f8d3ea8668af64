// Package shop is what a shop is made of: the types of its things (designs,
// machines with the history of their sheets, timed runs, set-ups, settings,
// accounts), the interfaces that a store meets, the codes of errors, roles and
// what they may do.
//
// The verbs of each thing are in a sub-package: shop/designs, shop/machines,
// shop/timings, shop/orders, shop/plans, shop/setups, shop/settings,
// shop/accounts. Things never import each other; what needs two of them, or
// asks a question first, is an act (package act). A Store is any database that
// passes the contract in store/sqlite/contract_test.go.
//
// The package knows no HTTP and no SQL. The time of day is handed in.
package shop
