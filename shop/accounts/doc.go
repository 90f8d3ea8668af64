// Package accounts keeps the people who may use the shop, and their sessions.
package accounts
