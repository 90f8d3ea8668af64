// Package settings keeps how the shop wants to see things, and the picture on its papers.
package settings
