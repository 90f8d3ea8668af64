// Package paper makes what leaves the shop or goes to the floor on paper or as
// a file for another program: quotes and run sheets (PDF, A4 and Letter), tables
// (XLSX, CSV) and calendars (iCalendar, RFC 5545).
//
// Everything is handed in as plain data, already reckoned: this package lays
// out and writes, it does no arithmetic of the trade. Money is decimal. The
// same data give the same bytes; the time of making is handed in. Type is Go
// Regular and Go Medium (Bigelow & Holmes, BSD licence): Latin, Greek and
// Cyrillic; other signs are shown as an empty box.
package paper
