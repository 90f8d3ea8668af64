package readback

import (
	"bytes"
	"testing"

	"github.com/xuri/excelize/v2"
)

// Sheet is a sheet of a workbook: its name and its rows, cells as they are kept.
type Sheet struct {
	Name string
	Rows [][]string
}

// XLSX is all that stands in a workbook.
func XLSX(t testing.TB, workbook []byte) (all []Sheet) {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(workbook))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close() //nolint:errcheck // only read
	for _, name := range f.GetSheetList() {
		rows, err := f.GetRows(name, excelize.Options{RawCellValue: true})
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, Sheet{name, rows})
	}
	return all
}
