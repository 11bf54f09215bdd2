// Package exchange brings files in and out: CSV of reports and lists, the
// scrap log of a garden that kept one on paper or in a spreadsheet, and the
// iCalendar feed of drop-off windows.
//
// It must not know SQL, HTTP or the ledger: it reads from an io.Reader into
// its own row types and writes to an io.Writer. Start reading at Table for
// CSV out, ScrapLog for CSV in, WriteCalendar for feeds.
package exchange
